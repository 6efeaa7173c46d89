"""The credits of many bars against many bars at once, by numpy.

Says the same as `credit(compare(a, b), weights)` for every pair, in arrays, which is faster where
neither side repeats itself. All bars are cut at every place where any of them changes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import lcm

import numpy as np
from numpy.typing import NDArray

from trainer.grade.sheet import Shape
from trainer.grade.tones import Sound, as_plain_minor
from trainer.grade.weights import Weights

__all__ = ["credit_table"]

Floats = NDArray[np.float64]
Whole = NDArray[np.int16]
Part = tuple[Floats, NDArray[np.bool_]]
BITS = np.array([number.bit_count() for number in range(1 << 12)], np.float64)


def credit_table(ours: Sequence[Shape], theirs: Sequence[Shape], weights: Weights) -> Floats:
    """Credits 0 to 1, shape (n, m), of each bar of `ours` written as each of `theirs`."""
    grid = lcm(*(bar.grid for bar in (*ours, *theirs)))
    cuts = sorted({at * (grid // bar.grid) for bar in (*ours, *theirs) for at in bar.starts})
    played, one = _sounding(ours, cuts, grid)
    written, other = _sounding(theirs, cuts, grid)
    chords = _chords(played, written, weights)
    worth = np.zeros((len(ours), len(theirs)))
    for length, row, column in zip(np.diff([*cuts, grid]) / grid, one.T, other.T, strict=True):
        worth += length * chords[np.ix_(row, column)]
    total = np.full(worth.shape, weights.chord)
    worth *= weights.chord
    for weight, (value, counts) in (
        (weights.placement, _agreement(ours, theirs, grid, _changes)),
        (weights.articulation, _agreement(ours, theirs, grid, _marks)),
        (weights.meter, _meters(ours, theirs)),
        (weights.key_change, _key_changes(ours, theirs)),
    ):
        worth += weight * counts * value
        total += weight * counts
    table: Floats = np.minimum(worth / total, 1.0)
    return table


def _sounding(
    bars: Sequence[Shape], cuts: Sequence[int], grid: int
) -> tuple[list[Sound], NDArray[np.intp]]:
    """The different sounds, and which of them sounds after each cut; shape (bars, cuts)."""
    numbers: dict[tuple[int, int, int, str], int] = {}
    sounds: list[Sound] = []
    table = np.empty((len(bars), len(cuts)), np.intp)
    column = {cut: k for k, cut in enumerate(cuts)}
    for row, bar in enumerate(bars):
        up = grid // bar.grid
        for start, sound in zip(bar.starts, bar.sounds, strict=True):
            key = sound.root, sound.bass, sound.tones, sound.name
            if key not in numbers:
                numbers[key] = len(sounds)
                sounds.append(sound)
            table[row, column[start * up] :] = numbers[key]
    return sounds, table


def _chords(played: Sequence[Sound], written: Sequence[Sound], w: Weights) -> Floats:
    """The chord's credit, 0 to 1, of each sound written as each; shape (played, written)."""
    one, other = (_numbers(sounds) for sounds in (played, written))
    table = _chord_credit([part[:, None] for part in one], [part[None, :] for part in other], w)
    if w.plain_minor:
        for column, sound in enumerate(written):
            for row, heard in enumerate(played):
                meant = as_plain_minor(sound, heard)
                if meant is not sound:
                    table[row, column] = _chord_credit(
                        [part[row : row + 1] for part in one], _numbers([meant]), w
                    ).item()
    return table


def _numbers(sounds: Sequence[Sound]) -> list[Whole]:
    """Root, bass, tones and all notes sounding of each."""
    rows = [(one.root, one.bass, one.tones, one.sounding) for one in sounds]
    return list(np.array(rows, np.int16).T)


def _chord_credit(one: Sequence[Whole], other: Sequence[Whole], w: Weights) -> Floats:
    same = (one[1] == other[1]) & (one[3] == other[3])
    right = w.root * (one[0] == other[0])
    if not w.all_or_nothing:
        likeness = BITS[one[2] & other[2]] / np.maximum(BITS[one[2] | other[2]], 1.0)
        quality = np.where(one[2] == other[2], 1.0, w.shared_tones * likeness)
        right = right + w.quality * quality + w.bass * (one[1] == other[1])
    credit: Floats = np.where(same, 1.0, right / w.chord)
    return credit


def _changes(bar: Shape, up: int) -> set[object]:
    return {at * up for at in bar.changes}


def _marks(bar: Shape, up: int) -> set[object]:
    return {(at * up, mark) for at, mark in bar.marks}


def _agreement(
    ours: Sequence[Shape],
    theirs: Sequence[Shape],
    grid: int,
    things: Callable[[Shape, int], set[object]],
) -> Part:
    """F-measure of the things in each pair of bars, and whether there are any."""
    one, other = ([things(bar, grid // bar.grid) for bar in bars] for bars in (ours, theirs))
    rows, columns = _holders(one), _holders(other)
    common = np.zeros((len(one), len(other)))
    for thing, holders in rows.items():
        if thing in columns:
            common[np.ix_(holders, columns[thing])] += 1
    number = np.array([len(bar) for bar in one])[:, None] + [len(bar) for bar in other]
    return 2 * common / np.maximum(number, 1), number > 0


def _holders(bars: Sequence[set[object]]) -> dict[object, list[int]]:
    """The bars that have each thing."""
    found: dict[object, list[int]] = {}
    for row, things in enumerate(bars):
        for thing in things:
            found.setdefault(thing, []).append(row)
    return found


def _meters(ours: Sequence[Shape], theirs: Sequence[Shape]) -> Part:
    """Counts, at 0, where the meters differ."""
    numbers: dict[tuple[int, int], int] = {}
    one, other = (
        np.array([numbers.setdefault(bar.meter, len(numbers)) for bar in bars])
        for bars in (ours, theirs)
    )
    differ = one[:, None] != other[None, :]
    return np.zeros(differ.shape), differ


def _key_changes(ours: Sequence[Shape], theirs: Sequence[Shape]) -> Part:
    """Counts where either side changes key, at 1 where both by the same interval."""
    one, other = (np.array([bar.key_change for bar in bars]) for bars in (ours, theirs))
    agree = (one[:, None] - other[None, :]) % 12 == 0
    return agree.astype(np.float64), (one[:, None] != 0) | (other[None, :] != 0)
