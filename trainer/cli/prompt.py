"""The prompt of a drill: lines of chart and a few plain words, until the chart is handed in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from trainer.chart import Header, ParseResult, parse_tolerant
from trainer.cli.report import draw_sheet, say_question
from trainer.drill import read_stamps, write_stamps
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["WORDS", "DrillPrompt", "TypedLines"]

WORDS = """\
Type the chart line by line. Each line is a phrase; ` . ` ends a phrase inside a
line; `Verse 1:` alone on a line starts a section. You can also type:
  play    hear it from the top       fix N   write line N again
  pause   pause, or go on            drop    delete the last line
  stop    stop the band              sheet   show the sheet and line numbers
  done    hand it in                 leave   keep what you wrote for later
  play song.wav   write the sound to a file instead (.wav or .flac)"""


class Sound(Protocol):
    """What the prompt needs of the song's playback; each call says in words what it did."""

    def play(self) -> str:
        """Begin a listen, or go on with one that was interrupted."""

    def pause(self) -> str:
        """Pause, or go on."""

    def stop(self) -> str:
        """Fall silent."""

    def into_file(self, path: Path) -> str:
        """Write the song's sound into a file."""

    def note_position(self) -> None:
        """Store how far the band has got."""

    def close(self) -> None:
        """Fall silent at the end of the drill."""

    def elapsed_s(self) -> float | None:
        """Seconds since the first listen began; None before, and if that is not known."""


@dataclass(slots=True)
class TypedLines:
    """Typed lines in order. `done_s` holds, for each line, the seconds from the first listen to
    the moment the line was finished, None if that is not known."""

    header: Header
    lines: list[str] = field(default_factory=list)
    done_s: list[float | None] = field(default_factory=list)

    @classmethod
    def of(cls, text: str, header: Header, stamps: str = "") -> TypedLines:
        """The lines of a text that was kept from before, with when they were finished if the
        stamps were written here."""
        lines = text.splitlines()
        typed = cls(header, lines, [None] * len(lines))
        runs = read_stamps(stamps) or []
        times = [seconds for _, seconds in runs]
        if len(times) == len(lines):
            kept = cls(header, lines, times)
            return kept if kept.stamps == stamps else typed
        return typed

    @property
    def text(self) -> str:
        """All that was typed."""
        return "".join(line + "\n" for line in self.lines)

    @property
    def stamps(self) -> str:
        """When it was typed (`trainer.drill.stamps`)."""
        return write_stamps(list(zip(self.lines, self.done_s, strict=True)))

    def parsed(self) -> ParseResult:
        """The text read as far as it goes."""
        return parse_tolerant(self.text, self.header)

    def add(self, line: str, done_s: float | None) -> None:
        """Write a line below the others."""
        self.lines.append(line)
        self.done_s.append(done_s)

    def replace(self, number: int, line: str, done_s: float | None) -> None:
        """Write line `number` (from 1) again; an empty line takes it out. Raises IndexError."""
        if not 1 <= number <= len(self.lines):
            raise IndexError(number)
        if line.strip():
            self.lines[number - 1] = line
            self.done_s[number - 1] = done_s
        else:
            del self.lines[number - 1], self.done_s[number - 1]


@dataclass(slots=True)
class DrillPrompt:
    """One drill at the terminal. `keep` stores the lines after each change."""

    typed: TypedLines
    console: Console
    read: Callable[[str], str | None]
    keep: Callable[[TypedLines], object]
    sound: Sound

    def run(self) -> bool:
        """Take the chart. True when it is handed in, False when it is left for another time.

        Only `done` hands in; where the input ends, the drill is left. All that is typed is kept
        after each line, so that nothing is lost if the drill is interrupted.
        """
        try:
            while True:
                line = self.read(f"{len(self.typed.lines) + 1:>3}  ")
                word = "leave" if line is None else line.strip().lower()
                if word == "leave":
                    self.sound.stop()
                    return False
                if word == "done":
                    if self._may_hand_in():
                        return True
                elif line is not None and word:
                    self._obey(line.strip())
                    self.sound.note_position()
        except KeyboardInterrupt:
            self.sound.stop()
            return False
        finally:
            self.sound.close()

    def _obey(self, line: str) -> None:
        """Do what a line says, or take it as a line of chart."""
        word, _, rest = line.partition(" ")
        match word.lower():
            case "fix":
                self._fix(rest)
            case "play" if rest:
                self._say(lambda: self.sound.into_file(Path(rest.strip())))
            case "play" if not rest:
                self._say(self.sound.play)
            case "pause" if not rest:
                self._say(self.sound.pause)
            case "stop" if not rest:
                self._say(self.sound.stop)
            case "help":
                self.console.print(WORDS, highlight=False)
            case "sheet":
                self._show(numbered=True)
            case "drop":
                if self.typed.lines:
                    self.typed.replace(len(self.typed.lines), "", None)
                    self.keep(self.typed)
                self._show()
            case _:
                self._add(line)

    def _add(self, line: str) -> None:
        self.typed.add(line, self.sound.elapsed_s())
        self.keep(self.typed)
        # A section's name has no bars yet; that is no mistake.
        if not line.endswith(":"):
            self._show()

    def _fix(self, rest: str) -> None:
        try:
            number = int(rest)
            old = self.typed.lines[number - 1] if number >= 1 else None
        except (ValueError, IndexError):
            old = None
        if old is None:
            self.console.print(
                f"fix: found {rest or 'no number'!r}, expected a line number from 1 to "
                f"{len(self.typed.lines)}"
            )
            return
        self.console.print(f"was  {old}", highlight=False, markup=False)
        line = self.read(f"{number:>3}  ")
        if line is not None:
            self.typed.replace(number, line.strip(), self.sound.elapsed_s())
            self.keep(self.typed)
            self._show()

    def _say(self, what: Callable[[], str]) -> None:
        """Do something with the sound and print what it says of it, or what went wrong."""
        try:
            said = what()
        except TrainerError as error:
            said = str(error)
        if said:
            self.console.print(said, markup=False)

    def _may_hand_in(self) -> bool:
        if not self.typed.lines:
            self.console.print(
                "You haven't written anything yet. A guess is worth more than nothing."
            )
            return False
        parsed = self.typed.parsed()
        if not parsed.problems and not parsed.questions:
            return True
        self._show(numbered=True)
        answer = self.read("Hand it in as it is? (y/n)  ")
        return answer is not None and answer.strip().lower().startswith("y")

    def _show(self, *, numbered: bool = False) -> None:
        parsed = self.typed.parsed()
        if parsed.chart is not None:
            draw_sheet(self.console, parsed.chart, unsure=parsed.invalid_bars)
        if numbered:
            for number, line in enumerate(self.typed.lines, 1):
                self.console.print(f"{number:>3}  {line}", highlight=False, markup=False)
        for problem in parsed.problems:
            self.console.print(f"  {problem}", highlight=False, markup=False, style="italic")
        for question in parsed.questions:
            self.console.print(
                f"  {say_question(question)}", highlight=False, markup=False, style="italic"
            )
