"""The repository of learners' own songs, with their versions, tags and drafts."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Select,
    and_,
    delete,
    func,
    insert,
    or_,
    select,
    update,
)

from trainer.errors import StoreError
from trainer.store.class_tables import accounts
from trainer.store.database import Database, upsert
from trainer.store.records import Learner, as_utc
from trainer.store.song_records import (
    LONGEST_TAG,
    NewVersion,
    SongPage,
    SongRecord,
    SongVersion,
    fold,
)
from trainer.store.tables import learners, seen_songs, song_tags, song_versions, songs

__all__ = ["Songs"]

_NEW = tuple(field.name for field in fields(NewVersion))
_VERSION = (*_NEW, "number")
# Databases take only so many values in one statement.
MOST_KEYS = 500
_NEWEST = and_(song_versions.c.song_id == songs.c.id, song_versions.c.number == songs.c.newest)
# What others are told of whose a song is; whoever has an account keeps their sign-in name to
# themselves.
_OWNER = func.coalesce(accounts.c.shown_name, learners.c.name)
_LISTED: Select[Any] = (
    select(songs, _OWNER.label("owner"), *(song_versions.c[name] for name in _VERSION))
    .join(learners, learners.c.id == songs.c.learner_id)
    .outerjoin(accounts, accounts.c.learner_id == learners.c.id)
    .join(song_versions, _NEWEST)
)


class Songs:
    """The songs of a store. Each belongs to one learner; others read those that are shared."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self,
        owner: Learner,
        version: NewVersion,
        *,
        uid: str | None = None,
        made_at: datetime | None = None,
        tags: Iterable[str] = (),
        shared: bool = False,
        is_begun: bool = False,
    ) -> SongRecord:
        """Store a new song with its first version. `uid` and `made_at` are given where the song
        comes from another store. One that is only begun has the number 0: it is what the writer
        found, and the first version is what they save."""
        tagged = sorted(set(tags))
        number = 0 if is_begun else 1
        row = {
            "uid": uid or str(uuid.uuid4()),
            "learner_id": owner.id,
            "made_at": as_utc(made_at or version.saved_at, "time of a new song"),
            "shared": shared,
            "newest": number,
            "search": _searched(version, tagged),
        }
        with self._database.writing() as connection:
            made = connection.execute(insert(songs).values(row).returning(songs.c.id))
            song_id: int = made.scalar_one()
            _add_version(connection, song_id, number, version)
            _add_tags(connection, song_id, tagged)
            return _one(connection, songs.c.id == song_id)

    def find(self, uid: str) -> SongRecord | None:
        """The song of that uid, whoever's it is, deleted or not; None if there is none."""
        with self._database.reading() as connection:
            row = connection.execute(_LISTED.where(songs.c.uid == uid)).first()
            return _records(connection, [row])[0] if row is not None else None

    def save(self, song: SongRecord, version: NewVersion) -> SongVersion:
        """Add a version, which is then the newest, and close the draft if it is the same text.

        Two windows that save one song at the same time give two versions, one after the other.
        """
        with self._database.writing() as connection:
            locked = connection.execute(
                select(songs.c.newest, songs.c.draft).where(songs.c.id == song.id).with_for_update()
            ).first()
            if locked is None:
                raise StoreError(
                    "the song was not saved, because it or its learner was deleted meanwhile"
                )
            number = locked.newest + 1
            _add_version(connection, song.id, number, version)
            tags = connection.execute(_tags_of([song.id])).all()
            changes = {"newest": number, "search": _searched(version, [row.tag for row in tags])}
            if locked.draft == version.text:
                changes |= {"draft": None, "draft_from": None, "draft_at": None}
            connection.execute(update(songs).where(songs.c.id == song.id).values(changes))
        return _version_of(version, number)

    def keep_draft(self, song: SongRecord, text: str | None, began_from: int, at: datetime) -> None:
        """Keep what is typed and not saved yet, in place of what was kept before; None for
        nothing."""
        is_open = text is not None
        self._change(
            song,
            draft=text,
            draft_from=began_from if is_open else None,
            draft_at=as_utc(at, "time of a draft") if is_open else None,
        )

    def tag(self, song: SongRecord, tags: Iterable[str]) -> None:
        """Give a song these tags in place of those it has."""
        kept = sorted({tag[:LONGEST_TAG] for tag in tags})
        with self._database.writing() as connection:
            connection.execute(delete(song_tags).where(song_tags.c.song_id == song.id))
            _add_tags(connection, song.id, kept)
            found = _searched(song.version, kept)
            connection.execute(update(songs).where(songs.c.id == song.id).values(search=found))

    def share(self, song: SongRecord, *, shared: bool) -> None:
        """Let the other learners of this store read a song, or no longer."""
        self._change(song, shared=shared)

    def delete(self, song: SongRecord, at: datetime | None) -> None:
        """Take a song out of the lists at a moment, or (None) put it back."""
        self._change(song, deleted_at=None if at is None else as_utc(at, "time of a deletion"))

    def versions(self, song: SongRecord) -> tuple[SongVersion, ...]:
        """Every version of a song, oldest first."""
        v = song_versions.c
        query = select(song_versions).where(v.song_id == song.id).order_by(v.number)
        with self._database.reading() as connection:
            return tuple(map(_read_version, connection.execute(query)))

    def version(self, song: SongRecord, number: int) -> SongVersion | None:
        """One version of a song; None if there is none of that number."""
        v = song_versions.c
        query = select(song_versions).where(v.song_id == song.id, v.number == number)
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return _read_version(row) if row is not None else None

    def search(
        self,
        learner: Learner,
        words: str = "",
        tag: str | None = None,
        *,
        limit: int,
        offset: int = 0,
        deleted: bool = False,
    ) -> SongPage:
        """The songs a learner can read that have every word in title or tags, last saved first.

        The text is searched only of the learner's own songs: what it finds in a chart would tell
        others what is in it. `deleted` asks for the learner's own deleted songs instead.
        """
        s, sought = songs.c, fold(words).split()
        mine = and_(
            s.learner_id == learner.id,
            *(s.search.contains(word, autoescape=True) for word in sought),
        )
        where: list[ColumnElement[bool]]
        where = [mine, s.deleted_at.is_not(None)] if deleted else [s.deleted_at.is_(None)]
        if tag is not None:
            tagged = select(song_tags.c.song_id).where(song_tags.c.tag == tag)
            where.append(s.id.in_(tagged))
        order = (song_versions.c.saved_at.desc(), s.id.desc())
        with self._database.reading() as connection:
            if not deleted:
                where.append(or_(mine, _shared(connection, learner, sought)))
            listed = _LISTED.where(*where).order_by(*order).limit(limit).offset(offset)
            counted = select(func.count()).select_from(songs).where(*where)
            found: int = connection.execute(counted).scalar_one()
            rows = connection.execute(listed).all()
            return SongPage(_records(connection, rows), found)

    def all(self, owner: Learner) -> tuple[SongRecord, ...]:
        """Every song of a learner, deleted ones too, in the order they were made."""
        query = _LISTED.where(songs.c.learner_id == owner.id).order_by(songs.c.made_at, songs.c.id)
        with self._database.reading() as connection:
            return _records(connection, connection.execute(query).all())

    def tags(self, learner: Learner) -> tuple[tuple[str, int], ...]:
        """The tags of a learner's own songs, each with how many songs have it, by name."""
        t, s = song_tags.c, songs.c
        query = (
            select(t.tag, func.count())
            .join(songs, s.id == t.song_id)
            .where(s.learner_id == learner.id, s.deleted_at.is_(None))
            .group_by(t.tag)
            .order_by(t.tag)
        )
        with self._database.reading() as connection:
            return tuple((tag, count) for tag, count in connection.execute(query))

    def show(self, learner: Learner, digests: Iterable[str]) -> None:
        """Note that a learner was shown the charts with these digests."""
        rows = [{"learner_id": learner.id, "song": each} for each in sorted(set(digests))]
        with self._database.writing() as connection:
            upsert(connection, seen_songs, rows)

    def shown(self, learner: Learner) -> frozenset[str]:
        """The digests of the charts that a learner was shown outside of results."""
        query = select(seen_songs.c.song).where(seen_songs.c.learner_id == learner.id)
        with self._database.reading() as connection:
            return frozenset(connection.execute(query).scalars())

    def _change(self, song: SongRecord, **values: Any) -> None:
        with self._database.writing() as connection:
            connection.execute(update(songs).where(songs.c.id == song.id).values(values))


def _shared(connection: Connection, learner: Learner, sought: Sequence[str]) -> ColumnElement[bool]:
    """Other learners' shared songs that have every word in title or tags."""
    s = songs.c
    others = and_(s.learner_id != learner.id, s.shared)
    if not sought:
        return others
    # `search` has the text as well, so it only narrows down which titles are looked at.
    narrowed = [s.search.contains(word, autoescape=True) for word in sought]
    query = select(s.id, song_versions.c.title).join(song_versions, _NEWEST)
    titles = {row.id: row.title for row in connection.execute(query.where(others, *narrowed))}
    tags = _tags_by_song(connection, list(titles))
    named = {key: fold("\n".join((title, *tags[key]))) for key, title in titles.items()}
    found = [key for key, name in named.items() if all(word in name for word in sought)]
    return s.id.in_(found)


def _searched(version: NewVersion, tags: Sequence[str]) -> str:
    return fold("\n".join((version.title, *tags, version.text)))


def _add_version(connection: Connection, song_id: int, number: int, version: NewVersion) -> None:
    row = {name: getattr(version, name) for name in _NEW}
    row |= {"song_id": song_id, "number": number}
    connection.execute(insert(song_versions).values(row))


def _add_tags(connection: Connection, song_id: int, tags: Sequence[str]) -> None:
    if tags:
        rows = [{"song_id": song_id, "tag": tag} for tag in tags]
        connection.execute(insert(song_tags), rows)


def _tags_of(song_ids: Sequence[int]) -> Select[Any]:
    return select(song_tags).where(song_tags.c.song_id.in_(song_ids)).order_by(song_tags.c.tag)


def _one(connection: Connection, where: ColumnElement[bool]) -> SongRecord:
    return _records(connection, [connection.execute(_LISTED.where(where)).one()])[0]


def _records(connection: Connection, rows: Sequence[Row[Any]]) -> tuple[SongRecord, ...]:
    """The songs in rows of the listing, with their tags."""
    tags = _tags_by_song(connection, [row.id for row in rows])
    return tuple(_record(row, tuple(tags[row.id])) for row in rows)


def _tags_by_song(connection: Connection, song_ids: Sequence[int]) -> dict[int, list[str]]:
    """The tags of each of these songs, by name."""
    tags: dict[int, list[str]] = {key: [] for key in song_ids}
    for start in range(0, len(song_ids), MOST_KEYS):
        for tagged in connection.execute(_tags_of(song_ids[start : start + MOST_KEYS])):
            tags[tagged.song_id].append(tagged.tag)
    return tags


def _record(row: Row[Any], tags: tuple[str, ...]) -> SongRecord:
    return SongRecord(
        row.id,
        row.uid,
        row.learner_id,
        row.owner,
        row.made_at,
        row.deleted_at,
        row.shared,
        tags,
        _read_version(row),
        row.draft,
        row.draft_from,
        row.draft_at,
    )


def _read_version(row: Row[Any]) -> SongVersion:
    return SongVersion(**{name: getattr(row, name) for name in _VERSION})


def _version_of(version: NewVersion, number: int) -> SongVersion:
    return SongVersion(**{name: getattr(version, name) for name in _NEW}, number=number)
