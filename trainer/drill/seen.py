"""What counts as practice alone: a song whose chart the learner was shown, and bars of one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.exercise import EXCERPT

if TYPE_CHECKING:
    from trainer.store import ExerciseRecord, Learner, Repositories

__all__ = ["SEEN_BEFORE", "SEEN_NOW", "is_practice"]

_PRACTICE = (
    "so this is practice: it is graded, but it doesn't count for the level, your ratings or the "
    "speed test."
)
# Before the song is written, and after.
SEEN_NOW = f"You have seen this song's chart, {_PRACTICE}"
SEEN_BEFORE = f"You had seen this song's chart, {_PRACTICE}"


def is_practice(store: Repositories, learner: Learner, record: ExerciseRecord) -> bool:
    """Whether an attempt at an exercise would be practice that counts for nothing else: its chart,
    or the song that its bars are of, was shown to the learner before."""
    return EXCERPT in record.exercise.recipe or store.attempts.has_seen(learner, record.song)
