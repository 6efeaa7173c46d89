"""The daily set: what is due, what is weak, what is new, mixed, each with its reason.

About half of a set brings back what is due (FSRS; spaced retrieval beats massed, Latimier, Peyre &
Ramus 2021, Educational Psychology Review 33), then what is weakest, then one new thing as long as
not too much is unsettled. Kinds take turns (interleaving, Wong, Chen & Lim 2021, Psychology of
Music 49, for intervals heard without help).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from trainer.practice.aims import can_aim
from trainer.practice.catalogue import kind_of, say_skill
from trainer.practice.choice import Outlooks, Profile, nearest
from trainer.practice.memory import kept
from trainer.practice.rating import Skill, State, chance

__all__ = ["MINUTES", "Aim", "due_skills", "new_skills", "plan_set", "say_rate", "weak_skills"]

SET_ITEMS = 8
# What an item takes that aims at nothing.
MIXED_MINUTES = 1.5
MOST = {"due": 6, "weak": 6, "new": 3}
MINUTES = 10.0
# A set may run over its time by so much rather than end with an item fewer.
OVER = 1.5
# A skill seen within this time is left alone.
REST = timedelta(hours=10)
# How far ahead in the course something new may be.
READY = 5
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
        if each.memory.due <= now + TODAY and now - each.memory.last_at >= REST
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
    offers: Callable[[str], Sequence[Profile]],
    now: datetime,
    rng: random.Random,
    *,
    done: frozenset[str] = frozenset(),
    why: Mapping[str, str] | None = None,
) -> tuple[Aim, ...]:
    """The aims of a set, in the order in which they come.

    What is due, weak or new is weighed by what the exercises on offer for it may teach
    (`choice.Outlook.worth`). One of each kind is taken where there is one, of the new the next in
    the course.

    Parameters
    ----------
    course : skills in the order in which they are introduced.
    offers : exercises that may be given for a skill, at least one.
    done : skills aimed at in an earlier set of the day; they are left out.
    why : in words, how a skill is heard; for the reasons.
    """
    found = _candidates(state, course, now, done, why or {})
    weighed = _weighed(found, offers, Outlooks(state, now))
    next_new = [each for each in weighed if each.aim.kind == "new"][:1]
    weighed.sort(key=lambda each: -each.worth)
    firsts = (next((w for w in weighed if w.aim.kind == kind), None) for kind in ("due", "weak"))
    taken: list[_Weighed] = []
    for each in (*next_new, *filter(None, firsts), *weighed):
        if _fits(each, taken):
            taken.append(each)
    left = MINUTES - sum(each.minutes for each in taken)
    room = min(SET_ITEMS - len(taken), int(left / MIXED_MINUTES))
    mixed = Aim("mixed", (), "What you know, mixed as in a song.")
    return (*interleaved([each.aim for each in taken], rng), *[mixed] * max(0, room))


class _Weighed(NamedTuple):
    """An aim with what its best exercise may teach a minute, how long it takes, and all of them."""

    aim: Aim
    worth: float
    minutes: float
    offers: Sequence[Profile]


def _weighed(
    aims: Iterable[Aim], offers: Callable[[str], Sequence[Profile]], outlooks: Outlooks
) -> list[_Weighed]:
    found = []
    for aim in aims:
        profiles = offers(aim.skills[0])
        place, outlook = nearest(outlooks, profiles, aim.skills)
        found.append(_Weighed(aim, outlook.worth, profiles[place].minutes, profiles))
    return found


def _fits(each: _Weighed, taken: Sequence[_Weighed]) -> bool:
    """Whether a set has room for another aim: in number and time, and not the same over again."""
    kinds = Counter(other.aim.kind for other in taken)
    minutes = sum(other.minutes for other in taken) + each.minutes
    return (
        len(taken) < SET_ITEMS
        and kinds[each.aim.kind] < MOST[each.aim.kind]
        and (not taken or minutes <= MINUTES + OVER)
        and all(each.offers != other.offers for other in taken)
    )


def _candidates(
    state: State,
    course: Sequence[str],
    now: datetime,
    done: frozenset[str],
    said: Mapping[str, str],
) -> list[Aim]:
    """All that a set might be for."""
    weak = [skill for skill in weak_skills(state, course, now) if skill not in done]
    due = [s for s in due_skills(state, course, now) if s not in done and s not in weak]
    new = [skill for skill in new_skills(state, course) if skill not in done]
    unsettled = sum(chance(state, skill) < SETTLED_FROM for skill, _ in _met(state, course))
    found = [Aim("due", (s,), _say_due(state, s, now)) for s in due]
    found += [Aim("weak", (s,), said.get(s) or _say_weak(state, s)) for s in weak]
    if unsettled < UNSETTLED or not found:
        found += [
            Aim("new", (s,), f"New: {say_skill(s)}, {_when(s == new[0])} in the course.")
            for s in new[:READY]
        ]
    return found


def _when(is_next: bool) -> str:
    return "next" if is_next else "soon"


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
    days = max(0, round((now - memory.last_at) / timedelta(days=1)))
    ago = "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"
    return f"Due: {say_skill(skill)}, last heard {ago}; heard again before it fades."


def _say_weak(state: State, skill: str) -> str:
    right = say_rate(chance(state, skill))
    return f"Weak: {say_skill(skill)}, right {right}."


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
