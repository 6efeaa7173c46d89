"""What attempts change of ratings and sums, and making both again from the attempts alone."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import timedelta

import pytest
from sqlalchemy import delete, event, select, update

from tests.drill.evening import Clock, answered, in_time, shown, stored
from tests.store.samples import NOW, SONG, TEXT, exercise
from trainer.drill import (
    Drills,
    Submitted,
    bring_all_ratings_up,
    bring_ratings_up,
    rating_state,
    rebuild,
)
from trainer.practice import MODEL_VERSION, LearnerState, speed_history, speed_test
from trainer.store import Learner, Store
from trainer.store.tables import (
    confusion_days,
    exercises,
    practice_states,
    rating_days,
    skill_days,
    skill_states,
    speed_results,
)

RATINGS = (practice_states, skill_states, rating_days, speed_results)
SUMS = (skill_days, confusion_days)
ANSWERS = (TEXT, SONG, "1 6- 4", "1 (1 5/7) 6- 4 5", "2- 2- 2- 2-", "4 (4 1/3) 2- b7")


def practised(drills: Drills, clock: Clock, attempts: int = 12, seed: int = 1) -> None:
    """Attempts of all kinds: some unheard, some at a song seen before, one test of speed, the
    clock set back once on the way."""
    rng = random.Random(seed)
    for number in range(attempts):
        clock.pass_(hours=rng.randint(1, 40))
        if number == attempts // 2:
            clock.pass_(days=-90)
        made = exercise(rng.randint(1, 9), level=rng.choice([None, 2]), listens=0)
        text = rng.choice(ANSWERS)
        stamps = in_time(made, text) if rng.random() < 0.5 else ""
        answered(drills, made, text, listens=rng.choice([0, 1, 1, 2]), stamps=stamps)
    test = speed_test(seed)
    answered(drills, test, shown(test), stamps=in_time(test, shown(test)))


def of_another_model(store: Store) -> None:
    """Have the stored ratings be of a model that is not the present one."""
    with store._database.writing() as connection:
        connection.execute(update(practice_states).values(model=MODEL_VERSION + 1))
        connection.execute(update(skill_states).values(own=5.0))


def test_every_attempt_moves_the_ratings(drills: Drills) -> None:
    """The ratings and sums move with the attempt that is stored, by hand-counted credits."""
    assert rating_state(drills.store, drills.learner).attempts == 0
    answered(drills, exercise())
    state = rating_state(drills.store, drills.learner)
    assert state.attempts == 1
    assert set(state.skills) == {
        "bass 5/7", "chord 1", "chord 4", "chord 5", "chord 6-", "even split", "feel straight",
        "meter 4/4",
    }  # fmt: skip
    # 1 was right in both of its bars, 4 was written 2-, the split was not written.
    assert state.skills["chord 1"].credit == 2.0
    assert state.skills["chord 4"].credit == 0.0
    assert state.skills["even split"].credit == 0.0
    assert state.last_at == NOW
    days = {
        day.skill: (day.bars, day.right) for day in drills.store.progress.skills(drills.learner)
    }
    assert days["chord 1"] == (2, 2)
    assert len(drills.store.ratings.days(drills.learner)) == 8


def test_asking_stores_nothing(drills: Drills, fresh_store: Store, clock: Clock) -> None:
    """What is known is told, with or without ratings stored, and no row is written."""
    before = stored(fresh_store)
    assert rating_state(fresh_store, drills.learner) == LearnerState.fresh()
    assert stored(fresh_store) == before
    practised(drills, clock, 3)
    for spoil in (lambda: None, lambda: of_another_model(fresh_store)):
        spoil()
        before = stored(fresh_store)
        assert rating_state(fresh_store, drills.learner).attempts == 4
        assert stored(fresh_store) == before


def test_all_of_it_is_made_again_from_the_attempts(
    drills: Drills, fresh_store: Store, clock: Clock
) -> None:
    """What a rebuild makes is what stood there, to the last bit, whatever was lost or spoilt."""
    practised(drills, clock)
    before, state = stored(fresh_store), rating_state(fresh_store, drills.learner)
    assert all(before[table.name] for table in (*RATINGS, *SUMS))
    assert rebuild(fresh_store, drills.learner) == 13
    assert stored(fresh_store) == before
    with fresh_store._database.writing() as connection:
        for table in RATINGS:
            connection.execute(delete(table))
        connection.execute(update(skill_days).values(bars=99))
        connection.execute(delete(confusion_days).where(confusion_days.c.played == "1"))
    assert rating_state(fresh_store, drills.learner) == state
    assert rebuild(fresh_store, drills.learner) == 13
    assert stored(fresh_store) == before
    assert rating_state(fresh_store, drills.learner) == state


@pytest.mark.many
def test_ratings_of_another_model_are_made_again(
    drills: Drills, fresh_store: Store, clock: Clock
) -> None:
    """When the way ratings are made has changed, they are brought up when that is asked for."""
    assert not bring_ratings_up(fresh_store, drills.learner)
    practised(drills, clock)
    before, state = stored(fresh_store), rating_state(fresh_store, drills.learner)
    assert not bring_ratings_up(fresh_store, drills.learner)
    of_another_model(fresh_store)
    assert rating_state(fresh_store, drills.learner) == state
    assert bring_ratings_up(fresh_store, drills.learner)
    assert stored(fresh_store) == before
    assert not bring_ratings_up(fresh_store, drills.learner)


def test_a_start_looks_at_those_alone_whose_ratings_are_old(
    drills: Drills, fresh_store: Store, clock: Clock
) -> None:
    """Of many learners those with attempts and without ratings of the present model are brought up;
    where there are none it takes one query."""
    for number in range(20):
        fresh_store.learners.add(f"learner {number}", clock())
    practised(drills, clock)
    with counted_statements(fresh_store) as asked:
        assert bring_all_ratings_up(fresh_store) == 0
    assert sum(each.startswith("SELECT") for each in asked) == 1
    before = stored(fresh_store)
    of_another_model(fresh_store)
    assert bring_all_ratings_up(fresh_store) == 1
    assert stored(fresh_store) == before


@contextmanager
def counted_statements(store: Store) -> Iterator[list[str]]:
    """The queries that are asked meanwhile."""
    found: list[str] = []

    def note(_: object, __: object, statement: str, *___: object) -> None:
        found.append(statement)

    engine = store._database.engine
    event.listen(engine, "before_cursor_execute", note)
    try:
        yield found
    finally:
        event.remove(engine, "before_cursor_execute", note)


@pytest.mark.many
def test_an_attempt_brings_the_ratings_up(drills: Drills, fresh_store: Store, clock: Clock) -> None:
    """An attempt after the model has changed is stored with the ratings of all before it."""
    practised(drills, clock)
    of_another_model(fresh_store)
    clock.pass_(hours=1)
    answered(drills, exercise(20))
    after, state = stored(fresh_store), rating_state(fresh_store, drills.learner)
    assert state.attempts == 14
    rebuild(fresh_store, drills.learner)
    assert stored(fresh_store) == after


def test_a_clock_set_back_is_never_due_before(drills: Drills, clock: Clock) -> None:
    """An attempt dated before the last counts, and nothing is due before it was practised."""
    answered(drills, exercise(1))
    clock.pass_(days=-400)
    answered(drills, exercise(2))
    state = rating_state(drills.store, drills.learner)
    assert (state.attempts, state.last_at) == (2, NOW)
    assert all(each.memory.due > NOW for each in state.skills.values())


@pytest.mark.many
def test_windows_at_once_lose_no_attempt(two_stores: tuple[Store, Store], clock: Clock) -> None:
    """Attempts from two windows all move the ratings, and a rebuild gives the same."""
    learner = two_stores[0].learners.add("Wren Halloway", NOW)
    windows = [Drills(store, learner, clock) for store in two_stores]

    def window(number: int) -> Submitted:
        return answered(windows[number % 2], exercise(number, listens=0), SONG)

    with ThreadPoolExecutor(4) as pool:
        done = list(pool.map(window, range(1, 21)))
    assert len({each.attempt.id for each in done}) == 20
    before = stored(two_stores[1])
    assert rating_state(two_stores[1], learner).attempts == 20
    assert rebuild(two_stores[1], learner) == 20
    assert stored(two_stores[0]) == before


def test_learners_are_kept_apart(
    drills: Drills, fresh_store: Store, learner: Learner, clock: Clock
) -> None:
    """One learner's attempts leave another's ratings alone; deleting takes all that is theirs."""
    other = Drills(fresh_store, fresh_store.learners.add("Odell Pruitt", NOW), clock)
    answered(other, exercise())
    theirs = rating_state(fresh_store, other.learner)
    practised(drills, clock, 4)
    rebuild(fresh_store, learner)
    assert rating_state(fresh_store, other.learner) == theirs
    fresh_store.learners.delete(learner)
    assert rating_state(fresh_store, learner) == LearnerState.fresh()
    assert rating_state(fresh_store, other.learner) == theirs
    owners = {row[0] for table in (*RATINGS[:3], *SUMS) for row in stored(fresh_store)[table.name]}
    assert owners == {other.learner.id}


@pytest.fixture
def self_test(drills: Drills, clock: Clock) -> Callable[..., Submitted]:
    """Takes the speed self-test a day later, every bar written so many beats after it began."""

    def take(number: int, lag: float) -> Submitted:
        clock.pass_(days=1)
        test = speed_test(number)
        return answered(drills, test, shown(test), stamps=in_time(test, shown(test), lag))

    return take


def test_self_tests_are_found(drills: Drills, self_test: Callable[..., Submitted]) -> None:
    """Attempts at the self-test give results that can be compared with each other."""
    for number, lag in ((1, 9.0), (2, 5.0), (3, 4.0)):
        self_test(number, lag)
    results = drills.store.ratings.speed(drills.learner)
    assert [result.kept_up for result in results] == [0.0, 1.0, 1.0]
    history = speed_history(results)
    assert history.best is not None
    assert history.best.lag_beats == pytest.approx(4.0)
    assert (history.is_best, history.percentile) == (True, 100.0)


def test_self_tests_that_broke_the_rules_are_none(drills: Drills) -> None:
    """A pause, a slower band or no times at all: graded and stored, but no result."""
    for number, speed, paused in ((1, 100, True), (2, 80, False), (3, 100, None)):
        test = speed_test(number)
        token = drills.begin(test).token
        drills.listen(test.id, speed, token)
        drills.heard(test.id, 5.0, paused=bool(paused), token=token)
        drills.heard(test.id, None, token=token)
        stamps = in_time(test, shown(test), speed=speed) if paused is not None else ""
        done = answered(drills, test, shown(test), listens=0, stamps=stamps)
        assert done.attempt.counts
    assert drills.store.ratings.speed(drills.learner) == ()


def test_rebuilding_keeps_old_self_tests(
    drills: Drills, fresh_store: Store, self_test: Callable[..., Submitted]
) -> None:
    """A test stored before protocols were named, and given a key since, keeps its result."""
    self_test(1, 3.0)
    before = fresh_store.ratings.speed(drills.learner)
    assert before
    with fresh_store._database.writing() as connection:
        (data,) = connection.execute(select(exercises.c.data)).scalars()
        recipe = {key: value for key, value in data["recipe"].items() if key != "protocol"}
        new = data | {"recipe": recipe | {"a later key": 0}}
        connection.execute(update(exercises).values(data=new))
    rebuild(fresh_store, drills.learner)
    assert fresh_store.ratings.speed(drills.learner) == before


def test_days_keep_the_ratings_they_ended_with(drills: Drills, clock: Clock) -> None:
    """Each day with practice has a row for each skill it showed; what is certain grows."""
    for number in range(1, 4):
        answered(drills, exercise(2 * number), SONG)
        answered(drills, exercise(2 * number + 1), SONG)
        clock.pass_(days=1)
    days = drills.store.ratings.days(drills.learner)
    assert [day.day - NOW.date() for day in days[::8]] == [timedelta(days=n) for n in range(3)]
    assert len(days) == 3 * 8
    assert all(b.variance < a.variance for a, b in zip(days[:8], days[16:], strict=True))
