"""The daily set: what is due, what is weak, what is new, mixed, each with its reason.

First comes what was mostly missed, however lately, then about half of a set brings back what is
due (FSRS; spaced retrieval beats massed, Latimier, Peyre & Ramus 2021, Educational Psychology
Review 33), then what is weak, then something new as long as not too much is unsettled. Until the
first chords of the course are heard they come before all else. Kinds take turns (interleaving,
Wong, Chen & Lim 2021, Psychology of Music 49, for intervals heard without help).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from trainer.practice.aims import COURSE_CHORDS, FIRST, can_aim
from trainer.practice.catalogue import describe_skill, kind_of
from trainer.practice.choice import Predictions, Profile, nearest
from trainer.practice.memory import retrievability
from trainer.practice.rating import LearnerState, SkillState, success_probability

__all__ = [
    "LEAST_BARS_FOR_RATE",
    "SET_MINUTES",
    "Aim",
    "describe_exposure",
    "describe_rate",
    "due_skills",
    "is_missed",
    "missed_skills",
    "new_skills",
    "open_basics",
    "plan_set",
    "weak_skills",
]

SET_ITEMS = 8
# What an item takes that aims at nothing.
MIXED_MINUTES = 1.5
# How many skills at the head of the course come before all else.
BASICS = 3
MOST = {"due": 6, "weak": 6, "new": 3}
# With the first chords a newcomer is given one thing more.
MOST_AT_FIRST = MOST | {"new": BASICS + 1}
SET_MINUTES = 10.0
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
# Heard less often than that, a skill counts as missed.
MISSED_BELOW = 0.5
# How many of what was missed a set brings back before it weighs: two of up to six, else one. More
# cost simulated learners, who have many, some 4 % of what they gain each.
FEW_MISSED = ((6, 2),)
# Met in so many bars they are weighed as the others are.
BASIC_BARS = 24
# With so many aims what aims at nothing is less than half of a set.
ENOUGH_AIMS = 4
# Fewer bars than that say nothing about a rate.
LEAST_BARS_FOR_RATE = 5
# So many chords are named in a reason.
NAMED = 6
# What falls due later today is done now.
TODAY = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class Aim:
    """What an item of a set is for: "due", "weak", "new", "mixed" or "placement", and why."""

    kind: str
    skills: tuple[str, ...]
    reason: str


def due_skills(state: LearnerState, course: Iterable[str], now: datetime) -> list[str]:
    """Skills that should come back today, what has faded most first."""
    due = [
        (retrievability(each.memory, now), each.memory.due, skill)
        for skill, each in _met(state, course)
        if each.memory.due <= now + TODAY and now - each.memory.last_at >= REST
    ]
    return [skill for _, _, skill in sorted(due)]


def weak_skills(
    state: LearnerState, course: Iterable[str], now: datetime, *, rested: bool = True
) -> list[str]:
    """Skills that were met and are not heard well, the weakest first; `rested` leaves out those met
    within `REST`."""
    met = [
        (success_probability(state, skill, (), now), skill)
        for skill, each in _met(state, course)
        if each.bars >= LEAST_BARS and (not rested or now - each.memory.last_at >= REST)
    ]
    return [skill for right, skill in sorted(met) if right < WEAK_BELOW]


def missed_skills(
    state: LearnerState, course: Iterable[str], now: datetime, done: frozenset[str] = frozenset()
) -> list[str]:
    """Skills that were met and mostly missed, the weakest first, however lately it was.

    One of `done`, aimed at earlier in the day, comes again only where it was missed there.
    """
    return [
        skill
        for _, skill in sorted(
            (success_probability(state, skill, (), now), skill) for skill, _ in _met(state, course)
        )
        if is_missed(state, skill, now)
        and (skill not in done or now - state.skills[skill].memory.last_at < REST)
    ]


def is_missed(state: LearnerState, skill: str, now: datetime) -> bool:
    """Whether a skill was mostly missed: in its first few bars; later, by how it is heard."""
    met = state.skills.get(skill)
    if met is None:
        return False
    if met.bars < LEAST_BARS_FOR_RATE:
        return met.credit < MISSED_BELOW * met.bars
    return success_probability(state, skill, (), now) < MISSED_BELOW


def open_basics(state: LearnerState, course: Sequence[str], now: datetime) -> list[str]:
    """The first skills of the course, in order, that are not settled and were not met often."""
    return [
        skill
        for skill in course[:BASICS]
        if skill not in state.skills
        or (
            state.skills[skill].bars < BASIC_BARS
            and success_probability(state, skill, (), now) < SETTLED_FROM
        )
    ]


def _met(state: LearnerState, course: Iterable[str]) -> Iterator[tuple[str, SkillState]]:
    """The skills of the course that were met and can be aimed at."""
    for skill in course:
        found = state.skills.get(skill)
        if found is not None and can_aim(skill):
            yield skill, found


def new_skills(state: LearnerState, course: Sequence[str]) -> list[str]:
    """Skills never met, in the order of the course."""
    return [skill for skill in course if skill not in state.skills and can_aim(skill)]


def plan_set(
    state: LearnerState,
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
    (`choice.Prediction`). The first chords of the course come first while they are not settled,
    then, of what was mostly missed, what is worth most. One of each kind is taken where there is
    one, of the new the next in the course.

    Parameters
    ----------
    course : skills in the order in which they are introduced.
    offers : exercises that may be given for a skill, at least one.
    done : skills aimed at in an earlier set of the day; they are left out.
    why : in words, how a skill is heard; for the reasons.
    """
    predictions, said = Predictions(state, now), why or {}
    weighed = _weighed(_candidates(state, course, now, done, said), offers, predictions)
    by_skill = {each.aim.skills[0]: each for each in weighed}
    basics = [by_skill[s] for s in open_basics(state, course, now) if s in by_skill]
    missed = [by_skill[s] for s in missed_skills(state, course, now, done) if s in by_skill]
    most = next((most for few, most in FEW_MISSED if len(missed) <= few), 1)
    missed = sorted(missed, key=lambda each: -each.worth)[:most]
    next_new = [each for each in weighed if each.aim.kind == "new"][:1]
    weighed.sort(key=lambda each: -each.worth)
    firsts = (next((w for w in weighed if w.aim.kind == kind), None) for kind in ("due", "weak"))
    again = _weighed(
        _unrested(state, course, now, done | by_skill.keys(), said), offers, predictions
    )
    taken: list[_Weighed] = []
    for each in (*basics, *missed, *next_new, *filter(None, firsts), *weighed, *again):
        if each not in taken and _fits(each, taken, MOST_AT_FIRST if basics else MOST):
            taken.append(each)
    left = SET_MINUTES - sum(each.minutes for each in taken)
    room = min(SET_ITEMS - len(taken), int(left / MIXED_MINUTES))
    room = min(room, len(taken) - 1) if len(taken) >= ENOUGH_AIMS else room
    head = [each.aim for each in taken if each in basics]
    rest = interleaved([each.aim for each in taken if each not in basics], rng)
    return (*head, *rest, *[_mixed(state)] * max(0, room))


def _mixed(state: LearnerState) -> Aim:
    """An item that aims at nothing, of the chords that were met."""
    met = [
        chord
        for chord in COURSE_CHORDS
        if chord in COURSE_CHORDS[:FIRST] or f"chord {chord}" in state.skills
    ]
    *others, last = met[:NAMED]
    return Aim("mixed", (), f"What you know: {', '.join(others)} and {last}, mixed as in a song.")


class _Weighed(NamedTuple):
    """An aim with what its best exercise may teach a minute, how long it takes, and all of them."""

    aim: Aim
    worth: float
    minutes: float
    offers: Sequence[Profile]


def _weighed(
    aims: Iterable[Aim], offers: Callable[[str], Sequence[Profile]], predictions: Predictions
) -> list[_Weighed]:
    found = []
    for aim in aims:
        profiles = offers(aim.skills[0])
        place, prediction = nearest(predictions, profiles, aim.skills)
        found.append(_Weighed(aim, prediction.worth, profiles[place].minutes, profiles))
    return found


def _fits(each: _Weighed, taken: Sequence[_Weighed], most: Mapping[str, int]) -> bool:
    """Whether a set has room for another aim: in number and time, and not the same over again."""
    kinds = Counter(other.aim.kind for other in taken)
    minutes = sum(other.minutes for other in taken) + each.minutes
    return (
        len(taken) < SET_ITEMS
        and kinds[each.aim.kind] < most[each.aim.kind]
        and (not taken or minutes <= SET_MINUTES + OVER)
        and all(each.offers != other.offers for other in taken)
    )


def _candidates(
    state: LearnerState,
    course: Sequence[str],
    now: datetime,
    done: frozenset[str],
    said: Mapping[str, str],
) -> list[Aim]:
    """All that a set might be for, each skill once."""
    basics = open_basics(state, course, now)
    met = [skill for skill in basics if skill in state.skills and skill not in done]
    missed = missed_skills(state, course, now, done)
    weak = [skill for skill in weak_skills(state, course, now) if skill not in done]
    weak = list(dict.fromkeys((*met, *missed, *weak)))
    due = [s for s in due_skills(state, course, now) if s not in done and s not in weak]
    new = [skill for skill in new_skills(state, course) if skill not in done]
    unsettled = sum(
        success_probability(state, skill) < SETTLED_FROM for skill, _ in _met(state, course)
    )
    found = [Aim("due", (s,), _say_due(state, s, now)) for s in due]
    found += [_weak(state, s, said) for s in weak]
    if unsettled < UNSETTLED or not found:
        # One chord that is not settled holds nothing back.
        ready = len([s for s in basics if s in new]) + 1 if len(basics) > 1 else READY
        found += [Aim("new", (s,), f"New: {describe_skill(s)}, not met yet.") for s in new[:ready]]
    return found


def _unrested(
    state: LearnerState,
    course: Sequence[str],
    now: datetime,
    but: Collection[str],
    said: Mapping[str, str],
) -> list[Aim]:
    """What is not heard well and was met too lately to come first, but rather than nothing."""
    return [
        _weak(state, skill, said)
        for skill in weak_skills(state, course, now, rested=False)
        if skill not in but and success_probability(state, skill, (), now) < SETTLED_FROM
    ]


def _weak(state: LearnerState, skill: str, said: Mapping[str, str]) -> Aim:
    return Aim("weak", (skill,), _say_weak(state, skill, said.get(skill, "")))


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


def _say_due(state: LearnerState, skill: str, now: datetime) -> str:
    memory = state.skills[skill].memory
    days = max(0, round((now - memory.last_at) / timedelta(days=1)))
    ago = "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"
    return f"Due: {describe_skill(skill)}, last heard {ago}; heard again before it fades."


def _say_weak(state: LearnerState, skill: str, said: str) -> str:
    met = state.skills[skill]
    if met.bars < LEAST_BARS_FOR_RATE:
        bars = f"{met.bars} bar{'s' * (met.bars != 1)}"
        if met.credit > met.bars - 0.5:
            return f"Met little: {describe_skill(skill)}, right in the {bars} there were."
        return f"Weak: {describe_skill(skill)}, right in {int(met.credit + 1e-9)} of {bars} so far."
    if said:
        return f"Weak: {said[:1].lower()}{said[1:]}"
    return (
        f"Weak: {describe_skill(skill)}, right {describe_rate(success_probability(state, skill))}."
    )


def describe_exposure(bars: int) -> str:
    """What is said of a skill met in too few bars for a rate.

    >>> describe_exposure(1), describe_exposure(2)
    ('Met in 1 bar: too early to say.', 'Met in 2 bars: too early to say.')
    """
    return f"Met in {bars} bar{'s' * (bars != 1)}: too early to say."


def describe_rate(share: float) -> str:
    """A share of the time in words.

    >>> describe_rate(0.66), describe_rate(0.97), describe_rate(0.02)
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
