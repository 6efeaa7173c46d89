"""Learners, exercises and drafts."""

from __future__ import annotations

import unicodedata
from datetime import timedelta

import pytest

from tests.store.samples import NOW, chart, exercise, hand_in
from trainer.errors import SettingsError, StoreError
from trainer.store import Draft, ExerciseRecord, Learner, Store


def test_a_learner_is_added_once(fresh_store: Store) -> None:
    """The same name is the same learner, created when first met."""
    first = fresh_store.learners.get_or_add("Wren Halloway", NOW)
    again = fresh_store.learners.get_or_add("  Wren  Halloway ", NOW + timedelta(days=1))
    assert first == again
    assert first.created_at == NOW
    assert fresh_store.learners.all() == (first,)


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
    with pytest.raises(SettingsError, match="expected a name that is free"):
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
    """A deleted learner leaves no attempt, sum or draft, and others keep theirs."""
    other = fresh_store.learners.get_or_add("Odell Pruitt", NOW)
    mine, theirs = (hand_in(fresh_store, who, kept) for who in (learner, other))
    fresh_store.drafts.save(learner, kept, "1 1", NOW)
    fresh_store.learners.delete(learner)
    assert fresh_store.learners.all() == (other,)
    assert fresh_store.attempts.get(mine.id) is None
    assert fresh_store.attempts.get(theirs.id) is not None
    assert fresh_store.progress.skills(learner) == ()
    assert fresh_store.progress.confusions(learner) == ()
    assert fresh_store.drafts.load(learner, kept) is None
    fresh_store.check()


def test_an_exercise_is_kept_as_it_first_was(fresh_store: Store) -> None:
    """Keeping again gives what was kept, whatever a newer program adds around the chart."""
    first = fresh_store.exercises.keep(exercise())
    again = fresh_store.exercises.keep({**exercise(), "generator_version": "2", "new": True})
    assert again == first
    assert fresh_store.exercises.get("millrace-1") == first
    assert first.chart == chart("1", "1_5/7", "6-", "4")
    assert fresh_store.exercises.get("other") is None


def test_an_exercise_with_another_chart_is_refused(fresh_store: Store) -> None:
    """Another chart under a kept id is an error, and the old one stays."""
    first = fresh_store.exercises.keep(exercise())
    with pytest.raises(StoreError, match="millrace-1: found another chart"):
        fresh_store.exercises.keep({**exercise(), "chart": chart("1")})
    assert fresh_store.exercises.get("millrace-1") == first


def test_a_song_is_what_has_no_seed(fresh_store: Store) -> None:
    """Origin is a song without a seed, generated with one, unless it is said."""
    song = {**exercise(2, level=None), "seed": None}
    assert fresh_store.exercises.keep(song).origin == "song"
    assert fresh_store.exercises.keep(exercise(3)).origin == "generated"
    assert fresh_store.exercises.keep(exercise(4), origin="song").origin == "song"


def test_seeds_may_be_of_any_size(fresh_store: Store) -> None:
    """A seed beyond 64 bits comes back as it was."""
    big = {**exercise(), "seed": 2**200 + 1}
    fresh_store.exercises.keep(big)
    found = fresh_store.exercises.get("millrace-1")
    assert found is not None
    assert found.data["seed"] == 2**200 + 1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"id": ""}, "found id ''"),
        ({"id": 7}, "found id 7"),
        ({"chart": None}, "found no chart"),
        ({"chart": {"title": "x"}}, "found no chart"),
    ],
)
def test_what_is_no_exercise_is_refused(
    fresh_store: Store, change: dict[str, object], said: str
) -> None:
    """Without an id or a chart there is nothing to keep."""
    with pytest.raises(ValueError, match=said):
        fresh_store.exercises.keep({**exercise(), **change})


def test_a_draft_is_the_last_text_typed(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Each save takes the place of the one before, whatever the clock says."""
    drafts = fresh_store.drafts
    assert drafts.load(learner, kept) is None
    assert drafts.latest(learner) is None
    drafts.save(learner, kept, "1 1", NOW)
    earlier = NOW - timedelta(hours=1)
    drafts.save(learner, kept, "1 1 6- ♭ 音\n\n", earlier)
    draft = Draft("1 1 6- ♭ 音\n\n", earlier)
    assert drafts.load(learner, kept) == draft
    assert drafts.latest(learner) == ("millrace-1", draft)
    drafts.clear(learner, kept)
    assert drafts.load(learner, kept) is None


def test_drafts_of_others_are_apart(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A draft belongs to one learner and one exercise, and handing in takes only that one."""
    other = fresh_store.learners.get_or_add("Odell Pruitt", NOW)
    second = fresh_store.exercises.keep(exercise(2))
    for who, what in ((learner, kept), (learner, second), (other, kept)):
        fresh_store.drafts.save(who, what, f"{who.name} {what.id}", NOW)
    hand_in(fresh_store, learner, kept)
    assert fresh_store.drafts.load(learner, kept) is None
    assert fresh_store.drafts.load(learner, second) == Draft(f"{learner.name} {second.id}", NOW)
    assert fresh_store.drafts.load(other, kept) == Draft(f"{other.name} {kept.id}", NOW)


def test_a_draft_survives_closing(two_stores: tuple[Store, Store]) -> None:
    """What one program saved, the next one opens."""
    first, second = two_stores
    kept = first.exercises.keep(exercise())
    learner = first.learners.get_or_add("Wren Halloway", NOW)
    first.drafts.save(learner, kept, "1 1 5 5", NOW)
    first.close()
    found = second.drafts.load(learner, kept)
    assert found == Draft("1 1 5 5", NOW)
