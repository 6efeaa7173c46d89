"""Holds, pushes, stops and short bars: where a band plays them (common practice, no source).

Holds ring at the ends of sections and songs, or through a stop-time phrase; pushes bring a new
chord in early at a bar line, mostly one that fills its bar; stops clear the air before the singer
comes back in; short bars cut the last bar of a phrase.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from trainer.generate.dice import scatter
from trainer.generate.draft import DraftPhrase
from trainer.generate.layout import Spot
from trainer.generate.settings import Features

__all__ = ["add_marks", "shorten"]

# Kinds whose last bar rings rather than drives on.
RESTFUL = ("intro", "bridge", "tag", "outro", "turnaround")


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
    broken = spots[int(rng.random() * len(spots))].places[0].phrase
    kinds: tuple[tuple[str, float, Callable[[Spot, DraftPhrase], float]], ...] = (
        ("d", features.holds, _hold_weight),
        ("s", features.stops, _stop_weight),
        ("p", features.pushes, _push_weight),
    )
    for mark, rate, weigh in kinds:
        if rate <= 0:
            continue
        weights = [0.0 if any(spot.bar.marks) else weigh(spot, broken) for spot in spots]
        for at in scatter(rng, weights, copies, rate * total):
            bar = spots[at].bar
            bar.marks[-1 if mark == "s" else 0] = mark


def _hold_weight(spot: Spot, broken: DraftPhrase) -> float:
    """How gladly a chord rings for its bar; `broken` is the phrase a stop-time could take."""
    if not spot.bar.whole:
        return 0.0
    total = 0.0
    for place in spot.places:
        if place.last:
            return 400.0
        if place.ends_section:
            total += 8.0 if place.section.kind in RESTFUL else 3.0
        else:
            total += 0.25 if place.ends_phrase else 0.1 if place.phrase is broken else 0.01
    return total / spot.copies


def _stop_weight(spot: Spot, broken: DraftPhrase) -> float:
    """How gladly a bar's last chord is choked."""
    total = 0.0
    for place in spot.places:
        if place.ends_phrase:
            total += 6.0 if place.ends_section and not place.last else 2.0
        else:
            total += 0.1 if place.phrase is broken else 0.01
    return total / spot.copies


def _push_weight(spot: Spot, broken: DraftPhrase) -> float:
    """How gladly a chord comes early: new at a bar line, least where a section begins."""
    if spot.bar.short or spot.places[0].phrase is broken:
        return 0.0
    for place in spot.places:
        before = place.before
        if before is None or before.chords[-1] == spot.bar.chords[0] or before.marks[-1] == "s":
            return 0.0
    place = spot.places[0]
    if place.opens_section:
        return 0.1
    return (1.0 if spot.bar.whole else 0.4) * (0.4 if place.number == 0 else 1.0)
