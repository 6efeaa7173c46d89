"""What is said of a song whose chart the learner was shown: writing it is practice from then on."""

from __future__ import annotations

__all__ = ["SEEN_BEFORE", "SEEN_NOW"]

_PRACTICE = (
    "so this is practice: it is graded, but it doesn't count for the level, your ratings or the "
    "speed test."
)
# Before the song is written, and after.
SEEN_NOW = f"You have seen this song's chart, {_PRACTICE}"
SEEN_BEFORE = f"You had seen this song's chart, {_PRACTICE}"
