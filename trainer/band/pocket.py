"""The time that the players share: a slow drift around the clock, and each player's place in it.

People who play together stray from the clock together, over many beats, and only a little from each
other. Drums and bass are on one line, keys and guitar a few milliseconds behind, singers further
back. Nobody is ahead of the clock on the whole: a chord never sounds before its place, so that what
is heard and what the page shows agree, and the drift lies around a moment just after it. The sizes
are common practice, no source.
"""

from __future__ import annotations

import random
from itertools import pairwise
from typing import NamedTuple

__all__ = ["POCKETS", "Pocket", "drift_quarters", "place_s"]

# How much of the drift of one quarter is left in the next.
KEPT = 0.93
BOUND_SDS = 1.7


class Pocket(NamedTuple):
    """How a band keeps time, in seconds.

    The drift lies around `centre_s` after the clock with the standard deviation `drift_sd_s`; each
    stroke strays from it by itself with `stroke_sd_s`.
    """

    centre_s: float
    drift_sd_s: float
    stroke_sd_s: float


POCKETS = {
    "work tape": Pocket(0.003, 0.0045, 0.003),
    "small": Pocket(0.004, 0.0034, 0.0022),
    "full": Pocket(0.004, 0.0034, 0.0022),
}
# By how much each player is behind the drums, in seconds.
PLACES_S = {
    "bass": 0.0005,
    "keys": 0.0015,
    "pad": 0.0015,
    "guitar": 0.0035,
    "foot": 0.0035,
    "lead": 0.0035,
    "voice": 0.004,
}


def place_s(name: str, band: str) -> float:
    """How far a player is behind the one who makes the time, in seconds.

    The drums make it; on a work tape, where there are none, the guitar does.
    """
    first = PLACES_S["guitar"] if band == "work tape" else 0.0
    return PLACES_S.get(name, 0.0) - first


def drift_quarters(
    pocket: Pocket, quarters: float, seconds_per_quarter: float, rng: random.Random
) -> tuple[float, ...]:
    """How late the band is at each half quarter of a song, in quarters.

    The drift is a first-order autoregression from quarter to quarter, and bounded.
    """
    renewed = (1 - KEPT**2) ** 0.5
    at = rng.gauss(0.0, 1.0)
    late = []
    for _ in range(int(quarters) + 3):
        bounded = max(-BOUND_SDS, min(BOUND_SDS, at))
        late.append((pocket.centre_s + pocket.drift_sd_s * bounded) / seconds_per_quarter)
        at = KEPT * at + renewed * rng.gauss(0.0, 1.0)
    halves = [half for this, following in pairwise(late) for half in (this, (this + following) / 2)]
    return tuple(halves)
