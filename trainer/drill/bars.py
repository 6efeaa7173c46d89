"""Practise the bars that were missed, until they are right twice in a row.

The bars that an attempt missed make stretches: each is a few bars, with the bar before, that are
looped, slower or in another key if wished. Each try is a drill like any other, at an exercise whose
song is the stretch, so it is stored and shown in the history; but it is practice (`seen`) and
counts for neither level, rating nor speed test. How often in a row a stretch was right is counted
from its attempts, in any key and at any speed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainer.chart import Chart, excerpt, format_chart
from trainer.drill.comparison import GradedAnswer, GradedRow, State, compare_bars
from trainer.drill.drills import Drill, Drills
from trainer.drill.playback import play_song
from trainer.drill.ratings import let_results_count
from trainer.drill.results import Result, find_result
from trainer.exercise import EXCERPT, Exercise, excerpt_exercise

if TYPE_CHECKING:
    from trainer.store import ExerciseRecord, Learner, Repositories

__all__ = [
    "RIGHT_IN_A_ROW",
    "BarPractice",
    "Stretch",
    "are_right",
    "begin_bars",
    "find_bars",
    "loop_s",
    "practised_bars",
    "stretches_to_practise",
]

RIGHT_IN_A_ROW = 2
# A stretch has at most this many bars, not counting the one before them. Missed bars that are
# further apart make two stretches.
MOST_BARS, FAR_APART = 8, 3
KEYS = range(12)
# How many attempts at the song are searched for the one that missed the bars.
MOST_ATTEMPTS = 500


@dataclass(frozen=True, slots=True)
class Stretch:
    """Bars of a song to practise, first and last, from 1: those that were missed, `missed`, those
    between, and the bar before."""

    first: int
    last: int
    missed: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class BarPractice:
    """The practice of the bars that an attempt missed.

    `rights` says for each stretch how many of its latest attempts in a row were right, at most
    `RIGHT_IN_A_ROW`; `number` is the stretch under way, counting from 0, and `shift` the semitones
    that its key is moved up.
    """

    result: Result
    stretches: tuple[Stretch, ...]
    rights: tuple[int, ...]
    number: int = 0
    shift: int = 0

    @property
    def stretch(self) -> Stretch:
        """The stretch under way."""
        return self.stretches[self.number]

    @property
    def is_done(self) -> bool:
        """Whether the stretch under way was right often enough in a row."""
        return self.rights[self.number] >= RIGHT_IN_A_ROW

    @property
    def following(self) -> int | None:
        """The next stretch that is not done, after this one or from the first again; None if all
        others are."""
        count = len(self.stretches)
        order = ((self.number + step) % count for step in range(1, count))
        return next((each for each in order if self.rights[each] < RIGHT_IN_A_ROW), None)

    @property
    def lead_in(self) -> str:
        """The bar before the missed ones as it is written, "" if the song begins with them."""
        first = self.stretch.first
        if first in self.stretch.missed:
            return ""
        return _written(excerpt(self.result.exercise.chart, first, first))

    def exercise(self, number: int, shift: int = 0) -> Exercise:
        """A stretch as an exercise, in a key that is `shift` semitones higher."""
        stretch = self.stretches[number]
        return _exercise(self.result, stretch, shift)


def stretches_to_practise(report: GradedAnswer, song: Chart) -> tuple[Stretch, ...]:
    """The stretches that an answer missed, in the song's order.

    If no bar is wrong in itself but the song is counted another way, the only stretch is the first
    phrase, where a learner finds the 1 and the bars. If everything written is right, the stretches
    are the bars that were not written.
    """
    places = compare_bars(report)
    wrong: set[int] = set()
    for at, place in enumerate(places):
        if place.state is State.WRONG:
            after = (each.references[:1] for each in places[at + 1 :] if each.references)
            # Added bars count as missed at the bar of the song that follows them.
            wrong.update(place.references or next(after, (len(song.bars()),)))
    if not wrong and any(place.state is State.OTHERWISE for place in places):
        first_phrase = song.sections[0].phrases[0].bars
        wrong = set(range(1, min(len(first_phrase), MOST_BARS) + 1))
    if not wrong:
        wrong = {
            bar for place in places if place.state is State.NOT_WRITTEN for bar in place.references
        }
    known = sorted(bar for bar in wrong if bar <= len(song.bars()))
    return tuple(Stretch(max(1, group[0] - 1), group[-1], tuple(group)) for group in _groups(known))


def _groups(bars: Sequence[int]) -> Iterator[list[int]]:
    """Bars that are practised together."""
    group: list[int] = []
    for bar in bars:
        if group and (bar - group[-1] >= FAR_APART or bar - group[0] >= MOST_BARS):
            yield group
            group = []
        group.append(bar)
    if group:
        yield group


def practised_bars(
    store: Repositories, learner: Learner, result: Result, number: int | None = None, shift: int = 0
) -> BarPractice | None:
    """The practice of the bars that an attempt missed; None if it missed none.

    `number` is the stretch under way, None for the first that is not done.
    """
    stretches = stretches_to_practise(result.report, result.exercise.chart)
    if not stretches:
        return None
    rights = tuple(_rights(store, learner, result, each) for each in stretches)
    if number is None:
        number = next((k for k, right in enumerate(rights) if right < RIGHT_IN_A_ROW), 0)
    return BarPractice(result, stretches, rights, min(number, len(stretches) - 1), shift)


def find_bars(store: Repositories, learner: Learner, record: ExerciseRecord) -> BarPractice | None:
    """The practice that an exercise belongs to; None if it is no such exercise, or the attempt that
    missed its bars is no longer there."""
    told: dict[str, Any] | None = record.exercise.recipe.get(EXCERPT)
    if told is None:
        return None
    for one in store.attempts.of_exercises(learner, [told["exercise"]], MOST_ATTEMPTS):
        result = None
        if one.finished_at.isoformat() == told["of"]:
            result = find_result(store, learner, one.id)
        if result is None:
            continue
        stretches = stretches_to_practise(result.report, result.exercise.chart)
        ends = [(each.first, each.last) for each in stretches]
        if (told["first"], told["last"]) in ends:
            number = ends.index((told["first"], told["last"]))
            return practised_bars(store, learner, result, number, told["shift"])
    return None


def begin_bars(drills: Drills, practice: BarPractice, number: int, shift: int = 0) -> Drill:
    """Begin a try at a stretch, or go on with it."""
    let_results_count(drills.store, drills.learner, drills.clock())
    return drills.begin(practice.exercise(number, shift))


def are_right(bars: Sequence[GradedRow]) -> bool:
    """Whether every bar of a stretch is right and none was added. The ends of phrases don't matter
    here.
    """
    return all(
        bar.reference is not None and bar.answer is not None and (bar.score or 0.0) >= 1.0
        for bar in bars
    )


def loop_s(exercise: Exercise, speed: int) -> tuple[float, float]:
    """Start and end of the loop of a stretch, in seconds: from the first sound to the end of the
    last bar, before it rings out."""
    played = play_song(exercise, speed)
    return played.room_s, played.bar_times_s[-1][1]


def _exercise(result: Result, stretch: Stretch, shift: int) -> Exercise:
    of = result.detail.record.finished_at.isoformat()
    return excerpt_exercise(result.exercise, stretch.first, stretch.last, shift, of)


def _rights(store: Repositories, learner: Learner, result: Result, stretch: Stretch) -> int:
    """How many of the latest attempts at a stretch in a row were right."""
    keys = [_exercise(result, stretch, shift).id for shift in KEYS]
    rights = 0
    for attempt in store.attempts.of_exercises(learner, keys, RIGHT_IN_A_ROW):
        detail = store.attempts.get(attempt.id)
        if detail is None or not are_right(detail.bars):
            break
        rights += 1
    return rights


def _written(chart: Chart) -> str:
    """The bars of a chart of one phrase as they are typed."""
    return format_chart(chart).rstrip().rpartition("\n")[2]
