"""From options to exercises: a level, a recipe or a hand-written song."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import SettingsError

if TYPE_CHECKING:
    from trainer.exercise import Exercise, Level, Recipe

__all__ = ["exercise_source", "level_numbered", "recipe_called", "song_named"]


def level_numbered(number: int) -> Level:
    """The level of the course with this number. Raises SettingsError naming those there are."""
    from trainer.exercise import load_course

    course = load_course()
    for level in course:
        if level.number == number:
            return level
    raise SettingsError(
        "--level", str(number), f"a level from {course[0].number} to {course[-1].number}"
    )


def song_named(name: str) -> Exercise:
    """The hand-written song whose file name or title is or contains `name`."""
    from trainer.exercise import load_songs

    songs = load_songs()
    wanted = name.lower()
    found = [song for song in songs if wanted in song.chart.title.lower()]
    if len(found) == 1:
        return found[0]
    titles = ", ".join(song.chart.title for song in found or songs)
    raise SettingsError("--song", repr(name), f"one of these titles, or part of one: {titles}")


def recipe_called(name: str) -> Recipe:
    """The recipe of a name, or of a file: a name has neither a slash nor the ending .toml.

    Raises SettingsError listing the names there are, or what `load_recipe` raises.
    """
    from trainer.exercise import load_recipe, named_recipe

    if name.endswith(".toml") or "/" in name or "\\" in name:
        return load_recipe(Path(name))
    return named_recipe(name, where="--recipe").recipe


def exercise_source(
    level: int | None, recipe: str | None, song: str | None = None, *, songs: bool = True
) -> Callable[[int], Exercise]:
    """What makes the exercise of a seed, from the one option given of the three (or, without
    `songs`, of the first two).

    Raises SettingsError unless exactly one is given. A hand-written song is the same for every
    seed.
    """
    from trainer.exercise import make_exercise

    options = {"--level": level, "--recipe": recipe, "--song": song}
    given = [name for name, value in options.items() if value is not None]
    if len(given) != 1:
        expected = "one of --level, --recipe and --song" if songs else "--level or --recipe"
        raise SettingsError("exercise", " and ".join(given) or "neither", expected)
    if song is not None:
        written = song_named(song)
        return lambda _: written
    if recipe is not None:
        chosen_recipe = recipe_called(recipe)
        return lambda seed: make_exercise(chosen_recipe, seed)
    chosen = level_numbered(level or 0)
    return lambda seed: make_exercise(chosen.recipe, seed, chosen)
