"""Tune the table of likelihoods, so that songs made with it have each fact as often as real ones.

Chords are assigned to all plans as the generator does, from worlds of the other half of the corpus
and in the styles of everyday songs. Each value is then changed by a part of the logarithm of how
much more often the fact is true of the real songs of the same plans; and again for some rounds. (A
stochastic approximation of the maximum likelihood: L. Younes, "Estimation and annealing for
Gibbsian fields", Annales de l'IHP 24, 1988.)
"""

from __future__ import annotations

import random
from collections import Counter
from math import log
from typing import Any, NamedTuple

from corpus import Song
from likelihood_tables import LEAST_VALUE, family
from plan_tables import half_of, is_usable, plan_of, ranked_chords

from trainer.generate.assign import Assignment, forget_sums
from trainer.generate.harmony import mode_name
from trainer.generate.likelihood import values_of
from trainer.generate.other_chords import copied_bars
from trainer.generate.plan_facts import Fact, facts_of
from trainer.generate.planned import FIRST_PROPOSALS, LONGEST_COPY, MORE_PROPOSALS
from trainer.generate.planned_song import WORLDS, best_of
from trainer.generate.plans import Plan, draw_world, read_plan
from trainer.generate.styles import STYLES

__all__ = ["tuned"]

# Rounds, how often each plan is filled in a round, and the seed.
ROUNDS, TURNS, SEED = 14, 4, 11
# How much of the logarithm, in thousandths, a value is changed by; less in the last rounds.
STEP, LAST_STEP, LAST_ROUNDS = 250, 120, 4
# Counts added to both sides, so that rare facts change little.
CAUTION = {"three": 8, "place": 6, "forms": 6, "kind": 4, "share": 4, "bass": 5, "instead": 6}
USUAL_CAUTION = 3
# The styles that lean to some chords, as often as everyday songs have them.
SHARES = {
    "straight pop": 0.33,
    "ballad": 0.12,
    "half-time rock": 0.09,
    "shuffle": 0.1,
    "two-beat": 0.07,
    "train beat": 0.06,
    "string-band": 0.03,
    "waltz": 0.02,
    "6/8": 0.02,
    "gospel 12/8": 0.03,
}

# Mode, group and chords of a fact.
_Key = tuple[str, str, tuple[str, ...]]


class _Known(NamedTuple):
    """A plan with its facts and the chords of its own song."""

    plan: Plan
    facts: tuple[Fact, ...]
    chords: list[str]


def tuned(songs: list[Song]) -> dict[str, Any]:
    """Return the tuned values of each mode; the table must have been written."""
    known = []
    for at, song in enumerate(songs):
        row = plan_of(song, half_of(at)) if is_usable(song) else None
        if row is not None:
            plan = read_plan(row)
            known.append(_Known(plan, facts_of(plan), ranked_chords(song)))
    real: Counter[_Key] = Counter()
    for each in known:
        real.update(_bound(each, each.chords))
    rng = random.Random(SEED)
    for number in range(ROUNDS):
        ours: Counter[_Key] = Counter()
        for _ in range(TURNS):
            for each in known:
                ours.update(_bound(each, _assigned(rng, each.plan)))
        _change(real, ours, STEP if number < ROUNDS - LAST_ROUNDS else LAST_STEP)
    groups = {key[:2] for key in real}
    return {
        mode: {group: _row(mode, group) for kind, group in sorted(groups) if kind == mode}
        for mode in ("major", "minor")
    }


def _bound(each: _Known, chords: list[str]) -> list[_Key]:
    """Return the facts of a plan with chords for its numbers."""
    mode = mode_name(each.plan.minor)
    return [
        (mode, group, tuple(chords[number] for number in numbers)) for group, numbers in each.facts
    ]


def _assigned(rng: random.Random, plan: Plan) -> list[str]:
    """Return chords for a plan, as the generator assigns them."""
    names = ["minor-key"] if plan.minor else list(SHARES)
    style = STYLES[rng.choices(names, [SHARES.get(name, 1.0) for name in names])[0]]
    tilt = tuple(sorted(style.tilt.items()))
    made = []
    for _ in range(WORLDS):
        home, *others = draw_world(rng, plan, tilt, 1.0, 1.0).forms
        made.append(Assignment(plan, home, others, style.tilt))
        made[-1].exchange(rng, FIRST_PROPOSALS)
    while True:
        taken = best_of(rng, made)
        taken.exchange(rng, MORE_PROPOSALS)
        made = [each for each in made if each is not taken]
        if not made or copied_bars(plan, dict(enumerate(taken.tokens))) <= LONGEST_COPY:
            return taken.tokens


def _change(real: Counter[_Key], ours: Counter[_Key], step: int) -> None:
    """Change the values by how often the facts are true of real songs and of ours."""
    for key in sorted(real.keys() | ours.keys()):
        mode, group, chords = key
        least = CAUTION.get(family(group).split(" ")[0], USUAL_CAUTION)
        change = step * log((real[key] + least) / (ours[key] / TURNS + least))
        values = values_of(mode, group)
        values[chords] = round(values[chords] + change)
    forget_sums()


def _row(mode: str, group: str) -> dict[str, int]:
    """Return the values of a group that are not those of its star."""
    values = values_of(mode, group)
    row = {}
    for chords, value in sorted(values.items()):
        other = values.get((*chords[:-1], "*"), 0)
        if chords[-1] == "*" or abs(value - other) >= LEAST_VALUE:
            row[" ".join(chords)] = value
    return row
