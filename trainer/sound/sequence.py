"""An arrangement as a sequence of synth events on FluidSynth's grid of 64 frames."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from heapq import heapify, heappop, heappush
from itertools import chain
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainer.band import Arrangement, Part
from trainer.sound.engine import PERIOD, SynthEngine

__all__ = ["NoteRows", "SequencedNote", "SynthEvent", "SynthSequence", "as_notes", "send_event"]

NoteRows = NDArray[np.int64]

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


@dataclass(frozen=True, slots=True, eq=False)
class SynthSequence:
    """The notes, bends and volumes of an arrangement in periods of 64 frames, sorted by time.

    Each part has a MIDI channel of its own, its index in `parts`; a part with a low register has
    two, and here is two parts. A bend and a step of volume are
    (period, channel, value). `note_rows` has a row for each note, with the fields of
    `SequencedNote` as columns.
    """

    parts: tuple[Part, ...]
    note_rows: NoteRows
    bends: tuple[tuple[int, int, int], ...]
    periods_per_second: float
    volume_steps: tuple[tuple[int, int, int], ...] = ()

    @classmethod
    def of(cls, arrangement: Arrangement, sample_rate: int) -> SynthSequence:
        """The sequence of an arrangement. A note before its beginning is moved to the beginning."""
        rate = sample_rate / PERIOD
        parts = tuple(chain.from_iterable(map(_registers, arrangement.parts)))
        bends = [
            (_period(bend.at_quarters, arrangement, rate), channel, bend.value)
            for channel, part in enumerate(parts)
            for bend in part.bends
        ]
        bends.sort(key=lambda bend: bend[0])
        steps = [
            (_period(step.at_quarters, arrangement, rate), channel, step.value)
            for channel, part in enumerate(parts)
            for step in part.volume_steps
        ]
        steps.sort(key=lambda step: step[0])
        rows = _note_rows(parts, arrangement, rate)
        return cls(parts, rows, tuple(bends), rate, tuple(steps))

    @property
    def notes(self) -> tuple[SequencedNote, ...]:
        """The notes one by one."""
        return as_notes(self.note_rows)

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


def as_notes(rows: NoteRows) -> tuple[SequencedNote, ...]:
    """Rows of a sequence as notes."""
    return tuple(map(SequencedNote._make, rows.tolist()))


def _registers(part: Part) -> tuple[Part, ...]:
    """A part as a synth plays it: the notes of a low register are a part of their own."""
    if part.low is None:
        return (part,)
    below, program = part.low
    high = tuple(note for note in part.notes if note.pitch >= below)
    low = tuple(note for note in part.notes if note.pitch < below)
    return replace(part, notes=high, low=None), replace(part, program=program, notes=low, low=None)


def _note_rows(parts: tuple[Part, ...], arrangement: Arrangement, rate: float) -> NoteRows:
    """The notes of the parts of an arrangement, (notes, 5), sorted.

    In each channel a note ends where the next note of its pitch starts, if not before: MIDI ends a
    pitch, not a note, so the end of a longer note would otherwise cut the next one short. Of notes
    of one pitch that start together the loudest is left.
    """
    values = chain.from_iterable(note for part in parts for note in part.notes)
    notes = np.fromiter(values, np.float64).reshape(-1, 4)
    channels = np.repeat(np.arange(len(parts)), [len(part.notes) for part in parts])
    starts = _periods(notes[:, 0], arrangement, rate)
    ends = np.maximum(_periods(notes[:, 0] + notes[:, 1], arrangement, rate), starts + 1)
    rows = np.column_stack((starts, ends, channels, notes[:, 2:].astype(np.int64)))
    start, _, channel, pitch, velocity = rows.T
    rows = rows[np.lexsort((velocity, start, pitch, channel))]
    same = (rows[:-1, 2:4] == rows[1:, 2:4]).all(axis=1)
    rows[:-1, 1][same] = np.minimum(rows[:-1, 1], rows[1:, 0])[same]
    doubled = same & (rows[:-1, 0] == rows[1:, 0])
    rows = rows[~np.append(doubled, np.zeros(len(rows) - len(doubled), bool))]
    start, end, channel, pitch, velocity = rows.T
    ordered: NoteRows = rows[np.lexsort((velocity, pitch, channel, end, start))]
    return ordered


def _periods(quarters: NDArray[np.float64], arrangement: Arrangement, rate: float) -> NoteRows:
    """`_period` of many times."""
    tempo_map = arrangement.tempo_map
    later = np.zeros_like(quarters)
    for each in tempo_map.slowings:
        # `Slowing.later` of many times.
        share = np.clip((quarters - each.start) / each.length, 0.0, 1.0)
        later += each.later(each.start + each.length) * share**2
    seconds = arrangement.room_s + (quarters + later) * tempo_map.seconds_per_quarter
    return np.maximum(0, np.rint(seconds * rate)).astype(np.int64)
