"""What a chart must sound like, worked out from the chart alone for the band's tests to check."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from trainer.band import Arrangement, Mix, Note, Part, arrange
from trainer.chart import Articulation, Chart, Chord, Feel, Meter, pitch_classes

# The earliest and latest that a person's attack may fall around its place (two deviations of the
# loosest player, doubled for the strum that follows it).
LATE_S = 0.065
NEAR = 1e-6
KICK = 36
ACCOMPANIMENT = ("bass", "guitar", "keys", "pad", "lead")
INSTRUMENTAL = ("intro", "turnaround", "solo", "interlude", "outro")


@dataclass(frozen=True)
class Heard:
    """A chord as it should sound, in quarter notes from the arrangement's start."""

    chord: Chord | None
    articulation: Articulation | None
    tones: frozenset[int]
    bass: int | None
    start: float
    end: float
    written_start: float
    written_end: float
    pulse: float
    place: tuple[int, int, int]
    kind: str

    @property
    def length(self) -> float:
        """Quarters from first attack to last sound."""
        return self.end - self.start


def _eighth(feel: Feel, meter: Meter) -> Fraction:
    """An eighth before the beat; in a shuffle bar the last third of the beat."""
    swung = feel is Feel.SHUFFLE and meter.unit <= 4
    return Fraction(1, 3) if swung else Fraction(1, 2)


def heard(chart: Chart, lead_in: float, room: Fraction) -> tuple[Heard, ...]:
    """Every chord of a chart, pushes resolved; `room` quarters stand before the first."""
    rows = []
    room *= 2
    for place in chart.placed_bars():
        beat = Fraction(4, place.bar.meter.unit)
        tonic = (chart.key.pitch_class + place.key_shift) % 12
        at = place.start_quarters
        for event in place.bar.events:
            length = event.beats * beat
            early = Fraction(0)
            if event.articulation is Articulation.PUSH:
                early = min(_eighth(chart.feel, place.bar.meter), room / 2)
            rows.append((place, event, tonic, at, early, length))
            at += length
            room = length
    starts = [float(at - early) + lead_in for _, _, _, at, early, _ in rows]
    total = float(rows[-1][3] + rows[-1][5]) + lead_in
    found = []
    for (place, event, tonic, at, _, length), start, end in zip(
        rows, starts, [*starts[1:], total], strict=True
    ):
        chord = event.chord
        lowest = None if chord is None else (chord.bass or chord.root)
        compound = place.bar.meter.unit >= 8 and place.bar.meter.beats % 3 == 0
        found.append(
            Heard(
                chord,
                event.articulation,
                frozenset() if chord is None else pitch_classes(chord, tonic),
                None if lowest is None else (tonic + lowest.semitones) % 12,
                start,
                end,
                float(at) + lead_in,
                float(at + length) + lead_in,
                float(place.bar.meter.pulse_quarters) if compound else 1.0,
                (place.section, place.phrase, place.index),
                chart.sections[place.section].kind,
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class Played:
    """A chart, the band's playing of it, and what should be heard."""

    chart: Chart
    arrangement: Arrangement
    chords: tuple[Heard, ...]

    def part(self, name: str) -> Part | None:
        """The part of that name, if the band has it."""
        return next((part for part in self.arrangement.parts if part.name == name), None)

    def notes(self, *names: str) -> Iterator[tuple[str, Note]]:
        """Notes of the named parts after the lead-in."""
        for part in self.arrangement.parts:
            if part.name in names:
                yield from ((part.name, note) for note in part.notes)

    def late(self, heard: Heard) -> float:
        """How long after a chord's start its first attack may last, in quarters."""
        slack = LATE_S / self.arrangement.tempo_map.seconds_per_quarter
        return min(slack, heard.length * 0.55)


def play(
    chart: Chart,
    seed: int = 1,
    band: str = "full",
    mix: Mix | None = None,
    count_off: bool = True,
) -> Played:
    """Have a band play a chart."""
    arrangement = arrange(
        chart, rng=random.Random(seed), band=band, mix=mix or Mix(), count_off=count_off
    )
    room = chart.meter.quarters if count_off else Fraction(0)
    return Played(chart, arrangement, heard(chart, arrangement.count_off_quarters, room))


def sounding_in(played: Played, note: Note) -> Heard:
    """The chord during which a note starts."""
    return next(
        chord for chord in reversed(played.chords) if chord.start <= note.start_quarters + NEAR
    )
