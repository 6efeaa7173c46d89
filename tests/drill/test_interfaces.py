"""The rules of a drill, driven through every way in: they are the same whichever is taken."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.drill.evening import Clock, shown
from tests.drill.interfaces import LENGTH_S, Pause, Play, RoomWay, Submit, Visit, Wait, Way, Write
from tests.drill.page import PageWay
from tests.drill.terminal import TerminalWay
from tests.store.samples import SONG, TEXT, exercise
from trainer.drill import Drill, Drills, find_result, rating_state
from trainer.practice import speed_test
from trainer.store import AttemptRecord, Learner, Store

Make = Callable[[Store, Learner, Clock, pytest.MonkeyPatch, Path], Way]
WAYS: dict[str, Make] = {
    "room": lambda store, learner, clock, *_: RoomWay(store, learner, clock),
    "terminal": lambda store, learner, clock, patch, _: TerminalWay(store, learner, clock, patch),
    "page": lambda store, learner, clock, _, folder: PageWay(store, learner, clock, folder),
}


# What the room says is said again through the others, which are slow under the tracer.
AGAIN = {"terminal": [pytest.mark.many], "page": [pytest.mark.many]}


@pytest.fixture(
    params=[pytest.param(make, id=name, marks=AGAIN.get(name, [])) for name, make in WAYS.items()]
)
def way(
    request: pytest.FixtureRequest,
    fresh_store: Store,
    learner: Learner,
    clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> Way:
    """A way to the learner's drills."""
    found: Way = request.param(fresh_store, learner, clock, monkeypatch, tmp_path)
    return found


def opened(way: Way, key: str) -> Drill:
    """The drill that is open at an exercise, as it is stored."""
    drill = Drills(way.store, way.learner, way.clock).find(key)
    assert drill is not None
    return drill


def attempt_of(visit: Visit) -> AttemptRecord:
    """The attempt that a visit ended with."""
    assert visit.attempt is not None
    return visit.attempt


def test_one_exercise_to_its_result(way: Way) -> None:
    """Heard once to its end, written while it played and after: the same attempt by every way."""
    visit = way.visit(exercise(), [Play(13.0), Write(TEXT), Wait(47.0), Submit()])
    assert (visit.seen, visit.text, visit.refused) == (False, "", 0)
    attempt = attempt_of(visit)
    assert (attempt.listens, attempt.tempo_ratio, attempt.bars) == (1, 1.0, 4)
    # Of four bars 5/7 for 1 in half a bar leaves 0.433, and 2- for 4 0.25 (two notes in common).
    assert attempt.score == pytest.approx(0.671, abs=0.001)
    assert attempt.duration_s == LENGTH_S
    assert not attempt.seen
    detail = way.store.attempts.get(attempt.id)
    assert detail is not None
    assert detail.answer_text.split() == ["1", "1", "6-", "2-"]
    # After half a second of room the band counts off a bar of 2.5 s and plays four; all was written
    # when it had played four.
    assert [bar.lag_beats for bar in detail.bars] == pytest.approx([16.0, 12.0, 8.0, 4.0])
    assert rating_state(way.store, way.learner).attempts == 1
    found = Drills(way.store, way.learner, way.clock).find(exercise().id)
    assert found is None


def test_listens_are_used_up(way: Way) -> None:
    """With two listens a third is refused, today and after a start of the program."""
    visit = way.visit(exercise(), [Play(), Play(), Play(), Write(TEXT)])
    assert visit.refused == 1
    assert opened(way, exercise().id).progress.listens == 2
    way.start_again()
    again = way.visit(exercise(), [Play(), Submit()])
    assert (again.refused, again.text) == (1, f"{TEXT}\n")
    assert attempt_of(again).listens == 2


def test_left_and_gone_on_with(way: Way) -> None:
    """Who leaves in the middle of a listen finds the text, and goes on from the same place."""
    left = way.visit(exercise(listens=1), [Play(5.0), Write("1 1")])
    assert left.attempt is None
    drill = opened(way, exercise().id)
    assert (drill.position_s, drill.listens_left) == (5.0, 0)
    way.start_again()
    way.clock.pass_(hours=10)
    again = way.visit(exercise(listens=1), [Play(3.0)])
    assert (again.text, again.refused) == ("1 1\n", 0)
    drill = opened(way, exercise().id)
    assert (drill.position_s, drill.listens_left, drill.progress.paused) == (8.0, 0, True)
    done = attempt_of(way.visit(exercise(listens=1), [Play(), Write("6- 4"), Submit()]))
    assert (done.listens, done.paused, done.first_pass) == (1, True, False)


def test_leaving_hands_nothing_in(way: Way) -> None:
    """Only handing in makes an attempt; what is written waits."""
    way.visit(exercise(), [Play(), Write(TEXT)])
    assert way.store.attempts.count(way.learner) == 0
    latest = Drills(way.store, way.learner, way.clock).latest()
    assert latest is not None
    assert latest.progress.text == f"{TEXT}\n"


@pytest.mark.parametrize("pause", [True, False])
def test_a_paused_speed_test_does_not_count(way: Way, pause: bool) -> None:
    """A speed test with a pause is graded and stored, but gives no result; without, it does."""
    test = speed_test(5)
    text = " ".join(shown(test).partition("Verse:")[2].split())
    between = [Pause(2.0)] if pause else []
    visit = way.visit(test, [Play(20.0), *between, Write(text), Submit()])
    attempt = attempt_of(visit)
    result = find_result(way.store, way.learner, attempt.id)
    assert result is not None
    assert result.is_speed_test
    assert attempt.paused is pause
    assert (result.why_no_test == "") is not pause
    assert len(way.store.ratings.speed(way.learner)) == (0 if pause else 1)


def test_a_seen_song_is_practice(way: Way) -> None:
    """A song with a result is introduced as seen, and its next attempt counts for nothing."""
    first = attempt_of(way.visit(exercise(), [Play(), Write(TEXT), Submit()]))
    best = way.store.attempts.best_by_level(way.learner)
    state = rating_state(way.store, way.learner)
    again = way.visit(exercise(), [Play(), Write(SONG), Submit()])
    assert again.seen
    assert attempt_of(again).seen
    assert attempt_of(again).score == 1.0
    assert not first.seen
    assert way.store.attempts.best_by_level(way.learner) == best
    assert rating_state(way.store, way.learner).skills == state.skills
