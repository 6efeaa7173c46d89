"""Feels: how a bar is divided into cells and subdivisions, and how early a push is.

A cell is what a foot taps: the quarter, the dotted quarter of 6/8 and 12/8, or a group of two or
three eighths in an odd meter. Grids, accents and the swing of two to one are common practice, no
source.
"""

from __future__ import annotations

from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from trainer.chart import Feel, Meter

__all__ = ["PUSH_QUARTERS", "Cell", "Role", "cells", "is_compound", "played_feel", "push_quarters"]

PUSH_QUARTERS = Fraction(1, 2)
SWUNG_PUSH_QUARTERS = Fraction(1, 3)
SWING = Fraction(2, 3)
EIGHTH = Fraction(1, 2)


class Role(StrEnum):
    """The metrical role of a cell: first of the bar, another strong one, backbeat, or between."""

    DOWN = "down"
    MID = "mid"
    BACK = "back"
    OFF = "off"


class Cell(NamedTuple):
    """A tapped beat of a bar.

    `start` (from the bar line), `length` and `subs` (offsets of its subdivisions from its start)
    are in quarter notes.
    """

    start: float
    length: float
    subs: tuple[float, ...]
    role: Role


def is_compound(meter: Meter) -> bool:
    """Whether the beats group in threes, as in 3/8, 6/8, 9/8, 12/8 and the same in sixteenths."""
    return meter.unit >= 8 and meter.beats % 3 == 0


def played_feel(feel: Feel, meter: Meter) -> Feel:
    """The feel of a bar of this meter in a song of that feel.

    A 3/8 bar in a 4/4 song is compound.
    """
    if is_compound(meter):
        return Feel.TWELVE_EIGHT if meter.beats >= 12 else Feel.SIX_EIGHT
    if meter.unit >= 8 or feel in (Feel.SIX_EIGHT, Feel.TWELVE_EIGHT):
        return Feel.STRAIGHT
    if feel is Feel.WALTZ and (meter.unit != 4 or meter.beats % 3):
        return Feel.STRAIGHT
    return feel


def push_quarters(feel: Feel) -> Fraction:
    """How early a push comes, in quarter notes: an eighth, which is swung in a shuffle."""
    return SWUNG_PUSH_QUARTERS if feel is Feel.SHUFFLE else PUSH_QUARTERS


def _lengths(meter: Meter) -> list[Fraction]:
    """Lengths of a bar's cells in quarter notes."""
    beat = Fraction(4, meter.unit)
    if is_compound(meter):
        return [beat * 3] * (meter.beats // 3)
    if meter.unit <= 4:
        return [Fraction(1)] * int(meter.quarters) or [meter.quarters]
    if meter.unit == 8 and meter.beats % 2 and meter.beats > 1:
        pairs = [beat * 2] * ((meter.beats - 3) // 2)
        # Five is counted three and two, longer odd bars end with the three.
        return [beat * 3, *pairs] if meter.beats == 5 else [*pairs, beat * 3]
    whole, rest = divmod(meter.quarters, 1)
    return [Fraction(1)] * int(whole) + ([rest] if rest else [])


def _roles(feel: Feel, count: int) -> list[Role]:
    """The roles of the `count` cells of a bar."""
    if feel is Feel.HALF_TIME and count % 4 == 0:
        group = [Role.MID, Role.OFF, Role.BACK, Role.OFF]
        roles = group * (count // 4)
    elif feel is Feel.WALTZ and count % 3 == 0:
        roles = [Role.MID, Role.OFF, Role.BACK] * (count // 3)
    elif count == 1:
        roles = [Role.DOWN]
    else:
        head = [Role.MID, Role.OFF, Role.BACK] if count % 2 else []
        roles = head + [Role.MID, Role.BACK] * ((count - len(head)) // 2)
    return [Role.DOWN, *roles[1:]]


def _subs(feel: Feel, meter: Meter, length: Fraction) -> tuple[float, ...]:
    """Offsets of a cell's subdivisions from its start."""
    if is_compound(meter):
        return tuple(float(length * third / 3) for third in range(3))
    if feel is Feel.SHUFFLE and length == 1:
        return (0.0, float(SWING))
    steps = -(-length // EIGHTH)
    return tuple(float(EIGHTH * step) for step in range(int(steps)))


@lru_cache(maxsize=512)
def cells(feel: Feel, meter: Meter) -> tuple[Cell, ...]:
    """The cells of a bar played with `feel` (see `played_feel`)."""
    lengths = _lengths(meter)
    roles = _roles(feel, len(lengths))
    at, found = Fraction(0), []
    for length, role in zip(lengths, roles, strict=True):
        found.append(Cell(float(at), float(length), _subs(feel, meter, length), role))
        at += length
    return tuple(found)
