"""What a plan does with its numbers: the facts by which one sees which chords go with it.

A fact has a group and the numbers that it is about. The group "pair" has every change from one
number to another, "place o1" those at one kind of place in a line, "kind chorus" the numbers that a
chorus has, "bass t" those that are heard over their third. A fact that is true several times counts
once. The groups are described in scripts/likelihood_tables.py, which counts the facts of real
songs.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from trainer.generate.plans import QUARTERS, SILENT, BarPlan, Plan

__all__ = ["Change", "Fact", "changes_of", "facts_by_numbers", "facts_of", "plan_changes"]

# The limits of the classes of a chord's share of the song's time.
SHARE_LIMITS = (0.01, 0.03, 0.06, 0.1, 0.15, 0.2, 0.3)
MOST_FORMS = 3
# The names of groups by the class of a share, by the number of forms, and by the classes of a place
# and a length.
SHARES = [f"share {at}" for at in range(len(SHARE_LIMITS) + 1)]
FORMS = [f"forms {number}" for number in range(MOST_FORMS + 1)]
PLACES = {place: [f"place {place}{length}" for length in "0124"] for place in "soelnm"}

# A group, and the numbers of a fact of it; the last number comes after the others in the song.
Fact = tuple[str, tuple[int, ...]]
_Found = defaultdict[tuple[int, ...], set[str]]


class Change(NamedTuple):
    """A chord change in a line: the number of the chord, the class of its place (`s` at the start,
    `o` on an odd bar, `e` on an even one, `l` on the last, `n` inside the last bar, `m` inside
    another), and its length in quarters."""

    chord: int
    place: str
    quarters: int


def changes_of(line: tuple[BarPlan, ...]) -> tuple[Change, ...]:
    """The chord changes of a line; silence counts to the chord before it."""
    found: list[Change] = []
    last = len(line) - 1
    for index, bar in enumerate(line):
        at = 0
        for event in bar:
            if event.chord != SILENT and (not found or found[-1].chord != event.chord):
                found.append(Change(event.chord, _place(index, last, at), event.quarters))
            elif found:
                before = found[-1]
                found[-1] = before._replace(quarters=before.quarters + event.quarters)
            at += event.quarters
    return tuple(found)


@lru_cache(maxsize=4)
def plan_changes(plan: Plan) -> tuple[tuple[Change, ...], ...]:
    """The chord changes of each line of a plan."""
    return tuple(map(changes_of, plan.lines))


def _place(index: int, last: int, at: int) -> str:
    """The class of a place in a line."""
    if at > 0:
        return "n" if index == last else "m"
    if index == 0:
        return "s"
    return "l" if index == last else "oe"[(index + 1) % 2]


def _length(quarters: int) -> int:
    """The class of a length: under a bar, a bar, two bars, four bars or more."""
    if quarters < QUARTERS:
        return 0
    if quarters < 2 * QUARTERS:
        return 1
    return 2 if quarters < 4 * QUARTERS else 3


def facts_of(plan: Plan) -> tuple[Fact, ...]:
    """The facts of a plan."""
    return tuple(
        (group, numbers)
        for numbers, found in facts_by_numbers(plan).items()
        for group in sorted(found)
    )


def facts_by_numbers(plan: Plan) -> Mapping[tuple[int, ...], AbstractSet[str]]:
    """The groups of the facts of a plan, by the numbers that they are about."""
    found: _Found = defaultdict(set)
    time = _add_changes(plan, found)
    total = sum(time.values())
    for number in range(1, plan.chords):
        found[number,] |= {
            SHARES[bisect_left(SHARE_LIMITS, time[number] / total)],
            FORMS[min(plan.forms[number], MOST_FORMS)],
        }
    return found


def _add_changes(plan: Plan, found: _Found) -> Counter[int]:
    """Add the facts of all lines where they stand; returns how long each number lasts."""
    changed = plan_changes(plan)
    played: Counter[int] = Counter()
    past: tuple[int, ...] = ()
    known = set()
    for at, (kind, numbers) in enumerate(plan.sections):
        following = plan.sections[at + 1][0] if at + 1 < len(plan.sections) else "end"
        for turn, number in enumerate(numbers):
            changes = changed[number]
            if not changes:
                continue
            played[number] += 1
            key = number, kind, past, turn == 0
            if key not in known:
                known.add(key)
                _add_start(found, changes, past, "start S" if turn == 0 else "start L")
                of_kind = f"kind {kind}"
                for change in changes:
                    found[change.chord,].add(of_kind)
            if turn == len(numbers) - 1:
                found[(changes[-1].chord,)].add(f"send {kind} {following}")
            past = _last_two(past, changes)
    for number in played:
        _add_inside(found, plan.lines[number], changed[number])
        if plan.derived[number] >= 0:
            _add_likeness(found, plan.lines[plan.derived[number]], plan.lines[number])
    return _times(changed, played)


def _add_start(found: _Found, changes: Sequence[Change], past: tuple[int, ...], start: str) -> None:
    """Add the facts of how a line begins after the last two different numbers."""
    first = changes[0].chord
    if not past:
        found[(first,)].add("first")
        return
    found[(past[-1], first)].add(start)
    row = [*past, *[change.chord for change in changes[:2]]]
    row = [number for at, number in enumerate(row) if not at or row[at - 1] != number]
    for at in range(len(row) - 2):
        found[(row[at], row[at + 1], row[at + 2])].add("three")


def _last_two(past: tuple[int, ...], changes: Sequence[Change]) -> tuple[int, ...]:
    """The last two different numbers in a row, after a line that follows `past`."""
    last = changes[-1].chord
    if len(changes) > 1:
        return changes[-2].chord, last
    return past if past and past[-1] == last else (*past[-1:], last)


def _times(changed: Sequence[Sequence[Change]], played: Mapping[int, int]) -> Counter[int]:
    """How long each number lasts, in quarters, where lines with these changes are played so
    often."""
    time: Counter[int] = Counter()
    for number, count in played.items():
        for change in changed[number]:
            time[change.chord] += change.quarters * count
    return time


def _add_inside(found: _Found, line: tuple[BarPlan, ...], changes: Sequence[Change]) -> None:
    """Add the facts of a line that are the same wherever it stands."""
    for a, b in pairwise(changes):
        pair = a.chord, b.chord
        found[pair].add("pair")
        found[pair].add(PLACES[b.place][_length(b.quarters)])
    for a, b, c in zip(changes, changes[1:], changes[2:], strict=False):
        found[(a.chord, b.chord, c.chord)].add("three")
    _add_bars(found, line)


def _add_bars(found: _Found, line: tuple[BarPlan, ...]) -> None:
    """Add the facts of the basses and split bars of a line."""
    events = [event for bar in line for event in bar if event.chord != SILENT]
    for at, event in enumerate(events):
        chord, bass = event.chord, event.bass
        if not bass:
            continue
        found[(chord,)].add(f"bass {bass}")
        if at + 1 < len(events) and events[at + 1].chord != chord:
            found[(chord, events[at + 1].chord)].add(f"bass to {bass}")
        if at and events[at - 1].chord != chord:
            found[(chord, events[at - 1].chord)].add(f"bass from {bass}")
    for bar in line:
        if len(bar) == 2:
            a, b = bar[0].chord, bar[1].chord
            if a != b and SILENT not in (a, b):
                found[(a, b)].add("split")


def _add_likeness(found: _Found, source: tuple[BarPlan, ...], line: tuple[BarPlan, ...]) -> None:
    """Add what chords a line has in place of those of the line that it varies."""
    last = len(line) - 1
    for at, (theirs, mine) in enumerate(zip(source, line, strict=False)):
        a, b = theirs[-1].chord, mine[-1].chord
        if a != b and SILENT not in (a, b):
            found[(a, b)].add("instead l" if at == last else "instead")
