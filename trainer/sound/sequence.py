"""An arrangement as a sequence of synth events on FluidSynth's grid of 64 frames."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import pairwise
from typing import NamedTuple

from trainer.band import Arrangement, Note, Part, TempoMap
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
    """An event sent to a synth at a period: the end or start of a note, or a pitch bend.

    `value` is the pitch of a note, or the bend.
    """

    period: int
    kind: int
    channel: int
    value: int
    velocity: int = 0


@dataclass(frozen=True, slots=True)
class SynthSequence:
    """The notes and bends of an arrangement in periods of 64 frames, sorted by time.

    Each part has a MIDI channel of its own, its index in `parts`; a bend is (period, channel,
    value).
    """

    parts: tuple[Part, ...]
    notes: tuple[SequencedNote, ...]
    bends: tuple[tuple[int, int, int], ...]
    periods_per_second: float

    @classmethod
    def of(cls, arrangement: Arrangement, sample_rate: int) -> SynthSequence:
        """The sequence of an arrangement. A note before its beginning is moved to the beginning."""
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
        """Set programs, levels, panning, controls, and the bends as they are at a period."""
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
        """Yield the events of some notes (sorted) and of all bends from a period on, in order.

        At the same period ends come first, then bends, then starts.
        """
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
    """Send one event to a synth."""
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
    """The notes of one channel; each ends where the next note of its pitch starts, if not before.

    MIDI ends a pitch, not a note, so the end of a longer note would otherwise cut the next one
    short.
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
