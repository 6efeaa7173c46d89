"""Whether the course has holes: `python -m tests.benchmarks course`.

For every level, over its first `SEEDS` songs: how many different progressions it plays (the chords
in order, without extensions and repetitions), what it plays that no level up to it has taught, and
how often a song has each skill that the level introduces. `python -m tests.benchmarks.course`
prints the table of `exercises/README.md`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from statistics import median

from tests.benchmarks import Row, at_least, at_most, seen
from trainer.chart import Chart
from trainer.exercise import LEAST_PLACES, Level, count_places, load_course, make_exercise
from trainer.exercise.skills import bar_skills

__all__ = ["GIVEN", "NOT_IN_EACH", "LevelFigures", "figures", "played_skills", "run", "taught"]

SEEDS = 100
# The first levels have the fewest chords, and a learner meets them most often.
FIRST_LEVELS, LEAST_PROGRESSIONS = 2, 60
# What a song may play from the first level on: any band begins with it.
GIVEN = frozenset(("meter 4/4", "feel straight", "feel two-beat"))
# The kinds of skill that a chart writes with a sign or a number of its own.
WRITTEN = frozenset(
    (
        "even split", "uneven split", "hold", "push", "choke", "no chord", "short bar", "long bar",
        "pickup", "key change", "odd phrase", "tag",
    )
)  # fmt: skip
NAMED = ("chord ", "extension ", "bass ", "meter ", "feel ")
# Home is what the other chords are counted from, and a song may do without.
NOT_IN_EACH = frozenset(("chord 1",))


@dataclass(frozen=True, slots=True)
class LevelFigures:
    """What a level plays over some songs.

    `progressions` is the number of different ones; `untaught` holds, for each skill that is played
    and that no level up to this one has taught, the number of songs with it; `places` the least and
    the median number of places in a song of each skill that the level introduces.
    """

    level: Level
    progressions: int
    untaught: Counter[str]
    places: dict[str, tuple[int, float]]


def progression(chart: Chart) -> tuple[str, ...]:
    """The chords of a chart in order, without extensions and immediate repetitions."""
    names = (
        f"{event.chord.root}{event.chord.quality}/{event.chord.bass or ''}" if event.chord else "0"
        for bar in chart.bars()
        for event in bar.events
    )
    return tuple(name for name, _ in groupby(names))


def played_skills(chart: Chart) -> frozenset[str]:
    """The skills of a chart that have a sign or a number of their own."""
    return frozenset(
        skill
        for skill in frozenset().union(*bar_skills(chart))
        if skill in WRITTEN or skill.startswith(NAMED)
    )


def taught(levels: Iterable[Level]) -> frozenset[str]:
    """What some levels have taught."""
    return GIVEN.union(*(level.skills for level in levels))


def figures(level: Level, known: frozenset[str], seeds: range) -> LevelFigures:
    """What a level plays over some seeds; `known` is what it and all levels before it teach."""
    progressions, untaught = set(), Counter[str]()
    places: dict[str, list[int]] = {skill: [] for skill in level.introduced}
    for seed in seeds:
        chart = make_exercise(level.recipe, seed, level).chart
        progressions.add(progression(chart))
        untaught.update(played_skills(chart) - known)
        skills = bar_skills(chart)
        for skill, found in places.items():
            found.append(count_places(skills, skill))
    return LevelFigures(
        level,
        len(progressions),
        untaught,
        {skill: (min(found), median(found)) for skill, found in places.items()},
    )


def all_figures(seeds: range) -> list[LevelFigures]:
    """The figures of every level."""
    course = load_course()
    return [figures(level, taught(course[: level.number]), seeds) for level in course]


def run() -> list[Row]:
    """Rows for each level: progressions, songs with what was not taught, places of what is new."""
    rows = []
    for each in all_figures(range(SEEDS)):
        name = f"level {each.level.number}"
        progressions = f"{name}, progressions"
        if each.level.number <= FIRST_LEVELS:
            rows.append(at_least(progressions, each.progressions, LEAST_PROGRESSIONS, "of 100"))
        else:
            rows.append(seen(progressions, each.progressions, "of 100"))
        songs = max(each.untaught.values(), default=0)
        what = ", ".join(each.untaught) or "nothing"
        rows.append(at_most(f"{name}, songs with {what} not taught", songs, 0, "of 100"))
        for skill, (least, _) in each.places.items():
            if skill not in NOT_IN_EACH:
                rows.append(at_least(f"{name}, {skill}", least, LEAST_PLACES, "places or more"))
    return rows


def table(found: Iterable[LevelFigures]) -> str:
    """The figures as the table of `exercises/README.md`."""
    lines = [
        "| level | progressions | not taught | new: least and median number of places in a song |",
        "|---|---|---|---|",
    ]
    for each in found:
        new = "; ".join(
            f"{skill}: {least}, {middle:g}" for skill, (least, middle) in each.places.items()
        )
        title = f"{each.level.number} {each.level.title}"
        lines.append(f"| {title} | {each.progressions} | {len(each.untaught)} | {new} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(table(all_figures(range(SEEDS))))
