"""What is written for each bar of the song, where bars are said to be counted double or half."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.chart import Bar, Chart, Event

from .facts import CitedPlace

__all__ = ["recounted_bars"]


@dataclass(frozen=True, slots=True)
class LooseBar(Bar):
    """A bar whose chords may begin anywhere."""

    def __post_init__(self) -> None:
        """Nothing is checked: two bars played in the time of one need not fall on beats."""


def recounted_bars(text: str, cases: Sequence[CitedPlace], answer: Chart) -> dict[int, Bar]:
    """The bars of the answer recounted, by the bar of the song that they stand for.

    `cases` are the rows in order: counted double, each bar of the song has the next bars of the
    answer too; counted half, a bar of the answer stands for the next bar of the song too.
    """
    own = answer.bars()
    found: dict[int, Bar] = {}
    if "wrote two bars for every" in text:
        groups: list[tuple[int, list[Bar]]] = []
        for case in cases:
            if case.reference is not None and case.answer is not None:
                groups.append((case.reference, [own[case.answer - 1]]))
            elif groups and case.reference is None and case.answer is not None:
                groups[-1][1].append(own[case.answer - 1])
        return {bar: _together(parts) for bar, parts in groups}
    second: Bar | None = None
    for case in cases:
        if case.answer is not None and case.reference is not None:
            found[case.reference], second = _halves(own[case.answer - 1])
        elif case.answer is None and case.reference is not None and second is not None:
            found[case.reference], second = second, None
    return found


def _together(bars: Sequence[Bar]) -> Bar:
    """Some bars in the time of one."""
    events = [replace(e, beats=e.beats / len(bars)) for bar in bars for e in bar.events]
    return LooseBar(bars[0].meter, tuple(events), bars[0].key_change)


def _halves(bar: Bar) -> tuple[Bar, Bar]:
    """The two halves of a bar, each in the time of a bar."""
    middle = Fraction(bar.meter.beats, 2)
    parts: tuple[list[Event], list[Event]] = ([], [])
    for start, event in zip(bar.starts(), bar.events, strict=True):
        end = start + event.beats
        if start < middle:
            parts[0].append(replace(event, beats=2 * (min(end, middle) - start)))
        if end > middle:
            what = None if start < middle else event.articulation
            beats = 2 * (end - max(start, middle))
            parts[1].append(replace(event, beats=beats, articulation=what))
    first, second = (LooseBar(bar.meter, tuple(events)) for events in parts)
    return replace(first, key_change=bar.key_change), second
