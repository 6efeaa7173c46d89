"""What a recipe wants of every single song, whatever its rates give on average."""

from __future__ import annotations

import random
from collections import Counter
from typing import TYPE_CHECKING

from trainer.chart import Chart
from trainer.errors import SettingsError
from trainer.exercise.skills import chart_skills
from trainer.generate import generate

if TYPE_CHECKING:
    from trainer.exercise.recipe import Recipe

__all__ = ["TRIES", "draw_wanted", "unmet"]

TRIES = 300


def draw_wanted(recipe: Recipe, rng: random.Random) -> Chart:
    """The first song that the generator draws with all that the recipe wants.

    Raises SettingsError naming what `TRIES` songs mostly lacked.
    """
    settings = recipe.settings()
    lacked: Counter[str] = Counter()
    for _ in range(TRIES):
        chart = generate(settings, rng)
        lacking = unmet(recipe, chart)
        if not lacking:
            return chart
        lacked.update(lacking)
    key = lacked.most_common(1)[0][0]
    found = f"{getattr(recipe, key)}, which none of {TRIES} songs met"
    raise SettingsError(f"recipe: {key}", found, "what its chords, rates and size let happen")


def unmet(recipe: Recipe, chart: Chart) -> tuple[str, ...]:
    """The keys of a recipe that a chart does not meet: bars, least_chords, needs."""
    checks = {
        "bars": recipe.bars is None or recipe.bars[0] <= len(chart.bars()) <= recipe.bars[1],
        "least_chords": len(_chords(chart)) >= recipe.least_chords,
        "needs": not recipe.needs or not set(recipe.needs).isdisjoint(chart_skills(chart)),
    }
    return tuple(key for key, met in checks.items() if not met)


def _chords(chart: Chart) -> set[tuple[object, str]]:
    """The different chords of a chart by root and quality."""
    return {
        (event.chord.root, event.chord.quality)
        for bar in chart.bars()
        for event in bar.events
        if event.chord
    }
