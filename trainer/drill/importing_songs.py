"""The songbook in an imported record: songs, their versions, sets, and the charts seen."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from trainer.store import Learner, SetSong

if TYPE_CHECKING:
    from trainer.store import LearnerExport, Repositories, SongRecord
    from trainer.store.song_transfer import SetEntry, SongEntry

__all__ = ["add_songs"]


def add_songs(store: Repositories, learner: Learner, export: LearnerExport) -> int:
    """Add the songs and sets of an export that the learner does not have; how many songs are new.

    A song that is here gets the versions that it lacks, as its newest, and keeps its own. One whose
    uid belongs to another learner here gets another uid.
    """
    here = {song.uid: song for song in store.songs.all(learner)}
    new_uids: dict[str, str] = {}
    added = 0
    for entry in export.songs:
        known = here.get(entry.uid)
        if known is None:
            new_uids[entry.uid] = _add_song(store, learner, entry)
            added += 1
        else:
            _add_versions(store, known, entry)
    store.songs.show(learner, export.songs_shown)
    _add_sets(store, learner, export.song_sets, new_uids)
    return added


def _add_song(store: Repositories, learner: Learner, entry: SongEntry) -> str:
    is_free = store.songs.find(entry.uid) is None
    first, *later = (each.version() for each in entry.versions)
    song = store.songs.add(
        learner,
        first,
        uid=entry.uid if is_free else None,
        made_at=entry.made_at,
        tags=entry.tags,
        shared=entry.shared,
    )
    for version in later:
        store.songs.save(song, version)
    if entry.draft is not None:
        store.songs.keep_draft(song, entry.draft, len(entry.versions), entry.versions[-1].saved_at)
    if entry.deleted_at is not None:
        store.songs.delete(song, entry.deleted_at)
    return song.uid


def _add_versions(store: Repositories, song: SongRecord, entry: SongEntry) -> None:
    there = {(each.text, each.saved_at) for each in store.songs.versions(song)}
    for each in entry.versions:
        if (each.text, each.saved_at) not in there:
            store.songs.save(song, each.version())


def _add_sets(
    store: Repositories, learner: Learner, sets: tuple[SetEntry, ...], new_uids: Mapping[str, str]
) -> None:
    """Add the sets that the learner does not have, their songs by the uids they have here."""
    there = {each.uid for each in store.song_sets.all(learner)}
    taken = {each.uid for who in store.learners.all() for each in store.song_sets.all(who)}
    for entry in sets:
        if entry.uid in there:
            continue
        songs = [
            SetSong(new_uids.get(each.song, each.song), each.key) for each in entry.set_songs()
        ]
        uid = None if entry.uid in taken else entry.uid
        store.song_sets.add(learner, entry.name, songs, entry.made_at, uid)
