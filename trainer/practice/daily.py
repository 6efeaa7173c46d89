"""The daily set: what is due, weak and new, mixed, each with its reason.

What was mostly missed comes first, however lately it was. Then about half of a set brings back what
is due (FSRS; spaced retrieval beats massed, Latimier, Peyre & Ramus 2021, Educational Psychology
Review 33), then what is weak, then something new as long as not too much is unsettled. Until the
learner hears the first chords of the course, they come before all else. Kinds take turns
(interleaving, Wong, Chen & Lim 2021, Psychology of Music 49, for intervals heard without help).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from trainer.practice.aims import COURSE_CHORDS, FIRST_CHORDS, FIRST_IN_LEVELS, can_aim
from trainer.practice.catalogue import describe_skill, kind_of
from trainer.practice.choice import ExerciseProfile, Predictions, best_profile
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
    "longest_minutes",
    "missed_skills",
    "new_skills",
    "plan_set",
    "unsettled_basics",
    "weak_skills",
]

SET_ITEMS = 8
# The minutes of an item that aims at no skill.
MIXED_MINUTES = 1.5
# How many skills at the beginning of the course come before all others.
BASICS = 3
MOST_OF_KIND = {"due": 6, "weak": 6, "new": 3}
# While the first chords are not settled, a newcomer gets one new skill besides them.
MOST_AT_FIRST = MOST_OF_KIND | {"new": BASICS + 1}
SET_MINUTES = 10.0
# A set may be longer by this many minutes rather than have one item fewer.
OVER = 1.5
# An item may take this many times its even share of the minutes left, and always SHORTEST_MINUTES.
STRETCH = 1.5
SHORTEST_MINUTES = 1.6
# A skill seen within this time is left alone.
REST = timedelta(hours=10)
# New skills are taken from this many skills that come next in the course.
READY = 20
UNSETTLED = 20
WEAK_BELOW = 0.82
SETTLED_FROM = 0.7
LEAST_BARS = 4
# A skill that is heard less often than this counts as missed.
MISSED_BELOW = 0.5
# Basic skills met in this many bars are weighed as the others are.
BASIC_BARS = 24
# With this many aims at skills, less than half of a set aims at no skill.
ENOUGH_AIMS = 4
# With fewer bars than this, a rate means nothing.
LEAST_BARS_FOR_RATE = 5
# A reason names at most this many chords.
NAMED = 6
# A skill that is due within this time is reviewed now.
TODAY = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class Aim:
    """What an item of a set is for: "due", "weak", "new", "mixed", "placement" or "more"; the
    skills it is aimed at; and the reason in words."""

    kind: str
    skills: tuple[str, ...]
    reason: str


def due_skills(state: LearnerState, course: Iterable[str], now: datetime) -> list[str]:
    """Skills that should be reviewed today, the one with the lowest retrievability first."""
    due = [
        (retrievability(each.memory, now), each.memory.due, skill)
        for skill, each in _met(state, course)
        if each.memory.due <= now + TODAY and now - each.memory.last_at >= REST
    ]
    return [skill for _, _, skill in sorted(due)]


def weak_skills(
    state: LearnerState, course: Iterable[str], now: datetime, *, rested: bool = True
) -> list[str]:
    """Skills that were met and are not heard well, the weakest first.

    `rested` leaves out those met within `REST`.
    """
    met = [
        (success_probability(state, skill, (), now), skill)
        for skill, each in _met(state, course)
        if each.bars >= LEAST_BARS and (not rested or now - each.memory.last_at >= REST)
    ]
    return [skill for right, skill in sorted(met) if right < WEAK_BELOW]


def missed_skills(
    state: LearnerState, course: Iterable[str], now: datetime, done: frozenset[str] = frozenset()
) -> list[str]:
    """Skills that were met and mostly missed, however lately, the weakest first.

    A skill in `done`, aimed at earlier in the day, is among them only where it was missed there.
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
    """Whether a skill was mostly missed: by its credit in the first few bars, later by its
    rating."""
    met = state.skills.get(skill)
    if met is None:
        return False
    if met.bars < LEAST_BARS_FOR_RATE:
        return met.credit < MISSED_BELOW * met.bars
    return success_probability(state, skill, (), now) < MISSED_BELOW


def unsettled_basics(state: LearnerState, course: Sequence[str], now: datetime) -> list[str]:
    """Those of the first skills of the course, in order, that are not settled and were not met
    often."""
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
    """Skills that were never met and that sets bring, in the order of the course."""
    return [
        skill
        for skill in course
        if skill not in state.skills and can_aim(skill) and skill not in FIRST_IN_LEVELS
    ]


def plan_set(
    state: LearnerState,
    course: Sequence[str],
    profiles_for: Callable[[str], Sequence[ExerciseProfile]],
    now: datetime,
    rng: random.Random,
    *,
    done: frozenset[str] = frozenset(),
    explanations: Mapping[str, str] | None = None,
) -> tuple[Aim, ...]:
    """The aims of a set, in the order in which they come.

    Due, weak and new skills are weighed by the gain predicted for their exercises
    (`choice.Prediction`). The first chords of the course come first while they are not settled,
    then the missed skill with the highest gain. One aim of each kind is taken if there is one;
    of the new skills, the next in the course.

    Parameters
    ----------
    course : skills in the order in which they are introduced.
    profiles_for : gives the profiles of the exercises for a skill, at least one.
    done : skills aimed at in an earlier set of the day; they are left out.
    explanations : for some skills, a sentence on how they are heard; for the reasons.
    """
    predictions, sentences = Predictions(state, now), explanations or {}
    weighed = _weighed(
        _possible_aims(state, course, now, done, sentences), profiles_for, predictions
    )
    by_skill = {each.aim.skills[0]: each for each in weighed}
    basics = [by_skill[s] for s in unsettled_basics(state, course, now) if s in by_skill]
    missed = [by_skill[s] for s in missed_skills(state, course, now, done) if s in by_skill]
    # Simulated learners, who miss many skills, gained less with every further one brought back.
    missed = sorted(missed, key=lambda each: -each.gain)[:1]
    next_new = [each for each in weighed if each.aim.kind == "new"][:1]
    weighed.sort(key=lambda each: -each.gain)
    firsts = (next((w for w in weighed if w.aim.kind == kind), None) for kind in ("due", "weak"))
    again = _weighed(
        _unrested_weak(state, course, now, done | by_skill.keys(), sentences),
        profiles_for,
        predictions,
    )
    taken: list[_Weighed] = []
    for each in (*basics, *missed, *next_new, *filter(None, firsts), *weighed, *again):
        if each not in taken and _fits(each, taken, MOST_AT_FIRST if basics else MOST_OF_KIND):
            taken.append(each)
    left = SET_MINUTES - sum(each.minutes for each in taken)
    room = min(SET_ITEMS - len(taken), int(left / MIXED_MINUTES))
    room = min(room, len(taken) - 1) if len(taken) >= ENOUGH_AIMS else room
    head = [each.aim for each in taken if each in basics]
    rest = interleave([each.aim for each in taken if each not in basics], rng)
    return (*head, *rest, *[_mixed(state)] * max(0, room))


def _mixed(state: LearnerState) -> Aim:
    """The aim of an item that aims at no skill; its reason names the chords that were met.

    The first chords of the course are named too. Where one of them was not met yet, the set brings
    it as new, and the reason does not say that the learner has had it.
    """
    firsts = COURSE_CHORDS[:FIRST_CHORDS]
    met = [chord for chord in COURSE_CHORDS if f"chord {chord}" in state.skills]
    *others, last = [c for c in COURSE_CHORDS if c in firsts or c in met][:NAMED]
    chords = f"{', '.join(others)} and {last}"
    if set(firsts) <= set(met):
        return Aim("mixed", (), f"The chords you've had so far, mixed as in a song: {chords}.")
    return Aim("mixed", (), f"All together, as in a song: {chords}.")


class _Weighed(NamedTuple):
    """An aim with the gain and minutes of its best exercise, and all of its candidates."""

    aim: Aim
    gain: float
    minutes: float
    candidates: Sequence[ExerciseProfile]


def _weighed(
    aims: Iterable[Aim],
    profiles_for: Callable[[str], Sequence[ExerciseProfile]],
    predictions: Predictions,
) -> list[_Weighed]:
    found = []
    for aim in aims:
        profiles = profiles_for(aim.skills[0])
        place, prediction = best_profile(predictions, profiles, aim.skills)
        found.append(_Weighed(aim, prediction.gain, profiles[place].minutes, profiles))
    return found


def _fits(each: _Weighed, taken: Sequence[_Weighed], most: Mapping[str, int]) -> bool:
    """Whether a set has room for another aim, in number and time, and has not its exercises yet."""
    kinds = Counter(other.aim.kind for other in taken)
    minutes = sum(other.minutes for other in taken) + each.minutes
    return (
        len(taken) < SET_ITEMS
        and kinds[each.aim.kind] < most[each.aim.kind]
        and (not taken or minutes <= SET_MINUTES + OVER)
        and all(each.candidates != other.candidates for other in taken)
    )


def _possible_aims(
    state: LearnerState,
    course: Sequence[str],
    now: datetime,
    done: frozenset[str],
    explanations: Mapping[str, str],
) -> list[Aim]:
    """All aims that a set might have, each skill once."""
    basics = unsettled_basics(state, course, now)
    met = [skill for skill in basics if skill in state.skills and skill not in done]
    missed = missed_skills(state, course, now, done)
    weak = [skill for skill in weak_skills(state, course, now) if skill not in done]
    weak = list(dict.fromkeys((*met, *missed, *weak)))
    due = [s for s in due_skills(state, course, now) if s not in done and s not in weak]
    new = [skill for skill in new_skills(state, course) if skill not in done]
    unsettled = sum(
        success_probability(state, skill) < SETTLED_FROM for skill, _ in _met(state, course)
    )
    found = [Aim("due", (s,), _describe_due(state, s, now)) for s in due]
    found += [_weak(state, s, explanations) for s in weak]
    if unsettled < UNSETTLED or not found:
        # A single chord that is not settled does not delay what is new.
        ready = len([s for s in basics if s in new]) + 1 if len(basics) > 1 else READY
        found += [Aim("new", (s,), f"New to you: {describe_skill(s)}.") for s in new[:ready]]
    return found


def _unrested_weak(
    state: LearnerState,
    course: Sequence[str],
    now: datetime,
    but: Collection[str],
    explanations: Mapping[str, str],
) -> list[Aim]:
    """Aims at weak skills that were met lately; they are used where nothing else is left."""
    return [
        _weak(state, skill, explanations)
        for skill in weak_skills(state, course, now, rested=False)
        if skill not in but and success_probability(state, skill, (), now) < SETTLED_FROM
    ]


def _weak(state: LearnerState, skill: str, explanations: Mapping[str, str]) -> Aim:
    return Aim("weak", (skill,), _describe_weak(state, skill, explanations.get(skill, "")))


def longest_minutes(spent: float, waiting: int) -> float:
    """How many minutes the next item of a set may take.

    `spent` are the minutes of the items that are done, `waiting` counts those that are not, the
    next one included.
    """
    return max(SHORTEST_MINUTES, STRETCH * (SET_MINUTES - spent) / waiting)


def interleave(aims: Sequence[Aim], rng: random.Random) -> list[Aim]:
    """The aims shuffled so that kinds take turns; a new skill comes first only where all are
    new."""
    waiting = list(aims)
    rng.shuffle(waiting)
    ordered: list[Aim] = []
    while waiting:
        last = ordered[-1] if ordered else None
        best = min(waiting, key=lambda aim: _likeness(last, aim))
        waiting.remove(best)
        ordered.append(best)
    return ordered


def _likeness(last: Aim | None, aim: Aim) -> int:
    """How much alike an aim is to the one before it; a new skill also counts as alike at the
    start."""
    if last is None:
        return int(aim.kind == "new")
    same_kind = {kind_of(skill) for skill in last.skills} & {kind_of(s) for s in aim.skills}
    return 2 * bool(same_kind) + (last.kind == aim.kind)


def _describe_due(state: LearnerState, skill: str, now: datetime) -> str:
    memory = state.skills[skill].memory
    days = max(0, round((now - memory.last_at) / timedelta(days=1)))
    ago = "today" if days == 0 else "yesterday" if days == 1 else f"{days} days ago"
    return f"Due again: {describe_skill(skill)}. You last heard this {ago}."


def _describe_weak(state: LearnerState, skill: str, explanation: str) -> str:
    met, name = state.skills[skill], describe_skill(skill)
    if met.bars < LEAST_BARS_FOR_RATE:
        bars = f"{met.bars} bar{'s' * (met.bars != 1)}"
        is_right = met.credit > met.bars - 0.5
        right = met.bars if is_right else int(met.credit + 1e-9)
        opening = "Too few bars to tell" if is_right else "Needs work"
        return f"{opening}: {name}. You've got {right} of {bars} right so far."
    if explanation:
        return f"Needs work: {explanation[:1].lower()}{explanation[1:]}"
    rate = describe_rate(success_probability(state, skill))
    return f"Needs work: {name}. You get this right {rate}."


def describe_exposure(bars: int) -> str:
    """The sentence on a skill that was met in too few bars for a rate.

    >>> describe_exposure(1), describe_exposure(2)
    ('Too few bars to tell: only 1 so far.', 'Too few bars to tell: only 2 so far.')
    """
    return f"Too few bars to tell: only {bars} so far."


def describe_rate(share: float) -> str:
    """A share of the time in words.

    >>> describe_rate(0.66), describe_rate(0.97), describe_rate(0.02)
    ('about two times in three', 'nearly every time', 'less than one time in ten')
    """
    if share >= 0.95:
        return "nearly every time"
    if share <= 0.05:
        return "less than one time in ten"
    words = (
        (0.1, "about one time in ten"),
        (0.2, "about one time in five"),
        (0.25, "about one time in four"),
        (1 / 3, "about one time in three"),
        (0.4, "about two times in five"),
        (0.5, "about half the time"),
        (0.6, "about three times in five"),
        (2 / 3, "about two times in three"),
        (0.75, "about three times in four"),
        (0.8, "about four times in five"),
        (0.9, "about nine times in ten"),
    )
    return min(words, key=lambda word: abs(word[0] - share))[1]
