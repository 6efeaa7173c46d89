"""The pad a learner writes on: lines of notation and when each was finished."""

from __future__ import annotations

from dataclasses import dataclass, field

from trainer.chart import Header, ParseResult, parse_tolerant

__all__ = ["Pad"]


@dataclass(slots=True)
class Pad:
    """Typed lines in order. `done_s` holds, per line, the seconds from the first play to the
    moment the line was finished, None where nothing had been played yet."""

    header: Header
    lines: list[str] = field(default_factory=list)
    done_s: list[float | None] = field(default_factory=list)

    @classmethod
    def of(cls, text: str, header: Header) -> Pad:
        """A pad that already holds a text, as kept from an interrupted drill."""
        lines = text.splitlines()
        return cls(header, lines, [None] * len(lines))

    @property
    def text(self) -> str:
        """All that was typed."""
        return "".join(line + "\n" for line in self.lines)

    def draft(self) -> ParseResult:
        """The text read as far as it goes."""
        return parse_tolerant(self.text, self.header)

    def add(self, line: str, done_s: float | None) -> None:
        """Write a line below the others."""
        self.lines.append(line)
        self.done_s.append(done_s)

    def replace(self, number: int, line: str, done_s: float | None) -> None:
        """Write line `number` (from 1) anew; an empty line takes it out. Raises IndexError."""
        if not 1 <= number <= len(self.lines):
            raise IndexError(number)
        if line.strip():
            self.lines[number - 1] = line
            self.done_s[number - 1] = done_s
        else:
            del self.lines[number - 1], self.done_s[number - 1]

    def bars_done_s(self) -> tuple[float | None, ...]:
        """When each bar of the draft was finished: with its line."""
        return tuple(self.done_s[line - 1] for line, _, _ in self.draft().bar_spans)
