"""A chart as a band plays it, laid beside its timeline, for benchmarks of the players."""

from __future__ import annotations

import random
from bisect import bisect_left
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from trainer.band import Arrangement, Note, arrange
from trainer.band.timeline import ChordSpan, Timeline, TimelineBar, TimelinePhrase
from trainer.band.voice import SUNG_KINDS
from trainer.chart import Chart

__all__ = ["Line", "Performance", "perform"]

NEAR = 0.12
# A rest from which the last note of a phrase counts as the pickup into the next one.
BREATH = 0.45
NEAR_THE_BEAT_MS = 45.0


class Line(NamedTuple):
    """A sung phrase.

    `notes` are its own notes and `led_in` the same after the pickup into it. `key` says what is the
    same when the line comes back: kind of section, place in the section, chords.
    """

    phrase: TimelinePhrase
    notes: list[Note]
    led_in: list[Note]
    key: tuple[object, ...]

    @property
    def relative(self) -> list[tuple[float, int]]:
        """(Place in the phrase to a sixth of a quarter, pitch above the key's) of each note."""
        first = self.phrase.bars[0]
        return [
            (round(6 * (n.start_quarters - first.start)), n.pitch - first.tonic) for n in self.notes
        ]


@dataclass(frozen=True)
class Performance:
    """A chart, its timeline, and the notes of each part in quarters from the first bar line."""

    chart: Chart
    timeline: Timeline
    arrangement: Arrangement
    parts: dict[str, list[Note]]

    @cached_property
    def spans(self) -> dict[int, list[ChordSpan]]:
        """The chord spans of each bar by its number."""
        found: dict[int, list[ChordSpan]] = {}
        for span in self.timeline.spans:
            found.setdefault(span.bar.number, []).append(span)
        return found

    def notes(self, name: str, start: float, end: float) -> list[Note]:
        """The notes of a part that start between two times."""
        notes = self.parts.get(name, [])
        first = bisect_left(notes, start - NEAR, key=lambda note: note.start_quarters)
        last = bisect_left(notes, end - NEAR, key=lambda note: note.start_quarters)
        return notes[first:last]

    def bar_notes(self, name: str, bar: TimelineBar) -> list[Note]:
        """The notes of a part that start in a bar."""
        return self.notes(name, bar.start, bar.end)

    def is_plain(self, bar: TimelineBar) -> bool:
        """Whether a bar has chords throughout and no articulation, nor its neighbour a push."""
        spans = self.spans[bar.number]
        following = self.spans.get(bar.number + 1, spans)
        return (
            bar.meter == self.chart.meter
            and all(s.chord is not None and s.articulation is None for s in spans)
            and not following[0].pushed
        )

    def lines(self) -> list[Line]:
        """The sung phrases."""
        found: list[Line] = []
        pickup: list[Note] = []
        for phrase in self.timeline.phrases:
            notes = self.notes("voice", phrase.start, phrase.end)
            led, pickup = pickup, []
            if len(notes) > 1:
                before, last = notes[-2:]
                rest = last.start_quarters - before.start_quarters - before.length_quarters
                if rest >= BREATH and last.start_quarters >= phrase.end - 1 - NEAR:
                    notes, pickup = notes[:-1], [last]
            bar = phrase.bars[0]
            if bar.kind in SUNG_KINDS and notes:
                written = self.chart.sections[bar.section].phrases[bar.phrase]
                found.append(Line(phrase, notes, led + notes, (bar.kind, bar.phrase, written)))
        return found

    def deviations_ms(self, name: str) -> dict[float, float]:
        """How late a part strikes each beat on which it strikes, in milliseconds, by the beat."""
        quarter_ms = self.arrangement.tempo_map.seconds_per_quarter * 1000
        notes = self.parts.get(name, [])
        starts = [note.start_quarters for note in notes]
        late = {}
        for bar in self.timeline.bars:
            for point in bar.grid_points:
                if point.sub:
                    continue
                reach = NEAR_THE_BEAT_MS / quarter_ms
                place = bisect_left(starts, point.time - reach)
                if place < len(starts) and starts[place] <= point.time + reach:
                    late[point.time] = (starts[place] - point.time) * quarter_ms
        return late


def perform(chart: Chart, seed: int, band: str) -> Performance:
    """Have a band play a chart."""
    played = arrange(chart, rng=random.Random(seed), band=band)
    lead_in = played.count_off_quarters
    parts = {
        part.name: [
            Note(n.start_quarters - lead_in, n.length_quarters, n.pitch, n.velocity)
            for n in part.notes
        ]
        for part in played.parts
        if part.name not in ("count-off", "home")
    }
    return Performance(chart, Timeline.of(chart, chart.meter.quarters), played, parts)
