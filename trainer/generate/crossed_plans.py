"""Plans joined from several: the form of one song, with sections built as those of others are.

The sections of one kind can be taken over if the lines of the first of them make up all others, and
if no line elsewhere varies one of them. Their different lines are then built as those of the first
section of that kind in another song, which are as many, as long, and of as many chords; the order
in which they come, and come again, stays. The other song's chord numbers become those of the form
in the order of how long they last in the section.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from trainer.generate.plans import SILENT, Plan, all_plans, forms_needed
from trainer.generate.weighted_choice import happens

__all__ = ["crossed_plan"]

# How often sections that can be taken over are, by kind.
CROSSED = 0.7

# Mode, half of the corpus, kind, and the lengths of the different lines in order.
_Shape = tuple[bool, int, str, tuple[int, ...]]


class _Part(NamedTuple):
    """The first section of a kind in a plan: its different lines in order, and its numbers other
    than home, the longest first."""

    plan: Plan
    lines: tuple[int, ...]
    numbers: tuple[int, ...]


def crossed_plan(rng: random.Random, plan: Plan) -> Plan:
    """The plan with some kinds of sections built as in other songs of the same half."""
    for shape, part in _free_parts(plan):
        count = len(part.numbers)
        others = [other for other in _parts()[shape] if len(other.numbers) == count]
        if not happens(rng, CROSSED) or len(others) < 2:
            continue
        other = others[int(rng.random() * len(others))]
        if other.plan is not part.plan:
            plan = _joined(plan, _part(plan, part.lines), other)
    return plan


def _shape(plan: Plan, kind: str, numbers: tuple[int, ...]) -> _Shape:
    lengths = tuple(len(plan.lines[number]) for number in dict.fromkeys(numbers))
    return plan.minor, plan.half, kind, lengths


def _part(plan: Plan, numbers: tuple[int, ...]) -> _Part:
    time: Counter[int] = Counter()
    for number in numbers:
        for bar in plan.lines[number]:
            for event in bar:
                time[event.chord] += event.quarters
    ranked = sorted((n for n in time if n > 0), key=lambda n: (-time[n], n))
    return _Part(plan, tuple(dict.fromkeys(numbers)), tuple(ranked))


def _firsts(plan: Plan) -> dict[str, tuple[int, ...]]:
    """The lines of the first section of each kind."""
    firsts: dict[str, tuple[int, ...]] = {}
    for kind, numbers in plan.sections:
        firsts.setdefault(kind, numbers)
    return firsts


@lru_cache(maxsize=1)
def _parts() -> Mapping[_Shape, list[_Part]]:
    """The first sections of each kind in all plans, by their shape."""
    found: dict[_Shape, list[_Part]] = {}
    for plan in all_plans():
        for kind, numbers in _firsts(plan).items():
            found.setdefault(_shape(plan, kind, numbers), []).append(_part(plan, numbers))
    return found


@lru_cache(maxsize=1024)
def _free_parts(plan: Plan) -> tuple[tuple[_Shape, _Part], ...]:
    """The parts of a plan that can be taken over, with their shapes."""
    found = []
    taken: set[int] = set()
    for kind, numbers in _firsts(plan).items():
        own = set(numbers)
        later = {n for k, each in plan.sections for n in each if k == kind} <= own
        varied = any(source in own and line not in own for line, source in enumerate(plan.derived))
        if later and not varied and not own & taken:
            taken |= own
            found.append((_shape(plan, kind, numbers), _part(plan, numbers)))
    return tuple(found)


def _joined(plan: Plan, part: _Part, other: _Part) -> Plan:
    """The plan with the lines of a part built as those of another plan's part."""
    names = _renamed(plan, part, other)
    lines, derived, marks = list(plan.lines), list(plan.derived), list(plan.marks)
    for mine, theirs in zip(part.lines, other.lines, strict=True):
        lines[mine] = tuple(
            tuple(event._replace(chord=names[event.chord]) for event in bar)
            for bar in other.plan.lines[theirs]
        )
        source = other.plan.derived[theirs]
        earlier = part.lines[other.lines.index(source)] if source in other.lines else mine
        derived[mine] = earlier if earlier < mine else -1
        marks[mine] = other.plan.marks[theirs]
    return _compact(replace(plan, lines=tuple(lines), derived=tuple(derived), marks=tuple(marks)))


def _renamed(plan: Plan, part: _Part, other: _Part) -> dict[int, int]:
    """The number in the plan of every number of another's part."""
    rest = [n for n in range(1, plan.chords) if n not in part.numbers]
    mine = [*part.numbers, *rest]
    return {SILENT: SILENT, 0: 0, **dict(zip(other.numbers, mine, strict=False))}


def _compact(plan: Plan) -> Plan:
    """The plan without the numbers that none of its lines has."""
    used = {event.chord for line in plan.lines for bar in line for event in bar} | {0}
    names = {old: new for new, old in enumerate(sorted(used - {SILENT}))}
    names[SILENT] = SILENT
    lines = plan.lines
    if len(names) - 1 < plan.chords:
        lines = tuple(
            tuple(tuple(e._replace(chord=names[e.chord]) for e in bar) for bar in line)
            for line in lines
        )
    chords = len(names) - 1
    return replace(plan, lines=lines, chords=chords, forms=forms_needed(lines, chords))
