"""What a graded attempt is worth to practice: evidence for ratings, sums, a speed test's result.

An attempt counts if it was listened to and its chart had not been shown before. One that does not
count is stored like any other but changes no rating, no sum of progress, no level and no speed
result: a chart that is known, or that nobody listened to, shows nothing of what is heard.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from trainer.exercise import Exercise
from trainer.practice.evidence import WHOLLY_RIGHT, Evidence, attempt_credits, gather
from trainer.practice.graded import GradedBar
from trainer.practice.situation import exercise_situation
from trainer.practice.speed import SpeedResult, is_speed_test, speed_result

__all__ = ["Conditions", "Tally", "attempt_evidence", "attempt_speed", "attempt_tally"]


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


class Tally:
    """Sums over graded bars.

    `skills` holds for each skill (bars, sum of credits, bars entirely right), where the credit is
    that of the part of the bar which the skill is about, as the ratings take it. `chords` counts
    pairs (played, written): how often each chord was written as which, itself included; `written`
    "" is a chord of a missing bar, `played` "" one of an added bar.

    Parameters: `ask` and `home_shift` as in `trainer.practice.gather`.
    """

    def __init__(
        self,
        bars: Iterable[GradedBar] = (),
        ask: str = "everything",
        home_shift: str | None = None,
    ) -> None:
        self.skills: defaultdict[str, tuple[int, float, int]] = defaultdict(lambda: (0, 0.0, 0))
        self.chords: Counter[tuple[str, str]] = Counter()
        graded = tuple(bars)
        for bar, shown in zip(graded, attempt_credits(graded, ask, home_shift), strict=True):
            self.chords.update(_chord_pairs(bar))
            for skill, credit in shown.items():
                self._add(skill, (1, credit, int(credit >= WHOLLY_RIGHT)))

    def add(self, other: Tally) -> None:
        """Add another attempt's sums, in the order of addition that the stored sums have."""
        self.chords.update(other.chords)
        self.add_skills(other.skills)

    def add_skills(self, skills: Mapping[str, tuple[int, float, int]]) -> None:
        """Add what another attempt showed of each skill."""
        for skill, more in skills.items():
            self._add(skill, more)

    def _add(self, skill: str, more: tuple[int, float, int]) -> None:
        bars, credit, right = self.skills[skill]
        self.skills[skill] = (bars + more[0], credit + more[1], right + more[2])


def attempt_evidence(
    exercise: Exercise, bars: Sequence[GradedBar], conditions: Conditions
) -> Evidence:
    """The evidence of an attempt; it has no bars if the attempt does not count."""
    return gather(
        bars if conditions.counts else (),
        exercise_situation(exercise, tempo_ratio=conditions.tempo_ratio),
        conditions.at,
        ask=exercise.ask,
        home_shift=conditions.home_shift,
    )


def attempt_tally(exercise: Exercise, bars: Sequence[GradedBar], conditions: Conditions) -> Tally:
    """What an attempt adds to the sums of its day; nothing if it does not count."""
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


def _chord_pairs(bar: GradedBar) -> Iterator[tuple[str, str]]:
    """What each chord of a bar was written as: itself, another, or "" if a bar is missing."""
    if not bar.written:
        yield from ((chord, "") for chord in bar.played)
        return
    if not bar.played:
        yield from (("", chord) for chord in bar.written)
        return
    yield from bar.confusions
    confused = {played for played, _ in bar.confusions}
    yield from ((chord, chord) for chord in bar.played if chord not in confused)
