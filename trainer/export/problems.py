"""What a reader of files returns: the chart, and what in the file could not become part of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from trainer.chart import Chart

__all__ = ["LEFT_OPEN", "MOST_PROBLEMS", "SIMPLER", "ProblemList", "ReadFile", "ReadingProblem"]

# What a bar holds in place of a chord that is not understood, and of one that a chart has no sign
# for.
LEFT_OPEN = "the bar is left open"
SIMPLER = "a simpler chord is written"
# A file can hold thousands of one kind; nobody reads more than these.
MOST_PROBLEMS = 200


@dataclass(frozen=True, slots=True)
class ReadingProblem:
    """Something in a file that a chart can't hold or that was not understood.

    Attributes
    ----------
    place : where it stands, in the file's own count: "measure 12" or "line 3".
    found : what stands there.
    instead : what the chart has in its place.
    """

    place: str
    found: str
    instead: str

    def __str__(self) -> str:
        return f"{self.place}: found {self.found}; {self.instead}"


@dataclass(frozen=True, slots=True)
class ReadFile:
    """A chart read from a file, and everything that was lost or guessed, in order of place."""

    chart: Chart
    problems: tuple[ReadingProblem, ...] = ()


@dataclass(slots=True)
class ProblemList:
    """Collects problems; one that is told twice, as in a repeated bar, is kept once."""

    found: dict[ReadingProblem, None] = field(default_factory=dict)

    def add(self, place: str, found: str, instead: str) -> None:
        """Add a problem."""
        if len(self.found) < MOST_PROBLEMS:
            self.found[ReadingProblem(place, found, instead)] = None

    def all(self) -> tuple[ReadingProblem, ...]:
        """All problems so far."""
        return tuple(self.found)
