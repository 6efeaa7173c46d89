"""Meters, and the feels they are played in."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from trainer.errors import ChartError

__all__ = ["Feel", "Meter"]


class Feel(StrEnum):
    """How the band plays the meter, as the trade names it."""

    STRAIGHT = "straight"
    SHUFFLE = "shuffle"
    TWO_BEAT = "two-beat"
    TRAIN_BEAT = "train beat"
    HALF_TIME = "half-time"
    WALTZ = "waltz"
    SIX_EIGHT = "6/8"
    TWELVE_EIGHT = "12/8"

    def fits(self, meter: Meter) -> bool:
        """Whether the feel can be played in the meter; straight fits every meter."""
        if self is Feel.STRAIGHT:
            return True
        if self is Feel.WALTZ:
            return (meter.beats, meter.unit) == (3, 4)
        if self in (Feel.SIX_EIGHT, Feel.TWELVE_EIGHT):
            return str(meter) == self.value
        return meter.unit in (2, 4) and meter.beats % 2 == 0

    @classmethod
    def usual(cls, meter: Meter) -> Feel:
        """The feel meant when none is written."""
        return {"3/4": cls.WALTZ, "6/8": cls.SIX_EIGHT, "12/8": cls.TWELVE_EIGHT}.get(
            str(meter), cls.STRAIGHT
        )


@lru_cache(maxsize=64)
def _quarters(beats: int, unit: int) -> Fraction:
    """Return the length of a bar in quarter notes; a song asks for it thousands of times."""
    return Fraction(4 * beats, unit)


@dataclass(frozen=True, slots=True)
class Meter:
    """`beats` to the bar, of the note value 1/`unit`."""

    beats: int
    unit: int

    def __post_init__(self) -> None:
        if self.unit not in (2, 4, 8, 16) or not 1 <= self.beats <= 16:
            raise ChartError(
                "meter",
                f"{self.beats}/{self.unit}",
                "1 to 16 beats over 2, 4, 8 or 16, as in 4/4 or 6/8",
            )

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"

    @property
    def quarters(self) -> Fraction:
        """Length of a bar in quarter notes."""
        return _quarters(self.beats, self.unit)

    @property
    def pulse_quarters(self) -> Fraction:
        """Length of what the tempo counts, in quarter notes.

        The dotted quarter in 6/8, 9/8, 12/8 (common practice), the half in x/2, else the quarter.
        """
        if self.unit == 2:
            return Fraction(2)
        if self.unit >= 8 and self.beats % 3 == 0:
            return Fraction(12, self.unit)
        return Fraction(1)
