"""Several repositories in one transaction."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.store.samples import NOW, exercise, hand_in
from trainer.errors import StoreConflict, StoreError
from trainer.store import ExerciseRecord, Learner, Repositories, Store
from trainer.store.tables import drafts


def test_a_transaction_is_committed_whole(fresh_store: Store) -> None:
    """What several repositories wrote in one transaction is there after it, and not before."""
    with fresh_store.transaction() as inside:
        learner = inside.learners.get_or_add("Wren Halloway", NOW)
        kept = inside.exercises.keep(exercise())
        inside.drafts.save(learner, kept, "1 1", NOW)
        assert inside.drafts.load(learner, kept) is not None
        assert fresh_store.learners.all() == ()
    assert fresh_store.learners.all() == (learner,)
    assert fresh_store.drafts.load(learner, kept) is not None


def test_a_transaction_that_fails_leaves_nothing(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """An exception after several writes undoes all of them, whichever repository made them."""
    fresh_store.drafts.save(learner, kept, "1 1", NOW)

    def fail() -> None:
        with fresh_store.transaction() as inside:
            inside.learners.rename(learner, "Odell Pruitt")
            hand_in(inside, learner, kept)
            inside.drafts.save(learner, kept, "1 4", NOW + timedelta(seconds=1))
            raise RuntimeError("the power went")

    with pytest.raises(RuntimeError):
        fail()
    assert fresh_store.learners.all() == (learner,)
    found = fresh_store.drafts.load(learner, kept)
    assert found is not None
    assert found.text == "1 1"
    assert fresh_store.attempts.count(learner) == 0


def test_a_write_that_fails_inside_is_undone_alone(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A caught failure of one write inside leaves the rest of the transaction to be committed."""
    lost = Learner(learner.id + 1, "Nobody", NOW)
    with fresh_store.transaction() as inside:
        inside.drafts.save(learner, kept, "1 1", NOW)
        with pytest.raises(StoreError, match="nothing was stored"):
            inside.drafts.save(lost, kept, "4 4", NOW)
        inside.learners.rename(learner, "Odell Pruitt")
    assert [found.name for found in fresh_store.learners.all()] == ["Odell Pruitt"]
    assert fresh_store.drafts.load(learner, kept) is not None
    with fresh_store._database.reading() as connection:
        assert len(connection.execute(drafts.select()).all()) == 1


def test_an_attempt_is_recorded_inside_a_transaction(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Recording an attempt, itself a transaction, joins the one it stands in."""
    with fresh_store.transaction() as inside:
        made = hand_in(inside, learner, kept)
        assert inside.attempts.history(learner) == (made,)
    assert fresh_store.attempts.history(learner) == (made,)


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
    """After a conflict the work begins anew with nothing of the first try; it gives up in the end.

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
