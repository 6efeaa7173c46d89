"""One typed line of bars, turned into the notation, with the place in the typed text of each part.

`read_line` reads what musicians habitually type: bar lines, commas, % for the bar before, chords
spelt in any way. Text that is in the notation already is kept as it is. So is text that cannot be
read: the tokenizer reports it later. Text that can be read in two ways is returned as doubts.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from trainer.chart.chords import EXTENSIONS
from trainer.chart.invalid_tokens import abbreviate
from trainer.chart.keys import Key
from trainer.chart.lookalikes import LOOKALIKES
from trainer.chart.meter import Meter
from trainer.chart.model import MOST_BARS
from trainer.chart.typed.articulation_words import attach_articulations
from trainer.chart.typed.cells import (
    fill_beats,
    group_ticks,
    settle_bar_lines,
    settle_commas,
    settle_dots,
)
from trainer.chart.typed.dashes import settle_dashes
from trainer.chart.typed.pieces import Kind, Piece, cut
from trainer.chart.typed.question import METER_OR_CHORD, Choice, Doubt, bar_of, chord_choices
from trainer.chart.typed.slashes import settle_slashes
from trainer.chart.typed.units import Unit, split, units_of
from trainer.chart.typed.words import WordDoubt

__all__ = ["LineContext", "ReadLine", "read_line"]

# Whole words that are meters, and chords only by a bass that is their own root.
METER_ONLY = frozenset(("2/2", "4/4"))
OWN_METER_EXPECTED = "a bar's own meter in square brackets, as in [2/4] 5; it lasts one bar"
BAR_EXPECTED = "a bar between bar lines: % for the bar before again, ? for one not known yet"
DASHES_ASKED = "Do the dashes stand between the bars, or is each one the same bar again?"


def _chord_pattern() -> str:
    """A pattern for a chord as the notation writes it, without beat ticks."""
    qualities = [
        rf"{re.escape(quality)}(?:\^(?:{'|'.join(sorted(map(re.escape, listed), key=len)[::-1])}))?"
        for quality, listed in EXTENSIONS.items()
    ]
    longest_first = sorted(qualities, key=len, reverse=True)
    return rf"(?:[b#]?[1-7](?:{'|'.join(longest_first)})(?:/[b#]?[1-7])?|0)"


CHORD = _chord_pattern()
BAR = (
    rf"(?:\((?:\s*{CHORD}'*[dpc]?(?=[\s)]))+\s*\)|{CHORD}[dpc]?(?=[\s.]|$)"
    r"|[0-6]{2,}(?=[\s.]|$)|\?(?=[\s.]|$))"
)
ONE_BAR = re.compile(BAR)
LAST_BAR = re.compile(r"(\([^()]*\)|[^\s()\[\].]+)[\s.]*$")
# A line that is notation already and can be read in one way only.
NOTATION = re.compile(
    rf"\s*(?:(?!(?:[236]/4|2/2|4/4)(?:[\s.]|$)){BAR}\s*|\[\d{{1,2}}/\d{{1,2}}\]\s*|\.\s*(?!\.))*"
)
TIMES = re.compile(r"(?:\s+|\s*[(\[]\s*)(?:[xX×]([2-8])|([2-8])[xX×])\s*[)\]]?\s*$")


class LineContext(NamedTuple):
    """What the reading of a line depends on.

    Attributes
    ----------
    meter : the song's meter.
    is_major : whether the song is in a major key.
    key : the key where the line begins, for letter names; None if they are not to be read.
    before : the last line with bars before this one, as it was read; None before the first.
    lines_hold_bars : whether two bar lines hold one bar, else a phrase; None if nothing says so.
    """

    meter: Meter
    is_major: bool
    key: Key | None = None
    before: ReadLine | None = None
    lines_hold_bars: bool | None = None


class ReadLine(NamedTuple):
    """A line in the notation.

    Attributes
    ----------
    text : the line in the notation.
    starts, ends : for each character of `text`, where the typed text begins and ends that it
        stands for; None if the text is as it was typed.
    doubts : what can be read in two ways, by its place in the typed line.
    problems : what is wrong, as index in the typed line, what was found and what was expected.
    """

    text: str
    starts: Sequence[int] | None = None
    ends: Sequence[int] | None = None
    doubts: tuple[Doubt, ...] = ()
    problems: tuple[tuple[int, str, str], ...] = ()

    def start(self, at: int) -> int:
        """Where in the typed line the text at an index of the notation begins."""
        if self.starts is None:
            return at
        return self.starts[at] if at < len(self.starts) else self.ends[-1] if self.ends else 0

    def end(self, at: int) -> int:
        """Where in the typed line the text before an index of the notation ends."""
        return at if self.ends is None or at < 1 else self.ends[at - 1]


def read_line(typed: str, context: LineContext) -> ReadLine:
    """Read a typed line of bars as notation."""
    line = typed.translate(LOOKALIKES)
    if NOTATION.fullmatch(line) is not None:
        return ReadLine(typed)
    return _LineReader(line, typed, context).read()


class _LineReader:
    """Reads one line; keeps its doubts and problems."""

    def __init__(self, line: str, typed: str, context: LineContext) -> None:
        self.line, self.typed, self.context = line, typed, context
        self.doubts: list[Doubt] = []
        self.problems: list[tuple[int, str, str]] = []

    def read(self) -> ReadLine:
        context = self.context
        times = TIMES.search(self.line)
        body = self.line if times is None else self.line[: times.start()]
        units = self._units(body)
        if times is not None and not any(unit.is_bar for unit in units):
            times = None
            units = self._units(self.line)
        has_commas = any(unit.kind is Kind.COMMA for unit in units)
        units = settle_dots(units, self.context.meter)
        units = self._meters(units)
        self._empty_bars(units)
        units = settle_commas(units)
        self._word_doubts(units, ", " if has_commas else " ")
        units, asked = settle_bar_lines(
            units, context.meter, context.lines_hold_bars, may_ask=self._may_ask(units)
        )
        self.doubts += [asked] if asked is not None else []
        units = fill_beats(units, context.meter)
        units, asked = settle_dashes(units, context.meter, may_ask=self._may_ask(units))
        self.doubts += [asked] if asked is not None else []
        units, asked = settle_slashes(units, may_ask=self._may_ask(units))
        self.doubts += [asked] if asked is not None else []
        units = group_ticks(units, context.meter)
        units = self._written_again(self._dashes(units))
        if times is not None:
            units = self._times(units, times)
        return self._write(units)

    def _units(self, line: str) -> list[Unit]:
        pieces = cut(line, self.typed, self.context.is_major, self.context.key)
        return units_of(attach_articulations(pieces))

    def _may_ask(self, units: Sequence[Unit]) -> bool:
        """Whether the line as a whole may be asked about: nothing in it is wrong or asked about."""
        return not self.doubts and not self.problems and all(unit.is_readable for unit in units)

    def _meters(self, units: Sequence[Unit]) -> list[Unit]:
        """Take 2/4 before a bar for the bar's meter, and ask; refuse 4/4 outside brackets."""
        found: list[Unit] = []
        for number, unit in enumerate(units):
            piece = unit.pieces[0]
            written = self._word(piece) if len(unit.pieces) == 1 else ""
            following = units[number + 1] if number + 1 < len(units) else None
            if unit.kind is not Kind.CHORD or unit.before:
                found.append(unit)
            elif written in METER_ONLY:
                self.problems.append((piece.start, written, OWN_METER_EXPECTED))
            elif (
                written in METER_OR_CHORD
                and piece.text == written
                and following is not None
                and following.is_bar
                and not any("/" in each.text for each in following.before)
            ):
                self._ask_meter(piece)
                directive = piece._replace(kind=Kind.DIRECTIVE, text=f"[{written}]")
                following.before.insert(0, directive)
            else:
                found.append(unit)
        return found

    def _word(self, piece: Piece) -> str:
        """The piece as it is typed, if it is a word of its own; else ""."""
        around = (
            self.line[max(0, piece.start - 1) : piece.start] + self.line[piece.end : piece.end + 1]
        )
        is_word = all(sign.isspace() or sign in "()[]|,;." for sign in around)
        return self.line[piece.start : piece.end] if is_word else ""

    def _empty_bars(self, units: Sequence[Unit]) -> None:
        """Report bar lines with nothing between them."""
        for first, second in pairwise(units):
            if first.kind is Kind.LINE and second.kind is Kind.LINE:
                found = self.typed[first.start : second.end]
                self.problems.append((first.start, abbreviate(found), BAR_EXPECTED))

    def _ask_meter(self, piece: Piece) -> None:
        over = piece.text.replace("/", " over ")
        choices = (
            Choice(f"a {piece.text} bar", f"[{piece.text}]"),
            Choice(over, f"({piece.text})"),
        )
        asked = f"A bar of {piece.text}, or the chord {over}?"
        self.doubts.append(Doubt(piece.start, piece.end, asked, choices, asked))

    def _word_doubts(self, units: Sequence[Unit], separator: str) -> None:
        for unit in units:
            for piece in unit.pieces:
                self.doubts += [self._word_doubt(each, unit, separator) for each in piece.doubts]

    def _word_doubt(self, doubt: WordDoubt, unit: Unit, separator: str) -> Doubt:
        is_inside = len(unit.pieces) > 1
        choices = chord_choices(
            doubt.readings, " " if is_inside else separator, doubt.labels, is_inside=is_inside
        )
        start, end = doubt.start, doubt.end
        placed = [each._replace(text=self._apart(start, end, each.text)) for each in choices]
        # An accent means the same all over a song; a figure may stand for either in any place.
        kind = doubt.asked if doubt.labels else ""
        return Doubt(start, end, doubt.asked, tuple(placed), kind)

    def _apart(self, start: int, end: int, text: str) -> str:
        """A text to put in place of a stretch, with spaces where it would touch other chords."""
        before, after = self.line[max(0, start - 1) : start], self.line[end : end + 1]
        left = " " if before and not before.isspace() and before not in "(|,;." else ""
        right = " " if after and not after.isspace() and after not in ")|,;." else ""
        return left + text + right

    def _dashes(self, units: Sequence[Unit]) -> list[Unit]:
        """Find phrases like 1 - 5 - 6 - 4, whose dashes may stand between bars."""
        ends = [unit for unit in units if unit.kind is Kind.END]
        found: list[Unit] = []
        for number, phrase in enumerate(split(units, Kind.END)):
            found += ends[number - 1 : number] if number else []
            found += self._phrase_of_dashes(phrase)
        return found

    def _phrase_of_dashes(self, phrase: list[Unit]) -> list[Unit]:
        dashes, bars = phrase[1::2], phrase[::2]
        alternating = (
            len(phrase) > 2
            and len(phrase) % 2 == 1
            and all(unit.kind is Kind.AGAIN and unit.pieces[0].text == "-" for unit in dashes)
            and all(unit.kind is Kind.CHORD for unit in bars)
            and not any(unit.before for unit in dashes)
        )
        start, end = phrase[0].start if phrase else 0, phrase[-1].end if phrase else 0
        asked = any(start <= doubt.start < end for doubt in self.doubts)
        if not alternating or asked or not all(bar.is_readable for bar in bars):
            return phrase
        repeated = [bar.whole_text + f" {bar.text}" for bar in bars[:-1]] + [bars[-1].whole_text]
        choices = (
            Choice("dashes between the bars", " ".join(bar.whole_text for bar in bars)),
            Choice("each dash the same bar again", " ".join(repeated)),
        )
        self.doubts.append(Doubt(start, end, DASHES_ASKED, choices, DASHES_ASKED))
        return bars

    def _written_again(self, units: Sequence[Unit]) -> list[Unit]:
        """Write the bar before in place of each % and dash."""
        last = _last_bar(self.context.before)
        found: list[Unit] = []
        for unit in units:
            if unit.kind is Kind.AGAIN:
                piece = unit.pieces[0]
                written = last or Piece(Kind.OTHER, self.typed[piece.start : piece.end], 0, 0)
                written = written._replace(start=piece.start, end=piece.end)
                kind = Kind.GAP if written.kind is Kind.GAP else Kind.CHORD
                unit = Unit(kind, [written], unit.before)
            elif unit.is_bar:
                last = _bar_piece(unit.text)
            found.append(unit)
        return found

    def _times(self, units: list[Unit], times: re.Match[str]) -> list[Unit]:
        """Write a line out as often as x2 after it says.

        After several phrases, the last of them may be meant: that is asked about.
        """
        count = int(times[1] or times[2])
        start = times.end() - len(times[0].lstrip())
        end = times.start() + len(times[0].rstrip())
        phrases = [phrase for phrase in split(units, Kind.END) if phrase]
        is_one_bar = sum(unit.is_bar for unit in units) == 1
        stop = [] if is_one_bar else [Unit(Kind.END, [Piece(Kind.END, ".", start, end)])]
        if len(phrases) > 1 and self._may_ask(units):
            texts = [" ".join(unit.whole_text for unit in phrase) for phrase in phrases]
            choices = (
                Choice("the whole line", " . ".join(texts * count)),
                Choice("its last phrase", " . ".join(texts + texts[-1:] * (count - 1))),
            )
            asked = f"Is the whole line played {count} times, or its last phrase?"
            self.doubts.append(Doubt(units[0].start, end, asked, choices))
        if len(phrases) == 1 and len(units) == 1 and len(units[0].pieces) > 3:
            self._ask_brackets(units[0], count, end)
        # What could not be read is reported once, where it is typed.
        again = [unit.moved(start, end) for unit in units if unit.is_readable]
        return units + [*stop, *again] * (count - 1)

    def _ask_brackets(self, bar: Unit, count: int, end: int) -> None:
        """Ask whether (1 4 5 1) x2 is one bar, or several with brackets around what is repeated."""
        if not self._may_ask([bar]):
            return
        chords = [bar_of(piece.text) for piece in bar.pieces[1:-1]]
        choices = (
            Choice("one bar", " ".join([bar.whole_text] * count)),
            Choice(f"{len(chords)} bars", " . ".join([" ".join(chords)] * count)),
        )
        asked = f"Do the brackets hold one bar or {len(chords)} bars?"
        self.doubts.append(Doubt(bar.start, end, asked, choices))

    def _write(self, units: Sequence[Unit]) -> ReadLine:
        writer = _Writer(self.typed)
        bars = 0
        for unit in units:
            bars += unit.is_bar
            if bars > MOST_BARS + 1:
                break
            writer.unit(unit)
        return ReadLine(
            "".join(writer.text), writer.starts, writer.ends, tuple(self.doubts),
            tuple(self.problems),
        )  # fmt: skip


class _Writer:
    """Writes units as notation and keeps where each character comes from."""

    def __init__(self, typed: str) -> None:
        self.typed = typed
        self.text: list[str] = []
        self.starts: list[int] = []
        self.ends: list[int] = []

    def unit(self, unit: Unit) -> None:
        for piece in unit.before:
            self.piece(piece)
        for piece in unit.pieces:
            self.piece(piece)

    def piece(self, piece: Piece) -> None:
        if piece.kind is not Kind.CLOSE and self.text[-1:] != ["("]:
            self._space()
        text, count = piece.text, len(piece.text)
        self.text.append(text)
        if text == self.typed[piece.start : piece.end]:
            self.starts += range(piece.start, piece.end)
            self.ends += range(piece.start + 1, piece.end + 1)
        else:
            self.starts += [piece.start] * count
            self.ends += [piece.end] * count

    def _space(self) -> None:
        if self.text and self.text[-1] != " ":
            self.text.append(" ")
            self.starts.append(self.ends[-1])
            self.ends.append(self.ends[-1])


def _last_bar(line: ReadLine | None) -> Piece | None:
    """The last bar of a line, to be written again; None if it could not be read."""
    match = LAST_BAR.search(line.text) if line is not None else None
    if line is None or match is None:
        return None
    return _bar_piece(match[1][-1] if match[1].isdigit() else match[1])


def _bar_piece(text: str) -> Piece | None:
    """A bar's text as a piece that is not in its place yet; None unless it is notation."""
    kind = Kind.GAP if text == "?" else Kind.CHORD
    return Piece(kind, text, 0, 0) if ONE_BAR.fullmatch(text) is not None else None
