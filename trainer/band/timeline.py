"""A chart laid out flat: bars, phrases and chord spans in quarter notes, pushes resolved.

Times count from the chart's first bar line; the lead-in is added when the parts are performed.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from trainer.band.feels import Cell, Role, cells, played_feel, push_quarters
from trainer.chart.chords import bass_pitch_class, chord_intervals, root_pitch_class
from trainer.chart.model import Articulation, Chart, Chord, Degree, Event, Feel, Meter, PlacedBar

__all__ = ["CLEAR_AFTER", "ChordSpan", "GridPoint", "Timeline", "TimelineBar", "TimelinePhrase"]

# How full the band plays, 0 to 1, by kind of section: verses lighter, choruses fuller.
ENERGY = {
    "intro": 0.5,
    "verse": 0.45,
    "pre-chorus": 0.6,
    "chorus": 0.85,
    "bridge": 0.6,
    "turnaround": 0.55,
    "solo": 0.75,
    "interlude": 0.55,
    "tag": 0.75,
    "outro": 0.6,
    "other": 0.6,
}
RETURN_LIFT = 0.06
MAJOR_SCALE = tuple(Degree(number).semitones for number in range(1, 8))
MINOR_SCALE = (0, 2, 3, 5, 7, 8, 10)
# In quarters: a grid point nearer than this to a chord's first attack or end is left out.
CLEAR_AFTER, CLEAR_BEFORE = 0.24, 0.16
# By how much velocity a tone is brought out.
HARDER = 10


class GridPoint(NamedTuple):
    """A point of the grid: time in quarters, its cell's role, its place in the cell and bar."""

    time: float
    role: Role
    sub: int
    cell: int


@dataclass(frozen=True, slots=True)
class TimelineBar:
    """A bar with all that a player wants to know about where it stands."""

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

    @property
    def last_in_phrase(self) -> bool:
        """Whether the phrase ends with this bar."""
        return self.index == self.phrase_bars - 1


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord as played: `start` and `end` with pushes, `written_start` and `written_end` without.

    `tones` are pitch classes, root first; `bass` the pitch class of the lowest note; both empty or
    None where there is no chord. `grid_points` are the grid points after the first attack.
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

    @property
    def pitch_classes(self) -> frozenset[int]:
        """The chord's pitch classes and its bass."""
        return frozenset(self.tones if self.bass is None else (*self.tones, self.bass))

    def accents(self, pitches: tuple[int, ...]) -> tuple[int, ...]:
        """How much harder each pitch is struck: those are that tell what chord it is.

        The third tells major from minor; the root, which chord it is where the bass does not or
        where the upper tones are a chord of their own, as in a minor or major seventh.
        """
        if not self.tones:
            return (0,) * len(pitches)
        root = self.tones[0]
        steps = {(tone - root) % 12 for tone in self.tones}
        telling = {root} if len(steps) > 3 or self.bass != root else set()
        if not ({3, 10} <= steps or {4, 11} <= steps):
            telling |= {tone for tone in self.tones if (tone - root) % 12 in (3, 4)}
        return tuple(HARDER if pitch % 12 in telling else 0 for pitch in pitches)

    @property
    def pushed(self) -> bool:
        """Whether it sounds before its written start."""
        return self.start < self.written_start

    @property
    def has_later_attacks(self) -> bool:
        """Whether anything is struck after the first attack."""
        return self.chord is not None and self.articulation not in (
            Articulation.HOLD,
            Articulation.STOP,
        )


@dataclass(frozen=True, slots=True)
class TimelinePhrase:
    """A phrase: its bars, its spans, and the limits within which it sounds."""

    bars: tuple[TimelineBar, ...]
    spans: tuple[ChordSpan, ...]
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Timeline:
    """A chart laid out flat."""

    bars: tuple[TimelineBar, ...]
    spans: tuple[ChordSpan, ...]
    phrases: tuple[TimelinePhrase, ...]
    end: float

    @classmethod
    def of(cls, chart: Chart, lead_in: Fraction = Fraction(0)) -> Timeline:
        """Lay out a chart that may push its first chord as far back as `lead_in` quarters."""
        places = tuple(chart.placed_bars())
        plans = _plan_bars(chart, places)
        spans = _plan_spans(chart, places, plans, lead_in)
        return cls(plans, spans, _plan_phrases(plans, spans), plans[-1].end)


def _grid_points(start: float, bar_cells: tuple[Cell, ...]) -> tuple[GridPoint, ...]:
    """The grid of a bar that starts there."""
    return tuple(
        GridPoint(start + cell.start + sub, cell.role, place, number)
        for number, cell in enumerate(bar_cells)
        for place, sub in enumerate(cell.subs)
    )


def _plan_bars(chart: Chart, places: tuple[PlacedBar, ...]) -> tuple[TimelineBar, ...]:
    """Every bar with its surroundings."""
    seen: dict[str, int] = {}
    energies: list[float] = []
    for section in chart.sections:
        returns = seen.get(section.kind, 0)
        seen[section.kind] = returns + 1
        energies.append(min(ENERGY[section.kind] + RETURN_LIFT * min(returns, 2), 1.0))
    plans = []
    for place in places:
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
                energy=energies[place.section],
                section=place.section,
                phrase=place.phrase,
                index=place.index,
                phrase_bars=len(phrase.bars),
                first_in_section=place.phrase == 0 and place.index == 0,
                last_in_section=last_phrase and place.index == len(phrase.bars) - 1,
                tonic=tonic,
                scale=tuple((tonic + step) % 12 for step in steps),
            )
        )
    return tuple(plans)


class _Written(NamedTuple):
    """An event with its written limits, exact."""

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
    """Where each event starts once pushes are resolved.

    A push reaches back an eighth, at most half of what stands before it.
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
    """Every event as it sounds."""
    written = _written(places, plans)
    starts = _sounding_starts(written, lead_in)
    ends = [*starts[1:], written[-1].end]
    shifts = {place.number: place.key_shift for place in places}
    return tuple(
        _span(index, item, float(start), float(end), chart.key.pitch_class, shifts)
        for index, (item, start, end) in enumerate(zip(written, starts, ends, strict=True))
    )


def _span(
    index: int, item: _Written, start: float, end: float, key: int, shifts: dict[int, int]
) -> ChordSpan:
    """One event as it sounds."""
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
    """The grid between a chord's first attack and its end; a chord of less than a beat has none."""
    if end - start < plan.cells[0].length - 1e-6:
        return ()
    after, before = start + CLEAR_AFTER, end - CLEAR_BEFORE
    return tuple(point for point in plan.grid_points if after < point.time < before)


def _plan_phrases(
    plans: tuple[TimelineBar, ...], spans: tuple[ChordSpan, ...]
) -> tuple[TimelinePhrase, ...]:
    """Bars and spans gathered by phrase."""
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
