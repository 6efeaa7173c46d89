from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.web.conftest import HTML, JSON
from tests.web.fakes import FakeLibrary
from tests.web.helpers import begin, begin_known, hand_in, keep_text, key_of, token_of
from trainer.band import arrange
from trainer.chart import format_chart
from trainer.drill import MOST_TYPED, beat_times_s, play_song
from trainer.store import AttemptRecord, Store
from trainer.web import create_app
from trainer.web.context import LearnerContext


def test_the_sheet_follows_the_text(client: TestClient) -> None:
    """A preview draws what is typed, said aloud too, and names its problems where they are."""
    exercise_id = begin(client, level="1", seed="1")
    drawn = client.post(f"/preview/{exercise_id}", content="Verse:\n1 (5/7 6-) x").text
    assert "Verse" in drawn
    assert "five over seven, then six minor, two beats each" in drawn
    assert 'data-line="2" data-column="12"' in drawn
    empty = client.post(f"/preview/{exercise_id}", content=" \n").text
    assert 'class="bar' not in empty
    assert "Write a number for each bar" in empty


def test_typed_signs_cannot_become_markup(client: TestClient) -> None:
    """What is typed is text on every page that shows it."""
    exercise_id = begin(client, level="1", seed="1")
    evil = 'Verse<img src=x onerror="alert(1)">:\n1 <script>4</script> 5 </textarea><b>'
    drawn = client.post(f"/preview/{exercise_id}", content=evil).text
    keep_text(client, exercise_id, evil)
    pages = [drawn, client.get(f"/write/{exercise_id}").text]
    place = hand_in(client, exercise_id, evil)
    pages += [
        client.get(place).text,
        client.get(place.replace("result", "handout") + "/written").text,
    ]
    for page in pages:
        assert "<img src=x" not in page
        assert "<script>" not in page
        assert "<b>" not in page


def test_listens_are_counted_here(client: TestClient, context: LearnerContext) -> None:
    """Two listens are two, whatever the page says, also after loading it again."""
    exercise_id = begin(client, song="second-street-strut")
    assert 'data-listens-left="2"' in client.get(f"/write/{exercise_id}").text
    assert client.post(f"/write/{exercise_id}/listen").json() == {"listens_left": 1}
    assert 'data-listens-left="1"' in client.get(f"/write/{exercise_id}").text
    assert client.post(f"/write/{exercise_id}/listen?speed=80").json() == {"listens_left": 0}
    refused = client.post(f"/write/{exercise_id}/listen")
    assert (refused.status_code, refused.json()["listens_left"]) == (409, 0)
    attempt = _attempt(context, hand_in(client, exercise_id, "1"))
    assert (attempt.listens, attempt.tempo_ratio) == (2, 0.8)


def test_listens_outlast_the_server(
    stranger: TestClient, store: Store, library: FakeLibrary
) -> None:
    """Listens are counted in the record: a server started anew gives none back."""
    now = datetime(2026, 3, 2, tzinfo=UTC)
    store.learners.caution_shown(store.learners.get_or_add("me", now), now)
    exercise_id = begin(stranger, song="second-street-strut")
    stranger.post(f"/write/{exercise_id}/listen?speed=70")
    with TestClient(create_app(store, library), headers=HTML) as again:
        assert 'data-listens-left="1"' in again.get(f"/write/{exercise_id}").text
        attempt_id = hand_in(again, exercise_id, "1").rpartition("/")[2]
    detail = store.attempts.get(int(attempt_id))
    assert detail is not None
    assert (detail.record.listens, detail.record.tempo_ratio) == (1, 0.7)


def test_the_song_is_begun_when_the_page_is_opened(
    client: TestClient, library: FakeLibrary
) -> None:
    """The sound that will be asked for first is being made before play is pressed."""
    exercise_id = begin(client, level="1", seed="1")
    page = client.get(f"/write/{exercise_id}").text
    assert [key for key in library.prefetched if key in page] == library.prefetched != []


def test_a_song_may_be_heard_anew_after_handing_in(client: TestClient) -> None:
    """Beginning the same song again gives all listens again."""
    exercise_id = begin(client, song="second-street-strut")
    client.post(f"/write/{exercise_id}/listen")
    hand_in(client, exercise_id, "1")
    begin_known(client, exercise_id)
    assert 'data-listens-left="2"' in client.get(f"/write/{exercise_id}").text


def test_no_limit_is_no_limit(client: TestClient) -> None:
    """Where the recipe has no limit, none is counted down."""
    exercise_id = begin(client, level="1", seed="1")
    for _ in range(12):
        assert client.post(f"/write/{exercise_id}/listen").json() == {"listens_left": None}


def test_slower_is_the_same_song_slower(
    client: TestClient, library: FakeLibrary, context: LearnerContext
) -> None:
    """At 50% every note is the same pitch, and the song lasts twice as long."""
    exercise_id = begin(client, level="1", seed="1")
    full = client.get(f"/write/{exercise_id}/sound").json()
    half = client.get(f"/write/{exercise_id}/sound?speed=50").json()
    assert half["duration_s"] == pytest.approx(2 * full["duration_s"], abs=0.05)
    one, two = (library.registered[key_of(s["url"])] for s in (full, half))
    for part, slow in zip(one.parts, two.parts, strict=True):
        assert [n.pitch for n in part.notes] == [n.pitch for n in slow.notes]
    answer = client.get(f"/write/{exercise_id}/sound?speed=300")
    assert answer.status_code == 422
    assert "expected one of 100, 90" in answer.text


def test_the_song_sounds_as_the_terminal_plays_it(
    client: TestClient, context: LearnerContext
) -> None:
    """At full speed the notes are those of `arrange` with the exercise's own band and help."""
    exercise = context.exercise(begin(client, level="3", seed="2")).exercise
    from trainer.band import Mix

    mix = Mix(exercise.help.bass_lift_db, exercise.help.tonic_first)
    expected = arrange(exercise.chart, rng=exercise.band_rng(), band=exercise.band, mix=mix)
    assert play_song(exercise) == expected


@pytest.mark.parametrize(("level", "counts"), [("1", True), ("7", False), ("20", None)])
def test_a_light_is_for_those_who_may_have_it(
    client: TestClient, context: LearnerContext, level: str, counts: bool | None
) -> None:
    """When beats sound is told where the exercise offers a light, whether bars are counted, and
    nothing else; where it offers none it is not told."""
    exercise_id = begin(client, level=level, seed="3")
    answer = client.get(f"/write/{exercise_id}/light")
    has_button = 'id="light-toggle"' in client.get(f"/write/{exercise_id}").text
    assert has_button == (counts is not None)
    if counts is None:
        assert answer.status_code == 404
        return
    beats = beat_times_s(context.exercise(exercise_id).exercise)
    assert answer.json() == {
        "beats_s": [[round(time, 3) for time in bar] for bar in beats],
        "counts_bars": counts,
    }


def test_a_draft_is_kept_and_thrown_away(client: TestClient, context: LearnerContext) -> None:
    """The text is kept as typed, an emptied field keeps nothing."""
    exercise_id = begin(client, level="1", seed="1")
    typed = "Verse:\n1 4 \t♭7 …"
    keep_text(client, exercise_id, typed)
    drill = context.drills.latest()
    assert drill is not None
    assert (drill.record.key, drill.progress.text) == (exercise_id, typed)
    keep_text(client, exercise_id, "  ")
    assert context.drills.latest() is None


def test_a_late_draft_does_not_come_back(client: TestClient, context: LearnerContext) -> None:
    """What a page sends after handing in starts no new draft."""
    exercise_id = begin(client, level="1", seed="1")
    token = token_of(client, exercise_id)
    hand_in(client, exercise_id, "1 4")
    keep_text(client, exercise_id, "1 4", token=token)
    assert context.drills.find(exercise_id) is None
    begin_known(client, exercise_id)
    keep_text(client, exercise_id, "1 4", token=token)
    assert context.drills.latest() is None


def test_a_very_long_text_is_refused_kindly(client: TestClient) -> None:
    """100,000 characters are answered with what is allowed; what was kept stays."""
    exercise_id = begin(client, level="1", seed="1")
    keep_text(client, exercise_id, "1 4 5")
    text = "1 " * 50_000
    for answer in (
        client.put(f"/write/{exercise_id}/draft", data={"text": text}, headers=JSON),
        client.post(f"/preview/{exercise_id}", content=text, headers=JSON),
        client.post(f"/preview/{exercise_id}", content=text[: MOST_TYPED + 1], headers=JSON),
    ):
        assert answer.status_code == 413
        assert f"{MOST_TYPED:,} characters" in answer.json()["error"]
    assert "1 4 5" in client.get(f"/write/{exercise_id}").text


def test_a_very_long_chart_is_not_graded(client: TestClient, context: LearnerContext) -> None:
    """Handing in 100,000 characters is refused, and nothing is put on record."""
    exercise_id = begin(client, level="1", seed="1")
    form = {"token": token_of(client, exercise_id), "text": "1 " * 50_000}
    answer = client.post(f"/write/{exercise_id}", data=form, headers=JSON)
    assert answer.status_code == 413
    assert "It stays in the field" in answer.json()["error"]
    assert context.store.attempts.count(context.learner) == 0


def test_what_is_no_text_is_refused(client: TestClient) -> None:
    """Bytes that are no text are answered as wrong."""
    exercise_id = begin(client, level="1", seed="1")
    answer = client.post(f"/preview/{exercise_id}", content=b"\xff", headers=JSON)
    assert (answer.status_code, answer.json()) == (
        400,
        {"error": "byte 0 is not UTF-8, expected text"},
    )


@pytest.mark.parametrize("text", [" \r\n", "chords: letters\r\n"])
def test_nothing_written_is_not_handed_in(
    client: TestClient, context: LearnerContext, text: str
) -> None:
    """An empty sheet is sent back with a word."""
    exercise_id = begin(client, level="1", seed="1")
    form = {"token": token_of(client, exercise_id), "text": text}
    answer = client.post(f"/write/{exercise_id}", data=form, headers=JSON)
    assert answer.status_code == 422
    assert "You haven't written anything yet" in answer.json()["error"]
    assert context.store.attempts.count(context.learner) == 0


def test_another_text_from_a_second_window_is_not_lost(
    client: TestClient, context: LearnerContext
) -> None:
    """What a second window hands in after the first is refused with a word, not swallowed."""
    exercise_id = begin(client, level="1", seed="1")
    token = token_of(client, exercise_id)
    client.post(f"/write/{exercise_id}", data={"token": token, "text": "1 4 5 1"})
    for accept in ({}, JSON):
        answer = client.post(
            f"/write/{exercise_id}", data={"token": token, "text": "1 1 5 1"}, headers=accept
        )
        assert answer.status_code == 409
        assert "handed in from another window" in answer.text
    assert context.store.attempts.count(context.learner) == 1


def test_handing_in_twice_is_one_attempt(client: TestClient, context: LearnerContext) -> None:
    """The same page sent twice gives the same result, also to a server that was started anew."""
    exercise_id = begin(client, level="1", seed="1")
    form = {"token": token_of(client, exercise_id), "text": "1 4 5 1"}
    places = [
        client.post(f"/write/{exercise_id}", data=form, headers=JSON).json()["location"]
        for _ in range(2)
    ]
    again = create_app(context.store, context.audio, now=context.clock)
    with TestClient(again, headers=JSON) as later:
        places.append(later.post(f"/write/{exercise_id}", data=form).json()["location"])
    assert len(set(places)) == 1
    assert context.store.attempts.count(context.learner) == 1


def test_without_scripts_the_form_leads_to_the_result(client: TestClient) -> None:
    """A plain form is answered with the way to the result."""
    exercise_id = begin(client, level="1", seed="1")
    place = hand_in(client, exercise_id, "Verse:\r\n1 4\r\n5 1")
    assert client.get(place).status_code == 200


def test_the_time_of_writing_is_graded(client: TestClient, context: LearnerContext) -> None:
    """Bars written as they sounded, one listen, no pause, are a first pass with small lags."""
    exercise_id = begin(client, level="1", seed="1")
    exercise = context.exercise(exercise_id).exercise
    client.post(f"/write/{exercise_id}/listen")
    times = play_song(exercise).bar_times_s
    bars = [str(bar.events[0].chord) for bar in exercise.chart.bars()]
    runs = [[len(bar) + 1, start + 0.5] for bar, (start, _) in zip(bars, times, strict=True)]
    text = "".join(f"{bar} " for bar in bars)
    attempt = _attempt(context, hand_in(client, exercise_id, text, stamps=json.dumps(runs)))
    assert attempt.first_pass
    beat_s = 60 / exercise.chart.tempo
    assert attempt.lag_beats == pytest.approx(0.5 / beat_s, rel=1e-6)


def test_no_time_without_a_listen(client: TestClient, context: LearnerContext) -> None:
    """What was written without hearing anything has no lag and is no first pass."""
    exercise_id = begin(client, level="1", seed="1")
    attempt = _attempt(context, hand_in(client, exercise_id, "1 4", stamps="[[3, 1.0]]"))
    assert not attempt.first_pass
    assert attempt.lag_beats is None


def test_sound_that_cannot_be_made_is_told(
    store: Store, tmp_path: Path, fixed_now: datetime, context: LearnerContext
) -> None:
    """The page says why there is no sound, and a chart can still be handed in."""
    library = FakeLibrary(tmp_path, "no soundfont: looked in soundfonts/")
    app = create_app(store, library, now=lambda: fixed_now)
    with TestClient(app, headers={"accept": "text/html"}) as silent:
        exercise_id = begin(silent, level="1", seed="1")
        assert "no soundfont: looked in soundfonts/" in silent.get(f"/write/{exercise_id}").text
        assert silent.get(hand_in(silent, exercise_id, "1 4 5")).status_code == 200
        assert "no soundfont" in silent.get("/hearing").text


def _attempt(context: LearnerContext, place: str) -> AttemptRecord:
    number = int(place.removeprefix("/result/"))
    found = context.store.attempts.get(number)
    assert found is not None
    return found.record


def test_a_perfect_chart_is_perfect(client: TestClient, context: LearnerContext) -> None:
    """The song's own text handed in is 100%."""
    exercise_id = begin(client, level="53", seed="3")
    exercise = context.exercise(exercise_id).exercise
    attempt = _attempt(context, hand_in(client, exercise_id, format_chart(exercise.chart)))
    assert attempt.score == 1.0


def test_a_listen_goes_on_where_it_was(client: TestClient, context: LearnerContext) -> None:
    """Loaded again, here or elsewhere, the page offers to go on at the same place of the same
    listen and at its speed, says that it counts as a pause, and counts no listen."""
    exercise_id = begin(client, song="second-street-strut")
    token = token_of(client, exercise_id)
    client.post(f"/write/{exercise_id}/listen", params={"token": token, "speed": 80})
    place = {"token": token, "position_s": "72.5"}
    assert client.post(f"/write/{exercise_id}/heard", params=place).status_code == 204
    page = client.get(f"/write/{exercise_id}").text
    assert 'data-position="72.5"' in page
    assert 'data-speed="80"' in page
    assert 'data-listens-left="1"' in page
    assert "interrupted at 1:12" in page
    assert "It counts as a pause." in page
    drill = context.drills.find(exercise_id)
    assert drill is not None
    assert not drill.progress.paused
    client.post(f"/write/{exercise_id}/heard", params=place | {"paused": "true"})
    client.post(f"/write/{exercise_id}/heard", params={"token": token})
    page = client.get(f"/write/{exercise_id}").text
    assert 'data-position=""' in page
    assert 'data-speed="100"' in page
    assert "interrupted" not in page
    assert _attempt(context, hand_in(client, exercise_id, "1")).paused


def test_an_interrupted_speed_test_does_not_count(client: TestClient) -> None:
    """The page of a test that was interrupted says that it does not count."""
    exercise_id = client.post("/speed/begin", follow_redirects=False).headers["location"][7:]
    client.post(f"/write/{exercise_id}/listen")
    assert "so this speed test doesn't count" in client.get(f"/write/{exercise_id}").text


@pytest.mark.parametrize("position", ["nan", "inf", "-1", "1e9", "x", "9" * 4000])
def test_a_place_that_no_song_has_is_refused(client: TestClient, position: str) -> None:
    """A position that is none is answered as wrong."""
    exercise_id = begin(client, level="1", seed="1")
    client.post(f"/write/{exercise_id}/listen")
    answer = client.post(f"/write/{exercise_id}/heard", params={"position_s": position})
    assert answer.status_code == 422


def test_another_device_keeps_the_timing(
    stranger: TestClient, store: Store, library: FakeLibrary, fixed_now: datetime
) -> None:
    """What was typed comes back with when it was typed, and with how long ago the first listen
    began."""
    now = [fixed_now]
    store.learners.caution_shown(store.learners.get_or_add("me", fixed_now), fixed_now)
    with TestClient(create_app(store, library, now=lambda: now[0]), headers=HTML) as client:
        exercise_id = begin(client, level="1", seed="1")
        assert 'data-elapsed=""' in client.get(f"/write/{exercise_id}").text
        client.post(f"/write/{exercise_id}/listen")
        keep_text(client, exercise_id, "1 4", stamps="[[2,1.5],[1,2.25]]")
        now[0] += timedelta(seconds=40)
        page = client.get(f"/write/{exercise_id}").text
    assert 'id="stamps" value="[[2,1.5],[1,2.25]]"' in page
    assert 'data-elapsed="40.0"' in page


@pytest.mark.parametrize("stamps", ["[[1, " + "9" * 4000 + "]]", "[[" + "9" * 4000 + ", 1]]"])
def test_a_stamp_that_is_no_time_is_left_aside(
    client: TestClient, context: LearnerContext, stamps: str
) -> None:
    """A number of 4,000 digits among the stamps is kept and graded as no time at all."""
    exercise_id = begin(client, level="1", seed="1")
    client.post(f"/write/{exercise_id}/listen")
    keep_text(client, exercise_id, "1", stamps=stamps)
    attempt = _attempt(context, hand_in(client, exercise_id, "1", stamps=stamps))
    assert attempt.lag_beats is None
