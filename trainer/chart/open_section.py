"""A section while its bars are read, and what may be asked about its label."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from trainer.chart.model import Phrase, Section
from trainer.chart.notes import check_comments
from trainer.chart.typed.question import Choice, Question

__all__ = ["OpenSection"]


@dataclass(slots=True)
class OpenSection:
    """A section while its bars are read.

    `line`, `column` and `end_column` are where its label is typed; `problem` is whether that was
    reported already; `times` is how often the label says it is played. `first_bar` is the number of
    its first bar, `typed` its lines of bars as typed. `choices` are the ways to read the label, if
    there are two. `notes` are those that stand beside the label or alone under it.
    """

    name: str
    line: int
    column: int
    end_column: int
    problem: bool = False
    times: int = 1
    first_bar: int = 1
    asked: bool = False
    follows_label: bool = False
    choices: tuple[Choice, ...] = ()
    phrases: list[Phrase] = field(default_factory=list)
    typed: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    comments: list[str] = field(default_factory=list)

    def made(self) -> Section:
        """The section as a chart has it."""
        return Section(self.name, tuple(self.phrases), tuple(self.notes), tuple(self.comments))

    def comment(self, words: str) -> None:
        """Add a comment: to the last phrase, or to the section before it has any.

        Raises ChartError if that cannot have it.
        """
        if self.phrases:
            last = self.phrases[-1]
            self.phrases[-1] = replace(last, comments=(*last.comments, words))
        else:
            check_comments("section", (*self.comments, words))
            self.comments.append(words)

    def label_question(self) -> Question | None:
        """Ask whether the label is one, if it could be a chord or hold a bar."""
        if not self.choices:
            return None
        asked = ", or ".join(choice.label for choice in self.choices) + "?"
        bar = self.first_bar if self.phrases else None
        columns = (self.column, self.end_column)
        return Question(self.line, *columns, bar, asked[0].upper() + asked[1:], self.choices)

    def repeats_question(self) -> Question | None:
        """Ask whether a section that is played several times should be written out that often.

        Its bars are copied then, so that questions about them are asked first.
        """
        if self.times == 1 or self.asked:
            return None
        name, times = self.name, self.times
        after_label = " " if self.follows_label else "\n"
        bars = f"{name}:{after_label}" + "\n".join(self.typed) + "\n\n"
        choices = (
            Choice("once", f"{name}:"),
            Choice(f"{times} times", bars * (times - 1) + f"{name}:"),
        )
        asked = f"Should the {name} be written out {times} times, as it's played, or once?"
        columns = (self.column, self.end_column)
        return Question(self.line, *columns, self.first_bar, asked, choices)
