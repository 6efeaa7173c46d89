"""The parser of whole texts: header lines, section names and lines of bars, one after another.

Header lines (`key: D`) go to `header`, section names open a section, and every other line is a line
of bars: `typed` turns what people habitually type into notation, and `bars` cuts that into tokens
(`tokens`) and joins them into bars.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import replace

from trainer.chart.bars import ParsedBar, key_move, parse_line
from trainer.chart.header import Header, HeaderLines
from trainer.chart.invalid_tokens import abbreviate
from trainer.chart.keys import Key
from trainer.chart.model import (
    HEADER_WORDS,
    MOST_BARS,
    Chart,
    Phrase,
    Section,
    check_section_name,
)
from trainer.chart.notes import is_note, split_comment, tidy_note
from trainer.chart.open_section import OpenSection
from trainer.chart.parse_result import ParseResult, TextSpan
from trainer.chart.section_names import OTHER, section_kind, split_repeats
from trainer.chart.tokens import read_alone
from trainer.chart.typed.bare_header import HeaderItem, meter_doubt, read_bare_header
from trainer.chart.typed.labels import Label, read_bare_label
from trainer.chart.typed.line import LineContext, ReadLine, read_line
from trainer.chart.typed.question import Doubt, Question
from trainer.chart.typed.remarks import (
    STRAIGHT_DOWN,
    Remark,
    find_remarks,
    without_remarks,
)
from trainer.chart.typed.titles import QUOTES, BareTitle, has_bars, is_words, split_title
from trainer.chart.words_beside import BRACKETED, WordsBeside
from trainer.errors import ChartError, Problem

__all__ = ["TextParser"]

# A section's name with signs in square brackets before or after it.
BRACKETS = r"(?:\[[^\[\]]+\]\s*)*"
BESIDE_NAME = re.compile(
    rf"(?P<before>{BRACKETS})(?P<name>[^\W\d_][^\[\]]*?)\s*(?P<after>{BRACKETS})"
)
TITLE_LINE = re.compile(r"\s*(?:title|song|name)\s*:", re.IGNORECASE)
OTHER_HEADER_WORDS = {
    "time": "meter", "time signature": "meter", "song": "title", "name": "title", "bpm": "tempo",
    "groove": "feel", "count off": "count-off", "count-in": "count-off", "count in": "count-off",
}  # fmt: skip
# A first line that may be the meter, or a bar.
METER_ALONE = re.compile(r"[236]/4")
# What may stand first among the bars after a section's name that is of no known kind.
BAR_STARTS = frozenset("0123456789b#♭♯([|<◇%?")
LABEL_EXPECTED = "a section name alone on its line, or one of " + ", ".join(HEADER_WORDS)
COLON_EXPECTED = "bars, or a section name with a colon after it, as in Verse 1:"


class TextParser:
    """Parses a text line by line and keeps what was read so far.

    `letters` is whether letter names are read where the text does not say; `key_is_known` whether
    the key of `fallback` is the song's.
    """

    def __init__(self, fallback: Header, *, letters: bool, key_is_known: bool) -> None:
        self.letters, self.key_is_known = letters, key_is_known
        self.problems: list[Problem] = []
        self.questions: list[Question] = []
        self.header_lines = HeaderLines(fallback, self.problems)
        self.header: Header | None = None
        self.sections: list[OpenSection] = []
        self.bar_spans: list[TextSpan] = []
        self.invalid_bars: set[int] = set()
        self.before: ReadLine | None = None
        self.key_shift = 0
        self.fades = False
        self.words = WordsBeside(self.sections, self._problem)
        self.title: BareTitle | None = None
        self.full = False

    def line(self, number: int, line: str) -> None:
        """Parse one line of the text."""
        if TITLE_LINE.match(line) is None:
            line, comment, column = split_comment(line)
            self._line(number, line)
            if comment:
                self.words.comment(number, column, comment)
        else:
            self._line(number, line)

    def _line(self, number: int, line: str) -> None:
        """Parse a line without its comment."""
        text = line.strip()
        if not text:
            return
        # The colon of an East Asian keyboard ends a label as well.
        wide = line.find("：") if ":" not in line else -1
        if wide >= 0:
            self._line(number, f"{line[:wide]}:{line[wide + 1 :]}")
            return
        # A colon inside a note ends no label.
        outside = BRACKETED.sub(lambda note: " " * len(note[0]), text) if "[" in text else text
        before, colon, _ = outside.partition(":")
        name, rest = text[: len(before)], text[len(before) + 1 :]
        alone = colon and not rest.strip()
        labelled = text[0].isalpha() and not rest.startswith("|")
        indent = len(line) - len(line.lstrip())
        if "[" in text and self._brackets(number, line, text):
            return
        items = read_bare_header(text) if self.header is None else ()
        items = items if len(items) > 1 or not colon else ()
        label = read_bare_label(text, self._letter_key()) if not items else None
        remark = next(find_remarks(text), None) if label is None else None
        if not items and label is None and not colon and self._titled(number, indent, text):
            return
        if items:
            self._bare_header(number, indent, items)
        elif label is not None:
            self._label(number, line, indent, label)
        elif remark is not None and colon and self._holds_colon(remark, name):
            self._line(number, self._without_remarks(number, line))
        elif colon and (labelled or (alone and "|" not in text)):
            self._labelled(number, line, indent, " ".join(name.split()))
        elif remark is not None:
            self._line(number, self._without_remarks(number, line))
        elif is_words(text, may_be_title=self.header is None):
            self._words(number, indent, text)
        else:
            self._bars(number, line)

    def _brackets(self, number: int, line: str, text: str) -> bool:
        """Read signs in square brackets that stand alone or beside a name; whether they do."""
        alone = read_alone(line)
        if alone and self.words.may_carry(alone):
            self.words.carry(number, line, alone)
            return True
        beside = BESIDE_NAME.fullmatch(text)
        if beside is None or not self._is_label(beside["name"]):
            return False
        start = line.index(text)
        name = start + beside.start("name"), start + beside.end("name")
        tokens = read_alone(line[: name[0]] + " " * (name[1] - name[0]) + line[name[1] :])
        if not tokens or not self.words.may_carry(tokens):
            return False
        self._line(number, " " * name[0] + line[name[0] : name[1]])
        self.words.carry(number, line, tokens)
        return True

    def _is_label(self, name: str) -> bool:
        if name.endswith(":"):
            word = name[:-1].strip().lower()
            return OTHER_HEADER_WORDS.get(word, word) not in HEADER_WORDS
        return read_bare_label(name, self._letter_key()) is not None

    def result(self) -> ParseResult:
        """What was read from all lines so far."""
        header = self._settled_header()
        self.words.report_unused()
        sections = []
        self._ask_title()
        for section in self.sections:
            self._ask_section(section, section.label_question())
            if section.phrases:
                sections.append(section.made())
                self._ask_section(section, section.repeats_question())
            elif not section.problem and not section.choices:
                self._no_bars(section)
        if not sections and not self.problems and not self.questions:
            self._problem(1, 1, "no bars", "at least one bar, such as 1 4 5 1")
        chart = self._chart(header, tuple(sections))
        problems = tuple(sorted(self.problems, key=lambda each: (each.line, each.column)))
        questions = tuple(sorted(self.questions, key=lambda each: (each.line, each.column)))
        if chart is None:
            return ParseResult(None, problems, (), frozenset())
        invalid = frozenset(self.invalid_bars)
        gaps = frozenset(number for number, bar in enumerate(chart.bars(), 1) if bar.is_open)
        return ParseResult(chart, problems, tuple(self.bar_spans), invalid, questions, gaps)

    def _no_bars(self, section: OpenSection) -> None:
        """Report a section without bars, whose name may say which bars are played again."""
        again = any(each.expected == STRAIGHT_DOWN for each in find_remarks(section.name))
        found = abbreviate(section.name) if again else f"{section.name}: with no bars"
        expected = STRAIGHT_DOWN if again else "bars on the lines under a section name"
        self._problem(section.line, section.column, found, expected)

    def _chart(self, header: Header, sections: tuple[Section, ...]) -> Chart | None:
        if not sections:
            return None
        assert header.feel is not None
        try:
            return Chart(
                header.title, header.meter, header.tempo, header.feel, header.key, sections,
                header.capo, header.count_off, tuple(self.words.comments),
            )  # fmt: skip
        except ChartError as error:
            self._problem(1, 1, error.found, error.expected)
            return None

    def _settled_header(self) -> Header:
        if self.header is None:
            self.header = self.header_lines.settle()
        return self.header

    def _problem(self, line: int, column: int, found: str, expected: str) -> None:
        self.problems.append(Problem(line, column, found, expected))

    def _labelled(self, number: int, line: str, indent: int, name: str) -> None:
        """Parse a line with a colon: a header or a section name, perhaps with bars after it."""
        after = line.index(":") + 1
        value = line[after:].strip()
        value_column = len(line) - len(line[after:].lstrip()) + 1 if value else indent + 1
        word = name.lower()
        if value and self.header is None:
            word = OTHER_HEADER_WORDS.get(word, word)
        if word in HEADER_WORDS:
            late = self.header is not None
            self.header_lines.read(word, value, number, (indent + 1, value_column), late)
            return
        noted = BRACKETED.match(value)
        begun = self.header is not None and value[:1] in BAR_STARTS
        begun = begun or (noted is not None and is_note(tidy_note(noted["text"])))
        if value and not begun and section_kind(name) == OTHER:
            self._problem(number, indent + 1, abbreviate(f"{name}: {value}"), LABEL_EXPECTED)
            return
        name, times = split_repeats(name)
        self._open(number, (indent + 1, after + 1), name, times=times)
        self._bars_after(number, line, after)

    def _bare_header(self, number: int, indent: int, items: tuple[HeaderItem, ...]) -> None:
        """Take over header values that are written without a colon."""
        for item in items:
            column = indent + item.start + 1
            self.header_lines.read(item.word, item.value, number, (column, column), late=False)

    def _label(self, number: int, line: str, indent: int, label: Label) -> None:
        """Parse a line that begins with a section name without a colon."""
        end = indent + label.end
        for remark in find_remarks(line[:end]):
            if remark.expected != STRAIGHT_DOWN:
                self._remark(number, line, remark)
        span = (indent + 1, end + 1)
        self._open(number, span, label.name, times=label.times)
        self.sections[-1].choices = label.choices
        self._bars_after(number, line, end)

    def _remark(self, number: int, line: str, remark: Remark) -> None:
        words = abbreviate(line[remark.start : remark.end])
        self._problem(number, remark.start + 1, words, remark.expected)

    def _without_remarks(self, number: int, line: str) -> str:
        """Report the remarks in a line, and return the line without them."""
        for remark in find_remarks(line):
            self._remark(number, line, remark)
        return without_remarks(line)

    @staticmethod
    def _holds_colon(remark: Remark, name: str) -> bool:
        """Whether the colon after a name belongs to a remark, as in Key change: D."""
        is_header = name.strip().lower() in HEADER_WORDS
        return not is_header and remark.start <= len(name) < remark.end

    def _titled(self, number: int, indent: int, text: str) -> bool:
        """Read a first line that has the title and the key, the tempo or the like after it."""
        found = split_title(text) if self._may_be_title(text) else None
        if found is None:
            return False
        self._read_title(number, indent, found.title)
        self._bare_header(number, indent + found.start, found.items)
        return True

    def _read_title(self, number: int, indent: int, text: str) -> None:
        columns = (indent + 1, indent + 1)
        self.header_lines.read("title", text, number, columns, late=False)

    def _may_be_title(self, text: str) -> bool:
        """Whether words on a line can be the song's title: nothing but header lines stands above
        them, and no section is called so."""
        free = self.header is None and "title" not in self.header_lines.seen
        return free and section_kind(text) == OTHER and not has_bars(text)

    def _ask_title(self) -> None:
        """Ask about a first line of words that bars follow."""
        title, first = self.title, self.sections[0] if self.sections else None
        if title is None or first is None or first.column != 0 or title.text[0] in QUOTES:
            return
        question = title.question()
        if question is not None and len(self.header_lines.seen) <= title.header_lines:
            self.questions.append(question)

    def _words(self, number: int, indent: int, text: str) -> None:
        """Parse a line of words: the song's title if it is the first line, else a mistake."""
        if self._may_be_title(text):
            self._read_title(number, indent, text.strip(QUOTES))
            self.title = BareTitle(number, indent + 1, text, len(self.header_lines.seen))
            return
        self._problem(number, indent + 1, abbreviate(text), COLON_EXPECTED)
        if section_kind(text) != OTHER:
            self._open(number, (indent + 1, indent + len(text) + 1), text, wrong=True)

    def _open(
        self, number: int, span: tuple[int, int], name: str, *, times: int = 1, wrong: bool = False
    ) -> None:
        """Start a section; an impossible name is reported and replaced by "Section".

        `span` is the label's first column and the one after its last.
        """
        self._settled_header()
        name = " ".join(name.split())
        try:
            check_section_name(name)
        except ChartError as error:
            wrong = True
            self._problem(number, span[0], f"section name {abbreviate(name)}", error.expected)
            name = "Section"
        if not name:
            wrong = True
            self._problem(number, span[0], ": with no name before it", "a section name, as in Tag:")
            name = "Section"
        first_bar = len(self.bar_spans) + 1
        self.sections.append(OpenSection(name, number, *span, wrong, times, first_bar))

    def _bars_after(self, number: int, line: str, at: int) -> None:
        """Parse the bars that follow a label on its line."""
        line = self.words.notes_after(number, line, at)
        if line[at:].strip():
            self._bars(number, self._without_remarks(number, " " * at + line[at:]))
            self.sections[-1].follows_label = True

    def _bars(self, number: int, line: str) -> None:
        header, most = self._settled_header(), MOST_BARS - len(self.bar_spans)
        read = read_line(line, self._context(header))

        def report(at: int, found: str, expected: str) -> None:
            self._problem(number, read.start(at) + 1, found, expected)

        for at, found, expected in read.problems:
            self._problem(number, at + 1, found, expected)
        one = header.key.pitch_class + self.key_shift
        first = len(self.bar_spans)
        carried = self.words.waiting
        for phrase in parse_line(read.text, header.meter, one, report, most, carried):
            fitting = phrase[: MOST_BARS - len(self.bar_spans)]
            self._add_phrase(number, fitting, read)
            if len(fitting) < len(phrase):
                self.full = True
                place = phrase[len(fitting)].start
                report(place, f"more than {MOST_BARS} bars", f"at most {MOST_BARS}")
                break
        if len(self.bar_spans) > first:
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
            header.meter, not header.key.minor, self._letter_key(), self.before, lines
        )

    def _letter_key(self) -> Key | None:
        """The key here if letter names are to be read; else None."""
        header = self.header or self.header_lines.so_far
        said = self.header_lines.letters
        letters = self.letters if said is None else said
        known = self.key_is_known or "key" in self.header_lines.seen
        if not letters or not known:
            return None
        one = header.key.pitch_class + self.key_shift
        move = sum(key_move(each, one) for each in self.words.waiting)
        return header.key.shifted(self.key_shift + move)

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
            self.bar_spans.append(TextSpan(number, start + 1, end + 1))
            if not parsed.valid:
                self.invalid_bars.add(len(self.bar_spans))

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
        starts = [span.column for span in self.bar_spans[first:]] if doubts else []
        ends = [span.end_column for span in self.bar_spans[first:]] if doubts else []
        for doubt in doubts:
            columns = (doubt.start + 1, doubt.end + 1)
            after = first + bisect_left(starts, columns[1])
            bars = range(first + bisect_right(ends, columns[0]) + 1, after + 1)
            self.invalid_bars.update(bars)
            bar = bars[0] if bars else None
            self.questions.append(
                Question(line, *columns, bar, doubt.asked, doubt.choices, doubt.kind)
            )

    def _ask_section(self, section: OpenSection, question: Question | None) -> None:
        """Ask about the label of a section; its first bar is unsure until that is answered."""
        if question is None:
            return
        section.asked = True
        self.questions.append(question)
        self.invalid_bars.update([question.bar] if question.bar is not None else [])
