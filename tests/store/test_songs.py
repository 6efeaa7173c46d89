"""Learners' own songs, as they are kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.store.samples import NOW
from trainer.errors import StoreError
from trainer.store import Learner, NewVersion, SetSong, Store

FIRST = NewVersion("title: Lock Gate\n\n1 4 5 1", "Lock Gate", "C", 100, "4/4", 4, NOW)
LATER = NOW + timedelta(minutes=1)


def test_every_save_is_a_version(fresh_store: Store, learner: Learner) -> None:
    """Versions are numbered from 1, the song stands with the newest, and all of them stay."""
    song = fresh_store.songs.add(learner, FIRST, tags=["set one", "slow"])
    second = fresh_store.songs.save(song, replace(FIRST, text="1 1", saved_at=LATER, began_from=1))
    found = fresh_store.songs.find(song.uid)
    assert found is not None
    assert (second.number, found.version) == (2, second)
    assert [each.text for each in fresh_store.songs.versions(song)] == [FIRST.text, "1 1"]
    assert found.tags == ("set one", "slow")
    assert not second.is_beside


def test_a_save_from_an_older_version_says_so(two_stores: tuple[Store, Store]) -> None:
    """Where two windows save one song, both texts stay, and the later version says that it was
    written beside another."""
    mine, other = two_stores
    learner = mine.learners.get_or_add("Wren Halloway", NOW)
    song = mine.songs.add(learner, FIRST)
    one = mine.songs.save(song, replace(FIRST, text="1 4", began_from=1))
    two = other.songs.save(song, replace(FIRST, text="1 5", began_from=1))
    assert (one.number, one.is_beside) == (2, False)
    assert (two.number, two.is_beside) == (3, True)
    assert [each.text for each in mine.songs.versions(song)] == [FIRST.text, "1 4", "1 5"]


def test_a_draft_stays_until_it_is_saved(fresh_store: Store, learner: Learner) -> None:
    """What is typed stands beside the version; saving the same text closes it, another does not."""
    song = fresh_store.songs.add(learner, FIRST)
    fresh_store.songs.keep_draft(song, "1 4 5", 1, LATER)
    other = replace(FIRST, text="2-", began_from=1)
    fresh_store.songs.save(song, other)
    kept = fresh_store.songs.find(song.uid)
    assert kept is not None
    assert (kept.draft, kept.draft_from, kept.draft_at) == ("1 4 5", 1, LATER)
    fresh_store.songs.save(song, replace(FIRST, text="1 4 5", began_from=1))
    closed = fresh_store.songs.find(song.uid)
    assert closed is not None
    assert (closed.draft, closed.draft_from, closed.draft_at) == (None, None, None)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("gate", True),
        ("LOCK gate", True),
        ("zoe", True),
        ("Zoë", True),
        ("4 5 1", True),
        ("100%", False),
        ("gate harbour", False),
        ("_", False),
    ],
)
def test_a_search_finds_every_word(
    fresh_store: Store, learner: Learner, words: str, found: bool
) -> None:
    """Title, tags and text are searched, without case and accents; signs of SQL mean themselves."""
    fresh_store.songs.add(learner, FIRST, tags=["Zoë"])
    page = fresh_store.songs.search(learner, words, limit=10)
    assert page.found == len(page.songs) == int(found)


def test_a_search_sees_own_and_shared_songs(fresh_store: Store, learner: Learner) -> None:
    """Another learner's song is found once it is shared; a deleted one only among the deleted."""
    other = fresh_store.learners.add("Other", NOW)
    theirs = fresh_store.songs.add(other, FIRST)
    own = fresh_store.songs.add(learner, replace(FIRST, saved_at=LATER), tags=["slow"])
    search = fresh_store.songs.search

    def uids(**how: object) -> list[str]:
        return [song.uid for song in search(learner, limit=10, **how).songs]  # type: ignore[arg-type]

    assert uids() == [own.uid]
    fresh_store.songs.share(theirs, shared=True)
    assert uids() == [own.uid, theirs.uid]
    assert uids(tag="slow") == [own.uid]
    fresh_store.songs.delete(own, LATER)
    assert uids() == [theirs.uid]
    assert uids(deleted=True) == [own.uid]
    fresh_store.songs.delete(own, None)
    assert uids() == [own.uid, theirs.uid]
    assert fresh_store.songs.tags(learner) == (("slow", 1),)


def test_tags_are_replaced_and_found(fresh_store: Store, learner: Learner) -> None:
    """New tags stand in place of the old ones, for a search too."""
    song = fresh_store.songs.add(learner, FIRST, tags=["slow"])
    fresh_store.songs.tag(song, ["fast"])
    found = fresh_store.songs.find(song.uid)
    assert found is not None
    assert found.tags == ("fast",)
    assert fresh_store.songs.search(learner, "slow", limit=1).found == 0
    assert fresh_store.songs.search(learner, "fast", limit=1).found == 1


def test_nothing_is_left_of_a_deleted_learner(fresh_store: Store, learner: Learner) -> None:
    """Songs and sets go with their learner, and saving one of them then is refused."""
    song = fresh_store.songs.add(learner, FIRST, tags=["slow"])
    fresh_store.songs.show(learner, ["0" * 64])
    fresh_store.song_sets.add(learner, "Friday", [SetSong(song.uid, "E")], NOW)
    fresh_store.learners.delete(learner)
    assert fresh_store.songs.find(song.uid) is None
    assert fresh_store.song_sets.all(learner) == ()
    assert fresh_store.songs.shown(learner) == frozenset()
    with pytest.raises(StoreError, match="deleted meanwhile"):
        fresh_store.songs.save(song, FIRST)


def test_sets_keep_their_order_and_keys(fresh_store: Store, learner: Learner) -> None:
    """A set has its songs in order, each with its key, and can be changed and removed."""
    sets = fresh_store.song_sets
    made = sets.add(learner, "Friday", [SetSong("b", "E"), SetSong("a")], NOW)
    assert sets.all(learner) == (made,)
    sets.change(made, "Saturday", [SetSong("a", "F")])
    assert sets.all(learner) == (replace(made, name="Saturday", songs=(SetSong("a", "F"),)),)
    sets.delete(made)
    assert sets.all(learner) == ()


def test_a_chart_shown_is_seen(fresh_store: Store, learner: Learner) -> None:
    """A chart that the songbook has shown counts as seen, for that learner alone."""
    other = fresh_store.learners.add("Other", NOW)
    digest = "a" * 64
    assert not fresh_store.attempts.has_seen(learner, digest, NOW)
    fresh_store.songs.show(learner, [digest])
    fresh_store.songs.show(learner, [digest])
    assert fresh_store.attempts.has_seen(learner, digest, NOW)
    assert not fresh_store.attempts.has_seen(other, digest, NOW)
