"""A look-ahead limiter that keeps the true peak under a ceiling.

The gain of a frame depends only on what lies within 2 HALF segments of it, so a rendering that
starts in the middle is limited exactly like one that starts at the beginning.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from trainer.sound.bs1770 import SEGMENT, TAPS, segment_peaks

__all__ = ["CEILING", "CHUNK", "limit_peaks"]

Samples = NDArray[np.float32]
Gains = NDArray[np.float64]

CHUNK = 4096
HALF = 32
# 0.3 dB under the -1 dBTP promised: a moving gain and rounding lift peaks a little.
CEILING = 10 ** (-1.3 / 20)
# True peaks lie at most this factor over the samples in all but made-up signals.
_OVERSHOOT = 2.0
_SEGMENTS = CHUNK // SEGMENT
_KERNEL = np.hanning(2 * HALF + 2)[1:-1] / np.hanning(2 * HALF + 2)[1:-1].sum()


def limit_peaks(chunks: Iterable[Samples], gain: float) -> Iterator[Samples]:
    """Apply a gain to audio and limit its peaks.

    Parameters
    ----------
    chunks : float32 arrays (CHUNK, 2); the first is context only, and silence is assumed after the
        last.
    gain : factor.

    Yields
    ------
    float32 arrays (CHUNK, 2), one for each chunk but the first.
    """
    silence = np.zeros((CHUNK, 2), np.float32)
    scaled = chain((chunk * np.float32(gain) for chunk in chunks), (silence, silence))
    before, here, after = silence, next(scaled), next(scaled)
    need_before, need_here = np.ones(_SEGMENTS), _need(before, here, after)
    context = True
    for further in scaled:
        need_after = _need(here, after, further)
        if not context:
            yield _turned_down(here, need_before, need_here, need_after)
        context = False
        here, after = after, further
        need_before, need_here = need_here, need_after


def _need(before: Samples, here: Samples, after: Samples) -> Gains:
    """The highest gain, at most 1, at which each segment stays under the ceiling, (segments,)."""
    quiet = CEILING / _OVERSHOOT
    if max(here.max(), -here.min()) <= quiet:
        return np.ones(_SEGMENTS)
    wide = np.concatenate((before[-TAPS:], here, after[:TAPS]))
    return np.minimum(1.0, CEILING / np.maximum(segment_peaks(wide, quiet), 1e-9))


def _turned_down(here: Samples, before_need: Gains, need: Gains, after_need: Gains) -> Samples:
    """The chunk under a smooth gain that is nowhere higher than what its segments need.

    The gain at a segment's edge is an average, over HALF segments on both sides, of the least gain
    needed within HALF segments of each; all of these include both segments at the edge.
    """
    reach = 2 * HALF
    needs = np.concatenate((before_need[-reach:], need, after_need[:reach]))
    if needs.min() == 1.0:
        return here
    least = sliding_window_view(needs, 2 * HALF + 1).min(axis=1)
    edges = sliding_window_view(least, 2 * HALF) @ _KERNEL
    steps = np.arange(SEGMENT) / SEGMENT
    gains = edges[:-1, None] + np.diff(edges)[:, None] * steps
    turned: Samples = here * gains.reshape(CHUNK, 1).astype(np.float32)
    return turned
