"""What earlier versions of the trainer held true, for exports that they wrote."""

from __future__ import annotations

__all__ = ["passed_by_score"]

# The marks of the course when a score alone passed a level (as in the migration 0006).
LAST_LEVEL = 31
USUAL_MARK, LOWER_MARK = 0.85, 0.8
LOWER_LEVELS = frozenset((13, 17, 26, 29))


def passed_by_score(level: int | None, score: float, listens: int, *, seen: bool) -> bool | None:
    """Whether an attempt passed its level when a score at the mark was enough; None if it was at
    no level of that course."""
    if level is None or not 1 <= level <= LAST_LEVEL:
        return None
    mark = LOWER_MARK if level in LOWER_LEVELS else USUAL_MARK
    return listens > 0 and not seen and score >= mark
