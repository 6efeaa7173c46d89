"""Contradictions: settings of a recipe that are each allowed but not together."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import NamedTuple

from trainer.errors import SettingsError
from trainer.exercise.cutting import TWO_SECTIONS
from trainer.exercise.recipe import Recipe
from trainer.generate import PASSING_CHORDS, STYLES, check_settings

__all__ = ["contradictions"]

# What only a whole song can have, by what it needs.
SONG_FEATURES = ("key_change", "tag", "later_changes", "fade", "bridge_key")
# What can only happen where its rate is above 0.
NEEDED_RATES = {
    "even split": "splits",
    "uneven split": "uneven_splits",
    "push": "pushes",
    "choke": "chokes",
    "short bar": "short_bars",
    "key change": "key_change",
    "tag": "tag",
    "no chord": "silent_bars",
    "pickup": "pickup",
    "vamp": "fade",
}
# The keys that the generator checks together.
GENERATED = ("styles", "meters", "tempo", "chords", "favour", "minor")


class _Clash(NamedTuple):
    """A contradiction: its keys, of which the message names the first; what was found there, and
    what was expected."""

    keys: tuple[str, ...]
    found: str
    expected: str


def contradictions(
    recipe: Recipe, where: str, *, ignore: frozenset[str] = frozenset()
) -> list[SettingsError]:
    """All contradictions of a recipe whose single values are allowed.

    `ignore` names keys that were found wrong already, whose values are not looked at.
    """
    clashes = [clash for check in CHECKS for clash in check(recipe)]
    touched = ignore.union(*(clash.keys for clash in clashes))
    if not touched.intersection(GENERATED):
        clashes += _generator(recipe)
    return [
        SettingsError(f"{where}: {clash.keys[0]}", clash.found, clash.expected)
        for clash in clashes
        if not ignore.intersection(clash.keys)
    ]


def _generator(recipe: Recipe) -> Iterator[_Clash]:
    """What the generator refuses: a tempo that no style has, and chords without a cadence."""
    settings = recipe.settings()
    for part in (replace(settings, chords=(), favour=()), replace(settings, tempo_bpm=None)):
        try:
            check_settings(part)
        except SettingsError as error:
            key = error.where.replace("tempo_bpm", "tempo")
            yield _Clash((key,), error.found, error.expected)


def _tempo(recipe: Recipe) -> Iterator[_Clash]:
    if recipe.tempo and recipe.tempo[0] > recipe.tempo[1]:
        low, high = recipe.tempo
        yield _Clash(
            ("tempo",), f"[{low:g}, {high:g}]", f"the lower number first: [{high:g}, {low:g}]"
        )


def _meters(recipe: Recipe) -> Iterator[_Clash]:
    brought = {str(STYLES[name].meter) for name in recipe.styles}
    for meter in recipe.meters:
        if meter not in brought:
            yield _Clash(
                ("meters", "styles"),
                f'"{meter}" with styles {_listed(recipe.styles)}',
                f"a meter of these styles: {_listed(sorted(brought))}",
            )


def _splits(recipe: Recipe) -> Iterator[_Clash]:
    if recipe.features.uneven_splits and not recipe.features.splits:
        yield _Clash(
            ("features.uneven_splits", "features.splits"),
            f"{recipe.features.uneven_splits:g} with features.splits 0",
            "0, or features.splits above 0: uneven splits are a share of the splits",
        )


def _size(recipe: Recipe) -> Iterator[_Clash]:
    if recipe.size in ("song", TWO_SECTIONS):
        return
    for name in SONG_FEATURES:
        if rate := getattr(recipe.features, name):
            yield _Clash(
                (f"features.{name}", "size"),
                f'{rate:g} with size "{recipe.size}"',
                '0, or size "song": only a whole song can have it',
            )


def _favour(recipe: Recipe) -> Iterator[_Clash]:
    strange = [chord for chord in recipe.favour if recipe.chords and chord not in recipe.chords]
    if strange:
        yield _Clash(
            ("favour", "chords"),
            _listed(strange),
            f"chords that are among chords: {_listed(recipe.chords)}",
        )


def _bars(recipe: Recipe) -> Iterator[_Clash]:
    if recipe.bars and recipe.bars[0] > recipe.bars[1]:
        least, most = recipe.bars
        yield _Clash(
            ("bars",), f"[{least}, {most}]", f"the smaller number first: [{most}, {least}]"
        )


def _least_chords(recipe: Recipe) -> Iterator[_Clash]:
    different = {chord.partition("^")[0] for chord in recipe.chords}
    if different and recipe.least_chords > len(different):
        yield _Clash(
            ("least_chords", "chords"),
            f"{recipe.least_chords} with {len(different)} different chords allowed",
            f"at most {len(different)}, or more chords",
        )


def _needs(recipe: Recipe) -> Iterator[_Clash]:
    different = {chord.partition("^")[0] for chord in recipe.chords}
    if different and recipe.features.passing:
        different.update(PASSING_CHORDS)
    asked = [("needs", skill) for skill in recipe.needs]
    asked += [("thrice", skill) for skill in recipe.thrice]
    for key, skill in asked:
        kind, _, name = skill.partition(" ")
        rate = NEEDED_RATES.get(skill, "slash_chords" if kind == "bass" else "")
        if kind == "chord" and different and name not in different:
            yield _Clash(
                (key, "chords"), f'"{skill}"', f"a chord among chords: {_listed(recipe.chords)}"
            )
        elif (
            rate
            and not getattr(recipe.features, rate)
            and not (skill == "key change" and recipe.features.bridge_key)
        ):
            yield _Clash(
                (key, f"features.{rate}"),
                f'"{skill}" with features.{rate} 0',
                f"features.{rate} above 0, or another skill",
            )


CHECKS: tuple[Callable[[Recipe], Iterator[_Clash]], ...] = (
    _tempo,
    _meters,
    _splits,
    _size,
    _favour,
    _bars,
    _least_chords,
    _needs,
)


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)
