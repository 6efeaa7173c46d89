"""Daily sets as they are kept; how they are planned is tried in `tests.drill`."""

from __future__ import annotations

from datetime import timedelta

from tests.store.samples import NOW, exercise
from trainer.practice import Aim
from trainer.store import ExerciseRecord, Learner, Store

DAY = NOW.date()
LATER = NOW + timedelta(hours=1)
MIXED = Aim("mixed", (), "Something of everything.")


def test_a_set_comes_back_as_planned(fresh_store: Store, learner: Learner) -> None:
    """The items stand in their order, with their skills and reasons, open and without exercise."""
    aims = [MIXED, Aim("weak", ("chord 4", "bass 5/7"), "4 was weak.")]
    items = fresh_store.sets.add(learner, DAY, aims, NOW, after=0)
    assert [(item.kind, item.skills, item.reason) for item in items] == [
        (aim.kind, aim.skills, aim.reason) for aim in aims
    ]
    assert [(item.number, item.position, item.status) for item in items] == [
        (1, 1, "open"),
        (1, 2, "open"),
    ]
    assert {item.exercise_id for item in items} == {None}
    more = fresh_store.sets.add(learner, DAY, [MIXED], LATER, after=1)
    assert fresh_store.sets.of_day(learner, DAY) == (*items, *more)
    assert fresh_store.sets.of_day(learner, DAY + timedelta(days=1)) == ()
    assert fresh_store.sets.get(learner, items[1].id) == items[1]


def test_two_windows_plan_one_set(fresh_store: Store, learner: Learner) -> None:
    """Of two windows that plan the same set one is kept, and both are given it."""
    one = fresh_store.sets.add(learner, DAY, [Aim("mixed", (), "One.")], NOW, after=0)
    two = fresh_store.sets.add(learner, DAY, [Aim("mixed", (), "Two.")], NOW, after=0)
    assert one == two
    aim = Aim("placement", (), "More.")
    extended = fresh_store.sets.extend(one[0], aim, NOW)
    assert extended is not None
    assert (extended.position, extended.reason) == (2, "More.")
    assert fresh_store.sets.extend(one[0], aim, NOW) is None
    a, b = (fresh_store.exercises.keep(learner, exercise(n)) for n in (1, 2))
    assert fresh_store.sets.give(one[0], a, 0.8, 2.0).exercise_id == a.key
    again = fresh_store.sets.give(one[0], b, 0.5, 3.0)
    assert (again.exercise_id, again.expected, again.minutes) == (a.key, 0.8, 2.0)


def test_what_is_done_cannot_be_skipped(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """An item that another window finished stays done; what was skipped can still be done."""
    items = fresh_store.sets.add(learner, DAY, [MIXED, MIXED], NOW, after=0)
    fresh_store.sets.give(items[0], kept, 0.8, 2.0)
    fresh_store.sets.finish(learner, kept, LATER)
    fresh_store.sets.skip(items[0], LATER)
    found = fresh_store.sets.get(learner, items[0].id)
    assert found is not None
    assert (found.status, found.changed_at) == ("done", LATER)
    second = fresh_store.exercises.keep(learner, exercise(2))
    fresh_store.sets.give(items[1], second, 0.8, 2.0)
    fresh_store.sets.skip(items[1], LATER)
    fresh_store.sets.finish(learner, second, LATER)
    assert [item.status for item in fresh_store.sets.of_day(learner, DAY)] == ["done", "done"]


def test_learners_are_kept_apart(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """An item is found by its own learner alone and finished by no one else's exercise."""
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    (mine,) = fresh_store.sets.add(learner, DAY, [MIXED], NOW, after=0)
    fresh_store.sets.give(mine, kept, 0.8, 2.0)
    fresh_store.sets.finish(other, fresh_store.exercises.keep(other, exercise()), NOW)
    assert fresh_store.sets.get(other, mine.id) is None
    found = fresh_store.sets.get(learner, mine.id)
    assert found is not None
    assert found.status == "open"
    fresh_store.learners.delete(learner)
    assert fresh_store.sets.of_day(learner, DAY) == ()


def test_a_placement_is_remembered(fresh_store: Store, learner: Learner) -> None:
    """That a placement was ever begun is known on any day after."""
    assert not fresh_store.sets.had_placement(learner)
    fresh_store.sets.add(learner, DAY, [MIXED], NOW, after=0)
    assert not fresh_store.sets.had_placement(learner)
    fresh_store.sets.add(learner, DAY, [Aim("placement", (), "Where?")], NOW, after=1)
    assert fresh_store.sets.had_placement(learner)
