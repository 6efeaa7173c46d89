"""A learner's songs and sets of songs in an export, and read back."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from msgspec import Meta, Struct, to_builtins

from trainer.store.database import Database
from trainer.store.records import Learner
from trainer.store.song_records import LONGEST_TAG, NewVersion, SetSong, SongRecord, SongSet
from trainer.store.song_sets import SongSets
from trainer.store.songs import Songs

__all__ = ["Digest", "SetEntry", "SetSongEntry", "SongEntry", "VersionEntry", "songs_out"]

Moment = Annotated[datetime, Meta(tz=True)]
Uid = Annotated[str, Meta(pattern=r"^[0-9a-f-]{1,36}$")]
SongName = Annotated[str, Meta(min_length=1, max_length=60)]
Text = Annotated[str, Meta(max_length=100_000)]
KeyName = Annotated[str, Meta(max_length=20)]
Digest = Annotated[str, Meta(pattern=r"^[0-9a-f]{64}$")]


class VersionEntry(Struct):
    """A saved version of a song in an export."""

    text: Text
    title: Text
    key: KeyName
    tempo: Annotated[float, Meta(gt=0, le=1000)]
    meter: Annotated[str, Meta(max_length=10)]
    bars: Annotated[int, Meta(ge=0, le=1_000_000)]
    saved_at: Moment
    began_from: Annotated[int, Meta(ge=1, le=1_000_000)] | None = None

    def version(self) -> NewVersion:
        """The version as the store takes it."""
        names = VersionEntry.__struct_fields__
        return NewVersion(**{name: getattr(self, name) for name in names})


class SongEntry(Struct):
    """A song in an export, its versions oldest first."""

    uid: Uid
    made_at: Moment
    versions: Annotated[tuple[VersionEntry, ...], Meta(min_length=1)]
    deleted_at: Moment | None = None
    shared: bool = False
    tags: tuple[Annotated[str, Meta(min_length=1, max_length=LONGEST_TAG)], ...] = ()
    draft: Text | None = None


class SetSongEntry(Struct):
    """A song of a set in an export."""

    song: SongName
    key: KeyName | None = None


class SetEntry(Struct):
    """A set of songs in an export."""

    uid: Uid
    name: Text
    made_at: Moment
    songs: tuple[SetSongEntry, ...] = ()

    def set_songs(self) -> tuple[SetSong, ...]:
        """The songs as the store takes them."""
        return tuple(SetSong(each.song, each.key) for each in self.songs)


def songs_out(database: Database, learner: Learner) -> dict[str, Any]:
    """The entries `songs`, `song_sets` and `songs_shown` of an export."""
    songs = Songs(database)
    return {
        "songs": [_song_out(songs, song) for song in songs.all(learner)],
        "song_sets": [_set_out(each) for each in SongSets(database).all(learner)],
        "songs_shown": sorted(songs.shown(learner)),
    }


def _song_out(songs: Songs, song: SongRecord) -> dict[str, Any]:
    versions = []
    whole = songs.versions(song)
    # What a new song began with is no version, unless there is no other.
    for version in [each for each in whole if each.number] or whole:
        entry = to_builtins(version)
        del entry["number"]
        versions.append(entry | {"saved_at": version.saved_at.isoformat()})
    return {
        "uid": song.uid,
        "made_at": song.made_at.isoformat(),
        "deleted_at": None if song.deleted_at is None else song.deleted_at.isoformat(),
        "shared": song.shared,
        "tags": list(song.tags),
        "draft": song.draft,
        "versions": versions,
    }


def _set_out(song_set: SongSet) -> dict[str, Any]:
    return {
        "uid": song_set.uid,
        "name": song_set.name,
        "made_at": song_set.made_at.isoformat(),
        "songs": [{"song": each.song, "key": each.key} for each in song_set.songs],
    }
