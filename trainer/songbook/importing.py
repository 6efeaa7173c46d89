"""Songs from files and archives: the trainer's own text, and the formats of others with a report.

Every file is read before anything is stored, so that a long import keeps nobody else from writing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from trainer.chart import format_chart
from trainer.chart.text_file import TEXT_SUFFIXES, decode_text
from trainer.errors import (
    ChartError,
    FileError,
    InputError,
    SettingsError,
    SongNotFound,
    TextTooLong,
)
from trainer.export import IMPORT_FORMATS, ReadingProblem, Unsaid, chart_in_file
from trainer.songbook.archive import LONGEST_NAME, UNFIT, Archive, Progress, read_archive
from trainer.songbook.book import Songbook, clean_tags
from trainer.songbook.sets import Sets
from trainer.songbook.song_text import MOST_TEXT, new_version, read_song
from trainer.store import NewVersion, SetSong, SongRecord

if TYPE_CHECKING:
    from trainer.store import Repositories

__all__ = ["IMPORT_SUFFIXES", "ImportReport", "ImportedFile", "import_archive", "import_file"]

IMPORT_SUFFIXES = (".txt", *IMPORT_FORMATS)
_UID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


@dataclass(frozen=True, slots=True)
class ImportedFile:
    """What became of a file: the song, None if it could not be read, whether it was there already,
    and what was lost or wrong, one sentence each."""

    name: str
    song: SongRecord | None
    problems: tuple[str, ...] = ()
    is_known: bool = False


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What became of every file of an import, in order, and how many sets are new."""

    files: tuple[ImportedFile, ...]
    sets: int = 0

    @property
    def added(self) -> int:
        """How many songs are new or have a new version."""
        return sum(each.song is not None and not each.is_known for each in self.files)

    @property
    def known(self) -> int:
        """How many songs were there already, just so."""
        return sum(each.is_known for each in self.files)

    @property
    def refused(self) -> int:
        """How many files could not be read."""
        return sum(each.song is None for each in self.files)


def import_file(
    book: Songbook, name: str, content: bytes, unsaid: Unsaid | None = None
) -> ImportedFile:
    """Add the song in a file: text as it was typed, or a format of others with a report. `unsaid`
    holds where such a file says nothing.

    Raises FileError if the file is none of these, or empty.
    """
    text, problems = _text_in(name, content, unsaid)
    if not text.strip():
        raise FileError(f"{name}: found an empty file, expected a chart")
    song = book.new(text)
    return ImportedFile(name, song, tuple(map(str, (*problems, *_barless(text)))))


def _text_in(
    name: str, content: bytes, unsaid: Unsaid | None = None
) -> tuple[str, Sequence[ReadingProblem]]:
    """The chart's text in a file, and what was lost. Raises FileError, TextTooLong."""
    path = PurePosixPath(name)
    suffix = path.suffix.lower()
    if suffix not in (*TEXT_SUFFIXES, *IMPORT_SUFFIXES):
        raise FileError(
            f"{name}: found the ending {suffix!r}, expected one of {', '.join(IMPORT_SUFFIXES)}"
        )
    if suffix not in TEXT_SUFFIXES:
        read = chart_in_file(content, name, unsaid)
        chart = read.chart if read.chart.title else replace(read.chart, title=_title_from(path))
        return format_chart(chart), read.problems
    text = decode_text(content, name)
    if len(text) > MOST_TEXT:
        raise TextTooLong(MOST_TEXT)
    return text, ()


def _title_from(path: PurePosixPath) -> str:
    """A title for a song whose file names none: the file's own name, fit for one line."""
    return " ".join(UNFIT.sub(" ", path.stem).split())[:LONGEST_NAME].strip()


def _barless(text: str) -> tuple[ReadingProblem, ...]:
    """What is said of a text in which no bar was found; the text is kept as it is."""
    chart = read_song(text).chart
    if chart is not None and chart.bars():
        return ()
    return (ReadingProblem("the text", "no bar that can be read", "it is kept as it was written"),)


@dataclass(frozen=True, slots=True)
class _ReadFile:
    """A file of an archive as it was read: its version is None if it cannot be a song."""

    name: str
    uid: str | None
    version: NewVersion | None
    tags: tuple[str, ...]
    problems: tuple[str, ...]


def import_archive(
    book: Songbook, content: bytes, progress: Progress | None = None
) -> ImportReport:
    """Add the songs and sets of an archive. A file that cannot be read is reported and the others
    are read.

    A song that the learner has, by its uid, gets a new version if its text is another, and stays as
    it is if not; a song of nobody here keeps its uid. A set that the learner has stays as it is.
    `progress` is told files read and all. All songs are stored together, or none.

    Raises
    ------
    FileError
        If it is no archive, or unpacks to more than any songbook; nothing is stored then.
    """
    archive = read_archive(content)
    read = []
    for number, (name, data) in enumerate(archive.files, 1):
        read.append(_read_file(book, name, data, archive.entries.get(name, {})))
        if progress is not None:
            progress(number, len(archive.files))

    def work(store: Repositories) -> ImportReport:
        within = book.within(store)
        done = [_store(within, each) for each in read]
        uids = {
            each.uid: stored.song.uid
            for each, stored in zip(read, done, strict=True)
            if each.uid is not None and stored.song is not None
        }
        return ImportReport(tuple(done), _add_sets(within, archive, uids))

    return book.store.transact(work)


def _read_file(book: Songbook, name: str, data: bytes, entry: Mapping[str, Any]) -> _ReadFile:
    uid = entry.get("uid")
    uid = uid if isinstance(uid, str) and _UID.fullmatch(uid) else None
    try:
        text, problems = _text_in(name, data)
        tags = clean_tags(each for each in entry.get("tags") or () if isinstance(each, str))
        version = new_version(text, book.clock())
    except (InputError, TypeError) as error:
        return _ReadFile(name, uid, None, (), (str(error),))
    return _ReadFile(name, uid, version, tags, tuple(map(str, problems)))


def _store(book: Songbook, file: _ReadFile) -> ImportedFile:
    """Store what was read, unless it is there already."""
    if file.version is None:
        return ImportedFile(file.name, None, file.problems)
    songs = book.store.songs
    there = songs.find(file.uid) if file.uid is not None else None
    if there is not None and book.owns(there) and there.deleted_at is None:
        # Where nothing is saved, a draft of the song stays.
        is_known = there.version.text == file.version.text
        if not is_known:
            songs.save(there, replace(file.version, began_from=there.version.number))
        return ImportedFile(file.name, book.get(there.uid), file.problems, is_known=is_known)
    uid = file.uid if there is None else None
    added = songs.add(book.learner, file.version, uid=uid, tags=file.tags)
    return ImportedFile(file.name, added, file.problems)


def _add_sets(book: Songbook, archive: Archive, uids: Mapping[str, str]) -> int:
    """Add the sets that the learner does not have, their songs by the uids they have here; how many
    are new. What is no set, or names no song that can be read here, is left out."""
    sets = Sets(book)
    there = {each.uid for each in sets.all()} | {each.name for each in sets.all()}
    added = 0
    for entry in archive.sets:
        name, uid = entry.get("name"), entry.get("uid")
        if not isinstance(name, str) or uid in there or name in there:
            continue
        try:
            sets.add(name, _set_songs(book, entry.get("songs"), uids))
        except (SettingsError, ChartError):
            continue
        added += 1
    return added


def _set_songs(book: Songbook, entries: object, uids: Mapping[str, str]) -> list[SetSong]:
    """The songs of a set that can be read here."""
    found = []
    for each in entries if isinstance(entries, list) else ():
        song, key = (each.get("song"), each.get("key")) if isinstance(each, dict) else (None, None)
        if not isinstance(song, str):
            continue
        uid = uids.get(song, song)
        try:
            book.get(uid)
        except SongNotFound:
            continue
        found.append(SetSong(uid, key if isinstance(key, str) else None))
    return found
