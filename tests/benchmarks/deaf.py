"""Whether a pass means the skill: charts of writers who are deaf to what a level introduces.

For every level that introduces skills, `SONGS` songs are written by somebody who ignores one of
them and hears all else, once for each way to ignore it: at most 5% may pass. The same songs with
three slips of other kinds: at least 95% must pass.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from tests.benchmarks import Row, at_least, at_most
from tests.benchmarks.deaf_charts import Deafness, deafnesses, with_slips
from trainer.chart import Chart, format_chart
from trainer.exercise import Exercise, Level, load_course, make_exercise, read_answer
from trainer.grade import Report, grade, weights_for
from trainer.practice import GradedBar, Verdict, graded_bars, judge

__all__ = ["Written", "passes", "run", "song", "songs_for", "write"]

SONGS = 50
MOST_DEAF, LEAST_SLIPPING = 5.0, 95.0


@dataclass(frozen=True, slots=True)
class Written:
    """A chart written for an exercise, as it was graded and judged."""

    exercise: Exercise
    report: Report
    bars: tuple[GradedBar, ...]
    verdict: Verdict


def write(level: Level, exercise: Exercise, chart: Chart) -> Written:
    """Grade a chart as if it was typed, and hold it against the level."""
    answer = read_answer(exercise, format_chart(chart))
    report = grade(exercise.chart, answer.chart, weights=weights_for(exercise.ask))
    bars = graded_bars(report, exercise, answer)
    shift = report.home_shift.kind if report.home_shift is not None else None
    return Written(exercise, report, bars, judge(level, exercise, bars, report.score, shift))


@lru_cache(maxsize=1024)
def song(level: Level, seed: int) -> Exercise:
    """The song of a level and a seed; the last ones are kept."""
    return make_exercise(level.recipe, seed, level)


def songs_for(level: Level, skill: str, count: int) -> list[Exercise]:
    """The first songs of a level that have a skill: of its feels, each song has one."""
    found: list[Exercise] = []
    seed = 0
    while len(found) < count:
        exercise = song(level, seed)
        if skill in exercise.skills:
            found.append(exercise)
        seed += 1
    return found


def passes(
    level: Level, exercises: list[Exercise], chart_of: Callable[[Exercise], Chart]
) -> tuple[float, float]:
    """The share of charts that pass a level, and their mean score; both in per cent."""
    written = [write(level, each, chart_of(each)) for each in exercises]
    passed = sum(each.verdict.passed for each in written)
    score = sum(each.report.score for each in written)
    return 100 * passed / len(written), 100 * score / len(written)


def _deaf(level: Level, way: Deafness) -> Row:
    exercises = songs_for(level, way.skill, SONGS)
    share, score = passes(level, exercises, lambda each: way.write(each.chart))
    name = f"level {level.number}, {way.skill}: {way.name} (scores {score:.0f}%)"
    return at_most(name, share, MOST_DEAF, "% pass")


def _slipping(level: Level) -> Row:
    rng = random.Random(level.number)
    exercises = [make_exercise(level.recipe, seed, level) for seed in range(SONGS)]
    share, score = passes(level, exercises, lambda each: with_slips(each, level, rng))
    name = f"level {level.number}, three slips of other kinds (scores {score:.0f}%)"
    return at_least(name, share, LEAST_SLIPPING, "% pass")


def run() -> list[Row]:
    """A row for each way to be deaf at each level, and for the slips."""
    rows = []
    for level in load_course():
        if level.introduced:
            rows += [_deaf(level, way) for way in deafnesses(level)]
            rows.append(_slipping(level))
    return rows
