"""What a graded attempt is worth to practice: evidence for ratings, sums, a speed test's result.

An attempt counts if it was listened to and its chart had not been shown before. One that does not
count is stored like any other but changes no rating, no sum of progress, no level and no speed
result: a chart that is known, or that nobody listened to, shows nothing of what is heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from trainer.exercise import Exercise
from trainer.practice.evidence import Evidence, gather
from trainer.practice.graded import GradedBar
from trainer.practice.situation import exercise_situation
from trainer.practice.speed import SpeedResult, is_speed_test, speed_result
from trainer.practice.tally import Tally

__all__ = ["Conditions", "attempt_evidence", "attempt_speed", "attempt_tally"]


@dataclass(frozen=True, slots=True)
class Conditions:
    """How an attempt was made.

    `at` is when it was finished (aware, UTC); `listens` counts passes through the audio that were
    begun; `paused` says whether the band was stopped on the way; `tempo_ratio` is the slowest tempo
    played over the written one; `seen` says whether the song's chart had been shown to the learner
    before; `home_shift` is the kind of the report's home shift, None without one.
    """

    at: datetime
    listens: int = 1
    paused: bool = False
    tempo_ratio: float = 1.0
    seen: bool = False
    home_shift: str | None = None

    @property
    def counts(self) -> bool:
        """Whether the attempt says anything about what the learner hears."""
        return self.listens > 0 and not self.seen


def attempt_evidence(
    exercise: Exercise, bars: Sequence[GradedBar], conditions: Conditions
) -> Evidence:
    """The evidence of an attempt; it has no bars where the attempt does not count."""
    return gather(
        bars if conditions.counts else (),
        exercise_situation(exercise, tempo_ratio=conditions.tempo_ratio),
        conditions.at,
        ask=exercise.ask,
        home_shift=conditions.home_shift,
    )


def attempt_tally(exercise: Exercise, bars: Sequence[GradedBar], conditions: Conditions) -> Tally:
    """What an attempt adds to the sums of its day; nothing where it does not count."""
    return Tally(bars if conditions.counts else (), exercise.ask, conditions.home_shift)


def attempt_speed(
    exercise: Exercise, bars: Sequence[GradedBar], conditions: Conditions
) -> SpeedResult | None:
    """The result of an attempt as a speed self-test; None unless it is one that counts."""
    if not is_speed_test(exercise.recipe):
        return None
    return speed_result(
        bars,
        exercise.chart.meter.beats,
        conditions.at,
        listens=conditions.listens,
        paused=conditions.paused,
        tempo_ratio=conditions.tempo_ratio,
        seen=conditions.seen,
    )
