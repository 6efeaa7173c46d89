"""A whole drill at the terminal, and what is left of it."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import soundfile
from rich.console import Console

from tests.cli.conftest import Ran, Run
from trainer.chart import Header
from trainer.cli.prompt import DrillPrompt, TypedLines
from trainer.cli.song import Song
from trainer.drill import Drill, Drills, read_stamps
from trainer.drill.stamps import bars_done_s
from trainer.exercise import Exercise, load_course, make_exercise
from trainer.store import Store

NOW = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)


class FakePlayer:
    """A player without sound: it notes where it was started, and plays as far as a test says."""

    def __init__(self) -> None:
        self.starts: list[float] = []
        self.paused = False
        self.position_s = 0.0
        self.ends_at_s = 1000.0

    @property
    def has_ended(self) -> bool:
        return self.position_s >= self.ends_at_s

    def start(self, from_s: float = 0.0) -> None:
        self.starts.append(from_s)
        self.position_s = from_s
        self.paused = False

    def pause(self) -> None:
        self.paused = True

    def resume(self) -> None:
        self.paused = False

    def stop(self) -> None:
        self.paused = False


class Terminal:
    """A drill at the terminal with typed lines, a clock that the lines move, and its store.

    A line that is a number lets as many seconds pass, in which the band plays on.
    """

    def __init__(self, store: Store, exercise: Exercise) -> None:
        self.store, self.exercise = store, exercise
        self.learner = store.learners.get_or_add("Wren Halloway", NOW)
        self.now_s = 100.0
        self.player = FakePlayer()
        self.screen = io.StringIO()
        self.files: list[Path] = []

    @property
    def drills(self) -> Drills:
        return Drills(self.store, self.learner, lambda: NOW + timedelta(seconds=self.now_s))

    @property
    def drill(self) -> Drill:
        return self.drills.begin(self.exercise)

    def type(self, *lines: str | float) -> bool:
        """Type lines into a prompt that was just opened; whether the chart was handed in."""
        said: Iterator[str | float] = iter(lines)

        def read(prompt: str) -> str | None:
            del prompt
            for line in said:
                if isinstance(line, str):
                    return line
                self.now_s += line
                self.player.position_s += line
            return None

        drill = self.drill
        song = Song(self.drills, drill, player=self.player)
        self.prompt = DrillPrompt(
            typed=TypedLines.of(drill.progress.text, Header(), drill.progress.stamps),
            console=Console(file=self.screen, width=100),
            read=read,
            keep=lambda typed: self.drills.keep_text(
                drill.record.key, typed.text, stamps=typed.stamps
            ),
            sound=song,
        )
        return self.prompt.run()


@pytest.fixture
def terminal(record: Path) -> Iterator[Callable[..., Terminal]]:
    """A terminal with the first song of level 1, and as many listens as wanted or given."""
    level = load_course()[0]
    with Store(record) as store:
        yield lambda listens=0: Terminal(
            store, make_exercise(replace(level.recipe, listens=listens), 7, level)
        )


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
    ran = drill(run, tmp_path, reference_line(run, tmp_path) + "\ndone\n", "--to", sound)
    assert ran.code == 0
    assert "Score 100%" in ran.out
    assert soundfile.info(sound).frames > 44100
    stored = json.loads(run("progress", "--data", tmp_path, "--json").out)
    assert [attempt["score"] for attempt in stored["attempts"]] == [1.0]
    first = {"level": 1, "level_id": "home-four-five"}
    assert stored["levels"] == [first | {"best": 1.0, "attempts": 1, "passed": True}]
    assert stored["attempts"][0]["passed"] is True
    assert "You passed level 1." in ran.out


@pytest.mark.usefixtures("silent_files")
def test_what_reads_two_ways_is_told_with_how_it_was_taken(run: Run, tmp_path: Path) -> None:
    """A question is shown before the answer is handed in, and how it was read afterwards."""
    ran = drill(run, tmp_path, "1 57 ?\ndone\ny\n")
    assert "line 1, column 3: 5^7, or 5 and then 7? Write 5^7 or 5 7." in ran.out
    assert "5^7?" in ran.out
    assert "Line 1: 5^7, or 5 and then 7? It was read as 5^7." in ran.out
    assert "could not be read" not in ran.out


@pytest.mark.usefixtures("silent_files")
def test_a_wrong_answer_is_explained_and_stored(run: Run, tmp_path: Path) -> None:
    """Wrong bars are marked in words, advice names them, and the attempt is stored all the same."""
    ran = drill(run, tmp_path, "b7 b7 b7 b7\ndone\n")
    assert ran.code == 0
    assert "chord" in ran.out
    assert "and you wrote b7" in " ".join(ran.out.split())
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
    ran = drill(run, tmp_path, "1 4 5 1\ndone\n")
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
    ran = drill(run, tmp_path, "1 4 5 1\ndone\n")
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
    from trainer.cli import common

    lines = iter(["1 4 5 1"])

    def read(prompt: str) -> str | None:
        del prompt
        for line in lines:
            return line
        raise KeyboardInterrupt

    monkeypatch.setattr(common, "read_line", read)
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
    assert "There is no level 99" in ran.out
    assert re.search(r"1 +Home, four and five +1, 4, 5 +next, you need 85%", ran.out)
    assert "One chord to a bar" in ran.out
    assert "Score" in ran.out


Open = Callable[..., Terminal]


def test_lines_can_be_mended(terminal: Open) -> None:
    """`fix` writes a line again, `drop` takes the last away, and both are kept at once."""
    here = terminal()
    assert here.type("1 4", "5 5", "fix 1", "1 1", "drop", "fix 9", "done")
    assert here.prompt.typed.text == "1 1\n"
    assert here.drill.progress.text == "1 1\n"
    assert "expected a line number from 1 to 1" in here.screen.getvalue()


def test_a_mistake_is_shown_before_handing_in(terminal: Open) -> None:
    """A text with a problem is handed in only when the writer says so."""
    here = terminal()
    assert here.type("1 8", "done", "n", "fix 1", "1 1", "done")
    assert here.prompt.typed.text == "1 1\n"
    assert "line 1, column 3" in here.screen.getvalue()


@pytest.mark.parametrize("lines", [("1 4 5 1",), ("1 8", "done")])
def test_the_end_of_the_input_hands_nothing_in(terminal: Open, lines: tuple[str, ...]) -> None:
    """Only `done` hands a chart in; where the input ends what was typed waits as a draft."""
    here = terminal()
    assert not here.type(*lines)
    assert here.drill.progress.text == lines[0] + "\n"


def test_listens_are_counted(terminal: Open) -> None:
    """Each play from the top is a listen; past the last one the band stays silent."""
    here = terminal(listens=2)
    assert here.type("play", "play", "play", "1", "done")
    assert here.drill.progress.listens == 2
    assert here.player.starts == [0.0, 0.0]
    assert "last listen" in here.screen.getvalue()


def test_leaving_gives_no_listen_back(terminal: Open) -> None:
    """A learner who leaves and carries on has the listens that were left, and the pause counts."""
    here = terminal(listens=1)
    assert not here.type("play", 3.0, "1 1", 2.0, "leave")
    assert here.drill.progress.paused
    assert here.drill.listens_left == 0
    assert not here.type("play", 1.0, "leave")
    assert here.player.starts == [0.0, 5.0]
    assert here.drill.position_s == 6.0


def test_a_song_heard_to_its_end_is_over(terminal: Open) -> None:
    """After the song's end there is nothing to go on with, and no pause was made."""
    here = terminal(listens=1)
    here.player.ends_at_s = 3.0
    assert not here.type("play", 3.0, "1 1", "leave")
    assert here.drill.position_s is None
    assert not here.drill.progress.paused


def test_bars_are_timed_from_the_first_listen(terminal: Open) -> None:
    """A line's bars are done when the line is, in seconds from the first listen."""
    here = terminal()
    assert here.type("1 1", "play", 5.0, "4 5", 2.5, "play", 1.0, "1", "done")
    assert here.prompt.typed.done_s == [None, 5.0, 8.5]
    spans = here.prompt.typed.parsed().bar_spans
    runs = read_stamps(here.prompt.typed.stamps)
    assert runs is not None
    done = bars_done_s(here.prompt.typed.text, spans, runs)
    assert done == (None, None, 5.0, 5.0, 8.5)


def test_times_are_kept_with_the_lines(terminal: Open) -> None:
    """A drill that is gone on with knows when the lines were written that stood there before."""
    here = terminal()
    here.type("play", 5.0, "4 5", "leave")
    assert here.type("1", "done")
    assert here.prompt.typed.done_s == [5.0, 5.0]


def test_a_slowed_listen_goes_on_as_slowly(terminal: Open) -> None:
    """A listen that was slowed on the page goes on at that speed; the next one is at full speed."""
    here = terminal(listens=0)
    drill = here.drill
    here.drills.listen(drill.record.key, 70)
    here.drills.heard(drill.record.key, 4.0)
    made: list[int] = []

    def make_player(speed: int) -> FakePlayer:
        made.append(speed)
        return here.player

    song = Song(here.drills, here.drill, player=here.player, make_player=make_player, speed=70)
    song.play()
    assert (here.player.starts, made) == ([4.0], [])
    here.player.ends_at_s = 0.0
    song.play()
    assert (here.player.starts, made) == ([4.0, 0.0], [100])
    assert here.drill.progress.speeds == (70, 100)


@pytest.mark.usefixtures("silent_files")
def test_the_sound_goes_into_a_file_when_asked(terminal: Open, tmp_path: Path) -> None:
    """`play NAME` writes the sound there, which is a listen that cannot be timed."""
    here = terminal()
    assert here.type(f"play {tmp_path / 'Take 1.wav'}", "1", f"play {tmp_path / 'b.wav'}", "done")
    assert (tmp_path / "Take 1.wav").exists()
    assert here.drill.progress.listens == 1
    assert here.prompt.typed.done_s == [None]


@pytest.mark.audio
def test_a_file_that_cannot_be_written_is_no_end(run: Run, tmp_path: Path) -> None:
    """A wrong name for the sound's file is said, and the drill goes on."""
    ran = drill(run, tmp_path, f"play {tmp_path}/x.mp3\nplay {tmp_path}/x.wav\n1 4 5 1\ndone\n")
    assert ".flac" in ran.out
    assert (tmp_path / "x.wav").exists()
    assert "Score" in ran.out


def test_pausing_is_noted(terminal: Open) -> None:
    """A pause counts against the first pass, and the band goes on from there."""
    here = terminal()
    assert here.type("play", "pause", "pause", "1", "done")
    assert here.drill.progress.paused
    assert not here.player.paused
    assert here.player.starts == [0.0]


def test_handing_in_while_the_band_plays_is_no_pause(terminal: Open) -> None:
    """The band falls silent when the chart is handed in, and that interrupts nothing."""
    here = terminal()
    assert here.type("play", 4.0, "1", "done")
    assert not here.drill.progress.paused


def test_nothing_typed_is_not_handed_in(run: Run, tmp_path: Path) -> None:
    """Where the input ends before a line is typed nothing is graded, also of what was kept."""
    ran = run("drill", "--level", "1", "--data", tmp_path)
    assert "You wrote nothing, so nothing is kept." in ran.out
    run("drill", "--level", "1", "--seed", "3", "--data", tmp_path, typed="1 4 5 1\nleave\n")
    assert "Kept 1 line." in run("drill", "--continue", "--data", tmp_path).out
    assert json.loads(run("progress", "--json", "--data", tmp_path).out)["attempts"] == []
