"""The graded bars as they stand side by side: which bars belong together, and what differs.

A row of a report is a bar of the song, of the answer, or of both. Where a writer put two bars for
one, or one for two, their rows are one place here. A place that is right but counted another way
(double, half, from another 1) has its own state, different from wrong, and so does a place that was
not written at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from trainer.grade import Weights

__all__ = ["ComparedBars", "GradedAnswer", "GradedRow", "State", "bar_difference", "compare_bars"]

# Edits whose bars stand together, with the word under them.
GROUPED = {
    "counted double": "double",
    "counted half": "half",
    "split written as two bars": "two bars",
    "two bars written as one": "two in one",
}
OTHER_COUNT = ("counted double", "counted half")
NOT_WRITTEN, REPEATED = "not written", "repeated"
# The words for what is right from another 1 or in another key, by the kind of the home shift.
SHIFTED = {"numbers of the old key": "old key", "key sign missing": "key", "key sign wrong": "key"}
ANOTHER_HOME, ANOTHER_KEY = "other 1", "key"
# The words for the components, in the order in which they are checked.
COMPONENT_WORDS = (
    ("root", "chord"),
    ("quality", "quality"),
    ("bass", "bass"),
    ("placement", "beat"),
    ("articulation", "articulation"),
)
# Shares are sums of rounded numbers: those closer than this are equal.
ROUNDING = 1e-9


class GradedRow(Protocol):
    """A row of the aligned charts, as it was just graded or as it is stored; its components as
    attributes."""

    @property
    def reference(self) -> int | None:
        """The bar of the song, None for one too many."""
        ...

    @property
    def answer(self) -> int | None:
        """The bar that was written for it, None for none."""
        ...

    @property
    def score(self) -> float | None:
        """Its credit, 0 to 1."""
        ...

    @property
    def key_change(self) -> float | None:
        """The credit for where the key moves, 0 to 1."""
        ...


class State(Enum):
    """How a place of the sheet went."""

    RIGHT = "right"
    WRONG = "wrong"
    OTHERWISE = "otherwise"
    NOT_WRITTEN = "not-written"


@dataclass(frozen=True, slots=True)
class ComparedBars:
    """A place of the sheet: bars of the song over the bars that were written for them.

    One of the two may be empty, and either may have two bars. `word` says what differs, "" if
    nothing does.
    """

    references: tuple[int, ...]
    answers: tuple[int, ...]
    state: State
    word: str


class _Edit(Protocol):
    @property
    def kind(self) -> str: ...
    @property
    def reference(self) -> tuple[int, ...]: ...
    @property
    def answer(self) -> tuple[int, ...]: ...


class _HomeShift(Protocol):
    @property
    def kind(self) -> str: ...
    @property
    def from_bar(self) -> int: ...
    @property
    def to_bar(self) -> int | None: ...
    @property
    def bars(self) -> Sequence[GradedRow]: ...


class GradedAnswer(Protocol):
    """What is needed of a report, just graded or stored."""

    @property
    def bars(self) -> Sequence[GradedRow]:
        """The rows of the aligned charts."""
        ...

    @property
    def weights(self) -> Weights:
        """The weight of each component."""
        ...

    @property
    def edits(self) -> Sequence[_Edit]:
        """What was done to whole bars."""
        ...

    @property
    def home_shift(self) -> _HomeShift | None:
        """How it is counted from another 1, None if it is not."""
        ...

    @property
    def meter_renamed(self) -> bool:
        """Whether it is in another meter throughout."""
        ...


def compare_bars(report: GradedAnswer) -> tuple[ComparedBars, ...]:
    """The places of a graded answer in the order of its rows."""
    judge = _Judge(report)
    return tuple(judge.place(rows) for rows in _groups(report))


def _groups(report: GradedAnswer) -> Iterator[list[GradedRow]]:
    """The rows that stand together: a row with one bar joins the one before it, where one edit
    put two bars for one or one for two."""
    references = _by_bar(report.edits, "reference", GROUPED)
    answers = _by_bar(report.edits, "answer", GROUPED)
    group: list[GradedRow] = []
    for row in report.bars:
        if group and (row.reference is None or row.answer is None):
            edits = {references.get(row.reference or 0, -1), answers.get(row.answer or 0, -1)}
            head = group[0]
            both = head.reference is not None and head.answer is not None
            if both and len(group) == 1 and references.get(head.reference or 0) in edits:
                group.append(row)
                continue
        if group:
            yield group
        group = [row]
    if group:
        yield group


def _by_bar(edits: Sequence[_Edit], side: str, kinds: Mapping[str, str]) -> dict[int, int]:
    """Which edit of these kinds each bar of a side is part of, by the edit's place."""
    return {
        bar: number
        for number, edit in enumerate(edits)
        if edit.kind in kinds
        for bar in getattr(edit, side)
    }


class _Judge:
    """Says how each place went, by one report."""

    def __init__(self, report: GradedAnswer) -> None:
        self._report = report
        self._meant: dict[int, GradedRow] = {}
        shift = report.home_shift
        if shift is not None:
            last = len(report.bars) if shift.to_bar is None else shift.to_bar
            self._meant = {
                row.reference: row
                for row in shift.bars
                if row.reference is not None and shift.from_bar <= row.reference <= last
            }
        edits = report.edits
        self._unwritten = {b for e in edits if e.kind == NOT_WRITTEN for b in e.reference}
        self._repeated = {b for e in edits if e.kind == "doubled" for b in e.answer}
        self._grouped = _by_bar(edits, "reference", GROUPED)

    def place(self, rows: list[GradedRow]) -> ComparedBars:
        """The place that some rows make."""
        references = tuple(row.reference for row in rows if row.reference is not None)
        answers = tuple(row.answer for row in rows if row.answer is not None)
        state, word = self._grouped_word(rows) if len(rows) > 1 else self._word(rows[0])
        return ComparedBars(references, answers, state, word)

    def _grouped_word(self, rows: list[GradedRow]) -> tuple[State, str]:
        """How bars went that were counted another way."""
        kind = self._report.edits[self._grouped[rows[0].reference or 0]].kind
        if kind not in OTHER_COUNT:
            return State.WRONG, GROUPED[kind]
        weights = self._report.weights
        for row in rows:
            if row.reference is None:
                continue
            wrong = bar_difference(row, weights, weights.other_count)
            if wrong:
                # The second of two bars that are written as one was written, though it scored
                # nothing.
                return State.WRONG, "chord" if wrong == "missed" else wrong
        return State.OTHERWISE, GROUPED[kind]

    def _word(self, row: GradedRow) -> tuple[State, str]:
        if row.reference in self._unwritten and row.answer is None:
            return State.NOT_WRITTEN, NOT_WRITTEN
        if row.reference is None and row.answer in self._repeated:
            return State.WRONG, REPEATED
        word = bar_difference(row, self._report.weights)
        if not word:
            return State.RIGHT, ""
        meant = self._meant.get(row.reference or 0)
        if meant is not None and meant.answer is not None:
            wrong = bar_difference(meant, self._report.weights)
            return (State.WRONG, wrong) if wrong else (State.OTHERWISE, self._shifted())
        if word == "meter" and self._report.meter_renamed:
            return State.OTHERWISE, word
        return State.WRONG, word

    def _shifted(self) -> str:
        shift = self._report.home_shift
        kind = shift.kind if shift is not None else ""
        return SHIFTED.get(kind, ANOTHER_KEY if kind.startswith("key") else ANOTHER_HOME)


def bar_difference(bar: GradedRow, weights: Weights, whole: float = 1.0) -> str:
    """What is wrong with a bar in a word, "" for nothing.

    Components that were not asked for are left out, except the root: a wrong number is always said.
    `whole` is what a bar keeps that is right, less than 1 where its beats are counted another way.
    """
    if bar.reference is None:
        return "extra"
    # The second of two bars that are written as one stands beside no bar, but has its score.
    if bar.answer is None and not bar.score:
        return "missed"
    least, right = whole - ROUNDING, 1.0 - ROUNDING
    if (bar.score or 0.0) >= least:
        return ""
    asked = (pair for pair in COMPONENT_WORDS if pair[0] == "root" or getattr(weights, pair[0]) > 0)
    wrong = (
        word
        for part, word in asked
        if (getattr(bar, part) or 0) < (least if part == "placement" else right)
    )
    moved = bar.key_change
    return next(wrong, "meter" if moved is None or moved >= right else "key")
