"""The parser of whole texts: header lines, section names and lines of bars, one after another.

Header lines (`key: D`) go to `header`, section names open a section, and every other line is a line
of bars (`bar_lines`): `typed` turns what people habitually type into notation, and `bars` cuts that
into tokens (`tokens`) and joins them into bars.
"""

from __future__ import annotations

import re

from trainer.chart.bar_lines import BarLines
from trainer.chart.header import Header, HeaderLines
from trainer.chart.invalid_tokens import abbreviate
from trainer.chart.keys import Key
from trainer.chart.model import (
    HEADER_WORDS,
    Chart,
    Section,
    check_section_name,
)
from trainer.chart.notes import is_note, split_comment, tidy_note
from trainer.chart.open_section import OpenSection
from trainer.chart.parse_result import ParseResult
from trainer.chart.section_names import OTHER, section_kind, split_repeats
from trainer.chart.tokens import read_alone
from trainer.chart.typed.bare_header import HeaderItem, read_bare_header
from trainer.chart.typed.labels import Label, read_bare_label
from trainer.chart.typed.question import Question
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
        self.problems: list[Problem] = []
        self.questions: list[Question] = []
        self.header_lines = HeaderLines(fallback, self.problems)
        self.header: Header | None = None
        self.sections: list[OpenSection] = []
        self.words = WordsBeside(self.sections, self._problem)
        self.bars = BarLines(
            self.header_lines, self.sections, self.words, self.problems, self.questions,
            letters=letters, key_is_known=key_is_known,
        )  # fmt: skip
        self.title: BareTitle | None = None

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
            self._read_bars(number, line)

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
        invalid = frozenset(self.bars.invalid)
        gaps = frozenset(number for number, bar in enumerate(chart.bars(), 1) if bar.is_open)
        return ParseResult(chart, problems, tuple(self.bars.spans), invalid, questions, gaps)

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
        first_bar = len(self.bars.spans) + 1
        self.sections.append(OpenSection(name, number, *span, wrong, times, first_bar))

    def _bars_after(self, number: int, line: str, at: int) -> None:
        """Parse the bars that follow a label on its line."""
        line = self.words.notes_after(number, line, at)
        if line[at:].strip():
            self._read_bars(number, self._without_remarks(number, " " * at + line[at:]))
            self.sections[-1].follows_label = True

    def _letter_key(self) -> Key | None:
        return self.bars.letter_key(self.header or self.header_lines.so_far)

    def _read_bars(self, number: int, line: str) -> None:
        self.bars.read(number, line, self._settled_header())

    def _ask_section(self, section: OpenSection, question: Question | None) -> None:
        """Ask about the label of a section; its first bar is unsure until that is answered."""
        if question is None:
            return
        section.asked = True
        self.questions.append(question)
        self.bars.invalid.update([question.bar] if question.bar is not None else [])
