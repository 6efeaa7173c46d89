"""Compare two bars over time, and give the credit for one written in place of the other.

The bars may differ in meter: both are scaled to the reference's length, so "half-way" is
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
Chords on different roots may still be nearly the same or related, see `Sonority`; then they have a
credit of their own instead of the sum of root, quality and bass.

Two bars that are split into the same number of chords are compared in another way too: the first
chord with the first, the second with the second, each for as long as it is played. The bar has the
better credit of the two, so chords that are right on the wrong beats lose their placement alone.

placement     F-measure of the positions inside the bar where the chord changes, matched exactly.
articulation  F-measure of the articulations, matched in position and kind.
meter         the meters are the same.
key_change    the key moves by the same interval (modulo an octave).
"""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import lru_cache
from math import lcm
from typing import NamedTuple

from trainer.grade.content import BarContent, Sonority, as_plain_minor, tone_similarity
from trainer.grade.weights import Weights

__all__ = [
    "ChordAgreement",
    "ChordSegment",
    "Comparison",
    "bar_credit",
    "chord_credit",
    "chord_segments",
    "compare",
    "differing_segments",
    "quality_credit",
    "segment_credit",
    "segments_in_order",
]

# How many comparisons each table of this module keeps.
MOST_CACHED = 1 << 15


@dataclass(frozen=True, slots=True)
class ChordSegment:
    """A part of a bar with one chord on either side. Start and share of the bar are 0 to 1."""

    start: float
    share: float
    played: Sonority
    written: Sonority


class ChordAgreement(NamedTuple):
    """How far the chords of two bars agree, as shares of the bar's time, 0 to 1.

    `root`, `bass` and `strict` are what the module defines. `same_chord` is the share with the same
    chord, `same_tones` that with the same notes (or the same chord), `nearly_same`,
    `one_note_off` and `related` those with chords on other roots, see `Sonority`. The rest counts
    for what is left of the time: `tone_similarity` is the similarity of the notes, summed over the
    segments whose notes differ, each by its share; `partial_root` and `partial_bass` are the shares
    in which the root or the bass is right.
    """

    root: float
    bass: float
    strict: float
    same_chord: float
    same_tones: float
    nearly_same: float
    one_note_off: float
    related: float
    tone_similarity: float
    partial_root: float
    partial_bass: float


class Comparison(NamedTuple):
    """Two bars compared. All numbers are 0 to 1, before weights are applied.

    `over_time` compares the chords that sound at the same time; `in_order` compares the chords of
    two split bars one after the other, None if that is not done. `same_chord` is the share of
    the bar with the same chord, in the better of the two. `counts_placement`, `counts_articulation`
    and `counts_key_change` say which components count here.
    """

    over_time: ChordAgreement
    in_order: ChordAgreement | None
    same_chord: float
    placement: float
    articulation: float
    meter: float
    key_change: float
    counts_placement: bool
    counts_articulation: bool
    counts_key_change: bool

    @property
    def chords_in_order(self) -> ChordAgreement:
        """The comparison in order if there is one, else over time."""
        return self.over_time if self.in_order is None else self.in_order

    def chords(self, weights: Weights) -> ChordAgreement:
        """Return the comparison of the chords with the better credit."""
        one, other = self.over_time, self.in_order
        if other is None or chord_credit(one, weights) >= chord_credit(other, weights):
            return one
        return other


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


def segments_in_order(
    reference: BarContent, answer: BarContent
) -> tuple[tuple[int, int, Sonority, Sonority], ...]:
    """Put the chords of two bars together in order, each for as long as it is played.

    Returns what `chord_segments` does, on the reference's grid, and nothing unless both bars are
    split into the same number of chords that change at different positions.
    """
    number = len(reference.sonorities)
    if number < 2 or len(answer.sonorities) != number:
        return ()
    if [at * answer.grid for at in reference.starts] == [
        at * reference.grid for at in answer.starts
    ]:
        return ()
    ends = (*reference.starts[1:], reference.grid)
    lengths = map(int.__sub__, ends, reference.starts)
    return tuple(
        zip(reference.starts, lengths, reference.sonorities, answer.sonorities, strict=True)
    )


def differing_segments(
    reference: BarContent, answer: BarContent, weights: Weights
) -> tuple[ChordSegment, ...]:
    """Return the segments in which the two bars do not have the same chord.

    They are those of the comparison that gives the better credit, over time or in order.
    """
    comparison = compare(reference, answer, weights.plain_minor)
    in_order = comparison.chords(weights) is not comparison.over_time
    return _differing(reference, answer, in_order, weights.plain_minor)


@lru_cache(maxsize=MOST_CACHED)
def _differing(
    reference: BarContent, answer: BarContent, in_order: bool, plain_minor: bool
) -> tuple[ChordSegment, ...]:
    if in_order:
        grid, segments = reference.grid, segments_in_order(reference, answer)
    else:
        grid, segments = lcm(reference.grid, answer.grid), chord_segments(reference, answer)
    return tuple(
        ChordSegment(start / grid, length / grid, played, written)
        for start, length, played, written in segments
        if not played.same_chord_as(as_plain_minor(written, played) if plain_minor else written)
    )


def _agreement(
    segments: Sequence[tuple[int, int, Sonority, Sonority]], grid: int, plain_minor: bool
) -> ChordAgreement:
    root = bass = strict = same_chord = same_tones = partial_root = partial_bass = 0
    nearly_same = one_note_off = related = 0
    similarity = 0.0
    for _, length, played, written in segments:
        read = as_plain_minor(written, played) if plain_minor else written
        same_root, same_bass = played.root == read.root, played.bass == read.bass
        same = same_bass and played.all_tones == read.all_tones
        root += length * same_root
        bass += length * same_bass
        strict += length * (same_root and same)
        if same:
            same_chord += length
            same_tones += length
        elif played.nearly_same_as(read):
            nearly_same += length
        elif played.is_one_note_off(read):
            one_note_off += length
        elif played.is_related_to(read):
            related += length
        else:
            partial_root += length * same_root
            partial_bass += length * same_bass
            if played.tones == read.tones:
                same_tones += length
            else:
                similarity += length * tone_similarity(played, read)
    return ChordAgreement(
        root / grid,
        bass / grid,
        strict / grid,
        same_chord / grid,
        same_tones / grid,
        nearly_same / grid,
        one_note_off / grid,
        related / grid,
        similarity / grid,
        partial_root / grid,
        partial_bass / grid,
    )


@lru_cache(maxsize=MOST_CACHED)
def compare(reference: BarContent, answer: BarContent, plain_minor: bool = False) -> Comparison:
    """Compare an answer's bar with the reference's. `plain_minor` is explained in `Weights`."""
    grid = lcm(reference.grid, answer.grid)
    over_time = _agreement(chord_segments(reference, answer), grid, plain_minor)
    in_order = None
    if over_time.same_chord < 1.0 and (ordered := segments_in_order(reference, answer)):
        in_order = _agreement(ordered, reference.grid, plain_minor)
    placement = articulation = 1.0
    counts_placement = bool(reference.changes or answer.changes)
    if counts_placement:
        placement = _f_measure(reference.changes_on(grid), answer.changes_on(grid))
    counts_articulation = bool(reference.articulations or answer.articulations)
    if counts_articulation:
        articulation = _f_measure(reference.articulations_on(grid), answer.articulations_on(grid))
    return Comparison(
        over_time,
        in_order,
        max(one.same_chord for one in (over_time, in_order) if one is not None),
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


def quality_credit(chords: ChordAgreement, weights: Weights) -> float:
    """Return the quality component, 0 to 1: in full for the same notes, else for shared ones."""
    partial = weights.shared_tones * chords.tone_similarity + weights.related * chords.related
    partial += weights.one_note_off * chords.one_note_off
    return min(1.0, chords.same_tones + chords.nearly_same + partial)


def chord_credit(chords: ChordAgreement, weights: Weights) -> float:
    """Return the credit for the chords of a bar, 0 to `Weights.chord`."""
    w = weights
    if chords.same_chord == 1.0:
        return w.chord
    if w.all_or_nothing:
        return chords.same_chord * w.chord + chords.partial_root * w.root
    credit = chords.same_chord + w.nearly_same * chords.nearly_same + w.related * chords.related
    credit += w.one_note_off * chords.one_note_off
    quality = chords.same_tones - chords.same_chord + w.shared_tones * chords.tone_similarity
    return (
        credit * w.chord
        + chords.partial_root * w.root
        + quality * w.quality
        + chords.partial_bass * w.bass
    )


@lru_cache(maxsize=MOST_CACHED)
def segment_credit(played: Sonority, written: Sonority, weights: Weights) -> float:
    """Return the credit of one chord written for another, 0 to 1."""
    agreement = _agreement([(0, 1, played, written)], 1, weights.plain_minor)
    return chord_credit(agreement, weights) / weights.chord


def bar_credit(c: Comparison, weights: Weights) -> float:
    """Return a bar's credit, 0 to 1."""
    w = weights
    total = w.chord
    credit = total if c.same_chord == 1.0 else chord_credit(c.chords(w), w)
    if c.counts_placement:
        credit, total = credit + c.placement * w.placement, total + w.placement
    if c.counts_articulation:
        credit, total = credit + c.articulation * w.articulation, total + w.articulation
    if not c.meter:
        total += w.meter
    if c.counts_key_change:
        credit, total = credit + c.key_change * w.key_change, total + w.key_change
    return min(1.0, credit / total)
