"""Integrated loudness from energies: the gating of ITU-R BS.1770-4, annex 1."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["gated_loudness"]


def gated_loudness(blocks: NDArray[np.float64]) -> float:
    """Integrated loudness in LUFS; −inf if there is nothing but silence.

    Parameters
    ----------
    blocks : (n,); K-weighted mean square, channels added, of blocks of 400 ms that overlap by 75 %.

    Left out are blocks at or under −70 LUFS, then those at or under 10 LU below the rest.
    """
    loud = blocks[blocks > 10 ** ((-70.0 + 0.691) / 10)]
    if not len(loud):
        return float(-np.inf)
    loud = loud[loud > loud.mean() / 10]
    return float(-0.691 + 10 * np.log10(loud.mean()))
