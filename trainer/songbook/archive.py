"""Songs as one archive (.zip): a text file for each, and an index; and such archives read back.

The archive can be read without the trainer: each song is the text as it was typed. The index,
`songbook.json`, adds what the texts do not say: lasting ids and tags. An archive without an
index is read too, and so are files in the formats of others (`trainer.export`).

An archive comes from anywhere, so what it says of sizes is not believed: bytes are counted as they
are unpacked.
"""

from __future__ import annotations

import io
import json
import lzma
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from trainer.chart import format_chart
from trainer.errors import FileError, InputError, SettingsError, SongNotFound, TextTooLong
from trainer.export import IMPORT_FORMATS, ReadingProblem, chart_in_file
from trainer.songbook.book import Songbook, clean_tags
from trainer.songbook.song_text import MOST_TEXT, UNTITLED, read_song
from trainer.store import SongRecord

if TYPE_CHECKING:
    from trainer.store import Repositories

__all__ = [
    "IMPORT_SUFFIXES",
    "MOST_ARCHIVE_BYTES",
    "ImportReport",
    "ImportedFile",
    "import_archive",
    "import_file",
    "write_archive",
]

INDEX = "songbook.json"
FORMAT, VERSION = "chart-trainer songbook", 1
MOST_ARCHIVE_BYTES = 64 * 2**20
# In an archive: files, bytes of one file unpacked, and of all of them together.
MOST_FILES, MOST_FILE_BYTES, MOST_UNPACKED_BYTES = 10_000, 8 * 2**20, 200 * 2**20
TEXT_SUFFIXES = (".txt", "")
IMPORT_SUFFIXES = (".txt", *IMPORT_FORMATS)
_UNFIT = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]+')
LONGEST_NAME = 60
Progress = Callable[[int, int], None]


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
    """What became of every file of an import, in order."""

    files: tuple[ImportedFile, ...]

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


def write_archive(songs: Sequence[SongRecord], progress: Progress | None = None) -> bytes:
    """The newest version of each song as an archive. `progress` is told songs done and all."""
    out = io.BytesIO()
    entries = []
    digits = len(str(len(songs)))
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, song in enumerate(songs, 1):
            name = f"songs/{number:0{digits}d} {_file_name(song.version.title)}.txt"
            archive.writestr(_dated(name, song), song.version.text.encode())
            entries.append(_entry(name, song))
            if progress is not None:
                progress(number, len(songs))
        index = {"format": FORMAT, "version": VERSION, "songs": entries}
        archive.writestr(INDEX, json.dumps(index, ensure_ascii=False, indent=1).encode())
    return out.getvalue()


def _dated(name: str, song: SongRecord) -> zipfile.ZipInfo:
    """The file's entry with the moment of the save; the format knows no years before 1980."""
    at = song.version.saved_at
    date = (max(1980, min(2107, at.year)), at.month, at.day, at.hour, at.minute, at.second)
    found = zipfile.ZipInfo(name, date)
    found.compress_type = zipfile.ZIP_DEFLATED
    return found


def _entry(name: str, song: SongRecord) -> dict[str, Any]:
    return {
        "file": name,
        "uid": song.uid,
        "title": song.version.title,
        "tags": list(song.tags),
        "made_at": song.made_at.isoformat(),
        "saved_at": song.version.saved_at.isoformat(),
    }


def _file_name(title: str) -> str:
    """A title as a name that every system can store."""
    return _UNFIT.sub(" ", title).strip(" .")[:LONGEST_NAME].strip() or UNTITLED


def import_file(book: Songbook, name: str, content: bytes) -> ImportedFile:
    """Add the song in a file: text as it was typed, or a format of others with a report.

    Raises FileError if the file is none of these, or empty.
    """
    text, problems = _text_in(name, content)
    if not text.strip():
        raise FileError(f"{name}: found an empty file, expected a chart")
    song = book.new(text)
    return ImportedFile(name, song, tuple(map(str, (*problems, *_barless(text)))))


def _text_in(name: str, content: bytes) -> tuple[str, Sequence[ReadingProblem]]:
    """The chart's text in a file, and what was lost. Raises FileError, TextTooLong."""
    path = PurePosixPath(name)
    suffix = path.suffix.lower()
    if suffix not in (*TEXT_SUFFIXES, *IMPORT_SUFFIXES):
        raise FileError(
            f"{name}: found the ending {suffix!r}, expected one of {', '.join(IMPORT_SUFFIXES)}"
        )
    if suffix not in TEXT_SUFFIXES:
        read = chart_in_file(content, name)
        chart = read.chart if read.chart.title else replace(read.chart, title=_title_from(path))
        return format_chart(chart), read.problems
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise FileError(
            f"{name}: line {line}: found bytes that are not UTF-8 text, expected a chart"
        ) from error
    if len(text) > MOST_TEXT:
        raise TextTooLong(MOST_TEXT)
    return text, ()


def _title_from(path: PurePosixPath) -> str:
    """A title for a song whose file names none: the file's own name, fit for one line."""
    return " ".join(_UNFIT.sub(" ", path.stem).split())[:LONGEST_NAME].strip()


def _barless(text: str) -> tuple[ReadingProblem, ...]:
    """What is said of a text in which no bar was found; the text is kept as it is."""
    chart = read_song(text).chart
    if chart is not None and chart.bars():
        return ()
    return (ReadingProblem("the text", "no bar that can be read", "it is kept as it was written"),)


def import_archive(
    book: Songbook, content: bytes, progress: Progress | None = None
) -> ImportReport:
    """Add the songs of an archive. A file that cannot be read is reported and the others are read.

    A song that the learner has, by its uid, gets a new version if its text is another, and stays as
    it is if not. `progress` is told files done and all. All songs are stored together, or none.

    Raises
    ------
    FileError
        If it is no archive, or unpacks to more than any songbook; nothing is stored then.
    """
    if len(content) > MOST_ARCHIVE_BYTES:
        raise FileError(
            f"archive: found {len(content):,} bytes, expected at most {MOST_ARCHIVE_BYTES:,}"
        )
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            files = list(_unpacked(archive))
    except (
        zipfile.BadZipFile, zlib.error, lzma.LZMAError, EOFError, OSError, RuntimeError, ValueError
    ) as error:  # fmt: skip
        raise FileError(f"archive: found {error}, expected a .zip archive of songs") from error
    index = _read_index(files)
    songs = [(name, data) for name, data in files if name != INDEX]

    def work(store: Repositories) -> ImportReport:
        within = book.within(store)
        done = []
        for number, (name, data) in enumerate(songs, 1):
            done.append(_import_one(within, name, data, index.get(name, {})))
            if progress is not None:
                progress(number, len(songs))
        return ImportReport(tuple(done))

    return book.store.transact(work)


def _unpacked(archive: zipfile.ZipFile) -> Iterator[tuple[str, bytes]]:
    """Names and contents of the files. Raises FileError at the first bound that is passed."""
    infos = [each for each in archive.infolist() if not each.is_dir()]
    if len(infos) > MOST_FILES:
        raise FileError(f"archive: found {len(infos):,} files, expected at most {MOST_FILES:,}")
    room = MOST_UNPACKED_BYTES
    for info in infos:
        with archive.open(info) as file:
            data = file.read(MOST_FILE_BYTES + 1)
        if len(data) > MOST_FILE_BYTES:
            raise FileError(
                f"archive: {info.filename}: found more than {MOST_FILE_BYTES:,} bytes unpacked, "
                "expected a chart"
            )
        room -= len(data)
        if room < 0:
            raise FileError(
                f"archive: found more than {MOST_UNPACKED_BYTES:,} bytes unpacked, expected a "
                "songbook"
            )
        yield info.filename, data


def _read_index(files: Sequence[tuple[str, bytes]]) -> dict[str, Mapping[str, Any]]:
    """The entries of the index by file; empty if there is none. Raises FileError."""
    data = next((data for name, data in files if name == INDEX), None)
    if data is None:
        return {}
    try:
        index = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise FileError(f"archive: {INDEX}: found {error}, expected JSON") from error
    entries = index.get("songs") if isinstance(index, dict) else None
    if not isinstance(entries, list) or index.get("format") != FORMAT:
        raise FileError(f"archive: {INDEX}: found no songs, expected the format {FORMAT!r}")
    if not isinstance(index.get("version"), int) or index["version"] > VERSION:
        raise FileError(
            f"archive: {INDEX}: found version {index.get('version')!r}, expected {VERSION} or "
            "earlier: a newer version of the trainer wrote it"
        )
    return {str(each.get("file")): each for each in entries if isinstance(each, dict)}


def _import_one(book: Songbook, name: str, data: bytes, entry: Mapping[str, Any]) -> ImportedFile:
    try:
        text, problems = _text_in(name, data)
        tags = clean_tags(each for each in entry.get("tags") or () if isinstance(each, str))
    except (InputError, TypeError) as error:
        return ImportedFile(name, None, (str(error),))
    told = tuple(map(str, problems))
    known = _known(book, entry)
    try:
        if known is not None and known.version.text == text:
            # Nothing is saved, so that a draft of the song stays.
            return ImportedFile(name, known, told, is_known=True)
        if known is not None:
            return ImportedFile(name, book.save(known.uid, text).song, told)
        return ImportedFile(name, book.new(text, tags), told)
    except (SettingsError, TextTooLong) as error:
        return ImportedFile(name, None, (str(error),))


def _known(book: Songbook, entry: Mapping[str, Any]) -> SongRecord | None:
    """The learner's own song that an entry is of, by its uid."""
    uid = entry.get("uid")
    if not isinstance(uid, str):
        return None
    try:
        song = book.get(uid)
    except SongNotFound:
        return None
    return song if book.owns(song) and song.deleted_at is None else None
