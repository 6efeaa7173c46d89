"""The repository of sets of songs: an order, and the band's key for each."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select, update

from trainer.store.database import Database
from trainer.store.records import Learner, as_utc
from trainer.store.song_records import SetSong, SongSet
from trainer.store.tables import song_set_items, song_sets

__all__ = ["SongSets"]


class SongSets:
    """The sets of songs of a store, each owned by one learner."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self,
        owner: Learner,
        name: str,
        songs: Sequence[SetSong],
        at: datetime,
        uid: str | None = None,
    ) -> SongSet:
        """Store a new set; `uid` is given where it comes from another store."""
        lasting, made_at = uid or str(uuid.uuid4()), as_utc(at, "time of a new set")
        row = {"uid": lasting, "learner_id": owner.id, "name": name, "made_at": made_at}
        with self._database.writing() as connection:
            made = connection.execute(insert(song_sets).values(row).returning(song_sets.c.id))
            set_id: int = made.scalar_one()
            _add_songs(connection, set_id, songs)
        return SongSet(set_id, lasting, name, made_at, tuple(songs))

    def change(self, song_set: SongSet, name: str, songs: Sequence[SetSong]) -> None:
        """Give a set another name and other songs."""
        with self._database.writing() as connection:
            mine = song_sets.c.id == song_set.id
            connection.execute(update(song_sets).where(mine).values(name=name))
            items = song_set_items.c.set_id == song_set.id
            connection.execute(delete(song_set_items).where(items))
            _add_songs(connection, song_set.id, songs)

    def delete(self, song_set: SongSet) -> None:
        """Remove a set; its songs stay."""
        with self._database.writing() as connection:
            connection.execute(delete(song_sets).where(song_sets.c.id == song_set.id))

    def all(self, owner: Learner) -> tuple[SongSet, ...]:
        """A learner's sets, in the order they were made."""
        s, i = song_sets.c, song_set_items.c
        sets = select(song_sets).where(s.learner_id == owner.id).order_by(s.made_at, s.id)
        items = (
            select(song_set_items)
            .join(song_sets, s.id == i.set_id)
            .where(s.learner_id == owner.id)
            .order_by(i.set_id, i.position)
        )
        with self._database.reading() as connection:
            songs: dict[int, list[SetSong]] = {}
            for row in connection.execute(items):
                songs.setdefault(row.set_id, []).append(SetSong(row.song, row.key))
            return tuple(
                SongSet(row.id, row.uid, row.name, row.made_at, tuple(songs.get(row.id, ())))
                for row in connection.execute(sets)
            )


def _add_songs(connection: Connection, set_id: int, songs: Sequence[SetSong]) -> None:
    rows = [
        {"set_id": set_id, "position": position, "song": each.song, "key": each.key}
        for position, each in enumerate(songs, 1)
    ]
    if rows:
        connection.execute(insert(song_set_items), rows)
