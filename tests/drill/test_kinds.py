"""What attempts were for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.store.samples import NOW, hand_in
from trainer.drill import attempt_kind, exercise_kinds
from trainer.exercise import Exercise, load_course, load_songs, make_exercise
from trainer.practice import Aim, speed_test
from trainer.store import ExerciseRecord, Learner, Store

DAY = NOW.date()


def test_kinds_of_exercises_without_a_level(fresh_store: Store, learner: Learner) -> None:
    """Each exercise of no level that was written has the kind of where it came from."""
    level = load_course()[0]
    recipe = make_exercise(level.recipe, 1)
    placing, daily = make_exercise(level.recipe, 2), make_exercise(level.recipe, 3)
    song, test = load_songs()[0], speed_test(4)

    def written(made: Exercise) -> ExerciseRecord:
        kept = fresh_store.exercises.keep(learner, made)
        hand_in(fresh_store, learner, kept, text="1", lags=None)
        return kept

    for made, kind in ((placing, "placement"), (daily, "mixed")):
        kept = written(made)
        number = len(fresh_store.sets.of_day(learner, DAY))
        (item,) = fresh_store.sets.add(learner, DAY, [Aim(kind, (), "")], NOW, after=number)
        fresh_store.sets.give(item, kept, 0.8, 2.0)
    for made in (recipe, song, test, make_exercise(level.recipe, 5, level)):
        written(made)
    assert exercise_kinds(fresh_store, learner) == {
        recipe.id: "recipe",
        placing.id: "finding your level",
        daily.id: "daily set",
        song.id: "song",
        test.id: "speed test",
    }
    kinds = exercise_kinds(fresh_store, learner)
    attempts = fresh_store.attempts.history(learner)
    found = {one.exercise_id: attempt_kind(one, kinds) for one in attempts}
    assert found.items() >= kinds.items()
    assert f"level {level.number}" in found.values()


def test_a_level_that_has_moved_is_named_by_both_numbers(
    fresh_store: Store, learner: Learner
) -> None:
    """An attempt says the number that its level has today and the one it had then; one at a level
    that is gone says so."""
    level = load_course()[0]
    moved: tuple[dict[str, Any], ...] = ({}, {"level": 7}, {"level": 9, "level_id": "gone"})
    kinds = {}
    for number, changes in enumerate(moved, 1):
        made = replace(make_exercise(level.recipe, number, level), **changes)
        kept = fresh_store.exercises.keep(learner, made)
        kinds[number] = attempt_kind(hand_in(fresh_store, learner, kept, text="1", lags=None), {})
    assert list(kinds.values()) == ["level 1", "level 1 (was 7)", "level 9 of an earlier course"]
