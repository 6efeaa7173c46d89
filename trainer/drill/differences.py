"""What is wrong with a graded bar, in the word that stands under it."""

from __future__ import annotations

from typing import Protocol

from trainer.grade import Weights

__all__ = ["GradedRow", "bar_difference"]

# The words of the components, the first that is not whole first.
WORDS = (
    ("root", "chord"),
    ("quality", "kind"),
    ("bass", "bass"),
    ("placement", "beat"),
    ("articulation", "touch"),
)
# Shares are sums of fractions.
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
    asked = (pair for pair in WORDS if pair[0] == "root" or getattr(weights, pair[0]) > 0)
    wrong = (
        word
        for part, word in asked
        if (getattr(bar, part) or 0) < (least if part == "placement" else right)
    )
    moved = bar.key_change
    return next(wrong, "meter" if moved is None or moved >= right else "key")
