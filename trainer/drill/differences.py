"""What is wrong with a graded bar, in the word that stands under it."""

from __future__ import annotations

from typing import Protocol

from trainer.grade import Weights

__all__ = ["bar_difference"]

# The words of the components, the first that is not whole first.
WORDS = (
    ("root", "chord"),
    ("quality", "kind"),
    ("bass", "bass"),
    ("placement", "beat"),
    ("articulation", "touch"),
)


class _Bar(Protocol):
    """A graded bar, as it was just graded or as it is stored; its components as attributes."""

    @property
    def reference(self) -> int | None: ...
    @property
    def answer(self) -> int | None: ...
    @property
    def score(self) -> float | None: ...
    @property
    def key_change(self) -> float | None: ...


def bar_difference(bar: _Bar, weights: Weights) -> str:
    """What is wrong with a bar in a word, "" for nothing.

    Components that were not asked for are left out, except the root: a wrong number is always said.
    """
    if bar.reference is None:
        return "extra"
    if bar.answer is None:
        return "missed"
    if (bar.score or 0.0) >= 1:
        return ""
    asked = (pair for pair in WORDS if pair[0] == "root" or getattr(weights, pair[0]) > 0)
    wrong = (word for part, word in asked if (getattr(bar, part) or 0) < 1)
    moved = bar.key_change
    return next(wrong, "meter" if moved is None or moved >= 1 else "key")
