"""Notes, comments and changes of key that stand beside the bars of a text: where they belong.

A comment belongs to the phrase before it, or to the section if none of its bars came yet, or else
to the song. A note right after or under a section's name belongs to the section. Alone on its line
further down, a note waits for the next bar, as a change of key does.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

from trainer.chart.notes import MOST_NOTES, check_comments, is_note, tidy_note
from trainer.chart.open_section import OpenSection
from trainer.chart.tokens import DirectiveToken
from trainer.errors import ChartError

__all__ = ["BRACKETED", "WordsBeside"]

BRACKETED = re.compile(r"\s*\[(?P<text>[^\[\]]*)\]")


class _Carried(NamedTuple):
    """A change of key or a note alone on its line, for the next bar.

    `line` and `column` are its place.
    """

    token: DirectiveToken
    line: int
    column: int
    text: str


class WordsBeside:
    """Gives notes and comments to the sections of a text while it is parsed.

    `sections` is the parser's own list, and `report` is called with line, column, what was found
    and what was expected. `comments` are those of the song.
    """

    def __init__(
        self, sections: list[OpenSection], report: Callable[[int, int, str, str], None]
    ) -> None:
        self.sections, self.report = sections, report
        self.comments: list[str] = []
        self.carried: list[_Carried] = []

    @property
    def waiting(self) -> list[DirectiveToken]:
        """What waits for the next bar."""
        return [each.token for each in self.carried]

    def comment(self, line: int, at: int, words: str) -> None:
        """Keep a comment that begins at an index of its line."""
        section = self.sections[-1] if self.sections else None
        try:
            if section is not None and (section.name or section.phrases):
                section.comment(words)
            else:
                check_comments("chart", (*self.comments, words))
                self.comments.append(words)
        except ChartError as error:
            self.report(line, at + 1, error.found, error.expected)

    def may_carry(self, tokens: Sequence[DirectiveToken]) -> bool:
        """Whether a bar may still have these signs, beside those that wait for it."""
        kinds = [each.kind for each in (*self.waiting, *tokens)]
        return kinds.count("change of key") <= 1 and kinds.count("note") <= MOST_NOTES

    def carry(self, number: int, line: str, tokens: Sequence[DirectiveToken]) -> None:
        """Give notes under a section's name to the section; all else waits for the next bar."""
        section = self.sections[-1] if self.sections else None
        for token in tokens:
            if token.note and section is not None and section.name and not section.phrases:
                self._note_section(number, token.start, token.note)
            else:
                text = line[token.start : token.end]
                self.carried.append(_Carried(token, number, token.start + 1, text))

    def notes_after(self, number: int, line: str, at: int) -> str:
        """Give the notes right after a name to its section; the line with spaces in their place."""
        while (match := BRACKETED.match(line, at)) is not None:
            note = tidy_note(match["text"])
            if not is_note(note):
                break
            self._note_section(number, match.start("text") - 1, note)
            line = line[:at] + " " * (match.end() - at) + line[match.end() :]
            at = match.end()
        return line

    def report_unused(self) -> None:
        """Report what waits for a bar at the end of the text."""
        for _, line, column, text in self.carried:
            self.report(line, column, f"{text} with no bar after it", "a bar after it")

    def _note_section(self, number: int, at: int, note: str) -> None:
        notes = self.sections[-1].notes
        if len(notes) < MOST_NOTES:
            notes.append(note)
        else:
            self.report(number, at + 1, "another note", f"at most {MOST_NOTES} to a section")
