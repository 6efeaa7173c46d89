"""A song whose chart was shown is practice; a song whose chart must stay unknown shows no seed."""

from __future__ import annotations

from html import unescape

import pytest
from fastapi.testclient import TestClient

from tests.web.helpers import begin, begin_known, hand_in, hear_out
from trainer.chart import format_chart
from trainer.exercise import MOST_SEED, Exercise
from trainer.web import speed
from trainer.web.context import LearnerContext

PRACTICE = "but it doesn't count for the level, your ratings or the speed test."


def chart_text(context: LearnerContext, exercise_id: str) -> str:
    """The text of an exercise's chart."""
    return format_chart(context.exercise(exercise_id).exercise.chart)


def test_a_song_that_was_seen_is_practice(client: TestClient, context: LearnerContext) -> None:
    """The offer to write it again, the page to write on, the result and the history say so; it
    passes no level and moves no rating."""
    exercise_id = begin(client, level="1", seed="1")
    assert PRACTICE not in client.get(f"/write/{exercise_id}").text
    first = hear_out(client, exercise_id, "1 4 5 1")
    assert PRACTICE not in client.get(first).text
    state = context.store.ratings.state(context.learner)
    assert PRACTICE in client.get(f"/write/{exercise_id}").text
    begin_known(client, exercise_id)
    assert "You have seen this song's chart" in client.get(f"/write/{exercise_id}").text
    assert PRACTICE in client.get(f"/write/{exercise_id}").text
    again = client.get(hear_out(client, exercise_id, chart_text(context, exercise_id))).text
    assert "100%" in again
    assert PRACTICE in again
    assert "Level 1 passed" not in again
    history = client.get("/history").text
    assert history.count("chart seen before") == 1
    assert "✓ passed" not in history
    assert "passed, 100%" not in client.get("/").text
    seen = context.store.ratings.state(context.learner)
    assert state is not None
    assert seen is not None
    assert seen.skills == state.skills


def test_the_same_song_on_another_level_is_seen_too(
    client: TestClient, context: LearnerContext
) -> None:
    """A speed test with a song that was seen does not count, and says why."""
    address = client.post("/speed/begin", follow_redirects=False).headers["location"]
    exercise_id = address.removeprefix("/write/")
    hear_out(client, exercise_id, "1 4 5 1")
    begin_known(client, exercise_id)
    again = unescape(
        client.get(hear_out(client, exercise_id, chart_text(context, exercise_id))).text
    )
    assert (
        "This doesn't count as a speed test: you had seen the chart of this song before." in again
    )


def open_exercises(
    client: TestClient, context: LearnerContext, monkeypatch: pytest.MonkeyPatch
) -> list[Exercise]:
    """A song of a level, a speed test, an item of placement and one of a daily set."""
    monkeypatch.setattr(speed, "new_seed", lambda: MOST_SEED - 41)
    places = [f"/write/{begin(client, level='24', seed=str(MOST_SEED - 17))}"]
    for button in ("/speed/begin", "/today/begin", "/today/unplaced", "/today/begin"):
        answer = client.post(button, follow_redirects=False)
        places += [answer.headers["location"]] if button != "/today/unplaced" else []
    return [context.exercise(place.removeprefix("/write/")).exercise for place in places]


def test_no_seed_is_shown_before_the_result(
    client: TestClient, context: LearnerContext, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A seed makes the song through `generate`: what a page is sent before the result has a code
    made of the exercise's id in its place."""
    exercises = open_exercises(client, context, monkeypatch)
    assert len({exercise.id for exercise in exercises}) == 4
    for exercise in exercises:
        pages = [
            client.get(place).text
            for place in (f"/write/{exercise.id}", "/", "/today", "/speed", "/history")
        ]
        assert f"song {exercise.id[:6]}" in pages[0]
        for page in pages:
            assert "· seed" not in page
            assert str(exercise.seed) not in page
        result = client.get(hear_out(client, exercise.id, "1")).text
        assert f"seed {exercise.seed}" in result


def test_notes_of_a_song_give_nothing_away(client: TestClient) -> None:
    """What is said to the players stands on no page of the drill before it is graded, and over the
    bars of the reference afterwards."""
    exercise_id = begin(client, song="freight-yard-sunday")
    notes = ("full band", "guitar and bass only")
    before = [
        client.get(f"/write/{exercise_id}").text,
        client.post(f"/preview/{exercise_id}", content="Verse 1:\n1 4 5").text,
    ]
    for page in before:
        for note in notes:
            assert note not in page
    result = client.get(hand_in(client, exercise_id, "1 1 5 1")).text
    assert "full band" in result
