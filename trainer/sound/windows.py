"""A sequence cut into windows of time, each rendered by a synth of its own and then added up.

A note belongs to the window in which it starts, and rings on beside the next. The sound at any
moment thus depends only on the few windows that sound there, and two windows can be rendered at
once.

Nothing is cut where windows meet: reverberation and releases go on to silence. Two things differ
from one synth that plays everything. The slow modulation of the reverberation begins with each
window; and a stroke ends another only within its window, so a closing hi-hat is put into the window
of the open one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass
from math import ceil
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from trainer.sound.engine import PERIOD, SynthEngine
from trainer.sound.limiter import CHUNK
from trainer.sound.sequence import NoteRows, SynthEvent, SynthSequence, as_notes, send_event

__all__ = ["GRID", "EngineFactory", "RenderWindow", "WindowRenderer", "split_into_windows"]

# With shorter windows a rendering from the middle starts sooner, but the whole takes longer: making
# a synth takes as much time as rendering a second and a half of music.
WINDOW_S = 12.0
# What still rings this long after the last note of a window has ended is faded out: a crash, then
# 80 dB under full scale.
RING_S = 4.0
FADE_CHUNKS = 8
# 100 dB under full scale after the highest gain there is: such a chunk ends a window.
INAUDIBLE = 1e-7
GRID = CHUNK // PERIOD
# Short strokes that end long ones. General MIDI, percussion key map: hi-hats, whistles, guiros,
# cuicas, triangles; that they exclude each other is from memory.
CHOKES = {42: 46, 44: 46, 71: 72, 73: 74, 78: 79, 80: 81}

Samples = NDArray[np.float32]
# Called with sample rate, channels, and whether somebody waits for the first note.
EngineFactory = Callable[[int, int, bool], AbstractContextManager[SynthEngine]]


@dataclass(frozen=True, slots=True, eq=False)
class RenderWindow:
    """The notes that one synth plays.

    They sound from `start` to `until` at most; both are periods on whole chunks. `note_rows` are
    rows of the sequence.
    """

    start: int
    until: int
    note_rows: NoteRows


def split_into_windows(sequence: SynthSequence) -> list[RenderWindow]:
    """The windows that have notes, in order; the same sequence always gives the same windows."""
    step = round(WINDOW_S * sequence.periods_per_second / GRID) * GRID
    ring = ceil(RING_S * sequence.periods_per_second)
    rows, places = sequence.note_rows, _places(sequence, step, ring)
    order = np.argsort(places, kind="stable")
    cuts = np.flatnonzero(np.diff(places[order])) + 1
    return [
        RenderWindow(
            int(inside[0, 0]) // GRID * GRID,
            -(-(int(inside[:, 1].max()) + ring) // GRID) * GRID,
            inside,
        )
        for inside in np.split(rows[order], cuts)
        if len(inside)
    ]


def _places(sequence: SynthSequence, step: int, ring: int) -> NDArray[np.int64]:
    """The number of each note's window: where it starts, or where the stroke is that it ends."""
    rows = sequence.note_rows
    places = rows[:, 0] // step
    drums = [number for number, part in enumerate(sequence.parts) if part.is_drum]
    of_group = np.isin(rows[:, 3], [*CHOKES, *CHOKES.values()]) & np.isin(rows[:, 2], drums)
    # The last stroke of each channel and group: its pitch, its end and its window.
    last: dict[tuple[int, int], tuple[int, int, int]] = {}
    for number in np.flatnonzero(of_group).tolist():
        start, end, channel, pitch, _ = rows[number].tolist()
        place = int(places[number])
        group = channel, CHOKES.get(pitch, pitch)
        before, ended, where = last.get(group, (pitch, end, place))
        if pitch in CHOKES and before == group[1] and start < ended + ring:
            places[number] = place = where
        last[group] = pitch, end, place
    return places


class WindowRenderer:
    """Renders a window chunk by chunk; safe to use from several threads.

    It has a synth from the first chunk to the last; `close` frees it earlier.
    """

    def __init__(
        self, window: RenderWindow, sequence: SynthSequence, new_engine: EngineFactory
    ) -> None:
        self.window = window
        self.ended = False
        self._score, self._new_engine = sequence, new_engine
        self._lock = Lock()
        self._stack = ExitStack()
        self._engine: SynthEngine | None = None
        self._events: Iterator[SynthEvent] = iter(())
        self._event: SynthEvent | None = None
        self._base = window.start
        self._ready: list[Samples] = []
        self._taken = 0
        self._failure: Exception | None = None

    def make_ahead(self) -> None:
        """Render one more chunk in advance; an error is raised by the next `take`."""
        with self._lock:
            if not self.ended:
                try:
                    self._ready.append(self._made(at_once=False))
                except Exception as error:  # noqa: BLE001 - raised by `take`
                    self._failure = error
                    self.ended = True

    def take(self, *, at_once: bool = False) -> Samples | None:
        """The next chunk, (CHUNK, 2); None after the last."""
        with self._lock:
            if self._ready:
                return self._ready.pop(0)
            if self._failure is not None:
                raise self._failure
            return None if self.ended else self._made(at_once=at_once)

    def close(self) -> None:
        """Free the synth."""
        with self._lock:
            self.ended = True
            self._stack.close()

    def _made(self, *, at_once: bool) -> Samples:
        """Render one chunk."""
        if self._engine is None:
            rate = round(self._score.periods_per_second * PERIOD)
            new = self._new_engine(rate, len(self._score.parts), at_once)
            self._engine = self._stack.enter_context(new)
            self._score.prepare(self._engine, self.window.start)
            self._events = self._score.events(as_notes(self.window.note_rows), self._base)
            self._event = next(self._events, None)
        chunk = np.zeros((CHUNK, 2), np.float32)
        at = 0
        while self._event is not None and self._event.period < self._base + GRID:
            due = (self._event.period - self._base) * PERIOD
            if due > at:
                self._engine.render(chunk, at, due)
                at = due
            send_event(self._engine, self._event)
            self._event = next(self._events, None)
        self._engine.render(chunk, at, CHUNK)
        self._base += GRID
        self._end(chunk)
        return chunk

    def _end(self, chunk: Samples) -> None:
        """Fade out a chunk, in place, near the window's end; after the last one free the synth."""
        left = (self.window.until - self._base) // GRID
        if left < FADE_CHUNKS:
            steps = np.linspace((left + 1) / FADE_CHUNKS, left / FADE_CHUNKS, CHUNK)
            chunk *= steps[:, None].astype(np.float32)
        if left <= 0 or (self._event is None and max(chunk.max(), -chunk.min()) < INAUDIBLE):
            self.ended = True
            self._stack.close()
