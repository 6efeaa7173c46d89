"""Ratings in words, from what was written for what."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trainer.practice.daily import describe_rate
from trainer.practice.evidence import CHORD_NAME

__all__ = ["Heard", "describe_confusions", "describe_mistakes", "main_confusions"]

LEAST = 4
LEAST_WRONG = 2

Pairs = Iterable[tuple[str, str, int]]


@dataclass(frozen=True, slots=True)
class Heard:
    """How often something played was written as it is, and as the thing most taken for it; `times`
    is how often it was played."""

    played: str
    written: str
    right: int
    wrong: int
    times: int

    @property
    def share(self) -> float:
        """The share of right ones of the two."""
        return self.right / (self.right + self.wrong)


def main_confusions(pairs: Pairs) -> Mapping[str, Heard]:
    """For each skill of a chord or bass, what it is most confused with, where that is known.

    `pairs` are (played, written, how often), as the store counts them; what was left out or added
    confuses nothing. A pair counts once it was met four times and mistaken twice.
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
            found[skill] = Heard(played, name, right, most, times[skill])
    return found


def describe_confusions(pairs: Pairs) -> dict[str, str]:
    """For each skill, a sentence on what it is confused with.

    >>> pairs = [("4", "4", 8), ("4", "2-", 4), ("5/7", "5", 3), ("5/7", "5/7", 1)]
    >>> describe_confusions(pairs)["chord 4"]
    'You hear 4 against 2- about two times in three.'
    """
    return {
        skill: f"You hear {heard.played} against {heard.written} {describe_rate(heard.share)}."
        for skill, heard in main_confusions(pairs).items()
    }


def describe_mistakes(pairs: Pairs) -> list[str]:
    """For each chord or bass, a sentence on what is written for it, the most often wrong first.

    >>> describe_mistakes([("4", "4", 8), ("4", "2-", 4), ("4", "1", 6), ("4", "", 2)])[0]
    'When 4 is played you write 1 about one time in three.'
    """
    found = sorted(main_confusions(pairs).values(), key=lambda one: (-one.wrong, one.played))
    return [
        f"When {each.played} is played you write {each.written} "
        f"{describe_rate(each.wrong / each.times)}."
        for each in found
    ]


def _views(played: str, written: str) -> Iterable[tuple[str, str]]:
    """A pair as the skills see it: chords without bass and extension, basses with them."""
    ours, theirs = CHORD_NAME.fullmatch(played), CHORD_NAME.fullmatch(written)
    if ours is None or theirs is None:
        return
    chord, other = (match["root"] + match["quality"] for match in (ours, theirs))
    yield f"chord {chord}", other
    if ours["bass"]:
        over = f"/{theirs['bass']}" if theirs["bass"] else ""
        yield f"bass {chord}/{ours['bass']}", other + over
