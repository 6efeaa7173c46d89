"""Questions about typed text that can be read in two ways, with one answer for each reading."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

__all__ = [
    "METER_OR_CHORD",
    "Choice",
    "Doubt",
    "Question",
    "bar_of",
    "chord_choices",
    "question_to_json",
]

# Text that can be a bar's own meter, and a chord as well.
METER_OR_CHORD = frozenset(("2/4", "3/4", "6/4"))


class Choice(NamedTuple):
    """One answer to a question: what it says, and the text that takes the place of what was typed.

    The text is read in one way only, so that it is never asked about again. `header` is a header
    line that settles the question for the whole song; it is added at the top, and the text stays as
    it was typed.
    """

    label: str
    text: str
    header: str = ""

    @property
    def written(self) -> str:
        """What is written for this answer, as a message names it."""
        return self.header or " ".join(self.text.split())


class Doubt(NamedTuple):
    """A stretch of one line that can be read in two ways; `start` and `end` are indices in it.

    The reading that is drawn until the question is answered is the first choice. Doubts of one
    `kind` have the same answer everywhere in a song, so that they are asked about once; "" is of no
    kind.
    """

    start: int
    end: int
    asked: str
    choices: tuple[Choice, ...]
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """A doubt in its place in the text.

    Attributes
    ----------
    line, column, end_column : the typed text that is asked about, counted from 1; `end_column` is
        after its last character.
    bar : number (from 1) of the first bar that depends on the answer; None if no bar is read yet.
    asked : the question in one sentence.
    choices : two or three answers, the one that is drawn meanwhile first.
    kind : questions of one kind, in one text, have the same answers in the same order; "" is of no
        kind.
    """

    line: int
    column: int
    end_column: int
    bar: int | None
    asked: str
    choices: tuple[Choice, ...]
    kind: str = ""


def question_to_json(question: Question) -> dict[str, object]:
    """Turn a question into what `json.dumps` takes."""
    return {
        "line": question.line,
        "column": question.column,
        "end_column": question.end_column,
        "bar": question.bar,
        "asked": question.asked,
        "choices": [
            {key: value for key, value in choice._asdict().items() if key != "header" or value}
            for choice in question.choices
        ],
    }


def bar_of(chord: str) -> str:
    """A chord as a bar of its own, in brackets where it would look like a meter."""
    return f"({chord})" if chord in METER_OR_CHORD else chord


def chord_choices(
    readings: tuple[tuple[str, ...], ...],
    separator: str,
    labels: tuple[str, ...] = (),
    *,
    is_inside: bool,
) -> tuple[Choice, ...]:
    """Make a choice for each reading, which is a sequence of chords.

    `separator` stands between the chords in the text of a choice; `labels` are those of the
    choices, by default the chords; `is_inside` is whether they share a bar within brackets already.
    """
    return tuple(
        Choice(label, separator.join(chords if is_inside else map(bar_of, chords)))
        for label, chords in zip(labels or map(" then ".join, readings), readings, strict=True)
    )
