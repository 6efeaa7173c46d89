"""The line parser: the tokens of one typed line joined into bars, and bars into phrases."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from trainer.chart.hits import parse_hits
from trainer.chart.invalid_tokens import abbreviate
from trainer.chart.model import MOST_EVENTS, Bar, Event, Meter
from trainer.chart.notes import MOST_NOTES
from trainer.chart.tokens import (
    ARTICULATIONS,
    ChordToken,
    DirectiveToken,
    ReportProblem,
    SeparatorToken,
    tokenize,
)
from trainer.errors import ChartError

__all__ = ["ParsedBar", "key_move", "parse_line"]


class ParsedBar(NamedTuple):
    """A bar and where it stands in its line.

    `start` and `end` are indices from 0, `end` after the last character. `valid` is False where
    the text of the bar is wrong or unfinished.
    """

    bar: Bar
    start: int
    end: int
    valid: bool


def parse_line(
    line: str,
    meter: Meter,
    one: int,
    report: ReportProblem,
    most: int,
    carried: Sequence[DirectiveToken] = (),
) -> list[list[ParsedBar]]:
    """Parse a line into phrases of bars.

    A bar that cannot be understood becomes a bar with no chord; one that is unfinished or does not
    fill its meter is divided evenly. Both are marked as not valid.

    Parameters
    ----------
    line : the line as typed.
    meter : the meter of bars that do not name their own.
    one : the pitch class of the 1 where the line begins, C = 0.
    report : called for everything that is wrong.
    most : after more bars than this, the rest of the line is left unread.
    carried : a change of key and notes that stand on a line above, for the first bar of this one.
    """
    parser = _LineParser(line, meter, one, report, carried)
    for token in tokenize(line, report):
        if isinstance(token, ChordToken):
            parser.chord(token)
        elif isinstance(token, DirectiveToken):
            parser.directive(token)
        elif token.sign == "(":
            parser.open_bracket(token)
        elif token.sign == ")":
            parser.close_bracket(token)
        else:
            parser.dot(token)
        if parser.count > most:
            break
    else:
        parser.end()
    return [phrase for phrase in parser.phrases if phrase]


def key_move(directive: DirectiveToken, one: int) -> int:
    """Return the semitones that a directive moves the key by; to a named key the nearest way.

    `one` is the pitch class of the 1 before it.
    """
    if directive.key is None:
        return directive.key_change
    return (directive.key.pitch_class - one + 5) % 12 - 5


class _LineParser:
    """Collects tokens until a bar is complete, and bars until a phrase is."""

    def __init__(
        self,
        line: str,
        meter: Meter,
        one: int,
        report: ReportProblem,
        carried: Sequence[DirectiveToken],
    ) -> None:
        self.line, self.meter, self.one, self.report = line, meter, one, report
        self.carried = tuple(carried)
        self.phrases: list[list[ParsedBar]] = [[]]
        self.written: list[ChordToken] = []
        self.before: list[DirectiveToken] = []
        self.pending: list[DirectiveToken] = []
        self.opened: SeparatorToken | None = None
        self.count = 0

    def chord(self, token: ChordToken) -> None:
        if self.opened is None:
            self._begin_bar()
        self.written.append(token)

    def open_bracket(self, token: SeparatorToken) -> None:
        self._begin_bar()
        self.opened = token

    def close_bracket(self, token: SeparatorToken) -> None:
        if self.opened is None:
            self.report(token.start, ") without (", "brackets in pairs, as in (1 5)")
        elif not self.written:
            text = self.line[self.opened.start : token.start + 1]
            self.report(self.opened.start, abbreviate(text), "chords between ( and ), as in (1 5)")
            self.opened = None
        else:
            self._finish_bar(token.start + 1)

    def directive(self, token: DirectiveToken) -> None:
        self._finish_bar()
        kind, before = token.kind, (*self.carried, *self.pending)
        most = MOST_NOTES if token.note else 1
        if sum(kind == other.kind for other in before) >= most:
            again = "another note" if token.note else f"a second {kind}"
            expected = f"at most {most} notes to a bar" if token.note else f"one {kind} to a bar"
            self.report(token.start, f"{again} before one bar", expected)
        else:
            self.pending.append(token)

    def dot(self, token: SeparatorToken) -> None:
        self._finish_bar()
        self._need_no_directive()
        if self.phrases[-1]:
            self.phrases.append([])
        else:
            self.report(
                token.start,
                ". with no bar before it",
                "the bars of a phrase before the dot that ends it",
            )

    def end(self) -> None:
        self._finish_bar()
        self._need_no_directive()

    def _need_no_directive(self) -> None:
        for token in self.pending:
            text = abbreviate(self.line[token.start : token.end])
            self.report(token.start, f"{text} with no bar after it",
                        "a bar after it on the same line, which it is for")  # fmt: skip
        self.pending = []

    def _begin_bar(self) -> None:
        self._finish_bar()
        self.before, self.pending = self.pending, []

    def _finish_bar(self, closed: int | None = None) -> None:
        """End the bar that is being read, if there is one.

        `closed` is the index after the bracket that closes it; None if nothing does.
        """
        opened, self.opened = self.opened, None
        finished = opened is None or closed is not None
        if opened is not None and not finished:
            self.report(opened.start, "( without )", "a ) after the last chord of the bar")
        if not self.written:
            # Directives before brackets that hold nothing are for the next bar.
            self.pending = self.before or self.pending
            self.before = []
            return
        first = opened.start if opened is not None else self.written[0].start
        start = self.before[0].start if self.before else first
        end = self.written[-1].end if closed is None else closed
        meter = next((d.meter for d in self.before if d.meter is not None), self.meter)
        events = self._events(meter, start) if finished else None
        valid = events is not None
        directives = [*self.carried, *self.before]
        self.carried = ()
        key_change = 0
        for directive in directives:
            key_change += key_move(directive, self.one)
        self.one += key_change
        is_open = valid and self.written[0].is_open
        fades = any(directive.fades for directive in self.before)
        notes = tuple(directive.note for directive in directives if directive.note)
        bar = Bar(meter, events or self._so_far(meter), key_change, is_open, fades, notes)
        if valid:
            bar, articulated = self._with_articulation(bar)
            bar, has_hits = self._with_hits(bar)
            valid = articulated and has_hits
        self.count += 1
        self.phrases[-1].append(ParsedBar(bar, start, end, valid))
        self.written, self.before = [], []

    def _with_articulation(self, bar: Bar) -> tuple[Bar, bool]:
        """The bar with an articulation in words on its chord: a push on the first, else the last.

        Also whether nothing was wrong with it.
        """
        written = next((each for each in self.before if each.letter), None)
        if written is None:
            return bar, True
        place = 0 if written.letter == "p" else len(bar.events) - 1
        event = bar.events[place]
        if event.chord is None or event.articulation is not None:
            text = self.line[written.start : written.end]
            expected = f"a chord without a hold, push or choke, as in {text} 1"
            self.report(written.start, f"{text} before {self._written_text()}", expected)
            return bar, False
        changed = replace(event, articulation=ARTICULATIONS[written.letter])
        events = (*bar.events[:place], changed, *bar.events[place + 1 :])
        return replace(bar, events=events), True

    def _with_hits(self, bar: Bar) -> tuple[Bar, bool]:
        """The bar with its hits, and whether they can be played."""
        written = next((each for each in self.before if each.hits), None)
        if written is None:
            return bar, True
        try:
            return replace(bar, hits=parse_hits(written.hits, bar.meter)), True
        except ChartError as error:
            self.report(written.start, error.found, error.expected)
            return bar, False

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
        if count > 1 and any(chord.is_open for chord in written):
            place = next(chord.start for chord in written if chord.is_open)
            self.report(place, "?", "? alone in its bar, for one not known yet")
            return None
        ticks = [chord.ticks for chord in written]
        if not any(ticks):
            beats = Fraction(meter.beats, count)
            return tuple(Event(chord.chord, beats, chord.articulation) for chord in written)
        if not all(ticks):
            self.report(start, f"ticks on some chords of {self._written_text()}",
                        "ticks on every chord of the bar, or on none")  # fmt: skip
            return None
        if sum(ticks) != meter.beats:
            beats_found = f"{sum(ticks)} beat{'s' * (sum(ticks) != 1)} in {self._written_text()}"
            self.report(start, beats_found, f"{meter.beats} beats in {meter}")
            return None
        return tuple(
            Event(chord.chord, Fraction(chord.ticks), chord.articulation) for chord in written
        )

    def _written_text(self) -> str:
        """The chords of the bar as typed, for a message."""
        return abbreviate(" ".join(self.line[each.start : each.end] for each in self.written))
