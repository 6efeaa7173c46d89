"""`pack`: an assignment for a room without computers."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.classroom.lockside import found
from tests.classroom.people import School
from tests.cli.conftest import Run
from trainer.cli import pack
from trainer.exercise import Exercise
from trainer.sound import HEARING_REMINDER
from trainer.store import Store


@pytest.fixture
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The record of a class with an assignment; a sound is the title of its song."""

    def write(exercise: Exercise, path: Path) -> None:
        path.write_text(exercise.chart.title)

    monkeypatch.setattr(pack, "_writer", lambda soundfont: write)
    folder = tmp_path / "record"
    with Store.open(folder) as store:
        found(School(store)).assign(title="Week 3")
    return folder


def test_an_assignment_is_packed_by_one_command(run: Run, record: Path, tmp_path: Path) -> None:
    """The command prints what it has written, with the advice on hearing beside it, and doesn't
    touch a folder that has something in it."""
    out = tmp_path / "paper"
    line = ("pack", "Week 3", "-o", out, "--data", record, "--paper", "letter")
    ran = run(*line)
    assert ran.code == 0, ran.err
    names = ["answer sheets.pdf", "blank sheets.pdf", "scores.csv", "song 1.flac"]
    assert ran.out.splitlines() == [str(out / name) for name in names]
    assert HEARING_REMINDER.strip() in ran.err
    (page,) = PdfReader(out / "blank sheets.pdf").pages
    assert float(page.mediabox.width) == pytest.approx(8.5 * 72, abs=0.5)
    again = run(*line)
    assert again.code == 2
    assert "found answer sheets.pdf and 3 more in it" in again.err


def test_the_files_of_a_pack_as_json(run: Run, record: Path, tmp_path: Path) -> None:
    """--json names the folder and its files; --sound chooses what sounds are written as."""
    out = tmp_path / "paper"
    ran = run("pack", "Week 3", "-o", out, "--data", record, "--sound", "wav", "--json")
    told = json.loads(ran.out)
    assert told == {
        "folder": str(out),
        "files": ["answer sheets.pdf", "blank sheets.pdf", "scores.csv", "song 1.wav"],
    }


def test_what_cannot_be_packed_is_told(run: Run, record: Path, tmp_path: Path) -> None:
    """An assignment that isn't there, and paper that nobody has."""
    out = tmp_path / "paper"
    missing = run("pack", "Week 9", "-o", out, "--data", record)
    assert missing.code == 2
    assert "found 'Week 9'" in missing.err
    paper = run("pack", "Week 3", "-o", out, "--data", record, "--paper", "a5")
    assert paper.code == 2
    assert "a4 or letter" in paper.err
    assert not out.exists()


def test_a_sound_is_what_the_band_plays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole song of the exercise goes to the synth once, with its count-off."""
    from trainer import sound
    from trainer.drill import play_song
    from trainer.exercise import load_course, make_exercise

    level = load_course()[0]
    exercise = make_exercise(level.recipe, 3, level)
    written: list[Path] = []
    played: list[object] = []

    class Rendering:
        frames = 1

    class Silent:
        def __init__(self, soundfont: object) -> None:
            pass

        def render(self, arrangement: object) -> Rendering:
            played.append(arrangement)
            return Rendering()

    monkeypatch.setattr(sound, "Synth", Silent)
    monkeypatch.setattr(sound, "find_soundfont", lambda given: given)
    monkeypatch.setattr(sound, "write_audio", lambda made, path, progress: written.append(path))
    pack._writer(None)(exercise, tmp_path / "song 1.flac")
    assert played == [play_song(exercise)]
    assert written == [tmp_path / "song 1.flac"]
