"""Slash chords: a bass note under a chord only where the bass line asks for it.

A bass other than the root is taken when the line holds or moves by step through it (1 5/7 6-,
1 1/3 4, 4/1 over a held 1, 6- 6-/5 4), when a third in the bass steps on to the next chord, when
the fifth stays in the bass and its chord follows (1/5 5), or when a major chord a step below its
bass, a suspended dominant, goes on to its 1 (4/5 1). Sevenths in the bass fall by step; notes
outside the chord are a pedal on 1 or 5. Among those, the tables say how usual each is.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from trainer.generate.dice import Wheel, scatter
from trainer.generate.draft import DraftBar
from trainer.generate.layout import Spot
from trainer.generate.tables import table
from trainer.generate.words import read_chord, read_degree

__all__ = ["add_basses", "lawful"]


# How gladly a section opens on a slash chord.
OPENING = 0.2
# Basses, in semitones above the 1, of suspended dominants (4/5, 1/2, b7/1) and of pedals.
SUSPENDED, PEDALS = (7, 2, 0), (0, 7)


@lru_cache(maxsize=256)
def _root(token: str) -> int:
    return read_chord(token).root.semitones


def _apart(a: int, b: int) -> int:
    """Smallest distance of two pitch classes."""
    return min((a - b) % 12, (b - a) % 12)


def lawful(before: int | None, root: int, minor: bool, bass: int, after: int | None) -> bool:
    """Whether a line through basses `before`, `bass`, `after` (semitones) explains the bass.

    `root` and `minor` are the chord's; None is no chord in this phrase.
    """
    if after is None or bass == root:
        return False
    above = (bass - root) % 12
    if above == (3 if minor else 4):
        return 0 < _apart(bass, after) <= 2
    if above == 7 and bass == after:
        return True
    if above == 2 and not minor and bass in SUSPENDED:
        return after == bass or (after - bass) % 12 == 5
    enters = before is not None and _apart(before, bass) <= 2
    if above in (10, 11):
        return bass != 1 and enters and (bass - after) % 12 in (1, 2)
    # A bass a third under a major chord would make it a minor seventh, which has its own name.
    if above == 9 or (above != 7 and bass not in PEDALS):
        return False
    # A pedal holds on; a passing fifth steps through.
    least = 1 if above == 7 and bass not in PEDALS else 0
    return enters and least <= _apart(bass, after) <= (2 if above == 7 else 0)


class Offer(NamedTuple):
    """A chord that could take a bass: its bar and event, the basses by weight, and whether the bar
    would be split so that the bass comes half-way."""

    spot: Spot
    event: int
    basses: tuple[tuple[str, float], ...]
    walk: bool


@lru_cache(maxsize=65536)
def _basses(
    mode: str, before: str, chord: str, after: str, walk: bool
) -> tuple[tuple[str, float], ...]:
    """Lawful basses of a chord between two bass degrees, with weights from the tables."""
    counts = table("chords")[mode]
    root = _root(chord)
    uses = counts["unigram"].get(chord, 0) + 20
    found = []
    for bass, count in counts["bass"].get(chord, {}).items():
        place = read_degree(bass).semitones
        if not lawful(_degree(before), root, chord.endswith(("-", "o")), place, _degree(after)):
            continue
        if walk and not (place != _degree(after) and _apart(place, _degree(after) or 0) <= 2):
            continue
        name = f"{chord}/{bass}"
        fit = _part(counts["bass_from"].get(name, {}), before) * _part(
            counts["bass_to"].get(name, {}), after
        )
        found.append((bass, count / uses * fit))
    return tuple(found)


@lru_cache(maxsize=256)
def _degree(name: str) -> int | None:
    return read_degree(name).semitones if name else None


def _part(row: Mapping[str, int], name: str) -> float:
    """Share of a neighbour, never quite 0."""
    return (row.get(name, 0) + 0.3) / (sum(row.values()) + 3)


def add_basses(rng: random.Random, mode: str, spots: list[Spot], rate: float, walks: bool) -> None:
    """Put slash chords into `rate` of the bars heard, where the bass line asks for them.

    `walks` lets a held bar be split for a bass that walks to the next chord.
    """
    if rate <= 0:
        return
    total = 0
    offers: list[Offer] = []
    for spot in spots:
        total += spot.copies
        offers += _offers(mode, spot, walks)
    weights = []
    for offer in offers:
        weight = 0.0
        for _, part in offer.basses:
            weight += part
        opens = any(place.opens_section for place in offer.spot.places)
        weights.append(weight * OPENING if opens and not offer.event else weight)
    copies = [offer.spot.copies for offer in offers]
    for at in scatter(rng, weights, copies, rate * total):
        _take(rng, mode, offers[at])


def _bass_at(bar: DraftBar | None, event: int) -> str:
    """The bass degree of an event, "" for no bar."""
    return (bar.basses[event] or bar.chords[event].rstrip("-o")) if bar else ""


def _neighbours(spot: Spot, event: int) -> list[tuple[str, str]]:
    """Bass degrees before and after an event, in every place where its bar is heard."""
    bar = spot.bar
    inside = event + 1 < len(bar.beats)
    if event and inside:
        return [(_bass_at(bar, event - 1), _bass_at(bar, event + 1))]
    found: dict[tuple[str, str], None] = {}
    for before, after in spot.around():
        low = _bass_at(bar, event - 1) if event else _bass_at(before, -1)
        found[low, _bass_at(bar, event + 1) if inside else _bass_at(after, 0)] = None
    return list(found)


def _everywhere(
    mode: str, chord: str, around: list[tuple[str, str]], walk: bool
) -> tuple[tuple[str, float], ...]:
    """Basses of a chord that are lawful between all the pairs of basses it is heard between."""
    own = chord.rstrip("-o")
    rows = [_basses(mode, own if walk else low, chord, after, walk) for low, after in around]
    shared = rows[0]
    for row in rows[1:]:
        names = [bass for bass, _ in row]
        shared = tuple((bass, weight) for bass, weight in shared if bass in names)
    return shared


def _offers(mode: str, spot: Spot, walks: bool) -> list[Offer]:
    """The ways in which one bar could take a bass."""
    if spot.bar.short:
        return []
    found = []
    walks = walks and spot.bar.whole and spot.bar.beats[0] % 2 == 0
    for event, chord in enumerate(spot.bar.chords):
        around = _neighbours(spot, event)
        basses = _everywhere(mode, chord, around, False)
        if basses:
            found.append(Offer(spot, event, basses, False))
        passing = _everywhere(mode, chord, around, True) if walks else ()
        if passing:
            found.append(Offer(spot, event, passing, True))
    return found


def _take(rng: random.Random, mode: str, offer: Offer) -> None:
    """Take a bass, unless the neighbours have changed so that the line no longer asks for it."""
    spot, event, walk = offer.spot, offer.event, offer.walk
    bar = spot.bar
    if any(bar.basses) or (walk and not bar.whole):
        return
    for place in spot.places:
        if (place.before and place.before.basses[-1]) or (place.after and place.after.basses[0]):
            return
    basses = _everywhere(mode, bar.chords[event], _neighbours(spot, event), walk)
    if not basses:
        return
    bass = Wheel(basses).spin(rng)
    if walk:
        half = bar.beats[0] // 2
        bar.beats = (half, half)
        bar.chords, bar.forms = bar.chords * 2, bar.forms * 2
        bar.basses, bar.marks = ["", bass], ["", ""]
    else:
        bar.basses[event] = bass
