"""Compare two bars over time, and give the credit for one written in place of the other.

The bars may differ in meter: both are stretched to the reference's length, so "half-way" is
half-way in each. The bar is cut wherever either side changes chord, and each segment is compared:

root       the roots are the same pitch class. The share of the bar's time for which this holds is
           what mir_eval's `chord.root` measures.
quality    the chords have the same notes (pitch classes; extensions count, spelling does not).
           Otherwise partial credit: `Weights.shared_tones` times the notes in common over all notes
           of both chords, basses left out.
bass       the lowest notes are the same pitch class.
strict     root, notes and bass are all the same: mir_eval's `chord.tetrads_inv`, except that ninths
           and higher count here (mir_eval leaves them out).

Two sonorities with the same pitch classes, basses counted in, and the same bass are the same chord,
whatever it is called (1^6 is 6-^7/1; 1sus4 is 4sus2/1). Their segment has the full chord credit in
the bar's score, though `root` and `strict`, which report what was written, say that the roots
differ. No chord against no chord is right in everything; against a chord, wrong in everything.

placement     F-measure of the places inside the bar where the chord changes, matched exactly.
articulation  F-measure of the articulations, matched in place and kind.
meter         the meters are the same.
key_change    the key moves by the same interval (modulo an octave).
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import lru_cache
from math import lcm
from typing import NamedTuple

from trainer.grade.content import BarContent, Sonority, as_plain_minor, tone_similarity
from trainer.grade.weights import Weights

__all__ = [
    "ChordSegment",
    "Comparison",
    "bar_credit",
    "chord_segments",
    "compare",
    "differing_segments",
    "quality_credit",
]


@dataclass(frozen=True, slots=True)
class ChordSegment:
    """A stretch of a bar with one chord on either side. Start and share of the bar are 0 to 1."""

    start: float
    share: float
    played: Sonority
    written: Sonority


class Comparison(NamedTuple):
    """Two bars compared. All numbers are 0 to 1, before weights are applied.

    `root`, `bass` and `strict` are shares of the bar's time, as the module defines them.
    `same_chord` is the share of time with the same chord, `same_tones` that with the same notes (or
    the same chord). `tone_similarity` is the similarity of the notes, summed over the segments
    whose notes differ, each by its share. `partial_root` and `partial_bass` are the shares of time
    in which the chords differ but the root or the bass is right. `counts_placement`,
    `counts_articulation` and `counts_key_change` say which components count here.
    """

    root: float
    bass: float
    strict: float
    same_chord: float
    same_tones: float
    tone_similarity: float
    partial_root: float
    partial_bass: float
    placement: float
    articulation: float
    meter: float
    key_change: float
    counts_placement: bool
    counts_articulation: bool
    counts_key_change: bool


def chord_segments(
    reference: BarContent, answer: BarContent
) -> tuple[tuple[int, int, Sonority, Sonority], ...]:
    """Cut two bars wherever either changes chord.

    Returns (start, length, played, written) of each segment, counted in steps of the least grid
    that both bars fit.
    """
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
        return tuple(zip(played, lengths, reference.sonorities, answer.sonorities, strict=True))
    cuts = sorted({*played, *written})
    segments, i, j = [], 0, 0
    for start, end in zip(cuts, [*cuts[1:], grid], strict=True):
        while i + 1 < len(played) and played[i + 1] <= start:
            i += 1
        while j + 1 < len(written) and written[j + 1] <= start:
            j += 1
        segments.append((start, end - start, reference.sonorities[i], answer.sonorities[j]))
    return tuple(segments)


def differing_segments(
    reference: BarContent, answer: BarContent, plain_minor: bool = False
) -> tuple[ChordSegment, ...]:
    """Return the segments in which the two bars do not have the same chord."""
    grid = lcm(reference.grid, answer.grid)
    return tuple(
        ChordSegment(start / grid, length / grid, played, written)
        for start, length, played, written in chord_segments(reference, answer)
        if not played.same_chord_as(as_plain_minor(written, played) if plain_minor else written)
    )


@lru_cache(maxsize=1 << 15)
def compare(reference: BarContent, answer: BarContent, plain_minor: bool = False) -> Comparison:
    """Compare an answer's bar with the reference's. `plain_minor` is explained in `Weights`."""
    root = bass = strict = same_chord = same_tones = partial_root = partial_bass = 0
    similarity = 0.0
    for _, length, played, written in chord_segments(reference, answer):
        read = as_plain_minor(written, played) if plain_minor else written
        same_root, same_bass = played.root == read.root, played.bass == read.bass
        same = same_bass and played.all_tones == read.all_tones
        root += length * same_root
        bass += length * same_bass
        strict += length * (same_root and same)
        if same:
            same_chord += length
            same_tones += length
            continue
        partial_root += length * same_root
        partial_bass += length * same_bass
        if played.tones == read.tones:
            same_tones += length
        else:
            similarity += length * tone_similarity(played, read)
    grid = lcm(reference.grid, answer.grid)
    placement = articulation = 1.0
    counts_placement = bool(reference.changes or answer.changes)
    if counts_placement:
        placement = _f_measure(reference.changes_on(grid), answer.changes_on(grid))
    counts_articulation = bool(reference.articulations or answer.articulations)
    if counts_articulation:
        articulation = _f_measure(reference.articulations_on(grid), answer.articulations_on(grid))
    return Comparison(
        root / grid,
        bass / grid,
        strict / grid,
        same_chord / grid,
        same_tones / grid,
        similarity / grid,
        partial_root / grid,
        partial_bass / grid,
        placement,
        articulation,
        float(reference.meter == answer.meter),
        float((reference.key_change - answer.key_change) % 12 == 0),
        counts_placement,
        counts_articulation,
        bool(reference.key_change or answer.key_change),
    )


def _f_measure(one: AbstractSet[object], other: AbstractSet[object]) -> float:
    """Return how far two sets, not both empty, agree, 0 to 1."""
    return 2 * len(one & other) / (len(one) + len(other))


def quality_credit(c: Comparison, weights: Weights) -> float:
    """Return the quality component, 0 to 1: in full for the same notes, else for shared ones."""
    return c.same_tones + weights.shared_tones * c.tone_similarity


def bar_credit(c: Comparison, weights: Weights) -> float:
    """Return a bar's credit, 0 to 1."""
    w = weights
    total = w.root + w.quality + w.bass
    if c.same_chord == 1.0:
        credit = total
    elif w.all_or_nothing:
        credit = c.same_chord * total + c.partial_root * w.root
    else:
        quality = c.same_tones - c.same_chord + w.shared_tones * c.tone_similarity
        credit = c.same_chord * total + c.partial_root * w.root + quality * w.quality
        credit += c.partial_bass * w.bass
    if c.counts_placement:
        credit, total = credit + c.placement * w.placement, total + w.placement
    if c.counts_articulation:
        credit, total = credit + c.articulation * w.articulation, total + w.articulation
    if not c.meter:
        total += w.meter
    if c.counts_key_change:
        credit, total = credit + c.key_change * w.key_change, total + w.key_change
    return min(1.0, credit / total)
