from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.chart import Chart, parse
from trainer.errors import ChartError, SettingsError, SettingsErrorGroup
from trainer.exercise import (
    Exercise,
    Help,
    Recipe,
    exercise_from_json,
    exercise_to_json,
    load_course,
    make_exercise,
    parse_seed,
    recipe_to_dict,
)
from trainer.exercise.recipe_text import recipe_from_dict
from trainer.exercise.skills import chart_skills
from trainer.generate import GENERATOR_VERSION, Features

# The shapes that the interfaces promise: keys may be added, never renamed or dropped.
EXERCISE_KEYS = [
    "id", "level", "level_id", "recipe", "seed", "generator_version", "skills", "chart",
]  # fmt: skip
CHART_KEYS = {"title", "meter", "tempo", "feel", "key", "text", "sections"}

SECTION = Recipe(
    size="section", chords=("1", "2-", "4", "5", "6-"), features=Features(splits=0.2, holds=0.1)
)


def _bytes(exercise: Exercise) -> bytes:
    return json.dumps(exercise_to_json(exercise)).encode()


@pytest.fixture
def stored() -> dict[str, Any]:
    """An exercise as it was written down."""
    data: dict[str, Any] = json.loads(_bytes(make_exercise(SECTION, 3)))
    return data


def test_json_keys_are_the_promised_ones(stored: dict[str, Any]) -> None:
    """An exercise has the promised keys in their order, and its chart has the promised ones."""
    assert list(stored) == EXERCISE_KEYS
    assert set(stored["chart"]) >= CHART_KEYS
    assert stored["level"] is None
    assert stored["seed"] == 3
    assert stored["generator_version"] == GENERATOR_VERSION
    assert stored["recipe"] == recipe_to_dict(SECTION) | {"band": "full"}


@settings(max_examples=settings().max_examples // 4)
@given(st.integers(0, 10**9))
def test_json_round_trip(seed: int) -> None:
    """Written and read back, an exercise is the same and writes the same bytes."""
    exercise = make_exercise(SECTION, seed)
    again = exercise_from_json(json.loads(_bytes(exercise)))
    assert again == exercise
    assert _bytes(again) == _bytes(exercise)


@pytest.mark.parametrize("number", [1, 12, 31])
def test_same_bytes_twice(number: int) -> None:
    """The same level and seed give the same bytes, other seeds other songs."""
    level = load_course()[number - 1]
    first = _bytes(make_exercise(level.recipe, 7, level))
    assert first == _bytes(make_exercise(level.recipe, 7, level))
    charts = {make_exercise(level.recipe, seed, level).chart for seed in range(5)}
    assert len(charts) > 1


def test_same_bytes_in_another_process() -> None:
    """Neither hash seeds nor the order of sets enter an exercise."""
    code = (
        "import json, sys\n"
        "from trainer.exercise import exercise_to_json, load_course, make_exercise\n"
        "level = load_course()[29]\n"
        "print(json.dumps(exercise_to_json(make_exercise(level.recipe, 11, level))))\n"
    )
    outputs = [
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": hash_seed, "PYTHONPATH": ":".join(filter(None, sys.path))},
            capture_output=True,
            check=True,
        ).stdout
        for hash_seed in ("1", "2")
    ]
    assert outputs[0] == outputs[1]


@pytest.mark.parametrize("seed", range(15))
def test_every_song_has_what_is_wanted(seed: int) -> None:
    """A song is drawn again until it has the bars, chords and skills that its recipe wants."""
    wanted = replace(SECTION, bars=(8, 12), least_chords=4, needs=("hold", "chord 2-"))
    chart = make_exercise(wanted, seed).chart
    chords = {
        (event.chord.root, event.chord.quality)
        for bar in chart.bars()
        for event in bar.events
        if event.chord
    }
    assert 8 <= len(chart.bars()) <= 12
    assert len(chords) >= 4
    assert {"hold", "chord 2-"} & set(chart_skills(chart))


def test_wanting_what_never_happens() -> None:
    """A recipe that no song meets is told by the key that is to blame, not tried for ever."""
    with pytest.raises(SettingsError, match=r"recipe: bars: found \(300, 300\), which none of"):
        make_exercise(replace(SECTION, size="phrase", bars=(300, 300)), 1)


def test_a_light_changes_nothing_but_itself() -> None:
    """With a light the exercise has the same id, song and sound as without."""
    lit = replace(SECTION, help=replace(SECTION.help, light="bars"))
    first, second = make_exercise(SECTION, 5), make_exercise(lit, 5)
    assert (second.id, second.chart) == (first.id, first.chart)
    assert second.band_rng().random() == first.band_rng().random()
    assert second.help.light == exercise_from_json(exercise_to_json(second)).help.light == "bars"
    with pytest.raises(SettingsErrorGroup, match=r'help\.light.*found "disco"'):
        recipe_from_dict({"help": {"light": "disco"}}, "a recipe")


def test_help_changes_no_song() -> None:
    """With other help, band and listens the song is the same and the exercise is another."""
    helped = replace(SECTION, band="small", listens=0, help=Help(6.0, True), ask="roots")
    first, second = make_exercise(SECTION, 5), make_exercise(helped, 5)
    assert first.chart == second.chart
    assert first.id != second.id
    assert (second.band, second.listens, second.help, second.ask) == (
        "small",
        0,
        Help(6.0, True),
        "roots",
    )


@pytest.mark.parametrize(
    ("more", "band"),
    [
        ({"styles": ["string-band"]}, "small"),
        ({"styles": ["waltz"]}, "full"),
        ({"styles": ["string-band", "twelve-bar blues"]}, "full"),
        ({"styles": ["string-band"], "band": "work tape"}, "work tape"),
    ],
)
def test_the_band_is_the_styles_unless_said(more: dict[str, Any], band: str) -> None:
    """A recipe that names no band gets that of its one style."""
    recipe = recipe_from_dict({"size": "section"} | more, "here")
    made = make_exercise(recipe, 3)
    assert made.band == band
    assert exercise_from_json(exercise_to_json(made)).band == band


def test_id_says_nothing_of_the_chart() -> None:
    """An id is sixteen hexadecimal digits, and it is not made from the chart."""
    exercise = make_exercise(SECTION, 3)
    assert re.fullmatch("[0-9a-f]{16}", exercise.id)
    others = {make_exercise(SECTION, seed).id for seed in range(50)}
    assert len(others) == 50


def test_level_is_part_of_an_exercise() -> None:
    """An exercise of a level has its number, and is another than the same recipe without."""
    level = load_course()[2]
    inside, outside = make_exercise(level.recipe, 1, level), make_exercise(level.recipe, 1)
    assert (inside.level, outside.level) == (3, None)
    assert inside.chart == outside.chart
    assert inside.id != outside.id


def test_skills_are_those_of_the_chart() -> None:
    """The skills of an exercise are what its chart can teach."""
    exercise = make_exercise(SECTION, 9)
    assert exercise.skills == chart_skills(exercise.chart)


@pytest.mark.parametrize("seed", [-1, 1.5, "7", True])
def test_wrong_seed(seed: Any) -> None:
    """A seed that is no whole number from 0 is refused."""
    with pytest.raises(SettingsError, match=r"seed: found .*, expected a whole number"):
        make_exercise(SECTION, seed)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("id", ""),
        ("id", 5),
        ("level", "3"),
        ("level", True),
        ("recipe", []),
        ("seed", -1),
        ("generator_version", 1),
        ("skills", "chord 1"),
        ("skills", [1]),
        ("chart", "1 4 5"),
    ],
)
def test_wrong_json_value(stored: dict[str, Any], key: str, value: object) -> None:
    """A wrong or missing value of an exercise is told by its key."""
    with pytest.raises(SettingsError, match=f"exercise: {key}: found"):
        exercise_from_json(stored | {key: value})
    del stored[key]
    with pytest.raises(SettingsError, match=f"exercise: {key}: found nothing"):
        exercise_from_json(stored)


def test_wrong_playing_value(stored: dict[str, Any]) -> None:
    """A recipe inside an exercise that says no band of ours is refused by its key."""
    stored["recipe"]["band"] = "trio"
    with pytest.raises(SettingsError, match='exercise: recipe: band: found "trio"'):
        exercise_from_json(stored)


def test_wrong_chart(stored: dict[str, Any]) -> None:
    """A chart inside an exercise that cannot be is refused."""
    stored["chart"]["meter"] = "four"
    with pytest.raises(ChartError, match="meter"):
        exercise_from_json(stored)


def test_a_stored_exercise_outlives_its_generator(stored: dict[str, Any]) -> None:
    """Another version, a style that is gone and keys not yet known leave the chart as stored."""
    chart = exercise_from_json(stored).chart
    stored["generator_version"] = GENERATOR_VERSION + "-later"
    stored["recipe"]["styles"] = ["a style of another day"]
    stored["later"] = {"key": 1}
    again = exercise_from_json(stored)
    assert again.chart == chart
    assert again.generator_version == GENERATOR_VERSION + "-later"


def test_performance_is_the_same_each_time() -> None:
    """The band's randomness comes from the exercise alone."""
    first, other = make_exercise(SECTION, 1), make_exercise(SECTION, 2)
    assert first.band_rng().random() == first.band_rng().random()
    assert first.band_rng().random() != other.band_rng().random()


def test_exercise_is_hashable() -> None:
    """Equal exercises are one member of a set."""
    chart: Chart = parse("1 4 5 1")
    first = replace(make_exercise(SECTION, 1), chart=chart)
    assert len({first, replace(first)}) == 1


@pytest.mark.parametrize(
    ("text", "seed"), [("0", 0), (" 41 ", 41), ("007", 7), ("1000000000000", 10**12)]
)
def test_a_seed_is_read(text: str, seed: int) -> None:
    """Digits from 0 to 10**12 are a seed, spaces around them are passed over."""
    assert parse_seed(text) == seed


@pytest.mark.parametrize(
    "text",
    [
        *("", "-1", "+1", "1.0", "1_000", "1e3", "\u0663", "\u00b2", "1000000000001", "1\n2"),
        *("0" * 5000, "0" * 20 + "9" * 30, "9" * 5000),
    ],
)
def test_what_is_no_seed_is_told(text: str) -> None:
    """Signs, other digits and too many of them are refused with what is allowed."""
    with pytest.raises(SettingsError) as caught:
        parse_seed(text)
    assert str(caught.value).startswith('seed: found "')
    assert str(caught.value).endswith("expected a whole number from 0 to 1,000,000,000,000")
    assert len(str(caught.value)) < 400
