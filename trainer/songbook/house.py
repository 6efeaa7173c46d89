"""The house band's songs: those that ship with the trainer, in everybody's songbook from the start.

They stand in no table. Everybody can read and copy them, and nobody changes them.
"""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, datetime
from functools import cache

from trainer.chart import format_chart
from trainer.exercise import load_songs
from trainer.songbook.song_text import new_version
from trainer.store import NewVersion, SongRecord, SongVersion

__all__ = ["HOUSE_BAND", "HOUSE_TAG", "house_song", "house_songs", "is_house"]

HOUSE_BAND = "the house band"
HOUSE_TAG = "house band"
PREFIX = "house-"
# They were always there; a fixed moment keeps lists the same on every machine.
MADE_AT = datetime(2026, 1, 1, tzinfo=UTC)


@cache
def house_songs() -> tuple[SongRecord, ...]:
    """The house band's songs, by file name."""
    return tuple(
        _record(f"{PREFIX}{exercise.recipe['song']}", format_chart(exercise.chart))
        for exercise in load_songs()
    )


def house_song(uid: str) -> SongRecord | None:
    """The house band's song of that uid; None if there is none."""
    return next((song for song in house_songs() if song.uid == uid), None)


def is_house(song: SongRecord) -> bool:
    """Whether a song is the house band's."""
    return song.uid.startswith(PREFIX)


def _record(uid: str, text: str) -> SongRecord:
    made = new_version(text, MADE_AT)
    values = {field.name: getattr(made, field.name) for field in fields(NewVersion)}
    version = SongVersion(**values, number=1)
    return SongRecord(0, uid, 0, HOUSE_BAND, MADE_AT, None, True, (HOUSE_TAG,), version)
