"""Seats: listens and working time of an exercise that is being written."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest

from tests.store.samples import NOW, exercise, hand_in
from trainer.store import Store


def test_a_seat_is_taken_once(two_stores: tuple[Store, Store]) -> None:
    """Who comes back, or opens a second window, finds the seat with its name and its listens."""
    one, other = two_stores
    learner = one.learners.get_or_add("Wren Halloway", NOW)
    kept = one.exercises.keep(exercise())
    assert one.seats.find(learner, kept) is None
    first = one.seats.take(learner, kept, "first", NOW)
    assert (first.token, first.speeds, first.started_at) == ("first", (), NOW)
    one.seats.listen(learner, kept, 80, 2, "unused", NOW)
    again = other.seats.take(learner, kept, "second", NOW + timedelta(days=1))
    assert (again.token, again.speeds, again.started_at) == ("first", (80,), NOW)


@pytest.mark.parametrize("location", ["sqlite"], indirect=True)
def test_listens_are_not_given_twice(two_stores: tuple[Store, Store]) -> None:
    """Of ten that ask at once for two listens, two get one."""
    learner = two_stores[0].learners.get_or_add("Wren Halloway", NOW)
    kept = two_stores[0].exercises.keep(exercise())

    def listen(store: Store) -> bool:
        return store.seats.listen(learner, kept, 100, 2, "token", NOW) is not None

    with ThreadPoolExecutor(4) as pool:
        assert sum(pool.map(listen, two_stores * 5)) == 2
    seat = two_stores[0].seats.find(learner, kept)
    assert seat is not None
    assert seat.left(2) == 0
    assert seat.left(0) is None


def test_who_is_away_does_not_work(fresh_store: Store) -> None:
    """A night between two keystrokes counts as five minutes, a clock set back as nothing."""
    learner = fresh_store.learners.get_or_add("Wren Halloway", NOW)
    kept = fresh_store.exercises.keep(exercise())
    fresh_store.seats.take(learner, kept, "token", NOW)
    fresh_store.drafts.save(learner, kept, "1", NOW + timedelta(seconds=40))
    fresh_store.drafts.save(learner, kept, "1 4", NOW + timedelta(hours=9))
    fresh_store.seats.listen(learner, kept, 100, 0, "token", NOW + timedelta(hours=8))
    seat = fresh_store.seats.find(learner, kept)
    assert seat is not None
    assert seat.worked_s == 40 + 300
    assert seat.worked_until(NOW + timedelta(hours=8, seconds=20)) == 40 + 300 + 20


def test_handing_in_gives_the_seat_up(fresh_store: Store) -> None:
    """With the attempt stored, the seat is free, and the name of the handing-in is known."""
    learner = fresh_store.learners.get_or_add("Wren Halloway", NOW)
    kept = fresh_store.exercises.keep(exercise())
    fresh_store.seats.listen(learner, kept, 100, 2, "token", NOW)
    assert fresh_store.attempts.find_token(learner, "token") is None
    hand_in(fresh_store, learner, kept, token="token")
    assert fresh_store.seats.find(learner, kept) is None
    assert fresh_store.attempts.find_token(learner, "token") is not None


def test_a_seat_goes_with_its_learner(fresh_store: Store) -> None:
    """Deleting a learner deletes the seats and leaves others'."""
    kept = fresh_store.exercises.keep(exercise())
    one, other = (fresh_store.learners.get_or_add(name, NOW) for name in ("Wren", "Odell"))
    for learner in (one, other):
        fresh_store.seats.take(learner, kept, learner.name, NOW)
    fresh_store.learners.delete(one)
    assert fresh_store.seats.find(one, kept) is None
    assert fresh_store.seats.find(other, kept) is not None
