"""Learners and the exercises they own."""

from __future__ import annotations

import unicodedata
import uuid
from dataclasses import replace
from datetime import timedelta

import pytest

from tests.store.samples import NOW, chart, exercise, hand_in
from trainer.errors import SettingsError, StoreBroken, StoreError
from trainer.exercise import song_digest
from trainer.store import ExerciseRecord, Learner, OpenDrill, Store


def test_a_learner_is_added_once(fresh_store: Store) -> None:
    """The same name is the same learner, created when first met."""
    first = fresh_store.learners.get_or_add("Wren Halloway", NOW)
    again = fresh_store.learners.get_or_add("  Wren  Halloway ", NOW + timedelta(days=1))
    added = fresh_store.learners.add("Wren Halloway", NOW + timedelta(days=2))
    assert first == again == added
    assert first.created_at == NOW
    assert fresh_store.learners.all() == (first,)


def test_looking_for_a_learner_adds_none(fresh_store: Store) -> None:
    """Asking for a name, an id, or whoever is usual stores nothing."""
    assert fresh_store.learners.get("Wren Halloway") is None
    assert fresh_store.learners.by_uid("nobody") is None
    assert fresh_store.learners.usual("me") is None
    assert fresh_store.learners.all() == ()


def test_names_are_equal_as_they_look(fresh_store: Store) -> None:
    """A name typed with combining accents is the one typed with composed letters."""
    name = "Zoë Ångström 音"
    first = fresh_store.learners.get_or_add(name, NOW)
    assert fresh_store.learners.get(unicodedata.normalize("NFD", name)) == first
    assert first.name == name


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "a\u0000b", "a\u202eb"])
def test_names_that_cannot_be_shown_are_refused(fresh_store: Store, name: str) -> None:
    """A name that is empty, too long or unprintable is refused."""
    with pytest.raises(SettingsError, match="1 to 80 characters"):
        fresh_store.learners.get_or_add(name, NOW)
    assert fresh_store.learners.all() == ()


def test_a_lasting_id_is_no_name(fresh_store: Store, learner: Learner) -> None:
    """Everybody has an id of their own that a new name does not change."""
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    assert uuid.UUID(learner.uid) != uuid.UUID(other.uid)
    renamed = fresh_store.learners.rename(learner, "Wren H.")
    assert renamed.uid == learner.uid
    assert fresh_store.learners.by_uid(learner.uid) == renamed


def test_a_lasting_id_comes_along(fresh_store: Store, learner: Learner) -> None:
    """Who comes from another store keeps their id; an id is nobody else's."""
    wanted = str(uuid.UUID(int=7))
    came = fresh_store.learners.add("Odell Pruitt", NOW, wanted)
    assert came.uid == wanted
    with pytest.raises(StoreError, match="expected an id that is not taken"):
        fresh_store.learners.add("Nora Finch", NOW, learner.uid)
    assert len(fresh_store.learners.all()) == 2


def test_the_caution_is_shown_first_once(fresh_store: Store, learner: Learner) -> None:
    """Who is new was not shown the hearing caution; when they first were stays on record."""
    assert learner.caution_at is None
    shown = fresh_store.learners.caution_shown(learner, NOW)
    assert shown.caution_at == NOW
    # A window that was open since before knows nothing of it.
    fresh_store.learners.caution_shown(learner, NOW + timedelta(days=1))
    again = fresh_store.learners.caution_shown(shown, NOW + timedelta(days=2))
    assert again.caution_at == NOW
    assert fresh_store.learners.get(learner.name) == shown


def test_a_new_name_keeps_everything(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Who is renamed has the same record; a name that somebody has is refused."""
    hand_in(fresh_store, learner, kept)
    renamed = fresh_store.learners.rename(learner, " Wren  H. ")
    assert renamed.name == "Wren H."
    assert fresh_store.learners.all() == (renamed,)
    assert fresh_store.attempts.count(renamed) == 1
    assert fresh_store.learners.rename(renamed, "Wren H.") == renamed
    fresh_store.learners.get_or_add("Odell Pruitt", NOW)
    with pytest.raises(SettingsError, match="expected a name that isn't taken"):
        fresh_store.learners.rename(renamed, "Odell Pruitt")


def test_who_says_no_name_is_the_only_one(fresh_store: Store) -> None:
    """Without a name it is "me", or the only learner there is, but never one of several."""
    assert fresh_store.learners.usual("me") is None
    wren = fresh_store.learners.get_or_add("Wren", NOW)
    assert fresh_store.learners.usual("me") == wren
    assert fresh_store.learners.usual("Odell") is None
    fresh_store.learners.get_or_add("Odell", NOW)
    assert fresh_store.learners.usual("me") is None
    me = fresh_store.learners.get_or_add("me", NOW)
    assert fresh_store.learners.usual("me") == me


def test_deleting_a_learner_takes_all_that_is_theirs(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A deleted learner leaves no exercise, attempt, sum or drill, and others keep theirs."""
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    same = fresh_store.exercises.keep(other, exercise())
    mine, theirs = (
        hand_in(fresh_store, who, what) for who, what in ((learner, kept), (other, same))
    )
    fresh_store.open_drills.begin(learner, kept, OpenDrill("mine", NOW, NOW, text="1 1"))
    fresh_store.learners.delete(learner)
    assert fresh_store.learners.all() == (other,)
    assert fresh_store.attempts.get(mine.id) is None
    assert fresh_store.attempts.get(theirs.id) is not None
    assert fresh_store.progress.skills(learner) == ()
    assert fresh_store.progress.confusions(learner) == ()
    assert fresh_store.exercises.get(learner, kept.key) is None
    assert fresh_store.exercises.get(other, kept.key) == same
    assert fresh_store.open_drills.find(learner, kept) is None


def test_nobody_is_locked_who_is_gone(fresh_store: Store, learner: Learner) -> None:
    """A transaction for a learner who was deleted says so at its start."""
    with fresh_store.transaction() as store:
        store.learners.lock(learner)
    fresh_store.learners.delete(learner)
    with (
        pytest.raises(StoreError, match=r"Wren Halloway: .*deleted meanwhile"),
        fresh_store.transaction() as store,
    ):
        store.learners.lock(learner)


def test_two_learners_have_each_their_own_exercise(fresh_store: Store, learner: Learner) -> None:
    """The same exercise is kept once for each owner, under its own id."""
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    mine, theirs = (fresh_store.exercises.keep(who, exercise()) for who in (learner, other))
    assert mine.id != theirs.id
    assert (mine.owner_id, theirs.owner_id) == (learner.id, other.id)
    assert mine.exercise == theirs.exercise
    assert mine.key == theirs.key == "millrace-1"
    assert fresh_store.exercises.get(learner, "millrace-1") == mine
    assert fresh_store.exercises.get(other, "millrace-1") == theirs


def test_an_exercise_is_kept_as_it_first_was(fresh_store: Store, learner: Learner) -> None:
    """Keeping again gives what was kept, whatever a newer program says around the chart."""
    first = fresh_store.exercises.keep(learner, exercise())
    assert first.exercise == exercise()
    assert first.song == song_digest(exercise())
    again = fresh_store.exercises.keep(learner, replace(exercise(), generator_version="2"))
    assert again == first
    assert fresh_store.exercises.get(learner, "millrace-1") == first
    assert fresh_store.exercises.get(learner, "other") is None


def test_an_exercise_with_another_chart_is_refused(fresh_store: Store, learner: Learner) -> None:
    """Another chart under a kept id is an error, and the old one stays."""
    first = fresh_store.exercises.keep(learner, exercise())
    with pytest.raises(StoreError, match="millrace-1: found a different chart"):
        fresh_store.exercises.keep(learner, exercise(song=chart("1")))
    assert fresh_store.exercises.get(learner, "millrace-1") == first


def test_a_hand_written_song_is_told_from_a_generated_one(
    fresh_store: Store, learner: Learner
) -> None:
    """Origin is a song where the recipe names its file."""
    made = exercise(2, level=None)
    song = replace(made, recipe={"song": "lantern", "listens": 2})
    assert fresh_store.exercises.keep(learner, song).origin == "song"
    assert fresh_store.exercises.keep(learner, exercise(3)).origin == "generated"


def test_seeds_may_be_of_any_size(fresh_store: Store, learner: Learner) -> None:
    """A seed beyond 64 bits comes back as it was."""
    big = replace(exercise(), seed=2**200 + 1)
    fresh_store.exercises.keep(learner, big)
    found = fresh_store.exercises.get(learner, "millrace-1")
    assert found is not None
    assert found.exercise.seed == 2**200 + 1


def test_a_broken_exercise_is_told_with_its_row(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """JSON that is no exercise is our error with its place, never a traceback of another kind."""
    hand_in(fresh_store, learner, kept)
    with fresh_store._database.writing() as connection:
        connection.exec_driver_sql('UPDATE exercises SET data = \'{"id": "millrace-1"}\'')
    for read in (
        lambda: fresh_store.exercises.get(learner, "millrace-1"),
        lambda: list(fresh_store.attempts.log(learner)),
        lambda: fresh_store.transfer.export_json(learner),
    ):
        with pytest.raises(StoreBroken, match=f"exercises, row {kept.id}: .*level"):
            read()


def test_a_new_learner_needs_a_free_name(fresh_store: Store) -> None:
    """A name that somebody has is refused, however it is spaced, and adds nobody."""
    added = fresh_store.learners.add_new(" Odell  Pruitt", NOW)
    assert fresh_store.learners.get("Odell Pruitt") == added
    with pytest.raises(SettingsError, match="Odell Pruitt, who has a record here, expected a name"):
        fresh_store.learners.add_new("Odell Pruitt ", NOW)
    assert fresh_store.learners.all() == (added,)
