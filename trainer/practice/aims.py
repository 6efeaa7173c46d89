"""Recipes aimed at a skill, at a stage of help that the learner can manage.

Only what the generator is asked for differs: more of a chord through `favour`, more of a feature
through its rate, a feel through its style. An aimed song is made by the same models of real songs
as any other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from trainer.errors import SettingsError
from trainer.exercise import Help, Recipe
from trainer.exercise.skills import is_skill
from trainer.practice.catalogue import kind_of, name_of

__all__ = [
    "COURSE_CHORDS",
    "FIRST_IN_LEVELS",
    "OF_LEVELS",
    "STAGES",
    "aimed_recipe",
    "can_aim",
    "plain_recipe",
    "remedial_recipe",
]

# Chords in the order in which the course brings them; a learner who has met none has the first
# three.
COURSE_CHORDS = ("1", "4", "5", "6-", "2-", "3-", "b7", "2", "4-")
MINOR_CHORDS = ("1-", "4-", "5", "b6", "b7", "b3")
FIRST_CHORDS = 3
_STYLE_OF_METER = {"4/4": "straight pop", "3/4": "waltz", "6/8": "6/8", "12/8": "gospel 12/8"}
_STYLE_OF_FEEL = {
    "straight": "straight pop",
    "shuffle": "shuffle",
    "two-beat": "two-beat",
    "train beat": "train beat",
    "half-time": "half-time rock",
    "waltz": "waltz",
    "6/8": "6/8",
    "12/8": "gospel 12/8",
}
# Skills that only a whole song has.
_OF_SONGS = frozenset(("key change", "tag", "changed return", "section start", "vamp"))
# Skills that a phrase by itself hardly ever has.
_OF_SECTIONS = frozenset(("push", "short bar", "no chord", "odd phrase"))
_NEVER = frozenset(("long bar",))
# Skills that sets leave to the levels, which teach them and keep them up: a set that aimed at each
# by itself would have no time for what most songs are made of.
OF_LEVELS = frozenset(
    ("vamp", "away opening", "relative home", "twelve-bar form", "pickup", "no chord")
)
# Slash chords that a set brings back once a level has taught them.
FIRST_IN_LEVELS = frozenset(f"bass {name}" for name in ("4/1", "1/5", "1/b7", "4/5", "6-/5", "5/1"))
# The rates that bring a skill, beside what they are in a plain song.
_RATES: dict[str, dict[str, float]] = {
    "even split": {"splits": 0.8},
    "uneven split": {"splits": 0.6, "uneven_splits": 1.0},
    "hold": {"holds": 0.3},
    "push": {"pushes": 0.35},
    "choke": {"chokes": 0.25},
    "short bar": {"short_bars": 0.15},
    "odd phrase": {"odd_phrases": 1.0},
    "key change": {"key_change": 1.0},
    "tag": {"tag": 1.0},
    "changed return": {"later_changes": 1.0},
    "no chord": {"silent_bars": 0.5},
    "pickup": {"pickup": 1.0},
    "vamp": {"fade": 1.0},
    "bass": {"slash_chords": 1.0},
    # Beyond a phrase, as many as real songs have: a chord in passing is met there.
    "chord": {"splits": 0.22},
}
# Slash chords whose bass passes in the second half of a bar.
_PASSING_BASSES = ("1/b7", "6-/5", "5/1")
# The chord that a bass steps down to.
_BASS_LEADS_TO = {"1/b7": "6-"}


@dataclass(frozen=True, slots=True)
class Stage:
    """One of the four stages of help: the first gives most, the last none.

    `chords` is the number of different chords at most, counted along `COURSE_CHORDS`.
    """

    size: str
    bars: tuple[int, int] | None
    chords: int
    band: str
    help: Help
    listens: int
    loop: bool


STAGES = (
    Stage("phrase", None, 4, "small", Help(6.0, True), 0, True),
    Stage("section", (8, 16), 6, "small", Help(3.0, True), 6, True),
    Stage("section", (8, 24), 7, "full", Help(0.0, False), 3, False),
    Stage("song", (32, 80), 9, "full", Help(0.0, False), 1, False),
)
# Slow songs would take too long.
_STYLES = (("ballad",), ("ballad", "straight pop"), ("ballad", "straight pop"), ("straight pop",))
SONG_BARS = (32, 80)
# Whole songs are long, so they are brisk and heard at most twice.
SONG_TEMPO = (108.0, 136.0)
SONG_LISTENS = (2, 2, 1, 1)
# For what was missed: the slowest ballads, with two chords beside the one aimed at.
REMEDIAL_TEMPO = (58.0, 62.0)
REMEDIAL_OTHERS = 2


def can_aim(skill: str) -> bool:
    """Whether an exercise can be made for a skill."""
    return is_skill(skill) and skill not in _NEVER


def plain_recipe(stage: int, known: Iterable[str] = COURSE_CHORDS) -> Recipe:
    """A recipe at a stage (0 to 3) that aims at no skill, of chords that the learner knows."""
    chosen = STAGES[stage]
    met = frozenset(known)
    chords = COURSE_CHORDS[:FIRST_CHORDS] + tuple(
        chord for chord in COURSE_CHORDS[FIRST_CHORDS : chosen.chords] if chord in met
    )
    return Recipe(
        size=chosen.size,
        bars=chosen.bars,
        styles=_STYLES[stage],
        chords=chords,
        least_chords=min(2 + (stage > 0), len(chords)),
        band=chosen.band,
        help=chosen.help,
        listens=chosen.listens,
        loop=chosen.loop,
        ask="chords",
    )


def aimed_recipe(skill: str, stage: int, known: Iterable[str] = COURSE_CHORDS) -> Recipe:
    """A recipe at a stage (0 to 3) in which a skill occurs as often as an idiomatic song allows.

    `known` are the chords, by degree and quality, that the learner has met. Raises SettingsError
    for what is no skill or cannot be made.
    """
    if not can_aim(skill):
        raise SettingsError("skill", repr(skill), "a skill that songs can be made for")
    kind, name = kind_of(skill), name_of(skill)
    recipe = plain_recipe(stage, known)
    rates = {} if kind == "chord" and not stage else _RATES.get(kind, {})
    if name in _PASSING_BASSES:
        rates = rates | {"splits": 0.3}
    changes: dict[str, Any] = {"features": replace(recipe.features, **rates)}
    if kind in ("hold", "push", "choke"):
        changes["ask"] = "everything"
    changes |= _changes(kind, name, recipe, stage)
    if kind not in ("meter", "feel", "minor home"):
        changes["needs"] = (skill,)
    return replace(recipe, **changes)


def remedial_recipe(skill: str, known: Iterable[str] = COURSE_CHORDS) -> Recipe:
    """A recipe for a skill that was missed: as at stage 0, slower and with fewer other chords."""
    recipe = aimed_recipe(skill, 0, known)
    if recipe.styles == ("ballad",):
        recipe = replace(recipe, tempo=REMEDIAL_TEMPO)
    if kind_of(skill) not in ("chord", "bass"):
        return recipe
    aimed = tuple(chord for chord in recipe.chords if chord in recipe.favour)
    others = tuple(chord for chord in recipe.chords if chord not in aimed)[:REMEDIAL_OTHERS]
    chords = (*others, *aimed)
    return replace(recipe, chords=chords, least_chords=min(recipe.least_chords, len(chords)))


def _changes(kind: str, name: str, recipe: Recipe, stage: int) -> dict[str, Any]:
    """What a kind of skill needs besides its rates."""
    if kind in _OF_SONGS:
        return {
            "size": "song",
            "bars": SONG_BARS,
            "styles": _STYLES[-1],
            "tempo": SONG_TEMPO,
            "listens": SONG_LISTENS[stage],
            "loop": False,
        }
    if kind in _OF_SECTIONS:
        longer = STAGES[max(stage, 1)]
        return {"size": longer.size, "bars": longer.bars, "styles": ("straight pop",)}
    if kind in ("meter", "feel"):
        styles = _STYLE_OF_METER if kind == "meter" else _STYLE_OF_FEEL
        return {"styles": (styles[name],)}
    if kind == "extension":
        return _with_extension(recipe, name)
    if kind == "bass":
        return _with_bass(recipe, name)
    if kind == "chord":
        return _with_chord(recipe, name)
    others: dict[str, dict[str, Any]] = {
        "minor home": _minor(stage),
        "relative home": _minor(stage) | {"counted": "relative major"},
        "twelve-bar form": _twelve_bars(),
        "away opening": {"help": replace(recipe.help, tonic_first=False)},
        "odd phrase": {"odd_lengths": (3, 5)},
        "uneven split": {"styles": ("ballad", "two-beat") if stage else ("ballad",)},
    }
    return others.get(kind, {})


def _minor(stage: int) -> dict[str, Any]:
    """What makes the 1 of a song minor."""
    chords = MINOR_CHORDS[: 4 + stage]
    return {"styles": ("minor-key",), "minor": 1.0, "chords": chords}


def _twelve_bars() -> dict[str, Any]:
    """What makes a section a blues of twelve bars."""
    return {
        "size": "section",
        "bars": (12, 12),
        "styles": ("twelve-bar blues",),
        "chords": COURSE_CHORDS[:FIRST_CHORDS],
        "least_chords": 2,
    }


def _with_chord(recipe: Recipe, chord: str) -> dict[str, Any]:
    """Few chords beside the one aimed at, which is favoured."""
    if chord in MINOR_CHORDS and chord not in COURSE_CHORDS:
        chords = tuple(dict.fromkeys((*MINOR_CHORDS[:3], chord, *MINOR_CHORDS[3:5])))
        return {
            "styles": ("minor-key",),
            "minor": 1.0,
            "chords": chords,
            "favour": (chord,),
        }
    others = FIRST_CHORDS + (len(recipe.chords) > STAGES[1].chords)
    fewer = [other for other in recipe.chords if other != chord][:others]
    chords = tuple(dict.fromkeys((*fewer, chord)))
    return {"chords": chords, "favour": (chord,), "least_chords": min(3, len(chords))}


def _with_bass(recipe: Recipe, name: str) -> dict[str, Any]:
    """The chord of one slash chord beside few others, the one that its bass leads to among them."""
    chord = name.partition("/")[0]
    changes = _with_chord(recipe, chord) | {"basses": (name,)}
    following = _BASS_LEADS_TO.get(name)
    if name in _PASSING_BASSES and recipe.size == "phrase":
        # A phrase has few places for a bass that passes.
        changes |= {"size": "section", "bars": STAGES[1].bars}
    if following is not None:
        chords = dict.fromkeys((chord, *changes["chords"], following))
        changes |= {"chords": tuple(chords), "favour": (following,)}
    return changes


def _with_extension(recipe: Recipe, extension: str) -> dict[str, Any]:
    """The chords of a recipe, with the extension on those that carry it in everyday songs."""
    homes = {
        "7": ("5", "1", "4"),
        "maj7": ("1", "4"),
        "sus4": ("5", "1"),
        "sus2": ("1", "4"),
        "6": ("1", "4"),
        "9": ("5", "4"),
        "add9": ("1", "4"),
        "11": ("5",),
        "13": ("5",),
    }.get(extension, ("5",))
    extended = tuple(f"{home}^{extension}" for home in homes)
    plain = tuple(chord for chord in recipe.chords if chord == "1" or chord not in homes)
    return {"chords": (*plain, *extended), "favour": extended, "least_chords": 2}
