"""Recipes: the settings from which exercises are made. Levels of the course are recipes, too.

How a recipe is read from a file and checked is in `trainer.exercise.recipe_text`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from trainer.exercise.cutting import TWO_SECTIONS
from trainer.exercise.identity import first_names
from trainer.exercise.rules import TABLES
from trainer.generate import STYLES, Features, Settings

__all__ = ["PLAYING", "Help", "Level", "NamedRecipe", "Recipe", "flatten", "recipe_to_dict"]

# The keys that only say how an exercise is played and asked: the song stays when they change.
PLAYING = ("band", "listens", "loop", "ask", "help")
# The keys that only the page shows: neither song, sound nor the exercise's id depend on them.
SHOWN = ("help.light",)
# The keys that choose among the songs of a seed without changing what is generated: the first song
# that has what they ask for is taken.
CHOOSING = ("thrice",)
# Keys that recipes of earlier versions did not have: one that does not use them stays as it was.
OPTIONAL = ("thrice", "around", "basses", "within", "counted")


@dataclass(frozen=True, slots=True)
class Help:
    """What is done for the learner.

    `bass_lift_db` raises the bass, 0–12 dB; `tonic_first` sounds the 1 chord before the song;
    `count_off` counts the band in; `light` offers a light that shows, while the band plays, each
    bar's beats ("beats"), the number of the bar as well ("bars"), or nothing ("off").
    """

    bass_lift_db: float = 0.0
    tonic_first: bool = False
    count_off: bool = True
    light: str = "off"


@dataclass(frozen=True, slots=True)
class Recipe:
    """One kind of exercise. `exercises/README.md` explains every key.

    The musical keys are those of `trainer.generate.Settings`, where `tempo` is `tempo_bpm`, None
    for the style's own; `meters` keeps only the styles in those meters. `style_weights` has one
    weight for each style, or is empty if all are drawn equally often. Every song has `bars`
    (least, most), `least_chords` different chords, one of the skills in `needs` and at least
    `LEAST_PLACES` places of each skill in `thrice`; it is drawn again until it has. `within`
    names skills: no song has a chord, an extension or a slash chord besides; empty asks nothing.
    `around` names a skill: only the bars around one of its places are played, "" plays all.
    `counted` says from which 1 minor songs are counted: "relative major", or "" for their own.
    `listens` is how often a song may be heard, 0 without limit; `loop` lets a phrase be repeated;
    `ask` names what the grade looks at.
    """

    size: str = "song"
    styles: tuple[str, ...] = ("straight pop",)
    style_weights: tuple[float, ...] = ()
    meters: tuple[str, ...] = ()
    tempo: tuple[float, float] | None = None
    keys: tuple[str, ...] = ()
    chords: tuple[str, ...] = ()
    favour: tuple[str, ...] = ()
    basses: tuple[str, ...] = ()
    extensions: float = 0.0
    minor: float = 0.0
    phrase_bars: int = 4
    odd_lengths: tuple[int, ...] = (2, 3, 5, 6, 7)
    variety: float = 0.0
    bars: tuple[int, int] | None = None
    least_chords: int = 1
    needs: tuple[str, ...] = ()
    thrice: tuple[str, ...] = ()
    within: tuple[str, ...] = ()
    around: str = ""
    counted: str = ""
    features: Features = field(default_factory=Features)
    band: str | None = None
    help: Help = field(default_factory=Help)
    listens: int = 2
    loop: bool = False
    ask: str = "chords"

    def settings(self) -> Settings:
        """What the generator is asked for."""
        weights = self.style_weights or (1.0,) * len(self.styles)
        kept = {
            name: weight
            for name, weight in zip(self.styles, weights, strict=True)
            if not self.meters or str(STYLES[name].meter) in self.meters
        }
        return Settings(
            size="song" if self.size == TWO_SECTIONS else self.size,
            styles=tuple(kept),
            style_weights=tuple(kept.values()) if self.style_weights else (),
            tempo_bpm=self.tempo,
            keys=self.keys,
            chords=self.chords,
            extensions=self.extensions,
            minor=self.minor,
            phrase_bars=self.phrase_bars,
            features=self.features,
            odd_lengths=self.odd_lengths,
            variety=self.variety,
            favour=self.favour,
            basses=self.basses,
        )

    def digest(self, *, song_only: bool = False) -> str:
        """The SHA-256 of the recipe's values as hexadecimal text, the same on every machine.

        Only values that differ from the defaults enter it, so a key added later changes no digest,
        and none of what only the page shows.
        `song_only` leaves out how the song is played and asked, and what only chooses among the
        songs of a seed.
        """
        defaults = flatten(recipe_to_dict(Recipe()))
        left_out = (*PLAYING, *CHOOSING) if song_only else ()
        changed = {
            first_names(key): first_names(value)
            for key, value in flatten(recipe_to_dict(self)).items()
            if value != defaults.get(key)
            and key not in SHOWN
            and key.partition(".")[0] not in left_out
        }
        text = json.dumps(changed, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
        return hashlib.sha256(text.encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Level:
    """One level of the course.

    `number` is its place in the course, from 1, and `id` its lasting name, by which results are
    stored. `introduces` tells the learner what is new; `skills` are those that it teaches, by
    `trainer.exercise.skills`, and `introduced` those of them that no earlier level of the course
    has; `pass_mark` is the score (above 0, at most 1) that the whole has to reach. What else a
    pass takes is in `trainer.practice.passing`.
    `part` is the heading over the level and those after it where a part of the course begins with
    it, else "".
    """

    number: int
    id: str
    title: str
    introduces: str
    skills: tuple[str, ...]
    pass_mark: float
    recipe: Recipe
    path: Path
    introduced: tuple[str, ...]
    part: str = ""

    def __hash__(self) -> int:
        """The hash of the id, so that a level as a key costs no walk through its recipe."""
        return hash(self.id)


@dataclass(frozen=True, slots=True)
class NamedRecipe:
    """A recipe that ships with the trainer: its name, and what it is in a title and a sentence."""

    name: str
    title: str
    description: str
    recipe: Recipe


def recipe_to_dict(recipe: Recipe) -> dict[str, Any]:
    """A recipe as plain values, its keys always in the same order.

    `styles` is a list, or an object of weights where the styles have weights. `tempo`, `bars`,
    `band` and the `OPTIONAL` keys are left out where the recipe leaves them open.
    """
    table: dict[str, Any] = {}
    for each in fields(recipe):
        value = getattr(recipe, each.name)
        if each.name in TABLES:
            table[each.name] = asdict(value)
        elif value is not None and not (each.name in OPTIONAL and not value):
            table[each.name] = list(value) if isinstance(value, tuple) else value
    weights = table.pop("style_weights")
    if weights:
        table["styles"] = dict(zip(recipe.styles, weights, strict=True))
    return table


def flatten(data: Mapping[str, Any]) -> dict[str, Any]:
    """A table with the keys of its sub-tables written as in "features.splits"."""
    flat: dict[str, Any] = {}
    for key, value in data.items():
        if key in TABLES and isinstance(value, Mapping):
            flat |= {f"{key}.{inner}": item for inner, item in value.items()}
        else:
            flat[key] = value
    return flat
