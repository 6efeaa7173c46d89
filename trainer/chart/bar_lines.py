"""Lines of bars in a text: read into phrases of the open section, with where each bar is typed."""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import replace

from trainer.chart.bars import ParsedBar, key_move, parse_line
from trainer.chart.header import Header, HeaderLines
from trainer.chart.keys import Key
from trainer.chart.model import MOST_BARS, Phrase
from trainer.chart.open_section import OpenSection
from trainer.chart.parse_result import TextSpan
from trainer.chart.typed.bare_header import meter_doubt
from trainer.chart.typed.line import LineContext, ReadLine, read_line
from trainer.chart.typed.question import Doubt, Question
from trainer.chart.words_beside import WordsBeside
from trainer.errors import Problem

__all__ = ["BarLines"]

# A first line that may be the meter, or a bar.
METER_ALONE = re.compile(r"[236]/4")


class BarLines:
    """Reads the lines of bars of a text, one after another.

    Sections, words beside the bars, problems and questions are those of the whole text, and grow.
    `letters` is whether letter names are read where the text does not say; `key_is_known` whether
    the key is the song's although no line says it.

    Attributes
    ----------
    spans : where each bar is typed.
    invalid : the numbers of bars that could not be read, or not for sure.
    is_full : whether there were more bars than a chart may have.
    """

    def __init__(
        self,
        header_lines: HeaderLines,
        sections: list[OpenSection],
        words: WordsBeside,
        problems: list[Problem],
        questions: list[Question],
        *,
        letters: bool,
        key_is_known: bool,
    ) -> None:
        self.header_lines, self.sections, self.words = header_lines, sections, words
        self.problems, self.questions = problems, questions
        self.letters, self.key_is_known = letters, key_is_known
        self.spans: list[TextSpan] = []
        self.invalid: set[int] = set()
        self.is_full = False
        self.before: ReadLine | None = None
        self.key_shift = 0
        self.fades = False

    def letter_key(self, header: Header) -> Key | None:
        """The key here if letter names are to be read; else None."""
        said = self.header_lines.letters
        letters = self.letters if said is None else said
        known = self.key_is_known or "key" in self.header_lines.seen
        if not letters or not known:
            return None
        one = header.key.pitch_class + self.key_shift
        move = sum(key_move(each, one) for each in self.words.waiting)
        return header.key.shifted(self.key_shift + move)

    def read(self, number: int, line: str, header: Header) -> None:
        """Read a line of bars under the lines at the top."""
        most = MOST_BARS - len(self.spans)
        read = read_line(line, self._context(header))

        def report(at: int, found: str, expected: str) -> None:
            self._problem(number, read.start(at) + 1, found, expected)

        for at, found, expected in read.problems:
            self._problem(number, at + 1, found, expected)
        one = header.key.pitch_class + self.key_shift
        first = len(self.spans)
        carried = self.words.waiting
        for phrase in parse_line(read.text, header.meter, one, report, most, carried):
            fitting = phrase[: MOST_BARS - len(self.spans)]
            self._add_phrase(number, fitting, read)
            if len(fitting) < len(phrase):
                self.is_full = True
                place = phrase[len(fitting)].start
                report(place, f"more than {MOST_BARS} bars", f"at most {MOST_BARS}")
                break
        if len(self.spans) > first:
            self.before = read
            self.words.carried.clear()
            self.sections[-1].typed.append(line.strip())
            self.sections[-1].asked |= bool(read.doubts)
        # A header word may stand before the first bar and the first section name only.
        is_first = not first and not any(section.name for section in self.sections)
        meter = is_first and METER_ALONE.fullmatch(line.strip()) is not None
        self._ask(number, (*read.doubts, meter_doubt(line)) if meter else read.doubts, first)

    def _context(self, header: Header) -> LineContext:
        lines = self.header_lines.lines_hold_bars
        return LineContext(
            header.meter, not header.key.minor, self.letter_key(header), self.before, lines
        )

    def _add_phrase(self, number: int, phrase: list[ParsedBar], read: ReadLine) -> None:
        if not phrase:
            return
        if not self.sections:
            self.sections.append(OpenSection("", number, 0, 0))
        phrase = [self._with_one_fade(number, parsed, read) for parsed in phrase]
        self.sections[-1].phrases.append(Phrase(tuple(parsed.bar for parsed in phrase)))
        for parsed in phrase:
            self.key_shift += parsed.bar.key_change
            start, end = read.start(parsed.start), read.end(parsed.end)
            self.spans.append(TextSpan(number, start + 1, end + 1))
            if not parsed.valid:
                self.invalid.add(len(self.spans))

    def _with_one_fade(self, number: int, parsed: ParsedBar, read: ReadLine) -> ParsedBar:
        """The bar without its fade if the band fades already, which is reported."""
        if not parsed.bar.fades:
            return parsed
        if not self.fades:
            self.fades = True
            return parsed
        column = read.start(parsed.start) + 1
        self._problem(
            number, column, "a second [fade]", "one [fade], where the band begins to fade"
        )
        return parsed._replace(bar=replace(parsed.bar, fades=False))

    def _ask(self, line: int, doubts: Sequence[Doubt], first: int) -> None:
        """Ask about the doubts in a line whose bars come after the first `first` bars."""
        starts = [span.column for span in self.spans[first:]] if doubts else []
        ends = [span.end_column for span in self.spans[first:]] if doubts else []
        for doubt in doubts:
            columns = (doubt.start + 1, doubt.end + 1)
            after = first + bisect_left(starts, columns[1])
            bars = range(first + bisect_right(ends, columns[0]) + 1, after + 1)
            self.invalid.update(bars)
            bar = bars[0] if bars else None
            self.questions.append(
                Question(line, *columns, bar, doubt.asked, doubt.choices, doubt.kind)
            )

    def _problem(self, line: int, column: int, found: str, expected: str) -> None:
        self.problems.append(Problem(line, column, found, expected))
