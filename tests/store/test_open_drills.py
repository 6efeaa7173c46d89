"""Open drills: what was heard and typed at an exercise, as the store keeps it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import Connection, Table, delete

import trainer.store.drills
from tests.store.samples import NOW, exercise, hand_in
from trainer.store import ExerciseRecord, Learner, OpenDrill, Store
from trainer.store.database import upsert

FRESH = OpenDrill("first", started_at=NOW, seen_at=NOW)


def typed(drill: OpenDrill, text: str, minutes: int = 0) -> OpenDrill:
    """The drill with a text, typed so many minutes after it was begun."""
    moment = NOW + timedelta(minutes=minutes)
    return replace(drill, text=text, text_at=moment, seen_at=moment)


def test_a_drill_is_begun_once(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> None:
    """A learner who comes back, or opens a second window, finds the whole drill with its token."""
    drills = fresh_store.open_drills
    assert drills.find(learner, kept) is None
    assert drills.begin(learner, kept, FRESH) == FRESH
    later = replace(
        FRESH,
        speeds=(80, 100),
        position_s=12.5,
        paused=True,
        worked_s=63.25,
        text="1 1 ♭7\n",
        text_at=NOW + timedelta(minutes=1),
        stamps="[[7,1.5]]",
        seen_at=NOW + timedelta(minutes=2),
    )
    drills.change(learner, kept, later)
    second = OpenDrill("second", started_at=later.seen_at, seen_at=later.seen_at)
    assert drills.begin(learner, kept, second) == later
    assert drills.find(learner, kept) == later
    assert later.listens == 2


def test_a_drill_is_begun_while_another_window_closes_its_own(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A drill begins even if the one that was in its way is closed at that moment."""
    tried: list[list[dict[str, Any]]] = []

    def upsert_too_late(connection: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
        upsert(connection, table, rows)
        if not tried:
            connection.execute(delete(table))
        tried.append(rows)

    monkeypatch.setattr(trainer.store.drills, "upsert", upsert_too_late)
    assert fresh_store.open_drills.begin(learner, kept, FRESH) == FRESH
    assert len(tried) == 2


def test_how_it_began_stays(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> None:
    """A change of a drill changes neither its token nor when it was begun."""
    fresh_store.open_drills.begin(learner, kept, FRESH)
    other = replace(FRESH, token="other", started_at=NOW + timedelta(days=1), worked_s=5.0)
    fresh_store.open_drills.change(learner, kept, other)
    assert fresh_store.open_drills.find(learner, kept) == replace(FRESH, worked_s=5.0)


def test_a_text_takes_the_place_of_the_one_before(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """What was typed last is kept, whatever the clock says."""
    drills = fresh_store.open_drills
    drills.begin(learner, kept, FRESH)
    drills.change(learner, kept, typed(FRESH, "1 1"))
    earlier = typed(FRESH, "1 1 6- ♭ 音\n\n", -60)
    drills.change(learner, kept, earlier)
    assert drills.find(learner, kept) == earlier


def test_the_latest_is_what_was_typed_at_last(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A drill that was only listened to is no latest one; of several the last typed at is."""
    drills = fresh_store.open_drills
    assert drills.latest(learner) is None
    second = fresh_store.exercises.keep(learner, exercise(2))
    third = fresh_store.exercises.keep(learner, exercise(3))
    for record in (kept, second, third):
        drills.begin(learner, record, FRESH)
    assert drills.latest(learner) is None
    drills.change(learner, kept, typed(FRESH, "1 1", 1))
    drills.change(learner, second, typed(FRESH, "4 4", 2))
    assert drills.latest(learner) == (second, typed(FRESH, "4 4", 2))
    drills.close(learner, second)
    assert drills.latest(learner) == (kept, typed(FRESH, "1 1", 1))


def test_drills_of_others_are_apart(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A drill belongs to one learner and one exercise, and closing takes only that one."""
    drills = fresh_store.open_drills
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    theirs = fresh_store.exercises.keep(other, exercise())
    second = fresh_store.exercises.keep(learner, exercise(2))
    places = ((learner, kept), (learner, second), (other, theirs))
    for who, what in places:
        drills.begin(who, what, replace(FRESH, token=f"{who.name} {what.key}"))
    drills.close(learner, kept)
    assert [
        found.token if found else None for found in (drills.find(*each) for each in places)
    ] == [
        None,
        "Wren Halloway millrace-2",
        "Odell Pruitt millrace-1",
    ]
    assert [record.key for record, _ in drills.all(learner)] == ["millrace-2"]


def test_storing_an_attempt_leaves_the_drill(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """When a drill ends is for the room that ends it; an attempt alone does not."""
    fresh_store.open_drills.begin(learner, kept, FRESH)
    hand_in(fresh_store, learner, kept, token=FRESH.token)
    assert fresh_store.open_drills.find(learner, kept) == FRESH


def test_a_drill_survives_closing(two_stores: tuple[Store, Store]) -> None:
    """What one program stored, the next one opens."""
    first, second = two_stores
    learner = first.learners.add("Wren Halloway", NOW)
    kept = first.exercises.keep(learner, exercise())
    first.open_drills.begin(learner, kept, typed(FRESH, "1 1 5 5"))
    first.close()
    assert second.open_drills.find(learner, kept) == typed(FRESH, "1 1 5 5")


def test_a_drill_goes_with_its_learner(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Deleting a learner deletes the drills and leaves others'."""
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    theirs = fresh_store.exercises.keep(other, exercise())
    for who, what in ((learner, kept), (other, theirs)):
        fresh_store.open_drills.begin(who, what, FRESH)
    fresh_store.learners.delete(learner)
    assert fresh_store.open_drills.find(learner, kept) is None
    assert fresh_store.open_drills.find(other, theirs) == FRESH
