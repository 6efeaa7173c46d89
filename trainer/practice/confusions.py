"""Confusions: which chords and basses a learner writes for others, in words.

The store counts pairs of what was played and what was written for it. Each skill of a chord or a
bass sees the chord in its own way: a chord without bass and extension, a bass with them.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta

from trainer.practice.daily import describe_rate
from trainer.practice.evidence import CHORD_NAME

__all__ = [
    "RECENT_CONFUSIONS",
    "ConfusionPair",
    "describe_confusions",
    "describe_mistakes",
    "main_confusions",
]

# What was confused longer ago explains nothing of today.
RECENT_CONFUSIONS = timedelta(days=90)
# A confusion counts if there were at least LEAST occurrences and LEAST_WRONG of them were wrong.
LEAST = 4
LEAST_WRONG = 2

Pairs = Iterable[tuple[str, str, int]]


@dataclass(frozen=True, slots=True)
class ConfusionPair:
    """What was played, and what is most often written for it instead.

    `right` and `wrong` count how often it was written as the one and as the other; `times` is how
    often it was played.
    """

    played: str
    written: str
    right: int
    wrong: int
    times: int

    @property
    def share(self) -> float:
        """The share of `right` in both, 0 to 1."""
        return self.right / (self.right + self.wrong)


def main_confusions(pairs: Pairs) -> Mapping[str, ConfusionPair]:
    """For each skill of a chord or bass, what it is most often confused with, where that is known.

    `pairs` are (played, written, how often), as the store counts them; chords that were left out or
    added are no confusions. A pair counts from four occurrences, two of them wrong.
    """
    counts: defaultdict[str, Counter[str]] = defaultdict(Counter)
    times: Counter[str] = Counter()
    for played, written, chords in pairs:
        for skill, _ in _views(played, played):
            times[skill] += chords
        for skill, name in _views(played, written):
            counts[skill][name] += chords
    found = {}
    for skill, seen in counts.items():
        played = skill.partition(" ")[2]
        right = seen[played]
        wrong = [(count, name) for name, count in seen.items() if name != played]
        if not wrong:
            continue
        most, name = max(wrong)
        if most >= LEAST_WRONG and right + most >= LEAST:
            found[skill] = ConfusionPair(played, name, right, most, times[skill])
    return found


def describe_confusions(pairs: Pairs) -> dict[str, str]:
    """For each skill, a sentence on what it is confused with.

    >>> pairs = [("4", "4", 8), ("4", "2-", 4), ("5/7", "5", 3), ("5/7", "5/7", 1)]
    >>> describe_confusions(pairs)["chord 4"]
    'You tell 4 from 2- about two times in three.'
    """
    return {
        skill: f"You tell {heard.played} from {heard.written} {describe_rate(heard.share)}."
        for skill, heard in main_confusions(pairs).items()
    }


def describe_mistakes(pairs: Pairs) -> list[str]:
    """For each chord or bass, a sentence on what is written for it, the most often wrong first.

    >>> describe_mistakes([("4", "4", 8), ("4", "2-", 4), ("4", "1", 6), ("4", "", 2)])[0]
    'When the band plays 4, you write 1 about one time in three.'
    """
    found = sorted(main_confusions(pairs).values(), key=lambda one: (-one.wrong, one.played))
    return [
        f"When the band plays {each.played}, you write {each.written} "
        f"{describe_rate(each.wrong / each.times)}."
        for each in found
    ]


def _views(played: str, written: str) -> Iterable[tuple[str, str]]:
    """The (skill, what was written for it) of a pair: chords without bass and extension, basses
    with their chords."""
    ours, theirs = CHORD_NAME.fullmatch(played), CHORD_NAME.fullmatch(written)
    if ours is None or theirs is None:
        return
    chord, other = (match["root"] + match["quality"] for match in (ours, theirs))
    yield f"chord {chord}", other
    if ours["bass"]:
        over = f"/{theirs['bass']}" if theirs["bass"] else ""
        yield f"bass {chord}/{ours['bass']}", other + over
