"""Songs as one archive (.zip): a text file for each, and an index; and such archives unpacked.

The archive can be read without the trainer: each song is the text as it was typed. The index,
`songbook.json`, adds what the texts do not say: lasting ids, tags, and the sets with the band's
keys. An archive without an index is read too.

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
from dataclasses import dataclass
from typing import Any

from trainer.errors import FileError
from trainer.songbook.song_text import UNTITLED
from trainer.store import SongRecord, SongSet

__all__ = ["MOST_ARCHIVE_BYTES", "Archive", "Progress", "read_archive", "write_archive"]

INDEX = "songbook.json"
FORMAT, VERSION = "chart-trainer songbook", 1
MOST_ARCHIVE_BYTES = 64 * 2**20
# In an archive: files, bytes of one file unpacked, and of all of them together.
MOST_FILES, MOST_FILE_BYTES, MOST_UNPACKED_BYTES = 10_000, 8 * 2**20, 200 * 2**20
UNFIT = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]+')
LONGEST_NAME = 60
# Is told how many songs or files are done, and how many there are.
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Archive:
    """An archive unpacked: names and contents of its files, and what the index says of each file
    and of the sets; both are empty without an index."""

    files: tuple[tuple[str, bytes], ...]
    entries: Mapping[str, Mapping[str, Any]]
    sets: tuple[Mapping[str, Any], ...]


def write_archive(
    songs: Sequence[SongRecord],
    progress: Progress | None = None,
    *,
    sets: Sequence[SongSet] = (),
) -> bytes:
    """The newest version of each song as an archive, with sets of them. `progress` is told songs
    done and all."""
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
        index = {
            "format": FORMAT,
            "version": VERSION,
            "songs": entries,
            "sets": [_set_entry(each) for each in sets],
        }
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
    return UNFIT.sub(" ", title).strip(" .")[:LONGEST_NAME].strip() or UNTITLED


def _set_entry(song_set: SongSet) -> dict[str, Any]:
    return {
        "uid": song_set.uid,
        "name": song_set.name,
        "made_at": song_set.made_at.isoformat(),
        "songs": [{"song": each.song, "key": each.key} for each in song_set.songs],
    }


def read_archive(content: bytes) -> Archive:
    """An archive's files and index.

    Raises
    ------
    FileError
        If it is no archive, or unpacks to more than any songbook.
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
    songs, sets = index.get("songs", ()), index.get("sets", ())
    return Archive(
        files=tuple((name, data) for name, data in files if name != INDEX),
        entries={str(each.get("file")): each for each in songs if isinstance(each, dict)},
        sets=tuple(each for each in sets if isinstance(each, dict)),
    )


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


def _read_index(files: Sequence[tuple[str, bytes]]) -> dict[str, Any]:
    """The index with its lists of songs and sets; empty if there is none. Raises FileError."""
    data = next((data for name, data in files if name == INDEX), None)
    if data is None:
        return {}
    try:
        index = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise FileError(f"archive: {INDEX}: found {error}, expected JSON") from error
    is_ours = isinstance(index, dict) and index.get("format") == FORMAT
    if not is_ours or not isinstance(index.get("songs"), list):
        raise FileError(f"archive: {INDEX}: found no songs, expected the format {FORMAT!r}")
    if not isinstance(index.get("version"), int) or index["version"] > VERSION:
        raise FileError(
            f"archive: {INDEX}: found version {index.get('version')!r}, expected {VERSION} or "
            "earlier: a newer version of the trainer wrote it"
        )
    if not isinstance(index.get("sets", []), list):
        raise FileError(f"archive: {INDEX}: found sets that are no list, expected a list")
    found: dict[str, Any] = index
    return found
