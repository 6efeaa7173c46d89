from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest

from tests.store.samples import NOW, exercise, hand_in
from trainer.chart import Chart, chart_to_json
from trainer.exercise import Exercise, bar_skills, exercise_to_json, load_course
from trainer.grade import grade, report_to_json
from trainer.store import ExerciseRecord, Given, Learner, Sitting, Store, Today

COURSE = load_course()
DAY = NOW.date()


@pytest.fixture
def today(fresh_store: Store, learner: Learner) -> Callable[..., Today]:
    """The learner's day, as a window sees it that was just opened."""

    def open_(day: date = DAY, seed: int = 1) -> Today:
        return Today(fresh_store, learner, COURSE, day, random.Random(seed))

    return open_


@pytest.fixture
def answer(fresh_store: Store, learner: Learner) -> Callable[..., None]:
    """Hands in an answer to an exercise: as played, or the chart given."""

    def run(made: Exercise, now: datetime, chart: Chart | None = None) -> None:
        written = chart or made.chart
        fresh_store.attempts.record(
            learner,
            fresh_store.exercises.keep(exercise_to_json(made)),
            "typed",
            report_to_json(grade(made.chart, written)),
            Sitting(started_at=now, day=now.date()),
            now,
            answer_chart=chart_to_json(written),
            bar_skills=bar_skills(made.chart),
        )

    return run


def placed(today: Callable[..., Today], answer: Callable[..., None]) -> list[Given]:
    """Go through the placement; its items."""
    items: list[Given] = []
    for minute in range(10):
        given = today().next(NOW + timedelta(minutes=minute))
        assert given is not None
        if given.item.kind != "placement":
            return items
        items.append(given)
        answer(given.exercise, NOW + timedelta(minutes=minute, seconds=30))
    raise AssertionError("placement did not end")


def test_a_newcomer_is_placed_and_then_given_a_set(
    today: Callable[..., Today], answer: Callable[..., None]
) -> None:
    """The first session finds the level in two to five items; the day's first set follows."""
    items = placed(today, answer)
    assert 2 <= len(items) <= 5
    assert len({given.exercise.id for given in items}) == len(items)
    given = today().next(NOW + timedelta(minutes=30))
    assert given is not None
    assert (given.item.number, given.item.position) == (2, 1)
    assert 3 <= given.total <= 8


def test_placement_can_be_skipped(today: Callable[..., Today]) -> None:
    """Who does not want to be placed begins at the beginning of the course."""
    items = today().skip_placement(NOW)
    assert {item.kind for item in items} <= {"new", "mixed"}
    assert "chord 1" in {skill for item in items for skill in item.skills}
    given = today().next(NOW)
    assert given is not None
    assert given.item.kind != "placement"
    assert today().skip_placement(NOW) == today().plan(NOW)


def test_two_skips_end_the_placement(today: Callable[..., Today]) -> None:
    """Skipping placement items one by one comes to the set, too."""
    kinds = []
    for _ in range(3):
        given = today().next(NOW)
        assert given is not None
        kinds.append(given.item.kind)
        today().skip(given.item, NOW)
    assert kinds[:2] == ["placement"] * 2
    assert kinds[2] != "placement"


def test_a_set_stays_as_it_was_planned(
    today: Callable[..., Today], answer: Callable[..., None]
) -> None:
    """Another window, another moment, other randomness: the day's set and item are the same."""
    placed(today, answer)
    first = today().next(NOW + timedelta(hours=1))
    second = today(seed=99).next(NOW + timedelta(hours=3))
    assert first == second
    assert today().plan(NOW) == today(seed=5).plan(NOW + timedelta(hours=2))


def test_stopping_half_way_and_going_on(
    today: Callable[..., Today], answer: Callable[..., None]
) -> None:
    """What was done is done; the rest waits, and what was skipped does not come again."""
    placed(today, answer)
    later = NOW + timedelta(hours=1)
    one = today().next(later)
    assert one is not None
    answer(one.exercise, later)
    two = today().next(later)
    assert two is not None
    today().skip(two.item, later)
    evening = NOW + timedelta(hours=5)
    three = today().next(evening)
    assert three is not None
    assert three.item.position == 3
    assert [item.status for item in today().plan(evening)[:3]] == ["done", "skipped", "open"]


def finish(today: Callable[..., Today], answer: Callable[..., None], now: datetime) -> None:
    """Answer whatever the present set still holds."""
    for minute in range(20):
        given = today(now.date()).next(now + timedelta(minutes=minute))
        if given is None:
            return
        answer(given.exercise, now + timedelta(minutes=minute))
    raise AssertionError("the set did not end")


def test_a_second_set_follows_when_asked_for(
    today: Callable[..., Today], answer: Callable[..., None]
) -> None:
    """A finished set gives nothing more until another is asked for, with other aims."""
    placed(today, answer)
    later = NOW + timedelta(hours=1)
    open_set = today().plan(later)
    assert today().another(later) == open_set
    finish(today, answer, later)
    assert today().next(later) is None
    more = today().another(later + timedelta(hours=1))
    assert more[0].number == open_set[0].number + 1
    aims = [{skill for item in items for skill in item.skills} for items in (open_set, more)]
    assert aims[0].isdisjoint(aims[1])


def test_the_next_day_has_a_new_set(
    today: Callable[..., Today], answer: Callable[..., None]
) -> None:
    """A new day begins with a new set, even if yesterday's was left open; no placement again."""
    placed(today, answer)
    tomorrow = NOW + timedelta(days=1)
    given = today(tomorrow.date()).next(tomorrow)
    assert given is not None
    assert given.item.number == 1
    assert given.item.kind != "placement"


def test_someone_with_a_history_is_not_placed(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, today: Callable[..., Today]
) -> None:
    """Attempts made before there were sets are enough to begin with one."""
    hand_in(fresh_store, learner, kept, NOW - timedelta(days=2))
    given = today().next(NOW)
    assert given is not None
    assert given.item.kind != "placement"


def test_two_windows_plan_one_set(fresh_store: Store, learner: Learner) -> None:
    """Of two windows that plan the same set one is kept, and both show it."""
    from trainer.practice import Aim

    one = fresh_store.sets.add(learner, NOW.date(), [Aim("mixed", (), "One.")], NOW, after=0)
    two = fresh_store.sets.add(learner, NOW.date(), [Aim("mixed", (), "Two.")], NOW, after=0)
    assert one == two
    aim = Aim("placement", (), "More.")
    assert fresh_store.sets.extend(one[0], aim, NOW) is not None
    assert fresh_store.sets.extend(one[0], aim, NOW) is None
    a, b = (fresh_store.exercises.keep(exercise(n)) for n in (1, 2))
    assert fresh_store.sets.give(one[0], a, 0.8, 2.0).exercise_id == a.id
    assert fresh_store.sets.give(one[0], b, 0.8, 2.0).exercise_id == a.id


def test_what_is_done_cannot_be_skipped(fresh_store: Store, learner: Learner) -> None:
    """An item that another window finished stays done."""
    from trainer.practice import Aim

    item = fresh_store.sets.add(learner, NOW.date(), [Aim("mixed", (), "One.")], NOW, after=0)[0]
    kept = fresh_store.exercises.keep(exercise())
    fresh_store.sets.give(item, kept, 0.8, 2.0)
    hand_in(fresh_store, learner, kept)
    fresh_store.sets.skip(item, NOW)
    found = fresh_store.sets.get(learner, item.id)
    assert found is not None
    assert found.status == "done"
    other = fresh_store.learners.get_or_add("Odell Pruitt", NOW)
    assert fresh_store.sets.get(other, item.id) is None


def test_sets_go_with_their_learner(fresh_store: Store, learner: Learner) -> None:
    """Deleting a learner takes the sets along."""
    from trainer.practice import Aim

    fresh_store.sets.add(learner, NOW.date(), [Aim("mixed", (), "One.")], NOW, after=0)
    fresh_store.learners.delete(learner)
    assert fresh_store.sets.of_day(learner, NOW.date()) == ()
    fresh_store.check()
