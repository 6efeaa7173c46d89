"""An assignment packed for a room without computers, on both databases; pypdf reads the sheets."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.classroom.lockside import FIRST_LEVEL, Lockside
from trainer.chart import Chart, excerpt, format_chart
from trainer.classroom.items import TOLERANCE, ItemPlan
from trainer.classroom.packing import find_assignment, pack_of, pack_sheets, write_pack
from trainer.errors import AssignmentError, FileError
from trainer.exercise import Exercise, song_digest
from trainer.practice import expected_score

OWN = ItemPlan("level", "six-minor", same_song=False, listens=2)
Sounds = dict[Path, Exercise]


def noted(sounds: Sounds) -> Callable[[Exercise, Path], None]:
    """What writes a few bytes for a sound and keeps which song it was."""

    def write(exercise: Exercise, path: Path) -> None:
        sounds[path] = exercise
        path.write_bytes(b"sound")

    return write


def pages(path: Path) -> list[str]:
    """The text of each page of a PDF, on one line."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(path).pages]


def body_of(chart: Chart) -> str:
    """The chords of a chart's first two bars, as a sheet prints them."""
    text = format_chart(excerpt(chart, 1, 2)).partition("\n\n")[2]
    return " ".join(text.rpartition(":\n")[2].replace("-", "−").split())


def test_a_pack_has_sounds_sheets_and_answers(lockside: Lockside, tmp_path: Path) -> None:
    """Each song's sound, a blank sheet that says how often it is heard and neither key nor chords,
    an answer sheet behind a list of the files, and a table to type scores into."""
    song = lockside.songbook.new("title: Lock Gate\nkey: Eb\ncount off: 2\n\n1 4 5 1")
    plans = [ItemPlan("level", "home-four-five", listens=3), ItemPlan("song", song.uid, listens=0)]
    assignment, items = lockside.assign(plans)
    sounds: Sounds = {}
    folder = tmp_path / "paper" / "week 3"
    files = write_pack(pack_of(lockside.store, assignment), folder, noted(sounds))
    assert files == (
        "answer sheets.pdf", "blank sheets.pdf", "scores.csv", "song 1.flac", "song 2.flac",
    )  # fmt: skip
    assert sorted(each.name for each in folder.iterdir()) == list(files)
    assert [each.chart for each in sounds.values()] == [item.exercise.chart for item in items]
    assert [each.take for each in sounds.values()] == [item.take for item in items]
    first, second = pages(folder / "blank sheets.pdf")
    assert (
        "Song 1 of 2. First the band plays the 1 chord and counts off one bar. You hear it 3 times."
        in first
    )
    assert "counts off 2 bars. You hear it as often as you need." in second
    assert "Name: ____" in first
    for page, item in zip((first, second), items, strict=True):
        assert page.count("_____ ") >= len(item.exercise.chart.bars())
        assert "Key ____" in page
        assert body_of(item.exercise.chart) not in page
    listed, *answers = pages(folder / "answer sheets.pdf")
    assert "song 1.flac, 3 times 2" in listed
    assert "Lock Gate E♭ song 2.flac, as often as you need 3" in listed
    for page, item in zip(answers, items, strict=True):
        assert body_of(item.exercise.chart) in page
    rows = list(csv.reader(io.StringIO((folder / "scores.csv").read_text("utf-8-sig"))))
    assert rows == [
        ["Name", "Sign-in name", f"1. {items[0].title}", "2. Lock Gate"],
        ["Wren H.", "wren"],
        ["Zoe H.", "zoe"],
    ]


def test_songs_of_their_own_lie_in_folders_of_their_own(lockside: Lockside, tmp_path: Path) -> None:
    """Each learner has another song that is as difficult, packed again it is the same one, and
    what is the same for all lies beside the folders."""
    assignment, (_, item) = lockside.assign([FIRST_LEVEL, OWN])
    lockside.work(lockside.pupils[0]).begin(item.uid)
    packed: list[Sounds] = [{}, {}]
    for number, sounds in enumerate(packed):
        folder = tmp_path / str(number)
        write_pack(pack_of(lockside.store, assignment), folder, noted(sounds), suffix=".wav")
    first, second = (list(sounds.values()) for sounds in packed)
    assert first == second
    own = first[1:]
    assert len({song_digest(song) for song in (*own, item.exercise)}) == 3
    assert all(abs(expected_score(song) - item.expected) <= TOLERANCE for song in own)
    folder = tmp_path / "0"
    assert sorted(each.name for each in folder.iterdir()) == [
        "answer sheets.pdf", "blank sheets.pdf", "learners", "scores.csv", "song 1.wav",
    ]  # fmt: skip
    for name, song in zip(("wren", "zoe"), own, strict=True):
        (blank,) = pages(folder / "learners" / name / "blank sheets.pdf")
        assert f"Name: {name.title()} H." in blank
        assert "Song 2 of 2" in blank
        listed, answer = pages(folder / "learners" / name / "answer sheets.pdf")
        assert listed.startswith(f"Week 3: {name.title()} H.")
        assert body_of(song.chart) in answer


def test_a_sign_in_name_is_no_name_of_another_file(
    small_lockside: Lockside, tmp_path: Path
) -> None:
    """A learner called as the table for scores is has a folder, and the table is a file."""
    small_lockside.add_pupil("scores.csv")
    assignment, _ = small_lockside.assign([OWN])
    write_pack(pack_of(small_lockside.store, assignment), tmp_path / "out", noted({}))
    assert (tmp_path / "out" / "scores.csv").is_file()
    assert (tmp_path / "out" / "learners" / "scores.csv" / "blank sheets.pdf").is_file()


def test_a_folder_with_something_in_it_is_left_alone(
    small_lockside: Lockside, tmp_path: Path
) -> None:
    """It is told what was found there and nothing is written; an empty folder is filled."""
    assignment, _ = small_lockside.assign()
    pack = pack_of(small_lockside.store, assignment)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "notes.txt").write_text("mine")
    with pytest.raises(FileError, match=r"found notes\.txt in it, expected a new or an empty"):
        write_pack(pack, tmp_path / "full", noted({}))
    (tmp_path / "a file").write_text("mine")
    with pytest.raises(FileError, match="a file"):
        write_pack(pack, tmp_path / "a file", noted({}))
    assert [each.name for each in (tmp_path / "full").iterdir()] == ["notes.txt"]
    (tmp_path / "empty").mkdir()
    assert len(write_pack(pack, tmp_path / "empty", noted({}))) == 4


def test_a_pack_is_there_whole_or_not_at_all(small_lockside: Lockside, tmp_path: Path) -> None:
    """If a sound can't be written, nothing is left behind."""
    assignment, _ = small_lockside.assign()

    def full(exercise: Exercise, path: Path) -> None:
        path.write_bytes(b"half")
        raise OSError(28, "No space left on device")

    with pytest.raises(FileError, match="No space left"):
        write_pack(pack_of(small_lockside.store, assignment), tmp_path / "out", full)
    assert list(tmp_path.glob("**/*pack*")) == []
    assert not (tmp_path / "out").exists()


def test_an_assignment_is_found_by_title_or_id(small_lockside: Lockside) -> None:
    """A title that two have, or none, is told with the ids of those that could be meant."""
    lockside = small_lockside
    one, _ = lockside.assign(title="Week 3")
    other, _ = lockside.assign(title="Week 4")
    assert find_assignment(lockside.store, "Week 4").uid == other.uid
    assert find_assignment(lockside.store, one.uid).title == "Week 3"
    with pytest.raises(AssignmentError, match=f"'Week 5'.*{other.uid}"):
        find_assignment(lockside.store, "Week 5")
    again, _ = lockside.assign(title="Week 3")
    with pytest.raises(AssignmentError, match=again.uid) as told:
        find_assignment(lockside.store, "Week 3")
    assert one.uid in str(told.value)
    assert other.uid not in str(told.value)


def test_the_sheets_alone_are_one_file(small_lockside: Lockside) -> None:
    """Blank sheets, answers and the table in a ZIP file that is the same each time; songs of their
    own are for the command."""
    assignment, (item,) = small_lockside.assign()
    content = pack_sheets(pack_of(small_lockside.store, assignment))
    assert content == pack_sheets(pack_of(small_lockside.store, assignment))
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert archive.namelist() == ["answer sheets.pdf", "blank sheets.pdf", "scores.csv"]
        listed, answer = PdfReader(io.BytesIO(archive.read("answer sheets.pdf"))).pages
    assert "song 1, " in " ".join(listed.extract_text().split())
    assert body_of(item.exercise.chart) in " ".join(answer.extract_text().split())
    own, _ = small_lockside.assign([OWN])
    with pytest.raises(AssignmentError, match="chart-trainer pack"):
        pack_sheets(pack_of(small_lockside.store, own))


def test_nothing_to_pack_is_told(small_lockside: Lockside) -> None:
    """An assignment without songs, and songs of their own for a class without learners."""
    empty, _ = small_lockside.assign([], opens_at=None)
    with pytest.raises(AssignmentError, match="no songs yet"):
        pack_of(small_lockside.store, empty)
    assignment, _ = small_lockside.assign([OWN])
    for pupil in small_lockside.pupils:
        now = small_lockside.school.clock()
        small_lockside.store.classes.leave(assignment.class_id, pupil.id, now)
    with pytest.raises(AssignmentError, match="nobody is in the class"):
        pack_of(small_lockside.store, assignment)
