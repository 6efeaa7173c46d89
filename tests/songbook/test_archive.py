"""Songs as one archive, and archives and files from anywhere."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import replace

import pytest

from trainer.chart import Key, parse
from trainer.errors import FileError
from trainer.export import EXPORT_FORMATS, Writing, chart_as_file
from trainer.songbook import (
    IMPORT_SUFFIXES,
    Sets,
    Songbook,
    import_archive,
    import_file,
    read_song,
    write_archive,
)
from trainer.songbook import archive as archive_module
from trainer.songbook import importing as importing_module
from trainer.store import SetSong

HOUSE = "house-second-street-strut"
TEXT = "title: Lock Gate\nkey: D\n\nVerse 1:\n1 4 5 1\n4 4 1 5\n"


def packed(files: dict[str, bytes | str]) -> bytes:
    """An archive with these files."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def test_an_archive_gives_the_songs_back(book: Songbook, other: Songbook) -> None:
    """Texts, titles and tags come back in another songbook, and once more as known songs only."""
    book.new(TEXT, ["slow"])
    book.new("title: a/b: *?\n\n1 4 ((")
    book.new("")
    told: list[tuple[int, int]] = []
    own = [song for song in book.find().songs if book.owns(song)]
    content = write_archive(own, lambda *done: told.append(done))
    assert told == [(1, 3), (2, 3), (3, 3)]
    report = import_archive(other, content)
    assert (report.added, report.known, report.refused) == (3, 0, 0)
    found = [song for song in other.find().songs if other.owns(song)]
    assert {(s.version.text, s.tags) for s in found} == {(s.version.text, s.tags) for s in own}
    again = import_archive(book, content)
    assert (again.added, again.known) == (0, 3)


def test_an_archive_carries_sets_and_ids(book: Songbook, other: Songbook, far: Songbook) -> None:
    """Sets come along with the band's keys. A song keeps its id in a store that does not have it,
    and gets another where it belongs to somebody else."""
    song = book.new(TEXT)
    made = Sets(book).add("Friday", [SetSong(song.uid, "B♭"), SetSong(HOUSE)])
    content = write_archive([song], sets=[made])
    assert import_archive(far, content).sets == 1
    (there,) = Sets(far).all()
    assert there.songs == made.songs
    assert far.get(song.uid).version.text == TEXT
    assert import_archive(other, content).sets == 1
    (copied,) = Sets(other).all()
    assert copied.name == "Friday"
    assert copied.songs[0].song != song.uid
    assert other.owns(other.get(copied.songs[0].song))
    assert import_archive(other, content).sets == 0


@pytest.mark.parametrize(
    "entry",
    [
        7,
        {"name": 3},
        {"name": ""},
        {"name": "x" * 100},
        {"name": "Late", "songs": [{"song": HOUSE, "key": "H"}]},
    ],
)
def test_a_set_that_is_none_is_left_out(book: Songbook, entry: object) -> None:
    """What an archive says of sets is not believed; its songs come in all the same."""
    index = {"format": "chart-trainer songbook", "version": 1, "songs": [], "sets": [entry]}
    report = import_archive(book, packed({"a.txt": TEXT, "songbook.json": json.dumps(index)}))
    assert (report.added, report.sets) == (1, 0)


def test_importing_what_is_here_leaves_a_draft(book: Songbook) -> None:
    """A draft that was not saved stays when an archive brings the version that is here already."""
    song = book.new(TEXT)
    book.keep_draft(song.uid, "1 4 5 6-", 1)
    assert import_archive(book, write_archive([song])).known == 1
    assert book.get(song.uid).draft == "1 4 5 6-"


def test_a_chart_that_is_too_long_stops_no_archive(
    book: Songbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file whose chart is longer as text than a song may be is reported; the others come in."""
    converted = chart_as_file(parse(TEXT), ".musicxml", Writing())
    monkeypatch.setattr(importing_module, "format_chart", lambda _: "1 4 5 1\n" * 100_000)
    report = import_archive(book, packed({"long.musicxml": converted, "short.txt": TEXT}))
    assert (report.added, report.refused) == (1, 1)


def test_a_changed_song_becomes_a_version(book: Songbook) -> None:
    """A song that is here gets the archive's other text as its newest version."""
    song = book.new(TEXT)
    content = write_archive([song])
    book.save(song.uid, "1 4")
    report = import_archive(book, content)
    assert report.added == 1
    assert [each.text for each in book.versions(song.uid)] == [TEXT, "1 4", TEXT]


def test_an_archive_is_readable_without_the_trainer(book: Songbook) -> None:
    """Each song is a text file with its title as the name; the index names every file."""
    songs = [book.new(TEXT), book.new("title: ../../x\n1")]
    with zipfile.ZipFile(io.BytesIO(write_archive(songs))) as archive:
        names = archive.namelist()
        assert names == ["songs/1 Lock Gate.txt", "songs/2 x.txt", "songbook.json"]
        assert archive.read(names[0]).decode() == TEXT
        index = json.loads(archive.read("songbook.json"))
    assert [each["file"] for each in index["songs"]] == names[:2]


@pytest.mark.parametrize("suffix", [each for each in EXPORT_FORMATS if each in IMPORT_SUFFIXES])
def test_every_format_that_is_written_can_be_read(book: Songbook, suffix: str) -> None:
    """A song written in a format comes back with its bars."""
    chart = parse(TEXT)
    done = import_file(book, f"song{suffix}", chart_as_file(chart, suffix))
    assert done.song is not None
    bars = parse(done.song.version.text).bars()
    assert [bar.events for bar in bars] == [bar.events for bar in chart.bars()]


def test_text_in_letters_can_be_read_again(book: Songbook) -> None:
    """Text that was written in letters says so and comes back with all signs of its bars."""
    chart = parse("key: E\n\nVerse 1:\n1d 4p (1''' 5/7') 6-\n[up 2] 4 5^7 [2/4] 1 1c\n")
    for called in (chart, replace(chart, key=Key.parse("E minor"), title="key: E minor")):
        done = import_file(book, "s.txt", chart_as_file(called, ".txt", Writing(letters=True)))
        assert done.problems == ()
        assert done.song is not None
        assert read_song(done.song.version.text).chart == called


def test_a_song_without_a_title_is_called_after_its_file(book: Songbook) -> None:
    """A label file names no song, so the file's own name becomes the title."""
    done = import_file(book, "Lock  Gate.lab", chart_as_file(parse(TEXT), ".lab"))
    assert done.song is not None
    assert done.song.version.title == "Lock Gate"


def test_what_is_no_chart_is_told(book: Songbook) -> None:
    """Other words are kept and reported, an empty file is refused, and so is an unknown ending."""
    words = import_file(book, "list.txt", b"milk and eggs, please")
    assert words.song is not None
    assert words.song.version.text == "milk and eggs, please"
    assert words.problems == (
        "the text: found no bar that can be read; it is kept as it was written",
    )
    with pytest.raises(FileError, match=r"e\.txt: found an empty file"):
        import_file(book, "e.txt", b" \n")
    with pytest.raises(FileError, match=r"found the ending '\.doc', expected one of \.txt, "):
        import_file(book, "song.doc", b"1 4 5 1")


def test_a_bad_file_in_an_archive_is_reported(book: Songbook) -> None:
    """The others are read, and the report says which one could not be, and why."""
    content = packed({"a.txt": "1 4", "b.pdf": b"%PDF", "c.txt": b"\xff\xfe", "d.musicxml": "<x/>"})
    report = import_archive(book, content)
    assert (report.added, report.refused) == (1, 3)
    assert [(each.name, bool(each.problems)) for each in report.files if each.song is None] == [
        ("b.pdf", True),
        ("c.txt", True),
        ("d.musicxml", True),
    ]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"PK\x03\x04 but no archive",
        b"title: text",
        packed({"songbook.json": "{"}),
        packed({"songbook.json": "[]"}),
        packed(
            {"songbook.json": '{"format": "chart-trainer songbook", "version": 9, "songs": []}'}
        ),
        packed({"a.txt": "1 4 5 1" * 100})[:-40],
    ],
    # The archives hold the time at which they were made, which is another in each worker.
    ids=["nothing", "damaged", "text", "half a list", "no list", "a newer version", "cut off"],
)
def test_what_is_no_archive_is_refused(book: Songbook, content: bytes) -> None:
    """Damaged, foreign and newer archives are refused in words, and nothing is stored."""
    with pytest.raises(FileError, match="archive"):
        import_archive(book, content)
    assert book.store.songs.all(book.learner) == ()


def test_an_archive_that_unpacks_without_end_is_refused(
    book: Songbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One file, all files and the number of files have bounds that hold while unpacking."""
    bomb = packed({"a.txt": b"\0" * (archive_module.MOST_FILE_BYTES + 1)})
    with pytest.raises(FileError, match=r"a\.txt: found more than"):
        import_archive(book, bomb)
    monkeypatch.setattr(archive_module, "MOST_UNPACKED_BYTES", 1000)
    with pytest.raises(FileError, match="more than 1,000 bytes"):
        import_archive(book, packed({f"{n}.txt": "1" * 300 for n in range(4)}))
    monkeypatch.setattr(archive_module, "MOST_FILES", 3)
    with pytest.raises(FileError, match="found 4 files"):
        import_archive(book, packed({f"{n}.txt": "1" for n in range(4)}))
    monkeypatch.setattr(archive_module, "MOST_ARCHIVE_BYTES", 10)
    with pytest.raises(FileError, match="at most 10"):
        import_archive(book, packed({"a.txt": "1"}))
    assert book.store.songs.all(book.learner) == ()
