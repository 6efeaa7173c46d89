"""Exercises: a reference chart, how it is played and what is asked.

An exercise is made from a recipe and a seed (songs are generated until one meets the recipe's
requirements) or from a hand-written song, and is written to and read from JSON.
"""

from __future__ import annotations

import hashlib
import json
import random
import re
import secrets
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from trainer.chart import (
    Chart,
    called_in,
    chart_from_json,
    chart_to_json,
    excerpt,
    parse,
    without_notes,
)
from trainer.errors import FileError, SettingsError
from trainer.exercise.cutting import (
    RELATIVE_MAJOR,
    TWO_SECTIONS,
    counted_from_relative_major,
    section_pairs,
)
from trainer.exercise.identity import chart_identity, short_digest
from trainer.exercise.level_ids import first_id, first_number
from trainer.exercise.places import bars_around, missing_places
from trainer.exercise.recipe import PLAYING, Help, Level, Recipe, recipe_to_dict
from trainer.exercise.recipe_text import recipe_from_dict, show_value
from trainer.exercise.rules import WITHIN_KINDS
from trainer.exercise.skills import chart_skills
from trainer.generate import GENERATOR_VERSION, STYLES, generate

__all__ = [
    "ASSIGNED",
    "EXCERPT",
    "MOST_SEED",
    "SONG_RECIPE",
    "Exercise",
    "chart_digest",
    "chart_exercise",
    "excerpt_exercise",
    "exercise_from_json",
    "exercise_to_json",
    "handed_out_exercise",
    "made_id",
    "make_exercise",
    "new_seed",
    "own_song_exercise",
    "parse_seed",
    "song_digest",
    "song_exercise",
]

HIGHEST_LEVEL, MOST_LEVEL_ID = 9999, 40
MOST_SEED = 10**12
# So many songs are generated to find one that meets a recipe's requirements; more where skills must
# be met three times, which few short songs do.
TRIES, TRIES_THRICE = 300, 1500
# The key of the recipe of bars that are practised (`excerpt_exercise`).
EXCERPT = "excerpt"
# The key of the recipe of an exercise that was handed out to a class (`handed_out_exercise`).
ASSIGNED = "assignment"
# How a hand-written song is played and asked: as at a session.
SONG_RECIPE = Recipe(size="song", band="full", listens=2, ask="everything")


@dataclass(frozen=True, slots=True)
class Exercise:
    """A reference chart and what a learner gets of it.

    `id` is the same for the same recipe, seed, level and generator version, and says nothing about
    the chart. `level` is the number that its level had in the course when it was made, and
    `level_id` the level's lasting id; both are None for an exercise of no level. `recipe` is the
    recipe as plain values; for a hand-written song it has "song", the name of its file, and how it
    is played, for one of the songbook the song's uid; for a fixed test it also has "protocol", the
    name of the test's protocol; for bars that are practised it has "excerpt" (`excerpt_exercise`),
    for work handed out to a class "assignment" (`handed_out_exercise`).
    `skills` are those of the chart, by `trainer.exercise.skills`. The chart stays as it was made,
    whatever a newer generator would make. Exercises with the same `take` sound the same; without
    one, an exercise has its own sound.
    """

    id: str
    level: int | None
    level_id: str | None
    recipe: Mapping[str, Any] = field(hash=False)
    seed: int
    generator_version: str
    skills: tuple[str, ...]
    chart: Chart
    band: str
    help: Help
    listens: int
    loop: bool
    ask: str
    take: str = ""

    def band_rng(self) -> random.Random:
        """The random numbers the band plays with, the same each time: the song sounds the same."""
        return random.Random(f"{self.take or self.id}:band")

    @property
    def is_one_pass(self) -> bool:
        """Whether the song is heard at its own speed only, because a class agreed on one pass."""
        return bool(self.recipe.get("one_pass"))


def make_exercise(recipe: Recipe, seed: int, level: Level | None = None) -> Exercise:
    """Make the exercise of a recipe and a seed (0 or more), perhaps as part of a level.

    The song depends on the generator version, the seed and the musical keys of the recipe only;
    with more or less help it stays the same song. `thrice` takes the first song of the seed that
    has its places, so a song that has them anyway stays as it is. Raises SettingsError.
    """
    if not _is_whole(seed):
        raise SettingsError("seed", show_value(seed), "a whole number, 0 or more")
    recipe = _with_band(recipe)
    rng = random.Random(f"{GENERATOR_VERSION}:{seed}:{recipe.digest(song_only=True)}")
    chart = generate_matching(recipe, rng)
    if recipe.around:
        chart = bars_around(chart, recipe.around, which=seed)
    return Exercise(
        id=made_id(recipe, seed, level),
        level=None if level is None else level.number,
        level_id=None if level is None else level.id,
        recipe=recipe_to_dict(recipe),
        seed=seed,
        generator_version=GENERATOR_VERSION,
        skills=chart_skills(chart),
        chart=chart,
        **_playing(recipe),
    )


def made_id(recipe: Recipe, seed: int, level: Level | None = None) -> str:
    """The id of the exercise that `make_exercise` makes."""
    digest = _with_band(recipe).digest()
    return short_digest("generated", GENERATOR_VERSION, seed, digest, _level_mark(level))


def _level_mark(level: Level | None) -> int | str | None:
    """What stands for a level in an exercise's id: the number it had in the first course, or else
    its id, so that the exercise keeps its id wherever the level stands."""
    return None if level is None else first_number(level.id) or level.id


def song_exercise(path: Path, recipe: Recipe = SONG_RECIPE) -> Exercise:
    """Make the exercise of a hand-written song; the recipe only says how it is played and asked.

    What is said to the players is no part of its id, so that results stay with the song.
    Raises FileError when the file cannot be read and NotationError naming all that is wrong in it.
    """
    chart = parse(_read_text(path), source=path.name)
    recipe = _with_band(recipe)
    return _song(
        chart,
        short_digest("song", chart_identity(without_notes(chart)), recipe.digest()),
        recipe,
        {"song": path.stem},
    )


def own_song_exercise(
    chart: Chart, song: str, recipe: Recipe = SONG_RECIPE, *, key_hidden: bool = False
) -> Exercise:
    """Make the exercise of a chart from the songbook; the recipe says how it is played and asked.

    `song` is the song's uid, and `key_hidden` whether the learner is not told the key. The recipe
    of the exercise has both, under "song" and "key_hidden".
    """
    recipe = _with_band(recipe)
    key = short_digest("songbook", song, chart_identity(chart), recipe.digest(), key_hidden)
    return _song(chart, key, recipe, {"song": song, "key_hidden": key_hidden})


def _song(chart: Chart, key: str, recipe: Recipe, about: Mapping[str, Any]) -> Exercise:
    """The exercise of a song that was written by hand, under the id `key`."""
    values = recipe_to_dict(recipe)
    return Exercise(
        id=key,
        level=None,
        level_id=None,
        recipe={**about} | {each: values[each] for each in PLAYING},
        seed=0,
        generator_version=GENERATOR_VERSION,
        skills=chart_skills(chart),
        chart=chart,
        **_playing(recipe),
    )


def new_seed() -> int:
    """A seed nobody chose, short enough to read out to somebody."""
    return secrets.randbelow(1_000_000)


def chart_exercise(chart: Chart, level: Level) -> Exercise:
    """Any chart as an exercise of a level, as if its song was one of the level's."""
    recipe = _with_band(level.recipe)
    return Exercise(
        id=short_digest("chart", chart_identity(chart), recipe.digest(), _level_mark(level)),
        level=level.number,
        level_id=level.id,
        recipe=recipe_to_dict(recipe),
        seed=0,
        generator_version=GENERATOR_VERSION,
        skills=chart_skills(chart),
        chart=chart,
        **_playing(recipe),
    )


def excerpt_exercise(whole: Exercise, first: int, last: int, shift: int, of: str) -> Exercise:
    """Bars `first` to `last` of an exercise's song as an exercise of its own, to be practised: of
    no level, looped, heard as often as one likes, with a count-off only where nothing comes before.

    Parameters: `shift` is how many semitones the key is moved up; `of` names what the bars are
    practised for: other practice of the same bars is another exercise. The recipe says all of this
    under "excerpt", besides how the exercise is played. Raises ChartError for bars that are not
    there.
    """
    chart = excerpt(whole.chart, first, last)
    chart = called_in(chart, chart.key.shifted(shift % 12))
    helped = replace(whole.help, count_off=first == 1, tonic_first=False)
    recipe = replace(SONG_RECIPE, band=whole.band, listens=0, loop=True, ask=whole.ask, help=helped)
    values = recipe_to_dict(recipe)
    bars = {"exercise": whole.id, "of": of, "first": first, "last": last, "shift": shift % 12}
    return Exercise(
        id=short_digest("excerpt", *bars.values()),
        level=None,
        level_id=None,
        recipe={EXCERPT: bars} | {key: values[key] for key in PLAYING},
        seed=0,
        generator_version=whole.generator_version,
        skills=chart_skills(chart),
        chart=chart,
        **_playing(recipe),
    )


def handed_out_exercise(
    song: Exercise,
    key: str,
    *,
    of: str,
    listens: int,
    one_pass: bool = False,
    level: Level | None = None,
    take: str = "",
) -> Exercise:
    """An exercise as it is handed out to a class, under the id `key`.

    Neither its id nor its recipe nor its seed says how its song can be made again, so that nothing
    a learner is shown leads to the chart. The recipe has how it is played, and `of`, a name of what
    it was handed out for, under "assignment".

    Parameters: `listens` is how often it may be heard, 0 without limit; `one_pass` whether it is
    heard once at its own speed; `level` the level that it counts for; `take` is that of the
    exercise, which is the same for all who hear the same song.
    """
    # What a level promises to play (`thrice`) makes no song without a seed.
    kept = (*PLAYING, "thrice", "key_hidden")
    values = {name: song.recipe[name] for name in kept if song.recipe.get(name)}
    loop = song.loop and not listens
    values |= {"listens": listens, "loop": loop}
    if one_pass:
        values["one_pass"] = True
    return replace(
        song,
        id=key,
        level=None if level is None else level.number,
        level_id=None if level is None else level.id,
        recipe={ASSIGNED: of} | values,
        seed=0,
        listens=listens,
        loop=loop,
        take=take,
    )


def parse_seed(text: str, where: str = "seed") -> int:
    """The seed written in a text: a whole number from 0 to `MOST_SEED` in the digits 0 to 9.

    Spaces around it are passed over. Raises SettingsError, in which `where` names the option or
    field.
    """
    digits = text.strip()
    if not re.fullmatch(f"[0-9]{{1,{len(str(MOST_SEED))}}}", digits) or int(digits) > MOST_SEED:
        raise SettingsError(where, show_value(digits), f"a whole number from 0 to {MOST_SEED:,}")
    return int(digits)


def generate_matching(recipe: Recipe, rng: random.Random) -> Chart:
    """The first generated song that meets the requirements of a recipe on every single song.

    Raises SettingsError naming the key that most of `TRIES` songs (`TRIES_THRICE` where the recipe
    has `thrice`) did not meet.
    """
    settings = recipe.settings()
    missed: Counter[str] = Counter()
    tries = TRIES_THRICE if recipe.thrice else TRIES
    for _ in range(tries):
        for chart in _candidates(recipe, generate(settings, rng)):
            unmet = unmet_keys(recipe, chart)
            if not unmet:
                return chart
            missed.update(unmet)
    key = missed.most_common(1)[0][0] if missed else "size"
    found = f"{getattr(recipe, key)}, which none of {tries} songs met"
    raise SettingsError(
        f"recipe: {key}", found, "a value that songs with these chords, rates and size can meet"
    )


def _candidates(recipe: Recipe, song: Chart) -> Iterator[Chart]:
    """The charts that a generated song gives a recipe: itself, or each pair of its sections."""
    if recipe.counted == RELATIVE_MAJOR:
        song = counted_from_relative_major(song)
    if recipe.size != TWO_SECTIONS:
        yield song
        return
    asked = (*recipe.needs, *recipe.thrice)
    yield from section_pairs(song, returning="changed return" in asked)


def unmet_keys(recipe: Recipe, chart: Chart) -> tuple[str, ...]:
    """The keys among `bars`, `least_chords`, `needs`, `thrice` and `within` that a chart
    does not meet."""
    checks = {
        "bars": recipe.bars is None or recipe.bars[0] <= len(chart.bars()) <= recipe.bars[1],
        "least_chords": len(_different_chords(chart)) >= recipe.least_chords,
        "needs": not recipe.needs or not set(recipe.needs).isdisjoint(chart_skills(chart)),
        "thrice": not missing_places(chart, recipe.thrice),
        "within": not recipe.within or not _outside(chart, recipe.within),
    }
    return tuple(key for key, met in checks.items() if not met)


def _outside(chart: Chart, within: Collection[str]) -> bool:
    """Whether a chart has a chord, an extension or a slash chord that is not among some skills."""
    return any(
        skill.startswith(WITHIN_KINDS) and skill not in within for skill in chart_skills(chart)
    )


def _different_chords(chart: Chart) -> set[tuple[object, str]]:
    """The root and quality of each different chord of a chart."""
    return {
        (event.chord.root, event.chord.quality)
        for bar in chart.bars()
        for event in bar.events
        if event.chord
    }


def exercise_to_json(exercise: Exercise) -> dict[str, Any]:
    """An exercise as plain values, its keys always in the same order; "take" only if it has one."""
    take = {"take": exercise.take} if exercise.take else {}
    return {
        "id": exercise.id,
        "level": exercise.level,
        "level_id": exercise.level_id,
        "recipe": dict(exercise.recipe),
        "seed": exercise.seed,
        "generator_version": exercise.generator_version,
        "skills": list(exercise.skills),
        "chart": chart_to_json(exercise.chart),
        **take,
    }


def exercise_from_json(data: Mapping[str, Any]) -> Exercise:
    """Read back what `exercise_to_json` gave; keys it does not know are passed over.

    The chart is taken as stored, whatever the generator would make today. An exercise from before
    levels had ids gets that of its level's number in the first course. Raises SettingsError for
    a missing or wrong value, ChartError or NotationError for a wrong chart.
    """
    for key, (allowed, holds) in JSON_RULES.items():
        if key in ("level_id", "take") and key not in data:
            continue
        if key not in data or not holds(data[key]):
            found = show_value(data[key]) if key in data else "nothing"
            raise SettingsError(f"exercise: {key}", found, allowed)
    recipe = data["recipe"]
    # The rest of an old recipe may name styles that are gone; the chart no longer needs them.
    played = {key: recipe[key] for key in PLAYING if key in recipe}
    return Exercise(
        id=data["id"],
        level=data["level"],
        level_id=data.get("level_id", first_id(data["level"])),
        recipe=recipe,
        seed=data["seed"],
        generator_version=data["generator_version"],
        skills=tuple(data["skills"]),
        chart=chart_from_json(data["chart"]),
        take=data.get("take", ""),
        **_playing(_with_band(recipe_from_dict(played, "exercise: recipe"))),
    )


def _read_text(path: Path) -> str:
    """Read a text file. Raises FileError naming the path and the reason."""
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise FileError(f"{path}: cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise FileError(f"{path}: byte {error.start} is not UTF-8, expected a text file") from error


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value)


def _is_level(value: object) -> bool:
    return value is None or (isinstance(value, int) and _is_whole(value) and value <= HIGHEST_LEVEL)


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


JSON_RULES: dict[str, tuple[str, Callable[[object], bool]]] = {
    "id": ("a text that is not empty", _is_text),
    "level": (f"a level's number, at most {HIGHEST_LEVEL}, or null", _is_level),
    "level_id": (
        "the id of a level, or null",
        lambda value: value is None or (_is_text(value) and len(value) <= MOST_LEVEL_ID),  # type: ignore[arg-type]
    ),
    "recipe": ("an object of settings", lambda value: isinstance(value, Mapping)),
    "seed": ("a whole number, 0 or more", _is_whole),
    "generator_version": ("a text that is not empty", _is_text),
    "skills": (
        "a list of texts",
        lambda value: isinstance(value, list) and all(isinstance(each, str) for each in value),
    ),
    "chart": ("an object, a chart", lambda value: isinstance(value, Mapping)),
    "take": ("a text", lambda value: isinstance(value, str)),
}


def _playing(recipe: Recipe) -> dict[str, Any]:
    """The values of a recipe that say how an exercise is played and asked."""
    return {key: getattr(recipe, key) for key in PLAYING}


def _with_band(recipe: Recipe) -> Recipe:
    """The recipe with its band filled in, so that a later change of the styles leaves it as it
    is."""
    if recipe.band is not None:
        return recipe
    one_style = len(recipe.styles) == 1
    return replace(recipe, band=STYLES[recipe.styles[0]].band if one_style else "full")


def song_digest(exercise: Exercise) -> str:
    """A digest (64 hexadecimal digits) of the reference chart, which is different for each song.

    Exercises that differ only in help, listens or what they ask have the same song.
    """
    return chart_digest(chart_to_json(exercise.chart))


def chart_digest(chart: Mapping[str, Any]) -> str:
    """The digest of a chart in its JSON shape; its text is left out, for it only says it again."""
    told = {key: value for key, value in chart.items() if key != "text"}
    plain = json.dumps(told, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(plain.encode()).hexdigest()
