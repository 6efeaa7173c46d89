"""Several repositories in one transaction."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlalchemy.exc import InvalidRequestError

from tests.store.samples import NOW, exercise, hand_in
from trainer.errors import StoreConflict, StoreError
from trainer.store import ExerciseRecord, Learner, OpenDrill, Repositories, Store
from trainer.store.tables import drills

DRILL = OpenDrill("token", started_at=NOW, seen_at=NOW, text="1 1", text_at=NOW)


def test_a_transaction_is_committed_whole(fresh_store: Store) -> None:
    """What several repositories wrote in one transaction is there after it, and not before."""
    with fresh_store.transaction() as inside:
        learner = inside.learners.get_or_add("Wren Halloway", NOW)
        kept = inside.exercises.keep(learner, exercise())
        inside.open_drills.begin(learner, kept, DRILL)
        assert inside.open_drills.find(learner, kept) == DRILL
        assert fresh_store.learners.all() == ()
    assert fresh_store.learners.all() == (learner,)
    assert fresh_store.open_drills.find(learner, kept) == DRILL


def test_a_transaction_that_fails_leaves_nothing(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """An exception after several writes undoes all of them, whichever repository made them."""
    fresh_store.open_drills.begin(learner, kept, DRILL)

    def fail() -> None:
        with fresh_store.transaction() as inside:
            inside.learners.rename(learner, "Odell Pruitt")
            hand_in(inside, learner, kept)
            inside.open_drills.change(learner, kept, replace(DRILL, text="1 4"))
            raise RuntimeError("the power went")

    with pytest.raises(RuntimeError):
        fail()
    assert fresh_store.learners.all() == (learner,)
    assert fresh_store.open_drills.find(learner, kept) == DRILL
    assert fresh_store.attempts.count(learner) == 0
    assert fresh_store.progress.skills(learner) == ()


def test_a_write_that_fails_inside_is_undone_alone(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A caught failure of one write inside leaves the rest of the transaction to be committed."""
    lost = replace(learner, id=learner.id + 1)
    with fresh_store.transaction() as inside:
        inside.open_drills.begin(learner, kept, DRILL)
        with pytest.raises(StoreError, match="nothing was stored"):
            inside.open_drills.begin(lost, kept, DRILL)
        inside.learners.rename(learner, "Odell Pruitt")
    assert [found.name for found in fresh_store.learners.all()] == ["Odell Pruitt"]
    assert fresh_store.open_drills.find(learner, kept) == DRILL
    with fresh_store._database.reading() as connection:
        assert len(connection.execute(select(drills)).all()) == 1


def test_an_attempt_is_stored_inside_a_transaction(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Storing an attempt, itself a transaction, joins the one it stands in."""
    with fresh_store.transaction() as inside:
        made = hand_in(inside, learner, kept)
        assert inside.attempts.history(learner) == (made,)
    assert fresh_store.attempts.history(learner) == (made,)


def test_a_full_disk_ends_the_whole_transaction(sqlite_location: Path) -> None:
    """Where SQLite undoes all of it for want of room, that is said and nothing is written after.

    Source: https://www.sqlite.org/lang_transaction.html, section 3.
    """

    def fill(inside: Repositories) -> None:
        for number in range(1000):
            inside.exercises.keep(learner, exercise(number))

    def go_on(store: Store) -> None:
        with store.transaction() as inside:
            inside.learners.rename(learner, "Odell Pruitt")
            with pytest.raises(StoreError, match="Free some space"):
                fill(inside)
            inside.learners.rename(learner, "Nora Finch")

    with Store(sqlite_location) as store:
        learner = store.learners.add("Wren Halloway", NOW)
        with store._database.reading() as connection:
            connection.exec_driver_sql("PRAGMA max_page_count = 1")
        with pytest.raises(InvalidRequestError, match="closed transaction"):
            go_on(store)
        assert store.learners.all() == (learner,)
        assert store.exercises.get(learner, "millrace-0") is None


def test_a_transaction_inside_another_joins_it(fresh_store: Store) -> None:
    """What an inner transaction wrote is undone with the outer one."""

    def fail() -> None:
        with fresh_store.transaction() as outer:
            with outer.transaction() as inner:
                inner.learners.get_or_add("Wren Halloway", NOW)
            assert len(outer.learners.all()) == 1
            raise RuntimeError("the power went")

    with pytest.raises(RuntimeError):
        fail()
    assert fresh_store.learners.all() == ()


def test_work_in_the_way_of_another_writer_is_done_again(fresh_store: Store) -> None:
    """After a conflict the work starts again with nothing of the first try, and gives up after some
    tries.

    The conflict is one that PostgreSQL reports for either of two that wait for each other.
    """
    tries: list[int] = []

    def work(inside: Repositories) -> int:
        tries.append(len(inside.learners.all()))
        inside.learners.get_or_add(f"Wren {len(tries)}", NOW)
        if len(tries) < 3:
            raise StoreConflict("two programs wrote at once")
        return len(tries)

    assert fresh_store.transact(work) == 3
    assert tries == [0, 0, 0]
    assert [learner.name for learner in fresh_store.learners.all()] == ["Wren 3"]

    def hopeless(inside: Repositories) -> None:
        tries.append(0)
        raise StoreConflict("two programs wrote at once")

    with pytest.raises(StoreConflict):
        fresh_store.transact(hopeless)
    assert len(tries) == 3 + 4
