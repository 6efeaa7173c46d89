"""Compare two bars over time.

The bars may differ in meter: both are stretched to the reference's length, so "half-way" is
half-way in each. The bar is cut wherever either side changes chord, and each slice is compared:

root       the roots are the same pitch class. The share of the bar's time for which this holds is
           what mir_eval's `chord.root` measures.
quality    the chords have the same notes (pitch classes; extensions count, spelling does not).
           Otherwise partial credit: `Weights.shared_tones` times the notes in common over all notes
           of both chords, basses left out.
bass       the lowest notes are the same pitch class.
strict     root, notes and bass are all the same: mir_eval's `chord.tetrads_inv`, except that ninths
           and higher count here (mir_eval leaves them out).

Two sounds with the same pitch classes, basses counted in, and the same bass are the same chord,
whatever it is called (1^6 is 6-^7/1; 1sus4 is 4sus2/1). Their slice has the full chord credit in
the bar's score, though `root` and `strict`, which report what was written, say that the roots
differ. No chord against no chord is right in everything; against a chord, wrong in everything.

placement     F-measure of the places inside the bar where the chord changes, matched exactly.
articulation  F-measure of the articulations, matched in place and kind.
meter         the meters are the same.
key_change    the key moves by the same interval (modulo an octave).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import lcm
from typing import NamedTuple

from trainer.grade.sheet import Shape
from trainer.grade.tones import Sound, as_plain_minor, likeness
from trainer.grade.weights import Weights

__all__ = ["Comparison", "Slice", "compare", "credit", "differences", "quality_credit", "slices"]


@dataclass(frozen=True, slots=True)
class Slice:
    """A stretch of a bar with one chord on either side: where it starts and how long, 0 to 1."""

    start: float
    share: float
    played: Sound
    written: Sound


class Comparison(NamedTuple):
    """Two bars compared; all numbers 0 to 1, before weights are applied.

    `same` is the share of time with the same sound; `exact` with the same notes (or the same
    sound); `likeness` the notes in common, summed over the slices that are not exact. The `other_`
    numbers are shares of time outside `same`. `counts_` say which components count here.
    """

    root: float
    bass: float
    strict: float
    same: float
    exact: float
    likeness: float
    other_root: float
    other_bass: float
    placement: float
    articulation: float
    meter: float
    key_change: float
    counts_placement: bool
    counts_articulation: bool
    counts_key_change: bool


def slices(reference: Shape, answer: Shape) -> tuple[tuple[int, int, Sound, Sound], ...]:
    """Cut two bars wherever either changes: (start, length, played, written) on a common grid."""
    grid = reference.grid
    if answer.grid == grid:
        played, written = reference.starts, answer.starts
    else:
        grid = lcm(grid, answer.grid)
        up, down = grid // reference.grid, grid // answer.grid
        played = tuple([at * up for at in reference.starts])
        written = tuple([at * down for at in answer.starts])
    if played == written:
        ends = (*played[1:], grid)
        lengths = map(int.__sub__, ends, played)
        return tuple(zip(played, lengths, reference.sounds, answer.sounds, strict=True))
    cuts = sorted({*played, *written})
    parts, i, j = [], 0, 0
    for start, end in zip(cuts, [*cuts[1:], grid], strict=True):
        while i + 1 < len(played) and played[i + 1] <= start:
            i += 1
        while j + 1 < len(written) and written[j + 1] <= start:
            j += 1
        parts.append((start, end - start, reference.sounds[i], answer.sounds[j]))
    return tuple(parts)


def differences(reference: Shape, answer: Shape, plain_minor: bool = False) -> tuple[Slice, ...]:
    """The slices in which the two bars do not sound the same, as shares of the bar."""
    grid = lcm(reference.grid, answer.grid)
    return tuple(
        Slice(start / grid, length / grid, played, written)
        for start, length, played, written in slices(reference, answer)
        if not played.same_as(as_plain_minor(written, played) if plain_minor else written)
    )


@lru_cache(maxsize=1 << 15)
def compare(reference: Shape, answer: Shape, plain_minor: bool = False) -> Comparison:
    """Compare an answer's bar with the reference's. `plain_minor` as in `Weights`."""
    root = bass = strict = same = exact = other_root = other_bass = 0
    alike = 0.0
    for _, length, played, written in slices(reference, answer):
        meant = as_plain_minor(written, played) if plain_minor else written
        one_root, one_bass = played.root == meant.root, played.bass == meant.bass
        one_sound = one_bass and played.sounding == meant.sounding
        root += length * one_root
        bass += length * one_bass
        strict += length * (one_root and one_sound)
        if one_sound:
            same += length
            exact += length
            continue
        other_root += length * one_root
        other_bass += length * one_bass
        if played.tones == meant.tones:
            exact += length
        else:
            alike += length * likeness(played, meant)
    grid = lcm(reference.grid, answer.grid)
    has_changes = bool(reference.changes or answer.changes)
    has_marks = bool(reference.marks or answer.marks)
    return Comparison(
        root / grid,
        bass / grid,
        strict / grid,
        same / grid,
        exact / grid,
        alike / grid,
        other_root / grid,
        other_bass / grid,
        _f_measure(_changes(reference, grid), _changes(answer, grid)) if has_changes else 1.0,
        _f_measure(_marks(reference, grid), _marks(answer, grid)) if has_marks else 1.0,
        float(reference.meter == answer.meter),
        float((reference.key_change - answer.key_change) % 12 == 0),
        has_changes,
        has_marks,
        bool(reference.key_change or answer.key_change),
    )


def _changes(shape: Shape, grid: int) -> set[object]:
    return {at * (grid // shape.grid) for at in shape.changes}


def _marks(shape: Shape, grid: int) -> set[object]:
    return {(at * (grid // shape.grid), mark) for at, mark in shape.marks}


def _f_measure(one: set[object], other: set[object]) -> float:
    """How far two sets, not both empty, agree."""
    return 2 * len(one & other) / (len(one) + len(other))


def quality_credit(c: Comparison, weights: Weights) -> float:
    """The quality component: same notes in full, else partial credit for shared ones."""
    return c.exact + weights.shared_tones * c.likeness


def credit(c: Comparison, weights: Weights) -> float:
    """A bar's credit, 0 to 1."""
    w = weights
    total = w.root + w.quality + w.bass
    if c.same == 1.0:
        chord = total
    elif w.all_or_nothing:
        chord = c.same * total + c.other_root * w.root
    else:
        quality = c.exact - c.same + w.shared_tones * c.likeness
        chord = c.same * total + c.other_root * w.root + quality * w.quality
        chord += c.other_bass * w.bass
    if c.counts_placement:
        chord, total = chord + c.placement * w.placement, total + w.placement
    if c.counts_articulation:
        chord, total = chord + c.articulation * w.articulation, total + w.articulation
    if not c.meter:
        total += w.meter
    if c.counts_key_change:
        chord, total = chord + c.key_change * w.key_change, total + w.key_change
    return min(1.0, chord / total)
