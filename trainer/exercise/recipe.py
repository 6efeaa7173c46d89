"""Recipes: the settings from which exercises are made, read from TOML and checked whole."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field, fields
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from trainer.errors import FileError, SettingsError, SettingsErrorGroup
from trainer.exercise.contradictions import contradictions
from trainer.exercise.rules import RULES, TABLES
from trainer.generate import STYLES, Features, Settings

__all__ = [
    "Help",
    "Recipe",
    "load_recipe",
    "read_text",
    "read_toml",
    "recipe_from_dict",
    "recipe_to_dict",
]

# What a file may say about itself besides its recipe; the course reads it.
LEVEL_TABLE = "level"
# The keys that only say how an exercise is played and asked: the song stays when they change.
PLAYING = ("band", "listens", "loop", "ask", "help")


@dataclass(frozen=True, slots=True)
class Help:
    """What the band does for the learner.

    `bass_lift_db` raises the bass, 0–12 dB; `tonic_first` sounds the 1 chord before the song;
    `count_off` counts the band in.
    """

    bass_lift_db: float = 0.0
    tonic_first: bool = False
    count_off: bool = True


@dataclass(frozen=True, slots=True)
class Recipe:
    """One kind of exercise. `exercises/README.md` explains every key.

    The musical keys are those of `trainer.generate.Settings`, where `tempo` is `tempo_bpm`, None
    for the style's own; `meters` keeps only the styles in those meters. Every song
    has `bars` (least, most), `least_chords` different chords and one of the skills in `needs`; it
    is drawn again until it has. `listens` 0 means no
    limit; `loop` lets a phrase be repeated; `ask` is what the grade looks at.
    """

    size: str = "song"
    styles: tuple[str, ...] = ("straight pop",)
    meters: tuple[str, ...] = ()
    tempo: tuple[float, float] | None = None
    keys: tuple[str, ...] = ()
    chords: tuple[str, ...] = ()
    favour: tuple[str, ...] = ()
    extensions: float = 0.0
    minor: float = 0.0
    phrase_bars: int = 4
    odd_lengths: tuple[int, ...] = (2, 3, 5, 6, 7)
    variety: float = 0.0
    bars: tuple[int, int] | None = None
    least_chords: int = 1
    needs: tuple[str, ...] = ()
    features: Features = field(default_factory=Features)
    band: str | None = None
    help: Help = field(default_factory=Help)
    listens: int = 2
    loop: bool = False
    ask: str = "chords"

    def settings(self) -> Settings:
        """What the generator is asked for."""
        return Settings(
            size=self.size,
            styles=tuple(
                name
                for name in self.styles
                if not self.meters or str(STYLES[name].meter) in self.meters
            ),
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
        )

    def digest(self, *, song_only: bool = False) -> str:
        """A short name of what the recipe says, the same on every machine.

        Only what differs from the defaults counts, so a key added later changes no digest.
        `song_only` leaves out how the song is played and asked.
        """
        usual = _flat(recipe_to_dict(Recipe()))
        said = {
            key: value
            for key, value in _flat(recipe_to_dict(self)).items()
            if value != usual.get(key) and not (song_only and key.partition(".")[0] in PLAYING)
        }
        text = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
        return hashlib.sha256(text.encode()).hexdigest()


def load_recipe(path: Path) -> Recipe:
    """Read a recipe file; a level of the course is one too.

    Raises FileError when it cannot be read and SettingsErrorGroup naming all that is wrong in it.
    """
    data = read_toml(path)
    data.pop(LEVEL_TABLE, None)
    return recipe_from_dict(data, path.name)


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file. Raises FileError, or SettingsError with line and column."""
    try:
        return tomllib.loads(read_text(path))
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(
            path.name, f"a text that is not TOML ({error})", 'lines such as size = "song"'
        ) from error


def read_text(path: Path) -> str:
    """Read a text file. Raises FileError naming the path and the reason."""
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise FileError(f"{path}: cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise FileError(f"{path}: byte {error.start} is not UTF-8, expected a text file") from error


def recipe_from_dict(data: Mapping[str, Any], where: str) -> Recipe:
    """The recipe that a table of settings says; what is left out keeps its default.

    `where` names the source in messages. Raises SettingsErrorGroup with every unknown key, wrong
    value and contradiction.
    """
    problems = list(_problems(_flat(data), where))
    if problems:
        # Contradictions between the sound values are told too, so one round of mending suffices.
        wrong = {problem.where.removeprefix(f"{where}: ") for problem in problems}
        sound = {
            key: value for key, value in _flat(data).items() if key in RULES and key not in wrong
        }
        problems += contradictions(_build(sound), where, ignore=frozenset(wrong))
        raise SettingsErrorGroup(tuple(problems))
    recipe = _build(_flat(data))
    problems = contradictions(recipe, where)
    if problems:
        raise SettingsErrorGroup(tuple(problems))
    return recipe


def recipe_to_dict(recipe: Recipe) -> dict[str, Any]:
    """A recipe as plain values in a fixed order, `tempo` and `band` left out where the style
    decides."""
    table: dict[str, Any] = {}
    for each in fields(recipe):
        value = getattr(recipe, each.name)
        if each.name in TABLES:
            table[each.name] = asdict(value)
        elif value is not None:
            table[each.name] = list(value) if isinstance(value, tuple) else value
    return table


def _flat(data: Mapping[str, Any]) -> dict[str, Any]:
    """A table with the keys of its sub-tables written "features.splits"."""
    flat: dict[str, Any] = {}
    for key, value in data.items():
        if key in TABLES and isinstance(value, Mapping):
            flat |= {f"{key}.{inner}": item for inner, item in value.items()}
        else:
            flat[key] = value
    return flat


def _problems(flat: Mapping[str, Any], where: str) -> Iterator[SettingsError]:
    """Each unknown key and each value that its key may not hold."""
    for key, value in flat.items():
        place = f"{where}: {key}"
        if key in TABLES:
            yield SettingsError(place, repr(value), f"a table [{key}]")
        elif key not in RULES:
            near = get_close_matches(key, RULES, 1)
            hint = f"{near[0]}, or another " if near else "one "
            yield SettingsError(place, "an unknown key", f"{hint}of {', '.join(RULES)}")
        elif not RULES[key].holds(value):
            yield SettingsError(place, _shown(value), RULES[key].allowed)


def _shown(value: object) -> str:
    """A value as its file would write it."""
    try:
        return json.dumps(value, ensure_ascii=False)
    except (TypeError, ValueError):
        return repr(value)


def _build(flat: Mapping[str, Any]) -> Recipe:
    """The recipe of checked values."""
    plain: dict[str, Any] = {}
    tables: dict[str, dict[str, Any]] = {name: {} for name in TABLES}
    for key, value in flat.items():
        table, _, inner = key.rpartition(".")
        home = tables[table] if table else plain
        home[inner] = tuple(value) if isinstance(value, list) else _as_float(key, value)
    if "tempo" in plain:
        plain["tempo"] = tuple(float(item) for item in plain["tempo"])
    return Recipe(features=Features(**tables["features"]), help=Help(**tables["help"]), **plain)


def _as_float(key: str, value: Any) -> Any:
    """A rate written as 1 is 1.0, so that both give the same recipe."""
    rate = key in ("extensions", "minor", "variety", "help.bass_lift_db") or key.startswith(
        "features."
    )
    return float(value) if rate else value
