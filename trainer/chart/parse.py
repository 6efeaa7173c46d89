"""The parser: charts read from notation, strictly or as far as the text goes.

A text is parsed line by line. Header lines (`key: D`) go to `header`, section names open a section,
and every other line is a line of bars (`bars`), cut into tokens (`tokens`) first.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from trainer.chart.bars import ParsedBar, parse_line
from trainer.chart.header import Header, HeaderLines
from trainer.chart.invalid_tokens import abbreviate, looks_like_section_name
from trainer.chart.model import (
    HEADER_WORDS,
    MOST_BARS,
    MOST_CHARACTERS,
    Chart,
    Phrase,
    Section,
    check_section_name,
)
from trainer.chart.section_names import section_kind
from trainer.errors import ChartError, NotationError, Problem

__all__ = ["ParseResult", "TextSpan", "parse", "parse_tolerant"]

LINE_END = re.compile(r"\r\n|\r|\n")


class TextSpan(NamedTuple):
    """Where a bar is typed: line and columns from 1; `end_column` is after its last character."""

    line: int
    column: int
    end_column: int


@dataclass(frozen=True, slots=True)
class ParseResult:
    """What was read from a text that may be unfinished or wrong.

    Attributes
    ----------
    chart : the bars that could be read; None while there is none.
    problems : everything wrong in the text, in order of place.
    bar_spans : where each bar of the chart is typed, one for each bar.
    invalid_bars : numbers (from 1) of the bars that are wrong or unfinished. Such a bar holds the
        chords that could be understood, evenly divided, or no chord.
    """

    chart: Chart | None
    problems: tuple[Problem, ...]
    bar_spans: tuple[TextSpan, ...]
    invalid_bars: frozenset[int]


def parse(text: str, header: Header | None = None, source: str = "") -> Chart:
    """Read a chart from a text without any mistake.

    `header` gives what the text does not say; `source` (a file name) stands before each problem.
    Raises NotationError with every problem of the text.
    """
    result = parse_tolerant(text, header)
    if result.problems or result.chart is None:
        raise NotationError(result.problems, source)
    return result.chart


def parse_tolerant(text: str, header: Header | None = None) -> ParseResult:
    """Read as much of a text as can be understood; never raises."""
    if len(text) > MOST_CHARACTERS:
        found, expected = f"a text of {len(text)} characters", f"at most {MOST_CHARACTERS}"
        return ParseResult(None, (Problem(1, 1, found, expected),), (), frozenset())
    parser = _TextParser(header or Header())
    for number, line in enumerate(LINE_END.split(text.removeprefix("\ufeff")), start=1):
        if not parser.full:
            parser.line(number, line)
    return parser.result()


@dataclass(slots=True)
class _OpenSection:
    """A section while its bars are read; `problem` is whether its name was reported already."""

    name: str
    line: int
    column: int
    phrases: list[Phrase]
    problem: bool = False


class _TextParser:
    """Parses a text line by line and keeps what was read so far."""

    def __init__(self, fallback: Header) -> None:
        self.problems: list[Problem] = []
        self.header_lines = HeaderLines(fallback, self.problems)
        self.header: Header | None = None
        self.sections: list[_OpenSection] = []
        self.bar_spans: list[TextSpan] = []
        self.invalid_bars: set[int] = set()
        self.key_shift = 0
        self.full = False

    def line(self, number: int, line: str) -> None:
        text = line.strip()
        if not text:
            return
        name, colon, rest = text.partition(":")
        alone = colon and not rest.strip()
        labelled = text[0].isalpha() and not rest.startswith("|")
        if colon and (labelled or (alone and "|" not in text)):
            self._labelled(number, line, " ".join(name.split()), rest)
        elif looks_like_section_name(text):
            self._missing_colon(number, line, text)
        else:
            self._bars(number, line)

    def result(self) -> ParseResult:
        header = self._settled_header()
        sections = []
        for section in self.sections:
            if section.phrases:
                sections.append(Section(section.name, tuple(section.phrases)))
            elif not section.problem:
                self._problem(section.line, section.column, f"{section.name}: with no bars",
                              "bars on the lines under a section name")  # fmt: skip
        if not sections and not self.problems:
            self._problem(1, 1, "no bars", "at least one bar, such as 1 4 5 1")
        chart = self._chart(header, tuple(sections))
        problems = tuple(sorted(self.problems, key=lambda p: (p.line, p.column)))
        return ParseResult(chart, problems, tuple(self.bar_spans), frozenset(self.invalid_bars))

    def _chart(self, header: Header, sections: tuple[Section, ...]) -> Chart | None:
        if not sections:
            return None
        assert header.feel is not None
        try:
            return Chart(
                header.title, header.meter, header.tempo, header.feel, header.key, sections
            )
        except ChartError as error:
            self._problem(1, 1, error.found, error.expected)
            self.bar_spans, self.invalid_bars = [], set()
            return None

    def _settled_header(self) -> Header:
        if self.header is None:
            self.header = self.header_lines.settle()
        return self.header

    def _problem(self, line: int, column: int, found: str, expected: str) -> None:
        self.problems.append(Problem(line, column, found, expected))

    def _labelled(self, number: int, line: str, name: str, rest: str) -> None:
        """Parse a line with a colon: a header or a section name."""
        column = len(line) - len(line.lstrip()) + 1
        value = rest.strip()
        after = line.index(":") + 1
        value_column = len(line) - len(line[after:].lstrip()) + 1 if value else column
        word = name.lower()
        if word in HEADER_WORDS:
            late = self.header is not None
            self.header_lines.read(word, value, number, (column, value_column), late)
            return
        begun = self.header is not None or section_kind(name) != "other"
        is_bars = bool(value) and begun and value[0] in "0123456789b#([|♭♯"
        if value:
            self._problem(
                number,
                column,
                abbreviate(f"{name}: {value}"),
                "a section name alone on its line, or one of title, meter, tempo, feel, key",
            )
            if not is_bars:
                return
        self._open(number, column, name, wrong=bool(value))
        if value:
            self._bars(number, " " * after + line[after:])

    def _missing_colon(self, number: int, line: str, text: str) -> None:
        column = len(line) - len(line.lstrip()) + 1
        self._problem(number, column, abbreviate(text),
                      "bars, or a section name with a colon after it, as in Verse 1:")  # fmt: skip
        if section_kind(text) != "other":
            self._open(number, column, " ".join(text.split()), wrong=True)

    def _open(self, number: int, column: int, name: str, *, wrong: bool) -> None:
        """Start a section; an impossible name is reported and replaced by "Section"."""
        self._settled_header()
        try:
            check_section_name(name)
        except ChartError as error:
            wrong = True
            self._problem(number, column, f"section name {abbreviate(name)}", error.expected)
            name = "Section"
        if not name:
            wrong = True
            self._problem(number, column, ": with no name before it", "a section name, as in Tag:")
            name = "Section"
        self.sections.append(_OpenSection(name, number, column, [], wrong))

    def _bars(self, number: int, line: str) -> None:
        def report(at: int, found: str, expected: str) -> None:
            self._problem(number, at + 1, found, expected)

        header, most = self._settled_header(), MOST_BARS - len(self.bar_spans)
        one = header.key.pitch_class + self.key_shift
        for phrase in parse_line(line, header.meter, one, report, most):
            fitting = phrase[: MOST_BARS - len(self.bar_spans)]
            self._add_phrase(number, fitting)
            if len(fitting) < len(phrase):
                self.full = True
                place = phrase[len(fitting)].start
                report(place, f"more than {MOST_BARS} bars", f"at most {MOST_BARS}")
                return

    def _add_phrase(self, number: int, phrase: list[ParsedBar]) -> None:
        if not phrase:
            return
        if not self.sections:
            self.sections.append(_OpenSection("", number, 1, []))
        self.sections[-1].phrases.append(Phrase(tuple(parsed.bar for parsed in phrase)))
        for parsed in phrase:
            self.key_shift += parsed.bar.key_change
            self.bar_spans.append(TextSpan(number, parsed.start + 1, parsed.end + 1))
            if not parsed.valid:
                self.invalid_bars.add(len(self.bar_spans))
