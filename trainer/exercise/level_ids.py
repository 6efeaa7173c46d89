"""The levels of the first course, by the numbers they had.

A level's number is its place in the course and changes when levels are added. Its id does not, and
results are stored with it. Exercises and attempts from before levels had ids name a level only by
its number in the first course, which had the levels listed here.
"""

from __future__ import annotations

__all__ = ["FIRST_IDS", "first_id", "first_number"]

FIRST_IDS = (
    "home-four-five",
    "six-minor",
    "two-minor",
    "three-minor",
    "any-key",
    "even-splits",
    "five-over-seven",
    "whole-section",
    "one-over-three",
    "odd-phrases",
    "waltz",
    "six-eight",
    "shuffle",
    "flat-seven",
    "two-major",
    "four-minor",
    "added-notes",
    "holds",
    "pushes",
    "chokes",
    "short-bars",
    "uneven-splits",
    "whole-song",
    "second-verse",
    "train-and-half-time",
    "minor-songs",
    "key-change-songs",
    "tags",
    "work-tape",
    "session-day",
    "one-listen",
)


def first_id(number: int | None) -> str | None:
    """The id of the level that had a number in the first course; None if there was none."""
    if number is None or not 1 <= number <= len(FIRST_IDS):
        return None
    return FIRST_IDS[number - 1]


def first_number(level_id: str) -> int | None:
    """The number that a level had in the first course; None if it was not in it."""
    return FIRST_IDS.index(level_id) + 1 if level_id in FIRST_IDS else None
