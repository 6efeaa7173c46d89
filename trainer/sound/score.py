"""An arrangement as events on FluidSynth's grid of 64 frames."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from itertools import pairwise
from typing import NamedTuple

from trainer.band.parts import Arrangement, Clock, Note, Part
from trainer.sound.engine import PERIOD, Engine

__all__ = ["Event", "Played", "Score", "play"]

_VOLUME, _PAN = 7, 10
_OFF, _BEND, _ON = 0, 1, 2


class Played(NamedTuple):
    """A note in periods of 64 frames; `end` is after `start`."""

    start: int
    end: int
    channel: int
    pitch: int
    velocity: int


class Event(NamedTuple):
    """What a synth is told at a period: the end or start of a note, or a bend."""

    period: int
    kind: int
    channel: int
    value: int
    velocity: int = 0


@dataclass(frozen=True, slots=True)
class Score:
    """Notes and bends in periods of 64 frames, sorted by time; one MIDI channel for each part."""

    parts: tuple[Part, ...]
    notes: tuple[Played, ...]
    bends: tuple[tuple[int, int, int], ...]
    periods_per_second: float

    @classmethod
    def of(cls, arrangement: Arrangement, sample_rate: int) -> Score:
        """The score of an arrangement; what would start before the first click starts with it."""
        rate = sample_rate / PERIOD
        clock = arrangement.clock
        notes = [
            played
            for channel, part in enumerate(arrangement.parts)
            for played in _separate(part.notes, channel, clock, rate)
        ]
        bends = [
            (_period(bend.at_quarters, clock, rate), channel, bend.value)
            for channel, part in enumerate(arrangement.parts)
            for bend in part.bends
        ]
        bends.sort(key=lambda bend: bend[0])
        return cls(arrangement.parts, tuple(sorted(notes)), tuple(bends), rate)

    def prepare(self, engine: Engine, at: int = 0) -> None:
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

    def events(self, notes: Iterable[Played], since: int) -> Iterator[Event]:
        """Some of the notes, sorted, and all bends from a period on, in playing order; at one time
        ends, then bends, then starts."""
        due = [Event(at, _BEND, channel, value) for at, channel, value in self.bends if at >= since]
        heapify(due)
        for start, end, channel, pitch, velocity in notes:
            while due and due[0].period <= start:
                yield heappop(due)
            yield Event(start, _ON, channel, pitch, velocity)
            heappush(due, Event(end, _OFF, channel, pitch))
        while due:
            yield heappop(due)


def play(engine: Engine, event: Event) -> None:
    """Send one event."""
    if event.kind == _ON:
        engine.note_on(event.channel, event.value, event.velocity)
    elif event.kind == _OFF:
        engine.note_off(event.channel, event.value)
    else:
        engine.bend(event.channel, event.value)


def _period(quarters: float, clock: Clock, rate: float) -> int:
    return max(0, round(clock.seconds(quarters) * rate))


def _separate(notes: Iterable[Note], channel: int, clock: Clock, rate: float) -> list[Played]:
    """One channel's notes; a note ends where the next of its pitch starts.

    Otherwise the end of the first would cut the second short: MIDI ends a pitch, not a note.
    """
    by_pitch: dict[int, list[Played]] = {}
    for note in notes:
        start = _period(note.start_quarters, clock, rate)
        end = _period(note.start_quarters + note.length_quarters, clock, rate)
        by_pitch.setdefault(note.pitch, []).append(
            Played(start, max(end, start + 1), channel, note.pitch, note.velocity)
        )
    apart: list[Played] = []
    for same in by_pitch.values():
        same.sort(key=lambda note: (note.start, note.velocity))
        apart += (
            a._replace(end=min(a.end, b.start)) for a, b in pairwise(same) if a.start < b.start
        )
        apart.append(same[-1])
    return apart
