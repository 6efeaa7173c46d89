"""The line parser: the tokens of one typed line joined into bars, and bars into phrases."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from trainer.chart.invalid_tokens import abbreviate
from trainer.chart.model import MOST_EVENTS, Bar, Event, Meter
from trainer.chart.tokens import BracketToken, ChordToken, ReportProblem, SeparatorToken, tokenize

__all__ = ["ParsedBar", "parse_line"]


class ParsedBar(NamedTuple):
    """A bar and where it stands in its line.

    `start` and `end` are indices from 0, `end` after the last character. `valid` is False where
    the text of the bar is wrong or unfinished.
    """

    bar: Bar
    start: int
    end: int
    valid: bool


def parse_line(line: str, meter: Meter, report: ReportProblem, most: int) -> list[list[ParsedBar]]:
    """Parse a line into phrases of bars.

    A bar that cannot be understood becomes a bar with no chord; one that is unfinished or does not
    fill its meter is divided evenly. Both are marked as not valid.

    Parameters
    ----------
    line : the line as typed.
    meter : the meter of bars that do not name their own.
    report : called for everything that is wrong.
    most : after more than so many bars the rest of the line is left unread.
    """
    parser = _LineParser(line, meter, report)
    for token in tokenize(line, report):
        if isinstance(token, ChordToken):
            parser.chord(token)
        elif isinstance(token, BracketToken):
            parser.bracket(token)
        elif token.sign == "_":
            parser.join(token)
        else:
            parser.dot(token)
        if parser.count > most:
            break
    else:
        parser.end()
    return [phrase for phrase in parser.phrases if phrase]


class _LineParser:
    """Collects tokens until a bar is complete, and bars until a phrase is."""

    def __init__(self, line: str, meter: Meter, report: ReportProblem) -> None:
        self.line, self.meter, self.report = line, meter, report
        self.phrases: list[list[ParsedBar]] = [[]]
        self.written: list[ChordToken] = []
        self.before: list[BracketToken] = []
        self.pending: list[BracketToken] = []
        self.joining: SeparatorToken | None = None
        self.count = 0

    def chord(self, token: ChordToken) -> None:
        if self.joining is None:
            self._finish_bar()
            self.before, self.pending = self.pending, []
        self.joining = None
        self.written.append(token)

    def join(self, token: SeparatorToken) -> None:
        if self.joining is not None:
            self.report(token.start, "a second _", "one _ between two chords of a bar")
        elif not self.written or self.pending:
            self.report(token.start, "_ with no chord before it",
                        "_ between two chords of one bar, as in 1_5")  # fmt: skip
        else:
            self.joining = token

    def bracket(self, token: BracketToken) -> None:
        self._finish_bar()
        if any((token.meter is None) == (other.meter is None) for other in self.pending):
            kind = "key move" if token.meter is None else "meter"
            self.report(token.start, f"a second {kind} before one bar", f"one {kind} to a bar")
        else:
            self.pending.append(token)

    def dot(self, token: SeparatorToken) -> None:
        self._finish_bar()
        self._need_no_directive()
        if self.phrases[-1]:
            self.phrases.append([])
        else:
            self.report(token.start, ". with no bar before it", "a phrase of bars before its dot")

    def end(self) -> None:
        self._finish_bar()
        self._need_no_directive()

    def _need_no_directive(self) -> None:
        for token in self.pending:
            text = abbreviate(self.line[token.start : token.end])
            self.report(token.start, f"{text} with no bar after it",
                        "a bar after it on the same line")  # fmt: skip
        self.pending = []

    def _finish_bar(self) -> None:
        if not self.written:
            return
        finished = self.joining is None
        if self.joining is not None:
            self.report(self.joining.start, "_ with no chord after it",
                        "another chord of the same bar, as in 1_5")  # fmt: skip
        start = self.before[0].start if self.before else self.written[0].start
        end = self.written[-1].end if self.joining is None else self.joining.start + 1
        meter = next((d.meter for d in self.before if d.meter is not None), self.meter)
        events = self._events(meter, start) if finished else None
        valid = events is not None
        bar = Bar(meter, events or self._so_far(meter), sum(d.key_change for d in self.before))
        self.count += 1
        self.phrases[-1].append(ParsedBar(bar, start, end, valid))
        self.written, self.before, self.joining = [], [], None

    def _so_far(self, meter: Meter) -> tuple[Event, ...]:
        """The chords of an invalid bar divided evenly, or no chord if one cannot be understood."""
        count = len(self.written)
        understood = all(chord.valid or chord.chord is not None for chord in self.written)
        if not understood or count > max(MOST_EVENTS, meter.beats):
            return (Event(None, Fraction(meter.beats)),)
        beats = Fraction(meter.beats, count)
        return tuple(Event(chord.chord, beats, chord.articulation) for chord in self.written)

    def _events(self, meter: Meter, start: int) -> tuple[Event, ...] | None:
        """The events of a bar; None, and a report, where they do not fill it."""
        written, count = self.written, len(self.written)
        most = max(MOST_EVENTS, meter.beats)
        if not all(chord.valid for chord in written):
            return None
        if count > most:
            self.report(start, f"{count} chords in one bar", f"at most {most} in {meter}")
            return None
        ticks = [chord.ticks for chord in written]
        text = abbreviate(self.line[written[0].start : written[-1].end])
        if not any(ticks):
            beats = Fraction(meter.beats, count)
            return tuple(Event(chord.chord, beats, chord.articulation) for chord in written)
        if not all(ticks):
            self.report(start, f"ticks on some chords of {text}",
                        "ticks on every chord of the bar, or on none")  # fmt: skip
            return None
        if sum(ticks) != meter.beats:
            beats_found = f"{sum(ticks)} beat{'s' * (sum(ticks) != 1)} in {text}"
            self.report(start, beats_found, f"{meter.beats} beats in {meter}")
            return None
        return tuple(
            Event(chord.chord, Fraction(chord.ticks), chord.articulation) for chord in written
        )
