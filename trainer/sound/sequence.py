"""An arrangement as a sequence of synth events on FluidSynth's grid of 64 frames."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import pairwise
from typing import NamedTuple

from trainer.band import Arrangement, Note, Part
from trainer.sound.engine import PERIOD, SynthEngine

__all__ = ["SequencedNote", "SynthEvent", "SynthSequence", "send_event"]

_VOLUME, _PAN, _EXPRESSION = 7, 10, 11
_OFF, _BEND, _STEP, _ON = 0, 1, 2, 3


class SequencedNote(NamedTuple):
    """A note in periods of 64 frames; `end` is after `start`."""

    start: int
    end: int
    channel: int
    pitch: int
    velocity: int


class SynthEvent(NamedTuple):
    """An event sent to a synth at a period: the end or start of a note, a bend, a step of volume.

    `value` is the pitch of a note, the bend, or the volume.
    """

    period: int
    kind: int
    channel: int
    value: int
    velocity: int = 0


@dataclass(frozen=True, slots=True)
class SynthSequence:
    """The notes, bends and volumes of an arrangement in periods of 64 frames, sorted by time.

    Each part has a MIDI channel of its own, its index in `parts`; a bend and a step of volume are
    (period, channel, value).
    """

    parts: tuple[Part, ...]
    notes: tuple[SequencedNote, ...]
    bends: tuple[tuple[int, int, int], ...]
    periods_per_second: float
    volume_steps: tuple[tuple[int, int, int], ...] = ()

    @classmethod
    def of(cls, arrangement: Arrangement, sample_rate: int) -> SynthSequence:
        """The sequence of an arrangement. A note before its beginning is moved to the beginning."""
        rate = sample_rate / PERIOD
        notes = [
            played
            for channel, part in enumerate(arrangement.parts)
            for played in _separate(part.notes, channel, arrangement, rate)
        ]
        bends = [
            (_period(bend.at_quarters, arrangement, rate), channel, bend.value)
            for channel, part in enumerate(arrangement.parts)
            for bend in part.bends
        ]
        bends.sort(key=lambda bend: bend[0])
        steps = [
            (_period(step.at_quarters, arrangement, rate), channel, step.value)
            for channel, part in enumerate(arrangement.parts)
            for step in part.volume_steps
        ]
        steps.sort(key=lambda step: step[0])
        return cls(arrangement.parts, tuple(sorted(notes)), tuple(bends), rate, tuple(steps))

    def prepare(self, engine: SynthEngine, at: int = 0) -> None:
        """Set programs, levels, panning, controls, bends and volumes as they are at a period."""
        bent = {channel: value for when, channel, value in self.bends if when < at}
        volumes = {channel: value for when, channel, value in self.volume_steps if when < at}
        for channel, part in enumerate(self.parts):
            engine.select(channel, part.program, part.is_drum)
            engine.control(channel, _VOLUME, part.level)
            engine.control(channel, _PAN, min(127, max(0, round(64 + 63.5 * part.pan))))
            for number, value in part.controls:
                engine.control(channel, number, value)
            if channel in bent:
                engine.bend(channel, bent[channel])
            if channel in volumes:
                engine.control(channel, _EXPRESSION, volumes[channel])

    def events(self, notes: Iterable[SequencedNote], since: int) -> Iterator[SynthEvent]:
        """Yield the events of some notes (sorted), of all bends and volumes from a period on, in
        order.

        At the same period ends come first, then bends and volumes, then starts.
        """
        due = [
            SynthEvent(at, kind, channel, value)
            for kind, changes in ((_BEND, self.bends), (_STEP, self.volume_steps))
            for at, channel, value in changes
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
    elif event.kind == _STEP:
        engine.control(event.channel, _EXPRESSION, event.value)
    else:
        engine.bend(event.channel, event.value)


def _period(quarters: float, arrangement: Arrangement, rate: float) -> int:
    return max(0, round(arrangement.sounding_s(quarters) * rate))


def _separate(
    notes: Iterable[Note], channel: int, arrangement: Arrangement, rate: float
) -> list[SequencedNote]:
    """The notes of one channel; each ends where the next note of its pitch starts, if not before.

    MIDI ends a pitch, not a note, so the end of a longer note would otherwise cut the next one
    short.
    """
    by_pitch: dict[int, list[SequencedNote]] = {}
    for note in notes:
        start = _period(note.start_quarters, arrangement, rate)
        end = _period(note.start_quarters + note.length_quarters, arrangement, rate)
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
