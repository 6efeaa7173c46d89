"""The daily set: what is due, what is weak, what is new, mixed, each with its reason.

About half of a set brings back what is due (FSRS; spaced retrieval beats massed, Latimier, Peyre &
Ramus 2021, Educational Psychology Review 33), then what is weakest, then one new thing as long as
not too much is unsettled. Kinds take turns (interleaving, Wong, Chen & Lim 2021, Psychology of
Music 49, for intervals heard without help).
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from trainer.practice.aims import can_aim
from trainer.practice.catalogue import kind_of, say_skill
from trainer.practice.memory import kept
from trainer.practice.rating import Skill, State, chance

__all__ = ["Aim", "due_skills", "new_skills", "plan_set", "say_rate", "weak_skills"]

SET_ITEMS = 6
MOST_DUE = 2
MOST_WEAK = 1
MOST_NEW = 2
# A weak skill seen within this time is left alone: it comes back when it is due.
REST = timedelta(hours=20)
UNSETTLED = 20
WEAK_BELOW = 0.82
SETTLED_FROM = 0.7
LEAST_BARS = 4
# What falls due later today is done now.
TODAY = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class Aim:
    """What an item of a set is for: "due", "weak", "new", "mixed" or "placement", and why."""

    kind: str
    skills: tuple[str, ...]
    reason: str


def due_skills(state: State, course: Iterable[str], now: datetime) -> list[str]:
    """Skills that should come back today, what has faded most first."""
    due = [
        (kept(each.memory, now), each.memory.due, skill)
        for skill, each in _met(state, course)
        if each.memory.due <= now + TODAY
    ]
    return [skill for _, _, skill in sorted(due)]


def weak_skills(state: State, course: Iterable[str], now: datetime) -> list[str]:
    """Skills that were met and are not heard well, the weakest first."""
    met = [
        (chance(state, skill, (), now), skill)
        for skill, each in _met(state, course)
        if each.bars >= LEAST_BARS and now - each.memory.last_at >= REST
    ]
    return [skill for right, skill in sorted(met) if right < WEAK_BELOW]


def _met(state: State, course: Iterable[str]) -> Iterator[tuple[str, Skill]]:
    """The skills of the course that were met and can be aimed at."""
    for skill in course:
        found = state.skills.get(skill)
        if found is not None and can_aim(skill):
            yield skill, found


def new_skills(state: State, course: Sequence[str]) -> list[str]:
    """Skills never met, in the order of the course."""
    return [skill for skill in course if skill not in state.skills and can_aim(skill)]


def plan_set(
    state: State,
    course: Sequence[str],
    now: datetime,
    rng: random.Random,
    *,
    done: frozenset[str] = frozenset(),
    why: Mapping[str, str] | None = None,
) -> tuple[Aim, ...]:
    """The aims of a set, in the order in which they come.

    Parameters: `course` are skills in the order in which they are introduced; `done` those aimed
    at in an earlier set of the day, which come again only if nothing else is left; `why` says in
    words how a skill is heard, for the reasons.
    """
    said = why or {}
    due = [skill for skill in due_skills(state, course, now) if skill not in done]
    weak = [skill for skill in weak_skills(state, course, now) if skill not in done and skill not in due]
    new = [skill for skill in new_skills(state, course) if skill not in done]
    unsettled = sum(
        chance(state, skill) < SETTLED_FROM for skill, _ in _met(state, course)
    )
    aims = [Aim("due", (skill,), _say_due(state, skill, now)) for skill in due[:MOST_DUE]]
    aims += [
        Aim("weak", (skill,), said.get(skill) or _say_weak(state, skill))
        for skill in weak[:MOST_WEAK]
    ]
    if unsettled < UNSETTLED or not aims:
        aims += [
            Aim("new", (skill,), f"New: {say_skill(skill)}, next in the course.")
            for skill in new[:MOST_NEW]
        ]
    rest = [*due[MOST_DUE:], *weak[MOST_WEAK:]]
    while len(aims) < SET_ITEMS - 1 and rest:
        skill = rest.pop(0)
        if skill in due:
            aims.append(Aim("due", (skill,), _say_due(state, skill, now)))
        else:
            aims.append(Aim("weak", (skill,), said.get(skill) or _say_weak(state, skill)))
    aims = interleaved(aims, rng)
    aims += [Aim("mixed", (), "What you know, mixed as in a song.")] * (SET_ITEMS - len(aims))
    return tuple(aims)


def interleaved(aims: Sequence[Aim], rng: random.Random) -> list[Aim]:
    """The aims shuffled so that kinds take turns, what is new never first if it can be helped."""
    waiting = list(aims)
    rng.shuffle(waiting)
    ordered: list[Aim] = []
    while waiting:
        last = ordered[-1] if ordered else None
        best = min(waiting, key=lambda aim: _clash(last, aim))
        waiting.remove(best)
        ordered.append(best)
    return ordered


def _clash(last: Aim | None, aim: Aim) -> int:
    """How ill one aim follows another."""
    if last is None:
        return int(aim.kind == "new")
    same_kind = {kind_of(skill) for skill in last.skills} & {kind_of(s) for s in aim.skills}
    return 2 * bool(same_kind) + (last.kind == aim.kind)


def _say_due(state: State, skill: str, now: datetime) -> str:
    memory = state.skills[skill].memory
    days = max(0, (now - memory.last_at).days)
    ago = "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"
    return f"Due: you last had {say_skill(skill)} {ago}; it comes back before it fades."


def _say_weak(state: State, skill: str) -> str:
    right = say_rate(chance(state, skill))
    return f"Weak: {say_skill(skill)} comes out right {right}."


def say_rate(share: float) -> str:
    """A share of the time in words.

    >>> say_rate(0.66), say_rate(0.97), say_rate(0.02)
    ('about two times in three', 'nearly always', 'hardly ever')
    """
    if share >= 0.95:
        return "nearly always"
    if share <= 0.05:
        return "hardly ever"
    words = (
        (0.1, "about one time in ten"),
        (0.2, "about one time in five"),
        (0.25, "about one time in four"),
        (1 / 3, "about one time in three"),
        (0.4, "about two times in five"),
        (0.5, "about every other time"),
        (0.6, "about three times in five"),
        (2 / 3, "about two times in three"),
        (0.75, "about three times in four"),
        (0.8, "about four times in five"),
        (0.9, "about nine times in ten"),
    )
    return min(words, key=lambda word: abs(word[0] - share))[1]
