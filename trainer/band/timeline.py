"""A chart laid out in time: its bars, phrases and chord spans, with pushes resolved.

Times are quarter notes from the first bar line; the lead-in is added when attacks become notes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from trainer.band.energy import bar_energies
from trainer.band.feels import Cell, Role, cells, played_feel, push_quarters
from trainer.chart import (
    Articulation,
    Chart,
    Chord,
    Degree,
    Event,
    Feel,
    Meter,
    PlacedBar,
    bass_pitch_class,
    chord_intervals,
    root_pitch_class,
)

__all__ = ["CLEAR_AFTER", "ChordSpan", "GridPoint", "Timeline", "TimelineBar", "TimelinePhrase"]

MAJOR_SCALE = tuple(Degree(number).semitones for number in range(1, 8))
MINOR_SCALE = (0, 2, 3, 5, 7, 8, 10)
# In quarters: a grid point nearer than this to a chord's first attack or end is left out.
CLEAR_AFTER, CLEAR_BEFORE = 0.24, 0.16
# By how much velocity a tone is brought out, and the root of a slash chord.
HARDER, ROOT_HARDER = 10, 14
# How much harder a chord is struck over a bass that it does not have, if it is over at once, and
# if it is new over the bass of the chord before.
FOREIGN_HARDER, SHORT_HARDER, PEDAL_HARDER = 4, 7, 4
TRIAD = 3


class GridPoint(NamedTuple):
    """A subdivision of a bar: its time, the role of its cell, and its place in cell and bar.

    `sub` counts subdivisions within the cell and `cell` the cells of the bar, both from 0.
    """

    time: float
    role: Role
    sub: int
    cell: int


@dataclass(frozen=True, slots=True)
class TimelineBar:
    """A bar with what a player needs to know about its surroundings.

    `start` and `end` are in quarters; `energy` (0 to 1) is how fully the band plays; `tonic` and
    `scale` are pitch classes of the key that holds in the bar. A stretch is what players shape as
    one: phrases up to four bars or more together; the bar is the `stretch_index`-th of it, from 0.
    """

    number: int
    start: float
    end: float
    meter: Meter
    feel: Feel
    cells: tuple[Cell, ...]
    grid_points: tuple[GridPoint, ...]
    kind: str
    energy: float
    section: int
    phrase: int
    index: int
    phrase_bars: int
    first_in_section: bool
    last_in_section: bool
    tonic: int
    scale: tuple[int, ...]
    stretch_index: int
    stretch_bars: int

    @property
    def last_in_stretch(self) -> bool:
        """Whether the stretch ends with this bar."""
        return self.stretch_index == self.stretch_bars - 1

    @property
    def last_in_phrase(self) -> bool:
        """Whether the phrase ends with this bar."""
        return self.index == self.phrase_bars - 1


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord, or a stretch without one, as it is played.

    `start` and `end` are when it sounds, pushes included; `written_start` and `written_end` are as
    written. `tones` are pitch classes, root first, and `bass` is that of the lowest note; without a
    chord they are empty and None. `first` is the grid point of the first attack as written and
    `grid_points` are those after it. `chord_stays` and `bass_stays` say that the chord over the
    bass, or the bass, is that of the span before.
    """

    index: int
    bar: TimelineBar
    chord: Chord | None
    tones: tuple[int, ...]
    bass: int | None
    start: float
    end: float
    written_start: float
    written_end: float
    articulation: Articulation | None
    first: GridPoint
    grid_points: tuple[GridPoint, ...]
    chord_stays: bool = False
    bass_stays: bool = False

    @property
    def pitch_classes(self) -> frozenset[int]:
        """The chord's pitch classes and its bass."""
        return frozenset(self.tones if self.bass is None else (*self.tones, self.bass))

    def accents(self, pitches: tuple[int, ...]) -> tuple[int, ...]:
        """Velocity to add to each pitch, so that the tones that identify the chord stand out.

        The third does, since it tells major from minor. The root does where the bass plays another
        note, or where the upper tones are a chord of their own, as in minor and major sevenths.
        """
        if not self.tones:
            return (0,) * len(pitches)
        root = self.tones[0]
        telling = {root} if len(self.tones) > TRIAD or self.bass != root else set()
        if not self.holds_another_triad:
            telling |= {tone for tone in self.tones if (tone - root) % 12 in (3, 4)}
        harder = {
            tone: ROOT_HARDER if self.is_slash and tone == root else HARDER for tone in telling
        }
        return tuple(harder.get(pitch % 12, 0) for pitch in pitches)

    @property
    def holds_another_triad(self) -> bool:
        """Whether the tones above the root are a triad, as in minor and major sevenths."""
        steps = {(tone - self.tones[0]) % 12 for tone in self.tones}
        return {3, 10} <= steps or {4, 11} <= steps

    @property
    def is_slash(self) -> bool:
        """Whether the bass plays another note than the root."""
        return self.bass is not None and self.bass != self.tones[0]

    @property
    def is_foreign(self) -> bool:
        """Whether the bass plays a note that the chord does not have."""
        return self.bass is not None and self.bass not in self.tones

    @property
    def is_short(self) -> bool:
        """Whether the chord lasts no longer than a cell, so that it has to be heard at once."""
        return self.end - self.start <= self.bar.cells[0].length + 1e-6

    @property
    def newness(self) -> int:
        """Velocity added by who plays the chord, where it takes more to hear it."""
        over_pedal = self.is_slash and self.bass_stays and not self.chord_stays
        return (
            SHORT_HARDER * self.is_short
            + FOREIGN_HARDER * self.is_foreign
            + PEDAL_HARDER * over_pedal
        )

    @property
    def pushed(self) -> bool:
        """Whether the chord sounds before its written start."""
        return self.start < self.written_start

    @property
    def has_later_attacks(self) -> bool:
        """Whether anything is struck after the first attack."""
        return self.chord is not None and self.articulation not in (
            Articulation.HOLD,
            Articulation.CHOKE,
        )


@dataclass(frozen=True, slots=True)
class TimelinePhrase:
    """A phrase: its bars, its chord spans, and when it sounds, in quarters."""

    bars: tuple[TimelineBar, ...]
    spans: tuple[ChordSpan, ...]
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Timeline:
    """A chart laid out in time; `end` is the end of the last bar, in quarters."""

    bars: tuple[TimelineBar, ...]
    spans: tuple[ChordSpan, ...]
    phrases: tuple[TimelinePhrase, ...]
    end: float

    @classmethod
    def of(cls, chart: Chart, lead_in: Fraction = Fraction(0)) -> Timeline:
        """Lay out a chart. Its first chord may be pushed back by at most `lead_in` quarters."""
        places = tuple(chart.placed_bars())
        plans = _plan_bars(chart, places)
        spans = _plan_spans(chart, places, plans, lead_in)
        return cls(plans, spans, _plan_phrases(plans, spans), plans[-1].end)


def _grid_points(start: float, bar_cells: tuple[Cell, ...]) -> tuple[GridPoint, ...]:
    """The grid points of a bar that starts at `start`."""
    return tuple(
        GridPoint(start + cell.start + sub, cell.role, place, number)
        for number, cell in enumerate(bar_cells)
        for place, sub in enumerate(cell.subs)
    )


def _plan_bars(chart: Chart, places: tuple[PlacedBar, ...]) -> tuple[TimelineBar, ...]:
    """All bars of the timeline."""
    plans = []
    for place, played in zip(places, bar_energies(chart), strict=True):
        section = chart.sections[place.section]
        phrase = section.phrases[place.phrase]
        feel = played_feel(chart.feel, place.bar.meter)
        bar_cells = cells(feel, place.bar.meter)
        last_phrase = place.phrase == len(section.phrases) - 1
        tonic = (chart.key.pitch_class + place.key_shift) % 12
        steps = MINOR_SCALE if chart.key.minor else MAJOR_SCALE
        plans.append(
            TimelineBar(
                number=place.number,
                start=float(place.start_quarters),
                end=float(place.start_quarters + place.bar.meter.quarters),
                meter=place.bar.meter,
                feel=feel,
                cells=bar_cells,
                grid_points=_grid_points(float(place.start_quarters), bar_cells),
                kind=section.kind,
                energy=played.energy,
                section=place.section,
                phrase=place.phrase,
                index=place.index,
                phrase_bars=len(phrase.bars),
                first_in_section=place.phrase == 0 and place.index == 0,
                last_in_section=last_phrase and place.index == len(phrase.bars) - 1,
                tonic=tonic,
                scale=tuple((tonic + step) % 12 for step in steps),
                stretch_index=played.stretch_index,
                stretch_bars=played.stretch_bars,
            )
        )
    return tuple(plans)


class _Written(NamedTuple):
    """An event with its exact written start and end, in quarters."""

    plan: TimelineBar
    event: Event
    start: Fraction
    end: Fraction


def _written(places: tuple[PlacedBar, ...], plans: tuple[TimelineBar, ...]) -> list[_Written]:
    """All events in order."""
    found = []
    for place, plan in zip(places, plans, strict=True):
        beat = Fraction(4, place.bar.meter.unit)
        for at, event in zip(place.bar.starts(), place.bar.events, strict=True):
            start = place.start_quarters + at * beat
            found.append(_Written(plan, event, start, start + event.beats * beat))
    return found


def _sounding_starts(written: list[_Written], lead_in: Fraction) -> list[Fraction]:
    """When each event starts once pushes are resolved.

    A push comes an eighth early, but takes at most half of the event before it.
    """
    starts, room = [], lead_in * 2
    for item in written:
        pushed = item.event.articulation is Articulation.PUSH
        early = min(push_quarters(item.plan.feel), room / 2) if pushed else Fraction(0)
        starts.append(item.start - early)
        room = item.end - item.start
    return starts


def _plan_spans(
    chart: Chart, places: tuple[PlacedBar, ...], plans: tuple[TimelineBar, ...], lead_in: Fraction
) -> tuple[ChordSpan, ...]:
    """All chord spans of the timeline."""
    written = _written(places, plans)
    starts = _sounding_starts(written, lead_in)
    ends = [*starts[1:], written[-1].end]
    shifts = {place.number: place.key_shift for place in places}
    spans: list[ChordSpan] = []
    for index, (item, start, end) in enumerate(zip(written, starts, ends, strict=True)):
        span = _span(index, item, float(start), float(end), chart.key.pitch_class, shifts)
        before = spans[-1] if spans else None
        if before is not None and before.chord is not None and span.chord is not None:
            stays = before.tones[:TRIAD] == span.tones[:TRIAD]
            span = replace(span, chord_stays=stays, bass_stays=before.bass == span.bass)
        spans.append(span)
    return tuple(spans)


def _span(
    index: int, item: _Written, start: float, end: float, key: int, shifts: dict[int, int]
) -> ChordSpan:
    """The chord span of one event that sounds from `start` to `end`."""
    chord, plan = item.event.chord, item.plan
    tones: tuple[int, ...] = ()
    bass = None
    if chord is not None:
        tonic = (key + shifts[plan.number]) % 12
        root = root_pitch_class(chord, tonic)
        tones = tuple((root + step) % 12 for step in chord_intervals(chord))
        bass = bass_pitch_class(chord, tonic)
    first_time = float(item.start)
    before = [point for point in plan.grid_points if point.time <= first_time + 1e-6]
    return ChordSpan(
        index=index,
        bar=plan,
        chord=chord,
        tones=tones,
        bass=bass,
        start=start,
        end=end,
        written_start=first_time,
        written_end=float(item.end),
        articulation=item.event.articulation,
        first=before[-1],
        grid_points=_grid_points_after(plan, first_time, end),
    )


def _grid_points_after(plan: TimelineBar, start: float, end: float) -> tuple[GridPoint, ...]:
    """The grid points between a chord's first attack and its end.

    A chord shorter than a cell has none.
    """
    if end - start < plan.cells[0].length - 1e-6:
        return ()
    after, before = start + CLEAR_AFTER, end - CLEAR_BEFORE
    return tuple(point for point in plan.grid_points if after < point.time < before)


def _plan_phrases(
    plans: tuple[TimelineBar, ...], spans: tuple[ChordSpan, ...]
) -> tuple[TimelinePhrase, ...]:
    """All phrases of the timeline."""
    bars: dict[tuple[int, int], list[TimelineBar]] = {}
    inside: dict[tuple[int, int], list[ChordSpan]] = {}
    for plan in plans:
        bars.setdefault((plan.section, plan.phrase), []).append(plan)
    for span in spans:
        inside.setdefault((span.bar.section, span.bar.phrase), []).append(span)
    return tuple(
        TimelinePhrase(tuple(bars[at]), tuple(inside[at]), inside[at][0].start, inside[at][-1].end)
        for at in bars
    )
