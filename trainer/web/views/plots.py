"""Plots as shapes to draw: values laid out on a canvas, with the table behind them.

One unit of the canvas is about a pixel where it has its natural width. Colours and type are in the
style sheets.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, isclose, log10

from trainer.web.formatting import percent

__all__ = ["SHARES", "Box", "Plot", "Point", "Scale", "bars", "line", "scale_for"]

WIDE, LONG, HIGH = 340.0, 760.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 50.0, 10.0, 10.0, 22.0
MOST_X_TICKS = 6
# So much of its place a bar of a plot fills, and its width at most.
FILLED, WIDEST = 0.7, 24.0


@dataclass(frozen=True, slots=True)
class Point:
    """A value at a place along the canvas, None for nothing there.

    `low` and `high` are what it lies between, `second` is another value drawn as a ring.
    """

    label: str
    value: float | None
    low: float | None = None
    high: float | None = None
    second: float | None = None


@dataclass(frozen=True, slots=True)
class Scale:
    """The values from bottom to top, and those that are written at its side."""

    low: float
    high: float
    ticks: tuple[float, ...]
    write: Callable[[float], str]


@dataclass(frozen=True, slots=True)
class Tick:
    """A text at a place of an axis; `anchor` as in SVG."""

    at: float
    text: str
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Box:
    """A bar of a plot; `highlighted` marks the one that the summary speaks of."""

    x: float
    y: float
    width: float
    height: float
    highlighted: bool = False


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot: `key` is its id on the page, `summary` says what it shows, `rows` its table."""

    key: str
    title: str
    summary: str
    width: float
    height: float
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    path: str = ""
    interval: str = ""
    dots: tuple[tuple[float, float], ...] = ()
    rings: tuple[tuple[float, float], ...] = ()
    boxes: tuple[Box, ...] = ()

    @property
    def left(self) -> float:
        """Where the values begin."""
        return LEFT

    @property
    def right(self) -> float:
        """Where they end."""
        return self.width - RIGHT

    @property
    def floor(self) -> float:
        """Where the labels of the values stand."""
        return self.height - 6


SHARES = Scale(0.0, 1.0, (0.0, 0.5, 1.0), percent)


def scale_for(values: Sequence[float], write: Callable[[float], str]) -> Scale:
    """A scale from 0 (or below, where there are values below) over all values, in round steps.

    >>> scale_for([3.2, 7.5], str).ticks
    (0.0, 5.0, 10.0)
    """
    top, bottom = max([*values, 0.0]), min([*values, 0.0])
    step = _round_step((top - bottom) / 2 or 1.0)
    low, high = step * floor(bottom / step + 1e-9), step * max(1, ceil(top / step - 1e-9))
    count = round((high - low) / step)
    return Scale(low, high, tuple(low + step * k for k in range(count + 1)), write)


def _round_step(rough: float) -> float:
    """The least of 1, 2, 2.5, 5 times a power of ten that is no less."""
    power = 10.0 ** floor(log10(rough))
    return next(
        factor * power
        for factor in (1, 2, 2.5, 5, 10)
        if factor * power >= rough or isclose(factor * power, rough)
    )


@dataclass(frozen=True, slots=True)
class _Canvas:
    """Where on a canvas the values of `count` places along it stand."""

    width: float
    count: int
    scale: Scale

    def x(self, place: int) -> float:
        return LEFT + (self.width - LEFT - RIGHT) * (place + 0.5) / self.count

    def y(self, value: float) -> float:
        low, high = self.scale.low, self.scale.high
        share = (min(max(value, low), high) - low) / (high - low)
        return round(HIGH - BOTTOM - (HIGH - TOP - BOTTOM) * share, 1)

    def x_ticks(self, labels: Sequence[str]) -> tuple[Tick, ...]:
        """As many labels as have room, the last one always."""
        fit = MOST_X_TICKS if self.width > WIDE else MOST_X_TICKS // 2
        step = max(1, ceil(len(labels) / fit))
        places = range(len(labels) - 1, -1, -step)
        return tuple(
            Tick(
                round(min(self.x(place), self.width - 4 if place == len(labels) - 1 else 1e9), 1),
                labels[place],
                "end" if place == len(labels) - 1 and len(labels) > 1 else "middle",
            )
            for place in reversed(places)
        )

    def y_ticks(self) -> tuple[Tick, ...]:
        return tuple(
            Tick(self.y(value), self.scale.write(value), "end") for value in self.scale.ticks
        )


def line(
    key: str,
    title: str,
    summary: str,
    points: Sequence[Point],
    scale: Scale,
    headers: tuple[str, ...],
    rows: Sequence[tuple[str, ...]],
) -> Plot:
    """Values joined by a line over the range they lie in."""
    canvas = _Canvas(WIDE, max(1, len(points)), scale)
    known = [(round(canvas.x(k), 1), p) for k, p in enumerate(points) if p.value is not None]
    dots = tuple((x, canvas.y(p.value or 0.0)) for x, p in known)
    ranged = [(x, p.low, p.high) for x, p in known if p.low is not None and p.high is not None]
    upper = [(x, canvas.y(high)) for x, _, high in ranged]
    lower = [(x, canvas.y(low)) for x, low, _ in reversed(ranged)]
    second = [(round(canvas.x(k), 1), p.second) for k, p in enumerate(points)]
    return Plot(
        key=key,
        title=title,
        summary=summary,
        width=WIDE,
        height=HIGH,
        x_ticks=canvas.x_ticks([point.label for point in points]),
        y_ticks=canvas.y_ticks(),
        headers=headers,
        rows=tuple(rows),
        path=_path(dots),
        interval=_path(upper + lower) + "Z" if len(ranged) > 1 else "",
        dots=dots,
        rings=tuple((x, canvas.y(value)) for x, value in second if value is not None),
    )


def bars(
    key: str,
    title: str,
    summary: str,
    points: Sequence[Point],
    scale: Scale,
    headers: tuple[str, ...],
    rows: Sequence[tuple[str, ...]],
    *,
    highlighted: int | None = None,
    is_long: bool = False,
) -> Plot:
    """A bar for each value, from 0; `highlighted` is the place of the one that the summary
    speaks of."""
    width = LONG if is_long else WIDE
    canvas = _Canvas(width, max(1, len(points)), scale)
    wide = round(min(WIDEST, FILLED * (width - LEFT - RIGHT) / max(1, len(points))), 2)
    zero = canvas.y(0.0)
    boxes = []
    for place, point in enumerate(points):
        if point.value is not None:
            y = canvas.y(point.value)
            x = round(canvas.x(place) - wide / 2, 1)
            boxes.append(
                Box(x, min(y, zero), wide, round(max(1.0, abs(zero - y)), 1), place == highlighted)
            )
    return Plot(
        key=key,
        title=title,
        summary=summary,
        width=width,
        height=HIGH,
        x_ticks=canvas.x_ticks([point.label for point in points]),
        y_ticks=canvas.y_ticks(),
        headers=headers,
        rows=tuple(rows),
        boxes=tuple(boxes),
    )


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points) if points else ""
