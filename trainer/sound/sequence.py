"""An arrangement as events on FluidSynth's grid of 64 frames."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import pairwise
from typing import NamedTuple

from trainer.band.parts import Arrangement, Note, Part, TempoMap
from trainer.sound.engine import PERIOD, SynthEngine

__all__ = ["SequencedNote", "SynthEvent", "SynthSequence", "send_event"]

_VOLUME, _PAN = 7, 10
_OFF, _BEND, _ON = 0, 1, 2


class SequencedNote(NamedTuple):
    """A note in periods of 64 frames; `end` is after `start`."""

    start: int
    end: int
    channel: int
    pitch: int
    velocity: int


class SynthEvent(NamedTuple):
    """What a synth is told at a period: the end or start of a note, or a bend."""

    period: int
    kind: int
    channel: int
    value: int
    velocity: int = 0


@dataclass(frozen=True, slots=True)
class SynthSequence:
    """Notes and bends in periods of 64 frames, sorted by time; one MIDI channel for each part."""

    parts: tuple[Part, ...]
    notes: tuple[SequencedNote, ...]
    bends: tuple[tuple[int, int, int], ...]
    periods_per_second: float

    @classmethod
    def of(cls, arrangement: Arrangement, sample_rate: int) -> SynthSequence:
        """The sequence of an arrangement; what would start before its beginning starts there."""
        rate = sample_rate / PERIOD
        tempo_map = arrangement.tempo_map
        notes = [
            played
            for channel, part in enumerate(arrangement.parts)
            for played in _separate(part.notes, channel, tempo_map, rate)
        ]
        bends = [
            (_period(bend.at_quarters, tempo_map, rate), channel, bend.value)
            for channel, part in enumerate(arrangement.parts)
            for bend in part.bends
        ]
        bends.sort(key=lambda bend: bend[0])
        return cls(arrangement.parts, tuple(sorted(notes)), tuple(bends), rate)

    def prepare(self, engine: SynthEngine, at: int = 0) -> None:
        """Set programs, levels, panning, controls, and the bends as they stand at a period."""
        bent = {channel: value for when, channel, value in self.bends if when < at}
        for channel, part in enumerate(self.parts):
            engine.select(channel, part.program, part.is_drum)
            engine.control(channel, _VOLUME, part.level)
            engine.control(channel, _PAN, min(127, max(0, round(64 + 63.5 * part.pan))))
            for number, value in part.controls:
                engine.control(channel, number, value)
            if channel in bent:
                engine.bend(channel, bent[channel])

    def events(self, notes: Iterable[SequencedNote], since: int) -> Iterator[SynthEvent]:
        """Some of the notes, sorted, and all bends from a period on, in playing order; at one time
        ends, then bends, then starts."""
        due = [
            SynthEvent(at, _BEND, channel, value)
            for at, channel, value in self.bends
            if at >= since
        ]
        heapify(due)
        for start, end, channel, pitch, velocity in notes:
            while due and due[0].period <= start:
                yield heappop(due)
            yield SynthEvent(start, _ON, channel, pitch, velocity)
            heappush(due, SynthEvent(end, _OFF, channel, pitch))
        while due:
            yield heappop(due)


def send_event(engine: SynthEngine, event: SynthEvent) -> None:
    """Send one event."""
    if event.kind == _ON:
        engine.note_on(event.channel, event.value, event.velocity)
    elif event.kind == _OFF:
        engine.note_off(event.channel, event.value)
    else:
        engine.bend(event.channel, event.value)


def _period(quarters: float, tempo_map: TempoMap, rate: float) -> int:
    return max(0, round(tempo_map.seconds(quarters) * rate))


def _separate(
    notes: Iterable[Note], channel: int, tempo_map: TempoMap, rate: float
) -> list[SequencedNote]:
    """One channel's notes; a note ends where the next of its pitch starts.

    Otherwise the end of the first would cut the second short: MIDI ends a pitch, not a note.
    """
    by_pitch: dict[int, list[SequencedNote]] = {}
    for note in notes:
        start = _period(note.start_quarters, tempo_map, rate)
        end = _period(note.start_quarters + note.length_quarters, tempo_map, rate)
        by_pitch.setdefault(note.pitch, []).append(
            SequencedNote(start, max(end, start + 1), channel, note.pitch, note.velocity)
        )
    apart: list[SequencedNote] = []
    for same in by_pitch.values():
        same.sort(key=lambda note: (note.start, note.velocity))
        apart += (
            a._replace(end=min(a.end, b.start)) for a, b in pairwise(same) if a.start < b.start
        )
        apart.append(same[-1])
    return apart
