"""What is wrong with where a sheet's bars stand."""

from __future__ import annotations

from trainer.export.sheet_layout import Layout

__all__ = ["overlaps"]


def overlaps(layout: Layout, width: float) -> list[str]:
    """Bars that stand in each other, or lines that leave their column or stand too close."""
    found = []
    for placed in layout.lines:
        ends = 0.0
        for at, bar in placed.line.bars:
            found += ["bar in bar"] if at < ends else []
            ends = at + bar.width
        edge = placed.left + layout.label + ends * layout.size
        most = width if placed.left or layout.columns == 1 else width / 2
        found += ["wide"] if edge > most + 0.01 else []
    for one, after in zip(layout.lines, layout.lines[1:], strict=False):
        same = (one.page, one.left) == (after.page, after.left)
        found += ["close"] if same and after.top - one.top < layout.distance - 0.01 else []
    return found
