"""The terminal as a way to a drill: its session with typed lines, and a player without sound."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from rich.console import Console

from tests.drill.evening import Clock
from tests.drill.interfaces import LENGTH_S, Action, Pause, Play, Submit, Visit, Wait, Write
from trainer.cli import common
from trainer.cli.session import Session
from trainer.cli.song import Song
from trainer.drill import SEEN_NOW, Drill, Drills
from trainer.exercise import Exercise
from trainer.store import Learner, Store

__all__ = ["TerminalWay"]


class SilentPlayer:
    """A player whose band plays by the learner's clock."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._from_s, self._began = 0.0, clock.now
        self._held_s: float | None = 0.0
        self.paused = False

    @property
    def position_s(self) -> float:
        """Seconds of the song played so far."""
        if self._held_s is not None:
            return self._held_s
        return self._from_s + (self._clock.now - self._began).total_seconds()

    @property
    def has_ended(self) -> bool:
        """Whether the song was played to its end."""
        return self.position_s >= LENGTH_S

    def start(self, from_s: float = 0.0) -> None:
        """Begin so far into the song."""
        self._from_s, self._began = from_s, self._clock.now
        self._held_s, self.paused = None, False

    def pause(self) -> None:
        """Hold the place."""
        self._held_s, self.paused = self.position_s, True

    def resume(self) -> None:
        """Go on from the place held."""
        self.start(self.position_s)

    def stop(self) -> None:
        """Fall silent."""
        self._held_s, self.paused = self.position_s, False


class TerminalWay:
    """The terminal's own session, its lines and its clock given by the test."""

    def __init__(
        self, store: Store, learner: Learner, clock: Clock, patch: pytest.MonkeyPatch
    ) -> None:
        self.store, self.learner, self.clock = store, learner, clock
        self._lines: Iterator[str | float] = iter(())
        patch.setattr(common, "read_line", self._read)
        patch.setattr(common, "now", clock)
        patch.setattr(Song, "prepare", self._prepare)

    def start_again(self) -> None:
        """Every visit is a program of its own."""

    def visit(self, exercise: Exercise, actions: Sequence[Action]) -> Visit:
        """Type what the actions say; where the input ends the drill is left."""
        self._lines = iter([each for action in actions for each in typed(action)])
        screen = io.StringIO()
        session = Session(self.store, self.learner, None, Console(file=screen, width=500))
        drill = session.drills.begin(exercise)
        done = session.run(drill)
        said = screen.getvalue()
        return Visit(
            seen=SEEN_NOW in said,
            text=drill.progress.text,
            refused=said.count("That was your last listen."),
            attempt=done.attempt if done is not None else None,
        )

    def _read(self, prompt: str) -> str | None:
        """The next line; numbers between lines let so many seconds pass."""
        if prompt.startswith("Hand it in as it is?"):
            return "y"
        for line in self._lines:
            if isinstance(line, str):
                return line
            self.clock.pass_(seconds=line)
        return None

    def _prepare(
        self,
        drills: Drills,
        drill: Drill,
        soundfont: Path | None,
        to: Path | None,
        console: Console,
    ) -> Song:
        """A song in place of one with sound."""
        del soundfont, to, console
        return Song(drills, drill, player=SilentPlayer(self.clock))


def typed(action: Action) -> list[str | float]:
    """The lines that are typed for an action, and the seconds that pass after each."""
    match action:
        case Play(seconds):
            return ["play", LENGTH_S if seconds is None else seconds]
        case Wait(seconds):
            return [LENGTH_S if seconds is None else seconds]
        case Pause(seconds):
            return ["pause", seconds, "pause", seconds]
        case Write(line):
            return [line]
        case Submit():
            return ["done"]
