"""The credit of every bar of a song written as every bar of an answer, computed in arrays.

It is what `compare` gives bar by bar, which is faster where the bars repeat themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from math import lcm

import numpy as np
from numpy.typing import NDArray

from trainer.grade.content import BarContent, Sonority, as_plain_minor
from trainer.grade.weights import Weights

__all__ = ["credit_table"]

FloatArray = NDArray[np.float64]

# A component's value for each pair of bars, and whether it counts there; shape (n, m) both.
Component = tuple[FloatArray, NDArray[np.bool_]]
ALL_NOTES = (1 << 12) - 1
# For sets of the twelve notes and of what an open bar has in their place.
BIT_COUNTS = np.array([number.bit_count() for number in range(1 << 13)], np.float64)


def credit_table(
    ours: Sequence[BarContent], theirs: Sequence[BarContent], weights: Weights
) -> FloatArray:
    """Return the credit, 0 to 1, of each bar of `ours` written as each of `theirs`; shape (n, m).

    It is `bar_credit(compare(one, other, ...), weights)` for every pair. All bars are cut at every
    position where any of them changes.
    """
    grid = lcm(*(bar.grid for bar in (*ours, *theirs)))
    cuts = sorted({at * (grid // bar.grid) for bar in (*ours, *theirs) for at in bar.starts})
    played, one = _sonorities_at(ours, cuts, grid)
    written, other = _sonorities_at(theirs, cuts, grid)
    chords = _chord_credits(played, written, weights)
    worth = np.zeros((len(ours), len(theirs)))
    for length, row, column in zip(np.diff([*cuts, grid]) / grid, one.T, other.T, strict=True):
        worth += length * chords[np.ix_(row, column)]
    _raise_to_credit_in_order(worth, ours, theirs, chords, played, written)
    total = np.full(worth.shape, weights.chord)
    worth *= weights.chord
    changes = [[bar.changes_on(grid) for bar in bars] for bars in (ours, theirs)]
    articulations = [[bar.articulations_on(grid) for bar in bars] for bars in (ours, theirs)]
    for weight, (value, counts) in (
        (weights.placement, _f_measures(*changes)),
        (weights.articulation, _f_measures(*articulations)),
        (weights.meter, _meters(ours, theirs)),
        (weights.key_change, _key_changes(ours, theirs)),
    ):
        worth += weight * counts * value
        total += weight * counts
    table: FloatArray = np.minimum(worth / total, 1.0)
    return table


def _raise_to_credit_in_order(
    worth: FloatArray,
    ours: Sequence[BarContent],
    theirs: Sequence[BarContent],
    chords: FloatArray,
    played: Sequence[Sonority],
    written: Sequence[Sonority],
) -> None:
    """Raise the credit of bars split into the same number of chords to what it is in order."""
    number_of = [{_key(one): k for k, one in enumerate(side)} for side in (played, written)]
    for size in {len(bar.sonorities) for bar in ours} - {1}:
        rows = [k for k, bar in enumerate(ours) if len(bar.sonorities) == size]
        columns = [k for k, bar in enumerate(theirs) if len(bar.sonorities) == size]
        if not columns:
            continue
        in_order = np.zeros((len(rows), len(columns)))
        for number in range(size):
            shares = [_share(ours[row], number) for row in rows]
            one = [number_of[0][_key(ours[row].sonorities[number])] for row in rows]
            other = [number_of[1][_key(theirs[column].sonorities[number])] for column in columns]
            in_order += np.array(shares)[:, None] * chords[np.ix_(one, other)]
        cells = np.ix_(rows, columns)
        worth[cells] = np.maximum(worth[cells], in_order)


def _share(bar: BarContent, number: int) -> float:
    """Return the share of a bar that its chord at a number sounds for."""
    ends = (*bar.starts[1:], bar.grid)
    return (ends[number] - bar.starts[number]) / bar.grid


def _key(sonority: Sonority) -> tuple[int, int, int, str]:
    return sonority.root, sonority.bass, sonority.tones, sonority.name


def _sonorities_at(
    bars: Sequence[BarContent], cuts: Sequence[int], grid: int
) -> tuple[list[Sonority], NDArray[np.intp]]:
    """Return the different sonorities, and which sounds after each cut; shape (bars, cuts)."""
    numbers: dict[tuple[int, int, int, str], int] = {}
    sonorities: list[Sonority] = []
    table = np.empty((len(bars), len(cuts)), np.intp)
    column = {cut: k for k, cut in enumerate(cuts)}
    for row, bar in enumerate(bars):
        up = grid // bar.grid
        for start, sonority in zip(bar.starts, bar.sonorities, strict=True):
            key = _key(sonority)
            if key not in numbers:
                numbers[key] = len(sonorities)
                sonorities.append(sonority)
            table[row, column[start * up] :] = numbers[key]
    return sonorities, table


def _chord_credits(
    played: Sequence[Sonority], written: Sequence[Sonority], w: Weights
) -> FloatArray:
    """Return the chord's credit of each sonority written as each; shape (played, written)."""
    one, other = (_as_arrays(sonorities) for sonorities in (played, written))
    table = _chord_credit([part[:, None] for part in one], [part[None, :] for part in other], w)
    if w.plain_minor:
        for column, plain in enumerate(written):
            for row, heard in enumerate(played):
                minor = as_plain_minor(plain, heard)
                if minor is not plain:
                    table[row, column] = _chord_credit(
                        [part[row : row + 1] for part in one], _as_arrays([minor]), w
                    ).item()
    return table


def _as_arrays(sonorities: Sequence[Sonority]) -> list[NDArray[np.int16]]:
    """Return the roots, basses, tones, all tones and completed tones, an array of each."""
    rows = [(one.root, one.bass, one.tones, one.all_tones, one.completed) for one in sonorities]
    return list(np.array(rows, np.int16).T)


def _chord_credit(
    one: Sequence[NDArray[np.int16]], other: Sequence[NDArray[np.int16]], w: Weights
) -> FloatArray:
    same = (one[1] == other[1]) & (one[3] == other[3])
    right = w.root * (one[0] == other[0])
    if w.all_or_nothing:
        return np.where(same, 1.0, right / w.chord)
    common = BIT_COUNTS[one[2] & other[2]]
    either = np.maximum(BIT_COUNTS[one[2] | other[2]], 1.0)
    quality = np.where(one[2] == other[2], 1.0, w.shared_tones * common / either)
    right = right + w.quality * quality + w.bass * (one[1] == other[1])
    credit = right / w.chord
    other_root, same_bass = one[0] != other[0], one[1] == other[1]
    missing = np.minimum(BIT_COUNTS[one[3] ^ other[4]], BIT_COUNTS[one[4] ^ other[3]])
    credit = np.where(other_root & same_bass & (missing <= 1), w.nearly_same, credit)
    gone = BIT_COUNTS[one[3] & ~other[3] & ALL_NOTES]
    new = BIT_COUNTS[other[3] & ~one[3] & ALL_NOTES]
    off = other_root & same_bass & (one[1] >= 0) & (gone == 1) & (new == 1) & (missing > 1)
    credit = np.where(off, w.one_note_off, credit)
    related = other_root & ~same_bass & (common >= 2) & (2 * common >= either)
    credit = np.where(related, w.related, credit)
    return np.where(same, 1.0, credit)


def _f_measures(
    ours: Sequence[AbstractSet[object]], theirs: Sequence[AbstractSet[object]]
) -> Component:
    """F-measure of the sets of each pair of bars; counts where either set has a member."""
    rows, columns = _by_member(ours), _by_member(theirs)
    common = np.zeros((len(ours), len(theirs)))
    for member, bars in rows.items():
        if member in columns:
            common[np.ix_(bars, columns[member])] += 1
    number = np.array([len(bar) for bar in ours])[:, None] + [len(bar) for bar in theirs]
    return 2 * common / np.maximum(number, 1), number > 0


def _by_member(sets: Sequence[AbstractSet[object]]) -> dict[object, list[int]]:
    """Return the numbers of the sets that have each member."""
    found: dict[object, list[int]] = {}
    for number, members in enumerate(sets):
        for member in members:
            found.setdefault(member, []).append(number)
    return found


def _meters(ours: Sequence[BarContent], theirs: Sequence[BarContent]) -> Component:
    """Return 0, which counts where the meters differ."""
    numbers: dict[tuple[int, int], int] = {}
    one, other = (
        np.array([numbers.setdefault(bar.meter, len(numbers)) for bar in bars])
        for bars in (ours, theirs)
    )
    differ = one[:, None] != other[None, :]
    return np.zeros(differ.shape), differ


def _key_changes(ours: Sequence[BarContent], theirs: Sequence[BarContent]) -> Component:
    """Return 1 for the same interval, else 0; counts where either side changes key."""
    one, other = (np.array([bar.key_change for bar in bars]) for bars in (ours, theirs))
    agree = (one[:, None] - other[None, :]) % 12 == 0
    return agree.astype(np.float64), (one[:, None] != 0) | (other[None, :] != 0)
