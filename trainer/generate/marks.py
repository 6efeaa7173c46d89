"""Holds, pushes, stops and short bars: where a band plays them (common practice, no source).

Holds ring at the ends of sections and songs; pushes bring a new chord in early at a bar line,
mostly one that fills its bar, and a song keeps to every other bar with them; stops clear the air
before the singer comes back in; short bars cut the last bar of a phrase. Only high rates, which
these places cannot fill, spill over to others.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from trainer.generate.dice import chance, scatter
from trainer.generate.layout import Spot
from trainer.generate.settings import Features

__all__ = ["add_marks", "shorten"]

# How gladly a bar within a phrase rings or stops, where more is asked than the ends can take.
ELSEWHERE, SPILLS = 0.001, 0.1
# Kinds whose last bar rings rather than drives on, and the other way round.
RESTFUL = ("bridge", "tag", "outro")
DRIVING = ("pre-chorus", "turnaround", "interlude")


def shorten(rng: random.Random, spots: list[Spot], rate: float) -> None:
    """Make `rate` of the bars half as long: last bars of phrases, sometimes the one before."""
    if rate <= 0:
        return
    copies = [spot.copies for spot in spots]
    weights = [_short_weight(spot) for spot in spots]
    for at in scatter(rng, weights, copies, rate * sum(copies)):
        bar = spots[at].bar
        half = sum(bar.beats) // 2
        same = bar.chords[0] == bar.chords[-1]
        keep = [0] if same or half % 2 else [0, len(bar.beats) - 1]
        bar.beats = (half // len(keep),) * len(keep)
        bar.chords = [bar.chords[k] for k in keep]
        bar.forms, bar.basses = list(bar.chords), [""] * len(keep)
        bar.marks, bar.short = [""] * len(keep), True


def _short_weight(spot: Spot) -> float:
    """How gladly a bar is cut; never the last of the song, nor one in 3/4 or 6/8."""
    place = spot.places[0]
    length = len(place.phrase.bars)
    if sum(spot.bar.beats) not in (4, 12) or length < 3 or spot.places[-1].last:
        return 0.0
    if place.ends_phrase:
        return 1.0
    return 0.2 if place.number == length - 2 and length > 4 else 0.0


def add_marks(rng: random.Random, spots: list[Spot], features: Features) -> None:
    """Put holds, then stops, then pushes where each belongs, at most one a bar."""
    copies = [spot.copies for spot in spots]
    total = sum(copies)
    turn = 1 if chance(rng, 0.75) else 0
    kinds: tuple[tuple[str, float, Callable[[Spot], float]], ...] = (
        ("d", features.holds, _hold_weight),
        ("s", features.stops, _stop_weight),
        ("p", features.pushes, lambda spot: _push_weight(spot, turn)),
    )
    for mark, rate, weigh in kinds:
        if rate <= 0:
            continue
        weights = [0.0 if any(spot.bar.marks) else weigh(spot) for spot in spots]
        if rate < SPILLS and mark != "p":
            weights = [weight if weight >= 0.1 else 0.0 for weight in weights]
        for at in scatter(rng, weights, copies, rate * total):
            if mark == "d" and _beside_hold(spots[at]):
                continue
            bar = spots[at].bar
            bar.marks[-1 if mark == "s" else 0] = mark


def _beside_hold(spot: Spot) -> bool:
    """Whether the bar before or after rings already, in a place where the song does not end."""
    return any(
        "d" in bar.marks
        for place in spot.places
        if not place.last
        for bar in (place.before, place.after)
        if bar
    )


def _hold_weight(spot: Spot) -> float:
    """How gladly a chord rings for its bar."""
    if not spot.bar.whole:
        return 0.0
    least = 400.0
    for place in spot.places:
        if place.last:
            return 400.0
        if not place.ends_phrase:
            return ELSEWHERE
        if place.ends_section:
            kind = place.section.kind
            least = min(least, 8.0 if kind in RESTFUL else 0.5 if kind in DRIVING else 3.0)
        else:
            least = min(least, ELSEWHERE * 40)
    return least


def _stop_weight(spot: Spot) -> float:
    """How gladly a bar's last chord is choked."""
    if not all(place.ends_phrase for place in spot.places):
        return ELSEWHERE
    return 6.0 if all(place.ends_section and not place.last for place in spot.places) else 0.05


def _push_weight(spot: Spot, turn: int) -> float:
    """How gladly a chord comes early: new at a bar line, every other bar from `turn` on, least
    where a section begins."""
    if spot.bar.short:
        return 0.0
    for place in spot.places:
        before = place.before
        if before is None or before.chords[-1] == spot.bar.chords[0] or before.marks[-1] == "s":
            return 0.0
    place = spot.places[0]
    if place.opens_section:
        return 0.1
    usual = 1.0 if place.number % 2 == turn else 0.02
    return usual * (1.0 if spot.bar.whole else 0.3) * (0.3 if place.number == 0 else 1.0)
