"""What the store takes and gives of a learner's own songs: frozen values, free of SQL."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import datetime

__all__ = [
    "LONGEST_TAG",
    "NewVersion",
    "SetSong",
    "SongPage",
    "SongRecord",
    "SongSet",
    "SongVersion",
    "fold",
]

LONGEST_TAG = 40


@dataclass(frozen=True, slots=True)
class NewVersion:
    """A song's text on its way into the store, as it was typed, and what was read of it.

    `began_from` is the version that the writer had before them, None for the first. `title` is ""
    where the text names none; `tempo` is in pulses a minute; `bars` counts the bars that could be
    read.
    """

    text: str
    title: str
    key: str
    tempo: float
    meter: str
    bars: int
    saved_at: datetime
    began_from: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SongVersion(NewVersion):
    """A song as it was saved once, under its `number`, counted from 1. Number 0 was never saved: it
    is what a new song began with."""

    number: int

    @property
    def is_beside(self) -> bool:
        """Whether another window saved a version while this one was being written."""
        return self.began_from is not None and self.began_from < self.number - 1


@dataclass(frozen=True, slots=True)
class SongRecord:
    """A song with its newest version.

    `uid` stays the same wherever the song is taken. `owner` is the name of the learner whose song
    it is. `deleted_at` is None for a song that is there. `draft` is what was typed since version
    `draft_from` and not saved as a version yet, None if nothing is open.
    """

    id: int
    uid: str
    learner_id: int
    owner: str
    made_at: datetime
    deleted_at: datetime | None
    shared: bool
    tags: tuple[str, ...]
    version: SongVersion
    draft: str | None = None
    draft_from: int | None = None
    draft_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class SongPage:
    """Some of the songs that a search found, and how many it found in all."""

    songs: tuple[SongRecord, ...]
    found: int


@dataclass(frozen=True, slots=True)
class SetSong:
    """A song in a set, by its uid, and the key that the band plays it in, None for its own."""

    song: str
    key: str | None = None


@dataclass(frozen=True, slots=True)
class SongSet:
    """Songs in the order in which they are played."""

    id: int
    uid: str
    name: str
    made_at: datetime
    songs: tuple[SetSong, ...]


def fold(text: str) -> str:
    """A text as a search compares it: without case, accents and different forms of one letter.

    >>> fold("Zoë  ÅNGSTRÖM")
    'zoe angstrom'
    """
    plain = unicodedata.normalize("NFKD", text).casefold()
    kept = (each for each in plain if not unicodedata.combining(each))
    return " ".join(unicodedata.normalize("NFC", "".join(kept)).split())
