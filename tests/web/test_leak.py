"""Before the answer is in, nothing of the song's chart leaves the server."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest
from fastapi.testclient import TestClient

from tests.web.fakes import FakeLibrary
from tests.web.helpers import begin, token_of
from trainer.chart import format_chart
from trainer.drill import play_song
from trainer.exercise import Exercise
from trainer.web.context import LearnerContext
from trainer.web.packed import without_comments

# Thirty exercises over the course, more of the late levels where charts are long.
LEVELS = (1, 8, 14, 19, 24, 31, 42, 48, 52, 53)
SEEDS = (1, 2, 3)
NUMBER = re.compile(r"\d+\.\d+")
SPACE = re.compile(r"[\s.]+")
ADDRESS = re.compile(r'(?:src|href|action)="([^"]+)"')


def everything_loaded(client: TestClient, exercise_id: str) -> list[str]:
    """All that a page to write on is sent, headers too, up to handing in; sound aside, and files
    that are the same for all (`test_files_are_the_same_for_all`)."""
    page = client.get(f"/write/{exercise_id}")
    answers = [page]
    answers += [client.get(f"/write/{exercise_id}/sound?speed={speed}") for speed in (100, 70)]
    answers += [
        client.head(place) for place in ADDRESS.findall(page.text) if place.startswith("/audio/")
    ]
    answers.append(client.post(f"/write/{exercise_id}/listen"))
    answers.append(client.put(f"/write/{exercise_id}/draft", data={"text": "0"}))
    answers.append(client.post(f"/preview/{exercise_id}", content="0"))
    answers += [client.get(place) for place in ("/", "/today", "/progress", "/speed", "/history")]
    return [str(answer.url) + str(answer.headers) + answer.text for answer in answers]


def files_of(client: TestClient, exercise_id: str) -> list[str]:
    """Where the scripts and styles of a page to write on are."""
    page = client.get(f"/write/{exercise_id}").text
    return sorted(place for place in ADDRESS.findall(page) if place.startswith("/static/"))


def test_files_are_the_same_for_all(client: TestClient) -> None:
    """Scripts and styles of two songs have the same addresses, and are what is installed, without
    its comments."""
    first, second = (files_of(client, begin(client, level=level, seed="1")) for level in "19")
    assert first == second
    assert len(first) > 2
    installed = files("trainer.web") / "static"
    for place in first:
        content = (installed / place.removeprefix("/static/")).read_text("utf-8")
        assert client.get(place).text == without_comments(content)


def secrets_of(exercise: Exercise) -> list[str]:
    """What must not be found: lines of the chart, its chords, the parts of its JSON."""
    chart = exercise.chart
    body = format_chart(chart).partition("\n\n")[2]
    lines = [line for line in body.splitlines() if len(line) >= 9 and not line.endswith(":")]
    phrases = [
        " ".join(str(event.chord) for bar in phrase.bars for event in bar.events)
        for section in chart.sections
        for phrase in section.phrases
        if len(phrase.bars) >= 4
    ]
    return [*lines, *phrases, '"sections"', '"phrases"', '"bars"', "key_change"]


def numbers_of(exercise: Exercise) -> set[str]:
    """Numbers that must not be found: where bars start, in seconds."""
    times = play_song(exercise).bar_times_s
    return {form % start for start, _ in times[1:] for form in ("%.1f", "%.2f", "%.3f")}


@pytest.mark.parametrize("level", LEVELS)
def test_the_song_is_not_given_away(
    client: TestClient, context: LearnerContext, level: int
) -> None:
    """Neither lines, chords nor bar times of the chart are in anything the page loads."""
    other = everything_loaded(client, begin(client, level=str(level), seed="999"))
    # What stands on the page of another song as well says nothing about this one.
    common = "\n".join(other)
    for seed in SEEDS:
        exercise_id = begin(client, level=str(level), seed=str(seed))
        exercise = context.exercise(exercise_id).exercise
        numbers = numbers_of(exercise) - set(NUMBER.findall(common))
        secrets = [secret for secret in secrets_of(exercise) if secret not in common]
        own = [text for text in everything_loaded(client, exercise_id) if text not in other]
        assert own
        for text in own:
            assert not set(NUMBER.findall(text)) & numbers
            squeezed = SPACE.sub(" ", text)
            for secret in secrets:
                assert secret not in text
                assert SPACE.sub(" ", secret) not in squeezed


def test_two_songs_differ_only_in_what_may_be_known(client: TestClient) -> None:
    """With title, meter, feel, key, name, length and names taken out, two pages are the same."""
    pages = set()
    for seed in range(1, 9):
        exercise_id = begin(client, level="45", seed=str(seed))
        page = client.get(f"/write/{exercise_id}").text
        page = re.sub(r"/audio/[^\"]+", "", page)
        page = re.sub(r'(?<=<span id="duration">)[^<]+', "", page)
        page = re.sub(r"<(h1|title)>.*?</\1>", "", page)
        page = re.sub(r'(?<=<p class="muted">)[^·]+·', "", page)
        pages.add(
            page.replace(token_of(client, exercise_id), "")
            .replace(exercise_id, "")
            .replace(f"song {exercise_id[:6]}", "")
        )
    assert len(pages) == 1


def test_names_say_nothing(
    client: TestClient, library: FakeLibrary, context: LearnerContext
) -> None:
    """An exercise's name is a hash; the same chart under another seed has another name."""
    exercise_id = begin(client, level="5", seed="1")
    assert re.fullmatch(r"[0-9a-f]{16}", exercise_id)
    exercise = context.exercise(exercise_id).exercise
    same = (
        begin(client, level="5", seed=str(seed)) for seed in range(2, 400) if seed != exercise.seed
    )
    twin = next(
        name
        for name in same
        if context.exercise(name).exercise.chart.bars() == exercise.chart.bars()
    )
    assert twin != exercise_id


def test_the_preview_knows_nothing_of_the_song(client: TestClient) -> None:
    """The same text is drawn the same for every song of a meter and key, to the byte."""
    text = "Verse:\n1 4 5 1 . 6- 2- 5 1\n[up 2] 1 x"
    drawn = {
        client.post(f"/preview/{begin(client, level='1', seed=str(seed))}", content=text).text
        for seed in range(1, 12)
    }
    keys = {re.findall(r"key ([A-G][b#♭♯]?)", one)[0] for one in drawn}
    assert len(drawn) == len(keys)


def test_no_result_before_handing_in(client: TestClient, context: LearnerContext) -> None:
    """There is no result, sheet or sound of bars until an attempt is on record."""
    begin(client, level="1", seed="1")
    for place in (
        "/result/1",
        "/handout/1/played",
        "/handout/1/played/text",
        "/handout/1/played/sheet.pdf",
        "/result/1/sound?side=played",
    ):
        assert client.get(place).status_code == 404
    assert context.store.attempts.count(context.learner) == 0
