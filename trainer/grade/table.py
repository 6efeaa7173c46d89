"""The credits of many bars against many bars at once, by numpy.

Says the same as `credit(compare(a, b), weights)` for every pair, in arrays, which is faster where
neither side repeats itself. All bars are cut at every place where any of them changes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from trainer.grade.sheet import Shape
from trainer.grade.weights import Weights

__all__ = ["credit_table"]

Floats = NDArray[np.float64]
Whole = NDArray[np.int16]
Part = tuple[Floats, NDArray[np.bool_]]
BITS = np.array([number.bit_count() for number in range(1 << 12)], np.float64)


def credit_table(ours: Sequence[Shape], theirs: Sequence[Shape], weights: Weights) -> Floats:
    """Credits 0 to 1, shape (n, m), of each bar of `ours` written as each of `theirs`.

    `weights.plain_minor` is not taken into account.
    """
    cuts = sorted({Fraction(at, bar.grid) for bar in (*ours, *theirs) for at in bar.starts})
    edges = np.array([float(cut) for cut in cuts] + [1.0])
    lengths = np.diff(edges)
    played, written = _sounds(ours, cuts), _sounds(theirs, cuts)
    chords = np.stack([_chord(row, written, lengths, weights) for row in played.swapaxes(0, 1)])
    total = np.full(chords.shape, weights.chord)
    worth = chords * weights.chord
    for weight, (value, counts) in (
        (weights.placement, _agreement(ours, theirs, _changes)),
        (weights.articulation, _agreement(ours, theirs, _marks)),
        (weights.meter, _meters(ours, theirs)),
        (weights.key_change, _key_changes(ours, theirs)),
    ):
        worth += weight * counts * value
        total += weight * counts
    table: Floats = np.minimum(worth / total, 1.0)
    return table


def _sounds(bars: Sequence[Shape], cuts: Sequence[Fraction]) -> Whole:
    """Root, bass, tones and all notes sounding after each cut; shape (4, bars, cuts)."""
    table = np.empty((4, len(bars), len(cuts)), np.int16)
    for row, bar in enumerate(bars):
        starts = [Fraction(at, bar.grid) for at in bar.starts]
        here = 0
        for column, cut in enumerate(cuts):
            while here + 1 < len(starts) and starts[here + 1] <= cut:
                here += 1
            sound = bar.sounds[here]
            table[:, row, column] = sound.root, sound.bass, sound.tones, sound.sounding
    return table


def _chord(one: Whole, others: Whole, lengths: Floats, w: Weights) -> Floats:
    """The chord's share of the credit of one bar against all others; shape (m,)."""
    root, bass, tones, sounding = one
    root_right, bass_right = others[0] == root, others[1] == bass
    same = bass_right & (others[3] == sounding)
    right = w.root * root_right
    if not w.all_or_nothing:
        either = BITS[others[2] | tones]
        likeness = BITS[others[2] & tones] / np.maximum(either, 1.0)
        quality = np.where(others[2] == tones, 1.0, w.shared_tones * likeness)
        right = right + w.quality * quality + w.bass * bass_right
    credit: Floats = np.where(same, 1.0, right / w.chord) @ lengths
    return credit


def _changes(bar: Shape) -> set[object]:
    return {Fraction(at, bar.grid) for at in bar.changes}


def _marks(bar: Shape) -> set[object]:
    return {(Fraction(at, bar.grid), mark) for at, mark in bar.marks}


def _agreement(
    ours: Sequence[Shape], theirs: Sequence[Shape], things: Callable[[Shape], set[object]]
) -> Part:
    """F-measure of the things in each pair of bars, and whether there are any."""
    one, other = [things(bar) for bar in ours], [things(bar) for bar in theirs]
    columns = {thing: k for k, thing in enumerate(set().union(*one, *other))}
    first, second = _holds(one, columns), _holds(other, columns)
    number = first.sum(axis=1)[:, None] + second.sum(axis=1)[None, :]
    return 2 * (first @ second.T) / np.maximum(number, 1.0), number > 0


def _holds(bars: Sequence[set[object]], columns: dict[object, int]) -> Floats:
    """1 where a bar has a thing; shape (bars, things)."""
    table = np.zeros((len(bars), len(columns)))
    for row, things in enumerate(bars):
        table[row, [columns[thing] for thing in things]] = 1.0
    return table


def _meters(ours: Sequence[Shape], theirs: Sequence[Shape]) -> Part:
    """Counts, at 0, where the meters differ."""
    one, other = (np.array([bar.meter for bar in bars]) for bars in (ours, theirs))
    differ = (one[:, None, :] != other[None, :, :]).any(axis=2)
    return np.zeros(differ.shape), differ


def _key_changes(ours: Sequence[Shape], theirs: Sequence[Shape]) -> Part:
    """Counts where either side changes key, at 1 where both by the same interval."""
    one, other = (np.array([bar.key_change for bar in bars]) for bars in (ours, theirs))
    agree = (one[:, None] - other[None, :]) % 12 == 0
    return agree.astype(np.float64), (one[:, None] != 0) | (other[None, :] != 0)
