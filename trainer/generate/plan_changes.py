"""What is changed in a plan where a recipe asks for less than real songs have."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace

from trainer.generate.plans import QUARTERS, SILENT, BarPlan, Plan, PlannedEvent
from trainer.generate.weighted_choice import happens

__all__ = ["Kept", "changed_plan"]

USUAL_BARS = 4
Lines = tuple[tuple[BarPlan, ...], ...]


@dataclass(frozen=True, slots=True)
class Kept:
    """How much of what plans hold is kept, each a probability: split bars, uneven ones among them,
    lines of odd length, silent bars, short bars, changes in sections that come back.

    `odd_lengths` are the odd lengths that lines may have.
    """

    splits: float = 1.0
    uneven: float = 1.0
    odd: float = 1.0
    silent: float = 1.0
    short: float = 1.0
    returns: float = 1.0
    odd_lengths: frozenset[int] = frozenset()


def changed_plan(rng: random.Random, plan: Plan, kept: Kept) -> Plan:
    """The plan with only so much of what it holds."""
    lines = plan.lines
    if kept.silent < 1 and not happens(rng, kept.silent):
        lines = tuple(_sounding(line) for line in lines)
    if kept.short < 1 and not happens(rng, kept.short):
        lines = _each_bar(lines, _full)
    if kept.splits < 1:
        lines = _each_bar(lines, lambda bar: _kept(rng, bar, len(bar) > 1, kept.splits, _whole))
    if kept.uneven < 1:
        lines = _each_bar(lines, lambda bar: _kept(rng, bar, _uneven(bar), kept.uneven, _evened))
    lines = tuple(
        line
        if len(line) == USUAL_BARS or (len(line) in kept.odd_lengths and happens(rng, kept.odd))
        else (*line, *line[-1:] * USUAL_BARS)[:USUAL_BARS]
        for line in lines
    )
    sections = plan.sections
    if kept.returns < 1 and not happens(rng, kept.returns):
        sections = _returning_the_same(sections)
    return replace(plan, lines=lines, sections=sections)


def _each_bar(lines: Lines, change: Callable[[BarPlan], BarPlan]) -> Lines:
    """The lines with every bar changed, bars alike in the same way."""
    known: dict[BarPlan, BarPlan] = {}
    for line in lines:
        for bar in line:
            if bar not in known:
                known[bar] = change(bar)
    return tuple(tuple(known[bar] for bar in line) for line in lines)


def _kept(
    rng: random.Random,
    bar: BarPlan,
    concerned: bool,
    rate: float,
    change: Callable[[BarPlan], BarPlan],
) -> BarPlan:
    """The bar, changed with probability 1 - `rate` if it is concerned."""
    return bar if not concerned or happens(rng, rate) else change(bar)


def _full(bar: BarPlan) -> BarPlan:
    """The bar with all four quarters."""
    if sum(event.quarters for event in bar) == QUARTERS:
        return bar
    return tuple(event._replace(quarters=2 * event.quarters) for event in bar)


def _whole(bar: BarPlan) -> BarPlan:
    """The bar with its first chord only."""
    total = sum(event.quarters for event in bar)
    first = next((event for event in bar if event.chord != SILENT), bar[0])
    return (first._replace(quarters=total),)


def _uneven(bar: BarPlan) -> bool:
    return len({event.quarters for event in bar}) > 1


def _evened(bar: BarPlan) -> BarPlan:
    """The bar with two chords of half its length."""
    half = sum(event.quarters for event in bar) // 2
    return (bar[0]._replace(quarters=half), bar[-1]._replace(quarters=half))


def _sounding(line: tuple[BarPlan, ...]) -> tuple[BarPlan, ...]:
    """The line with the chord before, or home, in place of silence."""
    now = 0
    bars = []
    for bar in line:
        events: list[PlannedEvent] = []
        for event in bar:
            now = now if event.chord == SILENT else event.chord
            if events and events[-1].chord == now and event.chord == SILENT:
                longer = events[-1].quarters + event.quarters
                events[-1] = events[-1]._replace(quarters=longer)
            else:
                events.append(event._replace(chord=now))
        bars.append(tuple(events))
    return tuple(bars)


def _returning_the_same(
    sections: tuple[tuple[str, tuple[int, ...]], ...],
) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """The sections with the lines of the first of their kind."""
    first: dict[str, tuple[int, ...]] = {}
    return tuple((kind, first.setdefault(kind, numbers)) for kind, numbers in sections)
