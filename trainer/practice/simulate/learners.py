"""Learners with known abilities, made of other formulas than the estimate.

answering   a part of a bar is right with chance guess + (1 - guess - slip) Φ(competence - load):
            a normal ogive with guessing and slips (Corbett & Anderson 1994 for the two). The load
            of a bar's features is each learner's own.
keeping     every practised bar leaves a trace that fades as a power of its age, and what adds up
            counts by its logarithm (Anderson & Schooler 1991, Psychological Science 2). A trace
            laid while the skill is fresh fades faster (Pavlik & Anderson 2005, Cognitive Science
            29), which is what makes spacing pay.
learning    how strong a trace is depends on how hard the bar was: x φ(x) where the chance is Φ(x),
            the gain of a learner by gradient in Wilson et al. 2019 (Nature Communications 10:4646),
            never below a tenth of its best: the chart is shown afterwards.

All sizes are drawn per learner. The forms are from memory of the sources; the sizes are ours.

`KINDS` has learners for whom one of these is otherwise: they show what the set does where its
idea of a learner is wrong.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from math import erfc, exp, log, sqrt
from statistics import NormalDist

from trainer.practice.catalogue import COMPONENT_KINDS, difficulty, kind_of
from trainer.practice.choice import ExerciseProfile
from trainer.practice.evidence import BarEvidence
from trainer.practice.situation import FEATURES

__all__ = ["KINDS", "SimulatedAnswer", "SimulatedLearner", "draw_learner"]

KINDS = {
    "as published": "the forms above",
    "any difficulty": "a bar teaches the same however hard it is",
    "from mistakes": "what came out wrong teaches three times what came out right does",
    "lapses": "now and then a whole bar is lost, all of its parts together",
    "crammer": "spacing makes no difference: all traces fade alike",
}
_UNIT = NormalDist()
# Logits to the scale of a normal ogive.
SCALE = 1.7
LAPSES = 0.05
LEAST_GAIN = 0.1


def ogive(x: float) -> float:
    """Φ(x), the distribution function of the standard normal distribution."""
    return 0.5 * erfc(-x / sqrt(2))


@lru_cache(maxsize=4096)
def _gain_at(hundredth: int) -> float:
    """The gain x φ(x) relative to its maximum, for a probability in hundredths."""
    x = _UNIT.inv_cdf(min(max(hundredth / 100, 0.01), 0.99))
    return max(LEAST_GAIN, x * exp((1 - x * x) / 2))


@dataclass(slots=True)
class SimulatedAnswer:
    """The answer to an exercise.

    `bars` are its evidence; `parts` has the skill, the features, the true probability and the
    outcome (0 or 1) of each part; `right` is the number of bars right.
    """

    bars: list[BarEvidence] = field(default_factory=list)
    parts: list[tuple[str, tuple[float, ...], float, float]] = field(default_factory=list)
    right: float = 0.0


@dataclass(slots=True)
class SimulatedLearner:
    """One simulated learner.

    `kind` is one of `KINDS`; `baseline` is the competence in each skill before practice, on the
    scale of the ogive; `load` has a weight for each of `situation.FEATURES` and `crowd` one for
    splits at a quick tempo; `guess` and `slip` are probabilities; `pace` is the strength of a
    trace, `grasp` what traces add to competence; `decay` and `spacing` say how traces fade.
    `traces` holds (day, strength, decay) of every practice of a skill.
    """

    kind: str
    rng: random.Random
    baseline: dict[str, float]
    load: tuple[float, ...]
    crowd: float
    guess: float
    slip: float
    pace: float
    grasp: float
    decay: float
    spacing: float
    traces: dict[str, list[tuple[float, float, float]]] = field(default_factory=dict)
    _traces_left: dict[str, float] = field(default_factory=dict)
    _day: float = -1.0

    def trace(self, skill: str, day: float) -> float:
        """The sum of the traces of a skill that are left on a day."""
        if day != self._day:
            self._traces_left.clear()
            self._day = day
        found = self._traces_left.get(skill)
        if found is None:
            found = sum(
                strength * (day - at + 1.0) ** -decay
                for at, strength, decay in self.traces.get(skill, ())
            )
            self._traces_left[skill] = found
        return found

    def competence(self, skill: str, day: float) -> float:
        """The competence on a day, on the scale of the ogive."""
        return self.baseline[skill] + self.grasp * log(1 + self.trace(skill, day))

    def true_probability(self, skill: str, features: tuple[float, ...], day: float) -> float:
        """The true probability that a part of a bar comes out right."""
        load = sum(map(float.__mul__, self.load, features)) + self.crowd * features[0] * features[4]
        spread = 1 - self.guess - self.slip
        return self.guess + spread * ogive(self.competence(skill, day) - load)

    def ability(self, skill: str, day: float) -> float:
        """The ability in an ordinary bar, in logits: what a rating should estimate."""
        right = self.true_probability(skill, (0.0,) * len(FEATURES), day)
        return log(right / (1 - right))

    def answer(self, profile: ExerciseProfile, day: float) -> SimulatedAnswer:
        """Answer an exercise and learn from it."""
        found = SimulatedAnswer()
        learnt: dict[str, float] = {}
        probabilities: dict[tuple[str, tuple[float, ...]], float] = {}
        for (features, skills), count in profile.bars:
            for _ in range(count):
                self._bar(features, skills, day, found, learnt, probabilities)
        for skill, gain in learnt.items():
            fresh = self.trace(skill, day)
            decay = self.decay + self.spacing * fresh / (1 + fresh)
            self.traces.setdefault(skill, []).append((day, gain * self.pace, decay))
        self._traces_left.clear()
        return found

    def _bar(
        self,
        features: tuple[float, ...],
        skills: Iterable[str],
        day: float,
        found: SimulatedAnswer,
        learnt: dict[str, float],
        probabilities: dict[tuple[str, tuple[float, ...]], float],
    ) -> None:
        lapsed = self.kind == "lapses" and self.rng.random() < LAPSES
        shown = []
        right, parts = 0.0, 0
        for skill in skills:
            key = skill, features
            true = probabilities.get(key)
            if true is None:
                true = probabilities[key] = self.true_probability(skill, features, day)
            came_out = float(not lapsed and self.rng.random() < true)
            really = true * (1 - LAPSES) if self.kind == "lapses" else true
            shown.append((skill, came_out))
            found.parts.append((skill, features, really, came_out))
            learnt[skill] = learnt.get(skill, 0.0) + self._gain(true, came_out)
            if kind_of(skill) in COMPONENT_KINDS:
                right += came_out
                parts += 1
        found.right += right / parts if parts else 1.0
        found.bars.append(BarEvidence(features, tuple(shown)))

    def _gain(self, true: float, came_out: float) -> float:
        if self.kind == "any difficulty":
            return 0.7
        if self.kind == "from mistakes":
            return 0.5 if came_out else 1.5
        return _gain_at(round(true * 100))


def draw_learner(kind: str, skills: Iterable[str], rng: random.Random) -> SimulatedLearner:
    """A learner of a kind, all numbers drawn at random."""
    level = rng.gauss(0.1, 0.5)
    baseline = {
        skill: level - difficulty(skill) / SCALE * rng.uniform(0.5, 1.5) + rng.gauss(0, 0.3)
        for skill in sorted(skills)
    }
    load = tuple(
        max(0.0, weight / SCALE * rng.uniform(0.4, 1.6) + rng.gauss(0, 0.08))
        for weight in FEATURES.values()
    )
    return SimulatedLearner(
        kind=kind,
        rng=rng,
        baseline=baseline,
        load=load,
        crowd=rng.uniform(0, 0.3),
        guess=rng.uniform(0.02, 0.08),
        slip=rng.uniform(0.01, 0.03),
        pace=rng.uniform(0.05, 0.15),
        grasp=rng.uniform(0.4, 0.7),
        decay=rng.uniform(0.25, 0.4),
        spacing=0.0 if kind == "crammer" else rng.uniform(0.2, 0.5),
    )
