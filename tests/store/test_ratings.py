"""Ratings as they are kept; what attempts change of them is tried in `tests.drill`."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import update

from tests.store.samples import NOW, hand_in, new_attempt
from trainer.practice import (
    MODEL_VERSION,
    Conditions,
    LearnerState,
    Rating,
    SpeedResult,
    attempt_evidence,
    rating,
    update_state,
)
from trainer.store import ExerciseRecord, Learner, RatingDay, RatingUpdate, Store
from trainer.store.tables import practice_states

DAY = NOW.date()
NOTHING = LearnerState.fresh()


def learnt(kept: ExerciseRecord, days: int = 1) -> LearnerState:
    """The state after the sample answer on each of so many days."""
    state = LearnerState.fresh()
    for number in range(days):
        how = Conditions(NOW + timedelta(days=number))
        bars = new_attempt(kept.exercise).bars
        state = update_state(state, attempt_evidence(kept.exercise, bars, how))
    return state


def change(
    state: LearnerState, *days: date, speeds: tuple[tuple[int, SpeedResult], ...] = ()
) -> RatingUpdate:
    """All of a state as what attempts changed on these days."""
    ratings = {(day, skill): rating(state, skill) for day in days for skill in state.skills}
    return RatingUpdate(state, frozenset(state.skills), ratings, speeds)


def test_a_state_comes_back_to_the_last_bit(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """What is saved is what is read: every rating, weight, memory and moment."""
    assert fresh_store.ratings.state(learner) is None
    state = learnt(kept, 3)
    fresh_store.ratings.save(learner, change(state, DAY))
    assert fresh_store.ratings.state(learner) == state
    assert state.attempts == 3
    further = learnt(kept, 4)
    fresh_store.ratings.save(learner, change(further, DAY))
    assert fresh_store.ratings.state(learner) == further


def test_only_the_skills_named_are_written(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """An attempt writes the skills it showed and leaves the others' rows."""
    first, second = learnt(kept), learnt(kept, 2)
    fresh_store.ratings.save(learner, change(first))
    fresh_store.ratings.save(learner, RatingUpdate(second, frozenset({"chord 4"}), {}, ()))
    found = fresh_store.ratings.state(learner)
    assert found is not None
    assert found.attempts == 2
    assert found.skills["chord 4"] == second.skills["chord 4"]
    assert found.skills["chord 1"] == first.skills["chord 1"]


def test_what_another_model_made_is_not_read(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Ratings made in another way are as good as none."""
    fresh_store.ratings.save(learner, change(learnt(kept)))
    with fresh_store._database.writing() as connection:
        connection.execute(update(practice_states).values(model=MODEL_VERSION + 1))
    assert fresh_store.ratings.state(learner) is None


def test_ratings_by_day(fresh_store: Store, learner: Learner) -> None:
    """Each day keeps the ratings it was saved with last, for the range asked."""
    days = [DAY + timedelta(days=number) for number in range(3)]
    for number, day in enumerate(days):
        for mean in (9.0, float(number)):
            saved = {(day, "chord 1"): Rating(mean, 0.5), (day, "chord 4"): Rating(mean, 0.25)}
            fresh_store.ratings.save(
                learner, RatingUpdate(LearnerState.fresh(), frozenset(), saved, ())
            )
    found = fresh_store.ratings.days(learner)
    assert found == tuple(
        RatingDay(day, skill, float(number), variance)
        for number, day in enumerate(days)
        for skill, variance in (("chord 1", 0.5), ("chord 4", 0.25))
    )
    assert fresh_store.ratings.days(learner, since=days[2]) == found[4:]
    assert fresh_store.ratings.days(learner, until=days[0]) == found[:2]


@pytest.mark.parametrize(("back", "step", "last_of"), [(0, 1, (0, 1, 2)), (0, 2, (1, 2)),
                                                       (1, 2, (0, 2)), (1, 30, (2,))])  # fmt: skip
def test_ratings_by_stretch(
    fresh_store: Store, learner: Learner, back: int, step: int, last_of: tuple[int, ...]
) -> None:
    """Of every stretch of days the last ratings are given, of the skills asked for."""
    for number in range(4):
        day = DAY + timedelta(days=number)
        saved = {(day, skill): Rating(number, 0.5) for skill in ("chord 1", "chord 4")}
        fresh_store.ratings.save(
            learner, RatingUpdate(LearnerState.fresh(), frozenset(), saved, ())
        )
    since, until = DAY - timedelta(days=back), DAY + timedelta(days=2)
    found = fresh_store.ratings.day_stretches(learner, {"chord 4"}, since, until, step)
    assert found == tuple(
        RatingDay(DAY + timedelta(days=number), "chord 4", number, 0.5) for number in last_of
    )


def test_speed_results_are_kept_by_attempt(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """The results of speed tests come back by time, each attempt's once."""
    results = [SpeedResult("speed 1", NOW - timedelta(days=n), 0.5, 0.75, None) for n in range(2)]
    for result in results:
        made = hand_in(fresh_store, learner, kept)
        for _ in range(2):
            saved = change(LearnerState.fresh(), speeds=((made.id, result),))
            fresh_store.ratings.save(learner, saved)
    assert fresh_store.ratings.speed(learner) == tuple(results[::-1])


def test_learners_are_kept_apart(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Clearing, and deleting a learner, takes all that is theirs and leaves the others'."""
    state = learnt(kept)
    others = [fresh_store.learners.add(name, NOW) for name in ("Odell Pruitt", "Nora Finch")]
    made = hand_in(fresh_store, learner, kept)
    speed = (made.id, SpeedResult("speed 1", NOW, 0.5, 0.75, 4.0))
    for who in (learner, *others):
        fresh_store.ratings.save(who, change(state, DAY))
    fresh_store.ratings.save(learner, change(state, DAY, speeds=(speed,)))
    fresh_store.ratings.clear(learner)
    fresh_store.learners.delete(others[0])
    for who in (learner, others[0]):
        assert fresh_store.ratings.state(who) is None
        assert fresh_store.ratings.days(who) == ()
        assert fresh_store.ratings.speed(who) == ()
    assert fresh_store.ratings.state(others[1]) == state
    assert len(fresh_store.ratings.days(others[1])) == len(state.skills)
