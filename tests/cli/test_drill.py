"""A whole drill at the terminal, and what is left of it."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import soundfile
from rich.console import Console

from tests.cli.conftest import Ran, Run
from trainer.chart import Header
from trainer.cli.desk import Desk
from trainer.cli.pad import Pad


class FakePlayer:
    """A player without sound that notes what it was told."""

    def __init__(self) -> None:
        self.told: list[str] = []
        self.paused = False

    def start(self) -> None:
        self.told.append("start")
        self.paused = False

    def pause(self) -> None:
        self.paused = True

    def resume(self) -> None:
        self.paused = False

    def stop(self) -> None:
        self.told.append("stop")


class Sitter:
    """A desk with typed lines, a clock that the lines move, and what came of it."""

    def __init__(self, *lines: str | float, listens: int = 0, text: str = "") -> None:
        self.said: Iterator[str | float] = iter(lines)
        self.now = 100.0
        self.kept: list[str] = []
        self.files: list[Path] = []
        self.player = FakePlayer()
        self.screen = io.StringIO()
        self.desk = Desk(
            pad=Pad.of(text, Header()),
            console=Console(file=self.screen, width=100),
            read=self.read,
            keep=self.kept.append,
            clock=lambda: self.now,
            into_file=self.files.append,
            playback=self.player,
            listens_allowed=listens,
        )

    def read(self, prompt: str) -> str | None:
        """The next typed line; a number lets time pass first."""
        del prompt
        for said in self.said:
            if isinstance(said, str):
                return said
            self.now += said
        return None


def reference_line(run: Run, data: Path) -> str:
    """The right answer to level 1, seed 7, without its header."""
    del data
    chart = json.loads(run("generate", "--level", 1, "--seed", 7, "--json").out)["chart"]
    return str(chart["text"]).split("\n\n", 1)[1]


def drill(run: Run, data: Path, typed: str, *more: object) -> Ran:
    """Level 1, seed 7, with these lines typed."""
    return run("drill", "--level", 1, "--seed", 7, "--data", data, *more, typed=typed)


@pytest.mark.audio
def test_a_right_answer_scores_all_and_is_stored(run: Run, tmp_path: Path) -> None:
    """A drill plays into a file, takes the chart, grades it whole, and stands in the record."""
    sound = tmp_path / "song.wav"
    ran = drill(run, tmp_path, reference_line(run, tmp_path), "--to", sound)
    assert ran.code == 0
    assert "Score 100%" in ran.out
    assert soundfile.info(sound).frames > 44100
    stored = json.loads(run("progress", "--data", tmp_path, "--json").out)
    assert [attempt["score"] for attempt in stored["attempts"]] == [1.0]
    assert stored["levels"] == [{"level": 1, "best": 1.0, "attempts": 1}]


@pytest.mark.audio
def test_a_wrong_answer_is_explained_and_stored(run: Run, tmp_path: Path) -> None:
    """Wrong bars are marked in words, advice names them, and the attempt is stored all the same."""
    ran = drill(run, tmp_path, "b7 b7 b7 b7\n")
    assert ran.code == 0
    assert "chord" in ran.out
    assert "none have the right root" in " ".join(ran.out.split())
    attempts = json.loads(run("progress", "--data", tmp_path, "--json").out)["attempts"]
    assert [attempt["score"] < 0.5 for attempt in attempts] == [True]


@pytest.mark.audio
def test_no_sound_device_still_lets_one_write(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without an audio device the drill says so, offers a file, and goes on."""
    from trainer.errors import AudioDeviceMissing
    from trainer.sound import player

    def none() -> None:
        raise AudioDeviceMissing("no sound from here: none was found")

    monkeypatch.setattr(player, "require_audio_output", none)
    ran = drill(run, tmp_path, "1 4 5 1\n")
    assert ran.code == 0
    assert "no sound from here" in ran.out
    assert "play song.wav" in ran.out
    assert "Score" in ran.out


def test_no_soundfont_still_lets_one_write(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no soundfont is found the drill says where it looked, and goes on."""
    from trainer.errors import SoundfontMissing
    from trainer.sound import soundfonts

    def none(option: Path | None = None) -> Path:
        raise SoundfontMissing(f"no soundfont: looked in {tmp_path} ({option})")

    monkeypatch.setattr(soundfonts, "find_soundfont", none)
    ran = drill(run, tmp_path, "1 4 5 1\n")
    assert ran.code == 0
    assert "no soundfont: looked in" in ran.out
    assert "Score" in ran.out


def test_a_soundfont_that_is_not_there_is_named(run: Run, tmp_path: Path) -> None:
    """A soundfont asked for by name and not there exits with 2 and names the file."""
    ran = drill(run, tmp_path, "1 4 5 1\n", "--soundfont", tmp_path / "none.sf2")
    assert ran.code == 2
    assert "none.sf2" in ran.err


@pytest.mark.audio
def test_leaving_keeps_what_was_typed(run: Run, tmp_path: Path) -> None:
    """A drill that is left keeps its lines, and `--continue` goes on with them."""
    right = reference_line(run, tmp_path).strip()
    left = drill(run, tmp_path, f"{right}\nleave\n")
    assert "drill --continue" in left.out
    assert "Score" not in left.out
    assert json.loads(run("progress", "--data", tmp_path, "--json").out)["attempts"] == []
    again = run("drill", "--continue", "--data", tmp_path, typed="done\n")
    assert "Score 100%" in again.out
    assert run("drill", "--continue", "--data", tmp_path).code == 2


@pytest.mark.audio
def test_an_interrupted_drill_keeps_what_was_typed(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Control-C in the middle of a chart loses no finished line."""
    from trainer.cli import sitting

    lines = iter(["1 4 5 1"])

    def read(prompt: str) -> str | None:
        del prompt
        for line in lines:
            return line
        raise KeyboardInterrupt

    monkeypatch.setattr(sitting, "read_line", read)
    assert "Kept 1 line" in drill(run, tmp_path, "").out
    monkeypatch.undo()
    again = run("drill", "--continue", "--data", tmp_path, typed="done\n")
    assert "wrote 1 4 5 1" in " ".join(again.out.split())


@pytest.mark.audio
def test_the_prompt_without_an_exercise(run: Run, tmp_path: Path) -> None:
    """`drill` alone lists levels and songs, drills the next level, and ends with quit."""
    ran = run("drill", "--data", tmp_path, typed="levels\nsongs\n99\n\n1 4 5 1\ndone\nquit\n")
    assert ran.code == 0
    assert "Home, four and five" in ran.out
    assert "Millrace Ferry Bell" in ran.out
    assert "found level 99" in ran.out
    assert "Score" in ran.out


def test_lines_can_be_mended() -> None:
    """`fix` writes a line anew, `drop` takes the last away, and both are kept at once."""
    sitter = Sitter("1 4", "5 5", "fix 1", "1 1", "drop", "fix 9", "done")
    assert sitter.desk.write()
    assert sitter.desk.pad.text == "1 1\n"
    assert sitter.kept[-1] == "1 1\n"
    assert "expected a line number from 1 to 1" in sitter.screen.getvalue()


def test_a_slip_is_shown_before_handing_in() -> None:
    """A text with a problem is handed in only when the writer says so."""
    sitter = Sitter("1 8", "done", "n", "fix 1", "1 1", "done")
    assert sitter.desk.write()
    assert sitter.desk.pad.text == "1 1\n"
    assert "line 1, column 3" in sitter.screen.getvalue()


def test_listens_are_counted() -> None:
    """Each play from the top is a listen; past the last one the band stays silent."""
    sitter = Sitter("play", "play", "play", "done", listens=2)
    assert sitter.desk.write()
    assert sitter.desk.listens == 2
    assert sitter.player.told.count("start") == 2
    assert "last listen" in sitter.screen.getvalue()


def test_bars_are_timed_from_the_first_play() -> None:
    """A line's bars are done when the line is, in seconds from the first play."""
    sitter = Sitter("1 1", "play", 5.0, "4 5", 2.5, "play", 1.0, "1", "done")
    assert sitter.desk.write()
    assert sitter.desk.pad.bars_done_s() == (None, None, 5.0, 5.0, 8.5)


def test_the_sound_goes_into_a_file_when_asked() -> None:
    """`play NAME` writes the sound there and counts no listen."""
    sitter = Sitter("play Take 1.wav", "1", "done")
    assert sitter.desk.write()
    assert sitter.files == [Path("Take 1.wav")]
    assert sitter.desk.listens == 0


@pytest.mark.audio
def test_a_file_that_cannot_be_written_is_no_end(run: Run, tmp_path: Path) -> None:
    """A wrong name for the sound's file is said, and the drill goes on."""
    ran = drill(run, tmp_path, f"play {tmp_path}/x.mp3\nplay {tmp_path}/x.wav\n1 4 5 1\n")
    assert ".flac" in ran.out
    assert (tmp_path / "x.wav").exists()
    assert "Score" in ran.out


def test_pausing_is_noted() -> None:
    """A pause counts against the first pass, and the band goes on from there."""
    sitter = Sitter("play", "pause", "pause", "1", "done")
    assert sitter.desk.write()
    assert sitter.desk.was_paused
    assert not sitter.player.paused


def test_nothing_typed_is_not_handed_in(run: Run, tmp_path: Path) -> None:
    """Where the input ends before a line is typed nothing is graded, also of what was kept."""
    ran = run("drill", "--level", "1", "--data", tmp_path)
    assert "Nothing was written, so nothing is kept." in ran.out
    run("drill", "--level", "1", "--seed", "3", "--data", tmp_path, typed="1 4 5 1\nleave\n")
    assert "Kept 1 line." in run("drill", "--continue", "--data", tmp_path).out
    assert json.loads(run("progress", "--json", "--data", tmp_path).out)["attempts"] == []
