"""The songs of every level keep to its recipe and teach what the level says.

All tests of a level share its songs. Every one looks at the first `SONGS` of them, and
`test_a_level_teaches_what_it_says` at more, if it needs them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import pytest

from tests.benchmarks.course import NOT_IN_EACH, played_skills, progression, taught
from trainer.chart import Chart, Key
from trainer.exercise import (
    LEAST_PLACES,
    Exercise,
    Level,
    count_places,
    load_course,
    make_exercise,
)
from trainer.exercise.skills import bar_skills
from trainer.generate import PASSING_CHORDS, STYLES

pytestmark = pytest.mark.many

COURSE = load_course()
SONGS = 20
# Each skill of a level is met in at least this many of its first songs, a fifth of `MOST_SONGS`.
MET, MOST_SONGS = 12, 60
VARIED_SONGS, PROGRESSIONS = 100, 60
SECTIONS = {"phrase": 1, "section": 1, "two sections": 2}
ARTICULATIONS = {"hold": "holds", "push": "pushes", "choke": "chokes"}


@dataclass
class Songs:
    """The songs of a level by seed; each is made when it is first asked for."""

    level: Level
    made: list[Exercise] = field(default_factory=list)

    def first(self, count: int) -> Iterator[Exercise]:
        """The songs of the first seeds."""
        for seed in range(count):
            if seed == len(self.made):
                self.made.append(make_exercise(self.level.recipe, seed, self.level))
            yield self.made[seed]


@pytest.fixture(scope="module", params=COURSE, ids=lambda level: f"level {level.number}")
def songs(request: pytest.FixtureRequest) -> Songs:
    """The songs of each level in turn."""
    return Songs(request.param)


def _chords(chart: Chart) -> set[str]:
    """The chords of a chart without their bass, in notation."""
    return {
        str(event.chord).partition("/")[0]
        for bar in chart.bars()
        for event in bar.events
        if event.chord
    }


def test_a_level_plays_nothing_that_was_not_taught(songs: Songs) -> None:
    """The songs of a level hold no chord, bass, extension, sign or meter that no level up to it has
    taught; the bench `course` looks at more of them."""
    known = taught(COURSE[: songs.level.number])
    for exercise in songs.first(SONGS):
        assert played_skills(exercise.chart) <= known, exercise.seed


def test_a_level_keeps_to_its_recipe(songs: Songs) -> None:
    """No song of a level holds what its recipe does not allow."""
    recipe = songs.level.recipe
    styles = [STYLES[name] for name in recipe.settings().styles]
    for exercise in songs.first(SONGS):
        chart = exercise.chart
        assert (chart.feel, chart.meter) in [(style.feel, style.meter) for style in styles]
        if recipe.tempo:
            assert recipe.tempo[0] <= chart.tempo <= recipe.tempo[1]
        if recipe.keys:
            assert chart.key in [Key.parse(name) for name in recipe.keys]
        if recipe.chords:
            found = _chords(chart)
            if recipe.extensions:
                found = {chord.partition("^")[0] for chord in found}
            allowed = set(recipe.chords) | set(PASSING_CHORDS if recipe.features.passing else ())
            assert recipe.counted or found <= allowed, exercise.seed
        assert len(chart.sections) == SECTIONS.get(recipe.size, len(chart.sections))
        if recipe.size == "phrase":
            assert len(chart.sections[0].phrases) == 1
        _check_features(songs.level, exercise)


def _check_features(level: Level, exercise: Exercise) -> None:
    """Nothing that happens at rate 0 happens."""
    features = level.recipe.features
    skills = set(exercise.skills)
    never = {
        "uneven split": features.uneven_splits,
        "short bar": features.short_bars,
        "key change": features.key_change + features.bridge_key,
        "no chord": features.silent_bars,
        "pickup": features.pickup,
        "odd phrase": features.odd_phrases + features.later_changes + features.tag,
    }
    never |= {name: getattr(features, rate) for name, rate in ARTICULATIONS.items()}
    for name, rate in never.items():
        # A whole song may end on a held chord; a drill may not.
        if not rate and not (name == "hold" and level.recipe.size == "song"):
            assert name not in skills, (name, exercise.seed)
    if not features.splits and not features.passing:
        assert "even split" not in skills
    if not features.slash_chords:
        assert not any(name.startswith("bass ") for name in skills)


def test_a_level_has_its_skills_three_times(songs: Songs) -> None:
    """Every song of a level has at least three places of each skill that the level introduces."""
    for exercise in songs.first(SONGS):
        skills = bar_skills(exercise.chart)
        for skill in set(songs.level.introduced) - NOT_IN_EACH:
            assert count_places(skills, skill) >= LEAST_PLACES, (exercise.seed, skill)


def test_a_song_that_has_the_places_stays_as_it_is(songs: Songs) -> None:
    """Asking for three places changes no song that has them anyway."""
    recipe = songs.level.recipe
    without = replace(recipe, thrice=())
    if without == recipe:
        return
    for exercise in songs.first(SONGS):
        plain = make_exercise(without, exercise.seed).chart
        skills = bar_skills(plain)
        if all(count_places(skills, skill) >= LEAST_PLACES for skill in recipe.thrice):
            assert exercise.chart == plain


def test_a_level_teaches_what_it_says(songs: Songs) -> None:
    """Each skill that a level names is met in at least a fifth of its first 60 songs."""
    met: Counter[str] = Counter(dict.fromkeys(songs.level.skills, 0))
    for exercise in songs.first(MOST_SONGS):
        met.update(met.keys() & set(exercise.skills))
        if min(met.values()) >= MET:
            return
    assert {skill: count for skill, count in met.items() if count < MET} == {}


@pytest.mark.parametrize("level", COURSE[:2], ids=lambda level: f"level {level.number}")
def test_the_first_levels_are_varied(level: Level) -> None:
    """The first two levels play at least 60 different progressions in 100 songs."""
    heard = {progression(each.chart) for each in Songs(level).first(VARIED_SONGS)}
    assert len(heard) >= PROGRESSIONS
