"""Readings of an answer: what was written, read in another way before it is compared.

A writer may have counted two bars for every bar that the band played, or one for two, or counted
from another 1, or called the meter by another name, throughout or in a part of the song. A reading
undoes that: it is a row of bars to be compared, each of which remembers the bars of the answer that
it comes from and which share of its credit is kept.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from trainer.chart.model import Bar, Event, Meter
from trainer.errors import ChartError
from trainer.grade.content import (
    BarContent,
    ChartContent,
    bar_content,
    rekeyed_bar,
    transposed_bar,
)

__all__ = ["ReadBar", "Reading", "as_written"]


class ReadBar(NamedTuple):
    """One bar of a reading.

    `bars` are the bars of the answer that it comes from, from 0: one, or two that are read as one;
    `half` is 0 or 1 where it is the first or second half of a bar. `keep` is the share of its
    credit that is kept, `shift` by how many semitones its numbers were moved, and `meter` 0 if it
    is written in another meter than it is read in.
    """

    bar: Bar
    content: BarContent
    bars: tuple[int, ...]
    half: int | None = None
    keep: float = 1.0
    shift: int = 0
    meter: float = 1.0

    @property
    def is_counted(self) -> bool:
        """Whether it is counted double or half."""
        return self.half is not None or len(self.bars) > 1


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """An answer as it is read.

    `content` has one entry for each of `read_bars`; `answer` is the answer bar by bar as it is
    written, with its numbers moved where they are read from another 1. `changed` are the bars of a
    reading that changes some, None of one that changes nothing.
    """

    answer: ChartContent
    content: ChartContent
    changed: tuple[ReadBar, ...] | None = None

    @property
    def read_bars(self) -> tuple[ReadBar, ...]:
        """The bars to be compared."""
        if self.changed is not None:
            return self.changed
        return self._as_written(range(len(self.answer)))

    def _as_written(self, numbers: range) -> tuple[ReadBar, ...]:
        """Return some bars of the answer, read as they are written."""
        bars, contents = self.answer.bars, self.answer.contents
        return tuple([ReadBar(bars[k], contents[k], (k,)) for k in numbers])

    @property
    def is_as_written(self) -> bool:
        """Whether nothing is read in another way; every change makes a content of its own."""
        return self.content is self.answer

    @property
    def is_bar_for_bar(self) -> bool:
        """Whether every bar of the answer is read as one bar."""
        return self.changed is None or all(
            one.half is None and len(one.bars) == 1 for one in self.changed
        )

    def of_bars(self, bars: range) -> Sequence[ReadBar]:
        """Return what is read of some bars of the answer; of two read as one, by the first."""
        if self.changed is None:
            return self._as_written(bars)
        if self.is_bar_for_bar:
            return self.changed[bars.start : bars.stop]
        return [one for one in self.read_bars if one.bars[0] in bars]

    def shifted(self, bars: range, semitones: int, keep: float) -> Reading:
        """Return the reading with the numbers of some bars moved up by an interval."""

        def move(one: ReadBar) -> ReadBar:
            shift = (one.shift + semitones) % 12
            content = transposed_bar(bar_content(one.bar), shift)
            return one._replace(content=content, keep=one.keep * keep, shift=shift)

        return self._changed(bars, move)

    def in_keys(self, shifts: Sequence[int], key_changes: Sequence[int], keep: float) -> Reading:
        """Return the reading of an answer as written with each bar counted in another key.

        Parameters, one entry a bar: `shifts` by how many semitones the numbers are moved up,
        `key_changes` what is read as the key change there. Bars that are moved keep `keep`.
        """
        changed = tuple(
            one._replace(
                content=rekeyed_bar(bar_content(one.bar), shift % 12, key_change),
                keep=one.keep * (keep if shift % 12 else 1.0),
                shift=shift % 12,
            )
            for one, shift, key_change in zip(self.read_bars, shifts, key_changes, strict=True)
        )
        content = _with_bars(self.content, changed)
        return Reading(replace(self.answer, contents=content.contents), content, changed)

    def in_meters(self, meters: dict[Meter, Meter], keep: float, *, same_pulse: bool) -> Reading:
        """Return the reading with some meters called by another name, in every bar.

        The meter itself is right only if the names stand for the `same_pulse`.
        """

        def rename(one: ReadBar) -> ReadBar:
            meter = meters.get(one.bar.meter)
            if meter is None:
                return one._replace(keep=one.keep * keep)
            scale = Fraction(meter.beats, one.bar.meter.beats)
            beats = [event.beats * scale for event in one.bar.events]
            if not one.bar.is_even and any(each.denominator > 1 for each in beats):
                # Uneven beats that no bar of the other meter has stay as they are written.
                return one._replace(keep=one.keep * keep, meter=float(same_pulse))
            events = [replace(event, beats=event.beats * scale) for event in one.bar.events]
            bar = replace(one.bar, meter=meter, events=tuple(events))
            return one._replace(
                bar=bar,
                content=bar_content(bar),
                keep=one.keep * keep,
                meter=float(same_pulse),
            )

        return self._changed(range(len(self.read_bars)), rename)

    def _changed(self, bars: range, change: Callable[[ReadBar], ReadBar]) -> Reading:
        """Return the reading with the bars changed that come from some bars of the answer."""
        changed = tuple(change(one) if one.bars[0] in bars else one for one in self.read_bars)
        content = _with_bars(self.content, changed)
        if self.is_bar_for_bar:
            return Reading(replace(self.answer, contents=content.contents), content, changed)
        shift_of = {bar: one.shift for one in changed for bar in one.bars}
        contents = tuple(
            transposed_bar(bar_content(bar), shift_of[number])
            for number, bar in enumerate(self.answer.bars)
        )
        return Reading(replace(self.answer, contents=contents), content, changed)

    def counted_double(self, bars: range, keep: float) -> Reading:
        """Return the reading in which two of these bars make one, beginning with the first.

        Two bars are not read as one across the start of a section, where they differ in meter, or
        where the second changes the key.
        """
        read_bars: list[ReadBar] = []
        sources: list[int] = []
        at, chart, unread = 0, self.content, self.read_bars
        while at < len(unread):
            one = unread[at]
            other = unread[at + 1] if at + 1 < len(unread) else None
            sources.append(at)
            if (
                other is not None
                and one.bars[0] in bars
                and other.bars[0] in bars
                and chart.section_of_bar[at] == chart.section_of_bar[at + 1]
                and one.bar.meter == other.bar.meter
                and not other.bar.key_change
                and (bar := _joined(one.bar, other.bar)) is not None
            ):
                read_bars.append(
                    one._replace(
                        bar=bar,
                        content=transposed_bar(bar_content(bar), one.shift),
                        bars=(*one.bars, *other.bars),
                        keep=one.keep * keep,
                    )
                )
                at += 2
            else:
                keep_here = keep if one.bars[0] in bars else 1.0
                read_bars.append(one._replace(keep=one.keep * keep_here))
                at += 1
        content = _laid_out(chart, read_bars, sources)
        return Reading(self.answer, content, tuple(read_bars))

    def counted_half(self, bars: range, keep: float) -> Reading:
        """Return the reading in which each of these bars makes two."""
        read_bars: list[ReadBar] = []
        sources: list[int] = []
        for at, one in enumerate(self.read_bars):
            halves = _halves(one.bar) if one.bars[0] in bars else None
            if halves is None:
                read_bars.append(one)
                sources.append(at)
                continue
            for half, bar in enumerate(halves):
                part = transposed_bar(bar_content(bar), one.shift)
                read_bars.append(
                    one._replace(bar=bar, content=part, half=half, keep=one.keep * keep)
                )
                sources.append(at)
        content = _laid_out(self.content, read_bars, sources)
        return Reading(self.answer, content, tuple(read_bars))


def as_written(answer: ChartContent) -> Reading:
    """Return the reading of an answer as it is written."""
    return Reading(answer, answer)


def _joined(one: Bar, other: Bar) -> Bar | None:
    """Return two bars as one of the same meter, or None if that cannot be written."""
    events = [replace(event, beats=event.beats / 2) for event in (*one.events, *other.events)]
    try:
        return replace(one, events=tuple(events))
    except ChartError:
        return None


def _halves(bar: Bar) -> tuple[Bar, Bar] | None:
    """Return the first and the second half of a bar, each as a whole bar of the same meter.

    Returns None if they cannot be written.
    """
    middle = Fraction(bar.meter.beats, 2)
    parts: tuple[list[Event], list[Event]] = ([], [])
    for start, event in zip(bar.starts(), bar.events, strict=True):
        end = start + event.beats
        if start < middle:
            parts[0].append(replace(event, beats=2 * (min(end, middle) - start)))
        if end > middle:
            beats = 2 * (end - max(start, middle))
            goes_on = start < middle
            articulation = None if goes_on else event.articulation
            parts[1].append(replace(event, beats=beats, articulation=articulation))
    try:
        first, second = (replace(bar, events=tuple(events)) for events in parts)
    except ChartError:
        return None
    return first, replace(second, key_change=0)


def _with_bars(chart: ChartContent, read_bars: Sequence[ReadBar]) -> ChartContent:
    """Return the chart's content with other bars at the same numbers."""
    return replace(
        chart,
        bars=tuple(one.bar for one in read_bars),
        contents=tuple(one.content for one in read_bars),
    )


def _laid_out(
    chart: ChartContent, read_bars: Sequence[ReadBar], sources: Sequence[int]
) -> ChartContent:
    """Return the content of bars that come from the bars `sources` of a chart.

    A boundary stands before the first bar that comes from a bar behind it.
    """

    def moved(boundaries: Sequence[int]) -> tuple[int, ...]:
        behind = [sum(source < boundary for source in sources) for boundary in boundaries]
        return tuple(dict.fromkeys(behind))

    phrases = moved(chart.phrase_boundaries)
    phrase_of_bar = [sum(boundary <= at for boundary in phrases) - 1 for at in range(len(sources))]
    return ChartContent(
        tuple(one.bar for one in read_bars),
        tuple(one.content for one in read_bars),
        tuple(phrase_of_bar),
        tuple(chart.section_of_bar[source] for source in sources),
        tuple(chart.key_shifts[source] for source in sources),
        phrases,
        moved(chart.section_boundaries),
        chart.sections,
        chart.section_kinds,
    )
