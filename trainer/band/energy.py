"""How fully the band plays each bar, by the form of the song, and the stretches it shapes as one.

Common practice, no source.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from trainer.band.orders import bar_orders, noted_energy
from trainer.chart import Chart, Section

__all__ = ["BarEnergy", "bar_energies"]

# How full the band plays, 0 to 1, by kind of section: verses lighter, choruses fuller.
ENERGY = {
    "intro": 0.5,
    "verse": 0.45,
    "pre-chorus": 0.6,
    "chorus": 0.85,
    "bridge": 0.6,
    "turnaround": 0.55,
    "solo": 0.75,
    "interlude": 0.55,
    "tag": 0.75,
    "outro": 0.6,
    "other": 0.6,
}
RETURN_LIFT = 0.06
# A verse that follows one of these comes down in its first half, further after the last two.
BEFORE_A_DROP = {"chorus": 0.41, "solo": 0.37, "bridge": 0.37}
# A chorus that follows one of these and comes before another chorus is sung over little first.
BEFORE_A_BREAKDOWN = ("bridge", "solo", "interlude")
BREAKDOWN, BREAKDOWN_END = 0.42, 0.66
# What the name of a section may ask for.
QUIET_WORDS = frozenset(("quiet", "soft", "softly", "down", "breakdown"))
LOUD_WORDS = frozenset(("big", "loud", "full"))
QUIET, LOUDER = 0.38, 0.1
# Phrases shorter than this are shaped together with those after them.
STRETCH_BARS = 4
LETTERS = re.compile(r"[^\W\d_]+")


class BarEnergy(NamedTuple):
    """How fully a bar is played, 0 to 1, and its place (from 0) in a stretch of so many bars."""

    energy: float
    stretch_index: int
    stretch_bars: int


def bar_energies(chart: Chart) -> list[BarEnergy]:
    """The energy and the place in its stretch of every bar of a chart, as its notes ask."""
    kinds = [section.kind for section in chart.sections]
    found = []
    for number, section in enumerate(chart.sections):
        first, second = _halves(section, number, kinds)
        stretches = _stretches(section)
        rises_at = _second_half(stretches)
        found += [
            BarEnergy(first if place < rises_at else second, *stretch)
            for place, stretch in enumerate(stretches)
        ]
    orders = bar_orders(chart)
    return (
        [
            bar._replace(energy=noted_energy(bar.energy, here))
            for bar, here in zip(found, orders, strict=True)
        ]
        if orders
        else found
    )


def _stretches(section: Section) -> list[tuple[int, int]]:
    """For each bar of a section, its place in its stretch and the bars of that stretch."""
    lengths = [0]
    for phrase in section.phrases:
        if lengths[-1] >= STRETCH_BARS:
            lengths.append(0)
        lengths[-1] += len(phrase.bars)
    return [(place, length) for length in lengths for place in range(length)]


def _second_half(stretches: list[tuple[int, int]]) -> int:
    """The bar at which the second half of a section begins: the stretch nearest to its middle."""
    starts = [place for place, (index, _) in enumerate(stretches) if index == 0 and place]
    middle = len(stretches) / 2
    return min(starts, key=lambda start: abs(start - middle), default=len(stretches))


def _halves(section: Section, number: int, kinds: list[str]) -> tuple[float, float]:
    """The energies of the two halves of a section."""
    kind = section.kind
    returns = kinds[:number].count(kind)
    usual = min(ENERGY[kind] + RETURN_LIFT * min(returns, 2), 1.0)
    words = {word.lower() for word in LETTERS.findall(section.name)}
    if words & QUIET_WORDS:
        return QUIET, QUIET
    if words & LOUD_WORDS:
        return min(usual + LOUDER, 1.0), min(usual + LOUDER, 1.0)
    before = kinds[number - 1] if number else ""
    if kind == "verse" and before in BEFORE_A_DROP and returns:
        return BEFORE_A_DROP[before], usual
    followed = kinds[number + 1 : number + 2] == ["chorus"]
    if kind == "chorus" and before in BEFORE_A_BREAKDOWN and followed and returns:
        return BREAKDOWN, BREAKDOWN_END
    return usual, usual
