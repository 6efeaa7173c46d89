"""Integrated loudness from energies: the gating of ITU-R BS.1770-4, annex 1."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["gated_loudness"]


def gated_loudness(tenths: NDArray[np.float64]) -> float:
    """Integrated loudness in LUFS; −inf if all is silent.

    Parameters
    ----------
    tenths : (n,), n ≥ 4; K-weighted mean square of each tenth of a second, channels added.

    Blocks are 400 ms long and overlap by 75 %; those at or under −70 LUFS, then those at or under
    10 LU below the rest, are left out.
    """
    if len(tenths) < 4:
        raise ValueError(f"{len(tenths)} tenths of a second: expected at least 4")
    sums = np.convolve(tenths, np.full(4, 0.25), mode="valid")
    loud = sums[sums > _energy(-70.0)]
    if not len(loud):
        return float(-np.inf)
    loud = loud[loud > loud.mean() / 10]
    return float(-0.691 + 10 * np.log10(loud.mean()))


def _energy(lufs: float) -> float:
    return float(10 ** ((lufs + 0.691) / 10))
