"""What makes the same skill harder in one bar than in another, as numbers.

Every feature is 0 in the ordinary bar that ratings are stated for: one chord in a bar of a section
of twelve bars and five chords at 100 beats a minute, three listens, no help. What is easier has a
feature below 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log2
from typing import Any

from trainer.exercise import Exercise

__all__ = ["FEATURES", "Situation", "bar_features", "exercise_situation", "situation_of"]

# Feature -> how many logits harder it makes a bar at first (common practice, no source; the
# learner's own bars correct it).
FEATURES: dict[str, float] = {
    "split": 0.5,
    "slash": 0.4,
    "colour": 0.3,
    "articulation": 0.2,
    "quick": 0.5,
    "long": 0.5,
    "few listens": 0.6,
    "no help": 0.4,
    "many chords": 0.3,
}
ORDINARY_TEMPO = 100.0
ORDINARY_BARS = 12
ORDINARY_CHORDS = 5
ORDINARY_LISTENS = 3


@dataclass(frozen=True, slots=True)
class Situation:
    """How an exercise is heard: the features that all of its bars share, each about -1 to 1."""

    quick: float = 0.0
    long: float = 0.0
    few_listens: float = 0.0
    no_help: float = 0.0
    many_chords: float = 0.0


def exercise_situation(exercise: Exercise, *, tempo_ratio: float = 1.0) -> Situation:
    """How an exercise is heard, played at `tempo_ratio` times its tempo."""
    bars = exercise.chart.bars()
    chords = {
        (event.chord.root, event.chord.quality)
        for bar in bars
        for event in bar.events
        if event.chord
    }
    return situation_of(
        exercise.recipe, exercise.chart.tempo, len(bars), len(chords), tempo_ratio=tempo_ratio
    )


def situation_of(
    recipe: Mapping[str, Any],
    tempo: float,
    bars: int,
    chords: int,
    *,
    tempo_ratio: float = 1.0,
) -> Situation:
    """The situation of an exercise.

    Parameters: `recipe` as in `Exercise.recipe`; `tempo` in beats a minute and `bars` of its chart;
    `chords` is how many different chords it has; `tempo_ratio` the speed played over the written.
    """
    help_: Mapping[str, Any] = recipe.get("help") or {}
    listens = int(recipe.get("listens") or 0)
    lift = min(float(help_.get("bass_lift_db") or 0.0), 6.0) / 6.0
    return Situation(
        quick=_within(log2(max(tempo * tempo_ratio, 20.0) / ORDINARY_TEMPO)),
        long=_within(log2(max(bars, 1) / ORDINARY_BARS) / 4),
        few_listens=(1 / listens if listens else 0.0) - 1 / ORDINARY_LISTENS,
        no_help=-0.5 * lift - 0.5 * bool(help_.get("tonic_first", False)),
        many_chords=_within((chords - ORDINARY_CHORDS) / 5),
    )


def bar_features(skills: frozenset[str], situation: Situation) -> tuple[float, ...]:
    """The features of a bar with these skills, in the order of `FEATURES`."""
    kinds = {skill.partition(" ")[0] for skill in skills}
    return (
        float(not skills.isdisjoint(("even split", "uneven split"))),
        float("bass" in kinds),
        float("extension" in kinds),
        float(not skills.isdisjoint(("hold", "push", "choke"))),
        situation.quick,
        situation.long,
        situation.few_listens,
        situation.no_help,
        situation.many_chords,
    )


def _within(value: float) -> float:
    return max(-1.0, min(1.0, value))
