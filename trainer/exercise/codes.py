"""Codes of songs: short texts by which somebody else gets the same exercise, and not its chart.

A code holds what an exercise is made from: the generator's version, a level or a recipe, and the
seed; or the name of a hand-written song. It is written in the 32 letters and digits of RFC 4648
(section 6) without padding, in groups of four, so that it can be read out and typed. Two bytes
check the typing, and two that the song that was made is the same.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import re
import zlib
from dataclasses import dataclass
from typing import Any

from trainer.errors import SettingsError
from trainer.exercise.course import load_course, load_recipes, load_songs
from trainer.exercise.exercise import Exercise, made_id, make_exercise, song_digest
from trainer.exercise.recipe import Level, NamedRecipe, Recipe, flatten, recipe_to_dict
from trainer.exercise.recipe_text import recipe_from_dict, show_value
from trainer.generate import GENERATOR_VERSION

__all__ = ["Catalogue", "exercise_of_code", "song_code"]

WHERE = "code"
GROUP = 4
MOST_CODE = 4000
# A code packs no more than any recipe has.
MOST_PACKED = 20_000
PLAIN, PACKED = b"\x00", b"\x01"
CHECK = 2
# What is easily written for a letter of the alphabet.
ALIKE = str.maketrans({"0": "O", "1": "I", "8": "B"})
MISTYPED = "every letter and digit of it as it was given to you"


@dataclass(frozen=True, slots=True)
class Catalogue:
    """What codes name: the levels of the course, the recipes that have names, and the hand-written
    songs."""

    course: tuple[Level, ...]
    recipes: tuple[NamedRecipe, ...]
    songs: tuple[Exercise, ...]

    @classmethod
    def load(cls) -> Catalogue:
        """All that ships with the trainer."""
        return cls(load_course(), load_recipes(), load_songs())

    def level(self, level_id: object) -> Level | None:
        """The level of that id, None if there is none."""
        return next((each for each in self.course if each.id == level_id), None)


def song_code(exercise: Exercise, catalogue: Catalogue) -> str | None:
    """The code of an exercise; None if it has none.

    An exercise has one if this version of the trainer makes it again from a level or recipe and a
    seed, or if it is a hand-written song. A song of the songbook, a fixed test, work
    for a class and bars that are practised have none.
    """
    made = _made_from(exercise, catalogue)
    if made is None:
        return None
    plain = json.dumps(made, ensure_ascii=False, separators=(",", ":")).encode()
    packed = zlib.compress(plain, 9)
    content = PACKED + packed if len(packed) < len(plain) else PLAIN + plain
    content += _digest(exercise)
    text = base64.b32encode(content + _check(content)).decode().rstrip("=")
    return "-".join(text[k : k + GROUP] for k in range(0, len(text), GROUP))


def exercise_of_code(code: str, catalogue: Catalogue) -> Exercise:
    """The exercise of a code. Spaces, hyphens and small letters make no difference.

    Raises
    ------
    SettingsError
        If the text is no code, is mistyped, or is of a song that this version of the trainer does
        not make.
    """
    content = _read(code)
    made, digest = _unpacked(content[:-CHECK]), content[-CHECK:]
    exercise = _make(made, catalogue)
    if _digest(exercise) != digest:
        raise SettingsError(
            WHERE, "a code of another version of the trainer", "one that was made by this version"
        )
    return exercise


def _made_from(exercise: Exercise, catalogue: Catalogue) -> list[Any] | None:
    """What a code says: version, level, recipe and seed, or a song's name alone."""
    if any(song.id == exercise.id for song in catalogue.songs):
        return [exercise.recipe["song"]]
    level = catalogue.level(exercise.level_id)
    if exercise.level_id is not None and level is None:
        return None
    if exercise.generator_version != GENERATOR_VERSION:
        return None
    try:
        recipe = recipe_from_dict(exercise.recipe, "recipe")
    except SettingsError:
        # It has more than a recipe: a test's protocol, bars that are practised, work for a class.
        return None
    if made_id(recipe, exercise.seed, level) != exercise.id:
        return None
    return [
        GENERATOR_VERSION,
        None if level is None else level.id,
        _recipe_in_code(recipe, level, catalogue),
        exercise.seed,
    ]


def _recipe_in_code(recipe: Recipe, level: Level | None, catalogue: Catalogue) -> Any:
    """A recipe as a code has it: None for that of the level, its name, or what it changes of the
    defaults."""
    if level is not None and level.recipe.digest() == recipe.digest():
        return None
    named = (each.name for each in catalogue.recipes if each.recipe.digest() == recipe.digest())
    if name := next(named, None):
        return name
    defaults = flatten(recipe_to_dict(Recipe()))
    settings = flatten(recipe_to_dict(recipe)).items()
    return {key: value for key, value in settings if value != defaults.get(key)}


def _make(made: Any, catalogue: Catalogue) -> Exercise:
    """The exercise of what a code says."""
    if not isinstance(made, list) or len(made) not in (1, 4):
        raise SettingsError(WHERE, "a code that names no song", MISTYPED)
    if len(made) == 1:
        found = next((song for song in catalogue.songs if song.recipe["song"] == made[0]), None)
        if found is None:
            raise SettingsError(WHERE, "a code of a song that is not here", "one of a song here")
        return found
    version, level_id, recipe, seed = made
    if version != GENERATOR_VERSION:
        raise SettingsError(
            WHERE,
            f"a code of version {show_value(version)} of the song writer",
            f"one of version {GENERATOR_VERSION}; both trainers have to be of the same version",
        )
    level = catalogue.level(level_id)
    if level is None and (level_id is not None or recipe is None):
        raise SettingsError(WHERE, "a code of a level that is not here", "one of a level here")
    return make_exercise(_recipe_of(recipe, level, catalogue), seed, level)


def _recipe_of(recipe: Any, level: Level | None, catalogue: Catalogue) -> Recipe:
    """The recipe that a code has as `_recipe_in_code`."""
    if recipe is None and level is not None:
        return level.recipe
    if isinstance(recipe, str):
        named = (each.recipe for each in catalogue.recipes if each.name == recipe)
        if found := next(named, None):
            return found
        raise SettingsError(WHERE, "a code of a recipe that is not here", "one of a recipe here")
    if not isinstance(recipe, dict):
        raise SettingsError(WHERE, "a code that names no recipe", MISTYPED)
    return recipe_from_dict(recipe, WHERE)


def _read(code: str) -> bytes:
    """The bytes of a code, checked for typing."""
    text = re.sub(r"[\s-]+", "", code[: 2 * MOST_CODE]).upper().translate(ALIKE)
    if len(text) > MOST_CODE:
        raise SettingsError(WHERE, f"{len(text):,} characters", f"at most {MOST_CODE:,}")
    if wrong := re.search(r"[^A-Z2-7]", text):
        raise SettingsError(WHERE, show_value(wrong[0]), "letters from A to Z and digits")
    try:
        content = base64.b32decode(text + "=" * (-len(text) % 8))
    except binascii.Error as error:
        raise SettingsError(WHERE, "a code that is not whole", MISTYPED) from error
    content, check = content[:-CHECK], content[-CHECK:]
    if len(content) <= CHECK + 1 or _check(content) != check:
        raise SettingsError(WHERE, "a code with a slip in it", MISTYPED)
    return content


def _unpacked(content: bytes) -> Any:
    """What a code says, as JSON values."""
    plain = content[1:]
    try:
        if content[:1] == PACKED:
            reader = zlib.decompressobj()
            plain = reader.decompress(plain, MOST_PACKED)
        return json.loads(plain)
    except (zlib.error, ValueError, RecursionError) as error:
        raise SettingsError(WHERE, "a code that cannot be unpacked", MISTYPED) from error


def _digest(exercise: Exercise) -> bytes:
    return bytes.fromhex(song_digest(exercise))[:CHECK]


def _check(content: bytes) -> bytes:
    return hashlib.sha256(content).digest()[:CHECK]
