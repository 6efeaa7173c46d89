"""The prompt of a drill: lines of chart and a few plain words, until the chart is handed in."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from trainer.cli.pad import Pad
from trainer.cli.sheet import draw_sheet
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["Desk", "Playback", "read_line"]

WORDS = """\
Type the chart line by line. A line is a phrase; ` . ` ends one inside a line;
`Verse 1:` alone on a line starts a section. Besides that:
  play    hear it from the top       fix N   write line N anew
  pause   pause, or go on            drop    take the last line away
  stop    stop the band              sheet   show the sheet and line numbers
  done    hand it in                 leave   keep what you wrote for later
  play song.wav   write the sound into a file instead (.wav or .flac)"""


class Playback(Protocol):
    """What the desk needs of a player."""

    def start(self) -> None:
        """Begin from the top."""

    def pause(self) -> None:
        """Hold the place."""

    def resume(self) -> None:
        """Go on from the place held."""

    def stop(self) -> None:
        """Fall silent."""

    @property
    def paused(self) -> bool:
        """Whether a place is held."""


def read_line(prompt: str) -> str | None:
    """One line from the person; None at the end of the input. Prompts on a terminal only."""
    if sys.stdin.isatty():
        try:
            return input(prompt)
        except EOFError:
            return None
    line = sys.stdin.readline()
    return line.rstrip("\r\n") if line else None


@dataclass(slots=True)
class Desk:
    """One drill at the terminal. `listens_allowed` 0 means as many as wanted; `clock` gives
    seconds that only ever grow; `into_file` writes the song's sound."""

    pad: Pad
    console: Console
    read: Callable[[str], str | None]
    keep: Callable[[str], None]
    clock: Callable[[], float]
    into_file: Callable[[Path], None]
    playback: Playback | None = None
    listens_allowed: int = 0
    listens: int = 0
    was_paused: bool = False
    first_play_s: float | None = None
    end_hands_in: bool = True
    _has_typed: bool = False

    def write(self) -> bool:
        """Take the chart. True when it is handed in, False when it is left for another time.

        Where the input ends the chart is handed in if `end_hands_in` and it has a line more than
        before; else it is left.

        All that is typed is kept after each line, so that nothing is lost if the drill is
        interrupted.
        """
        try:
            while True:
                line = self.read(f"{len(self.pad.lines) + 1:>3}  ")
                if line is None:
                    return self.end_hands_in and self._has_typed
                if line.strip().lower() == "leave":
                    return False
                if line.strip().lower() == "done":
                    if self._may_hand_in():
                        return True
                elif line.strip():
                    self._take(line.strip())
                    self.keep(self.pad.text)
        finally:
            if self.playback is not None:
                self.playback.stop()

    def _take(self, line: str) -> None:
        word, _, rest = line.partition(" ")
        if word.lower() == "fix":
            self._fix(rest)
        elif word.lower() == "play" and rest:
            self._write_sound(Path(rest.strip()))
        elif line.lower() in ("play", "pause", "stop"):
            self._transport(line.lower())
        elif line.lower() in ("help", "?"):
            self.console.print(WORDS, highlight=False)
        elif line.lower() == "sheet":
            self._show(numbered=True)
        elif line.lower() == "drop":
            if self.pad.lines:
                self.pad.replace(len(self.pad.lines), "", None)
            self._show()
        else:
            self.pad.add(line, self._since_first_play())
            self._has_typed = True
            # A section's name has no bars yet; that is no slip.
            if not line.endswith(":"):
                self._show()

    def _fix(self, rest: str) -> None:
        try:
            number = int(rest)
            old = self.pad.lines[number - 1] if number >= 1 else None
        except (ValueError, IndexError):
            old = None
        if old is None:
            self.console.print(
                f"fix: found {rest or 'no number'!r}, expected a line number from 1 to "
                f"{len(self.pad.lines)}"
            )
            return
        self.console.print(f"was  {old}", highlight=False, markup=False)
        line = self.read(f"{number:>3}  ")
        if line is not None:
            self.pad.replace(number, line.strip(), self._since_first_play())
            self._show()

    def _transport(self, word: str) -> None:
        player = self.playback
        if player is None:
            self.console.print("Nothing plays from here: `play song.wav` writes a file to play.")
        elif word == "play":
            self._play(player)
        elif word == "stop":
            player.stop()
        elif player.paused:
            player.resume()
        else:
            player.pause()
            self.was_paused = True

    def _write_sound(self, path: Path) -> None:
        try:
            self.into_file(path)
        except TrainerError as error:
            self.console.print(str(error), markup=False)

    def _play(self, player: Playback) -> None:
        if self.listens_allowed and self.listens >= self.listens_allowed:
            self.console.print("That was the last listen. Write what you remember, then: done")
            return
        self.listens += 1
        if self.first_play_s is None:
            self.first_play_s = self.clock()
        player.stop()
        player.start()
        if self.listens_allowed:
            self.console.print(f"Listen {self.listens} of {self.listens_allowed}.")

    def _since_first_play(self) -> float | None:
        return None if self.first_play_s is None else self.clock() - self.first_play_s

    def _may_hand_in(self) -> bool:
        problems = self.pad.draft().problems
        if not self.pad.lines or not problems:
            return True
        self._show(numbered=True)
        answer = self.read("Hand it in as it is? (y/n)  ")
        return answer is None or answer.strip().lower().startswith("y")

    def _show(self, *, numbered: bool = False) -> None:
        draft = self.pad.draft()
        if draft.chart is not None:
            draw_sheet(self.console, draft.chart, unsure=draft.invalid_bars)
        if numbered:
            for number, line in enumerate(self.pad.lines, 1):
                self.console.print(f"{number:>3}  {line}", highlight=False, markup=False)
        for problem in draft.problems:
            self.console.print(f"  {problem}", highlight=False, markup=False, style="italic")
