"""Windows played together: summed in order, the next ones made ahead by a second thread."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Generator, Iterator

import numpy as np
from numpy.typing import NDArray

from trainer.sound.engine import PERIOD
from trainer.sound.limiter import CHUNK
from trainer.sound.score import Score
from trainer.sound.windows import GRID, NewEngine, Performance, windows_of

__all__ = ["played"]

# Windows that the helper may make ahead: 5 MB each.
_WINDOWS_AHEAD = 2
# Chunks it still makes while nobody asks for more, so that writing a block does not stop it.
_CHUNKS_AHEAD = 2
# What the limiter takes before it gives its first block; the helper leaves it the machine.
_FIRST_CHUNKS = 3


def played(
    score: Score, first: int, frames: int, new_engine: NewEngine
) -> Generator[NDArray[np.float32]]:
    """Play a score from the period `first` until `frames` are out.

    Only windows that are heard from there on are played, each from its start: the sum has the
    same bits wherever it begins.

    Yields
    ------
    float32 arrays (CHUNK, 2); `first` is a multiple of GRID.
    """
    performances = [
        Performance(window, score, new_engine)
        for window in windows_of(score)
        if window.until > first
    ]
    base = min([performance.window.start for performance in performances[:1]] + [first])
    playing: list[Performance] = []
    helper = _Helper(performances)
    helper_from = first + _FIRST_CHUNKS * GRID if base == first else base
    try:
        while base * PERIOD < frames:
            if base == helper_from:
                helper.start()
            playing += helper.handed_over(base)
            chunk = _sum(playing, at_once=base == first)
            if base >= first:
                helper.rest()
                yield chunk
                helper.go_on()
            base += GRID
    finally:
        helper.stop()
        for performance in performances:
            performance.close()


def _sum(playing: list[Performance], *, at_once: bool) -> NDArray[np.float32]:
    """The next chunk of all, in the order of the windows; those that have ended are dropped."""
    total = np.zeros((CHUNK, 2), np.float32)
    for performance in tuple(playing):
        chunk = performance.take(at_once=at_once)
        if chunk is None:
            playing.remove(performance)
        else:
            total += chunk
    return total


class _Helper:
    """A thread that makes what comes next, while somebody waits for what is now."""

    def __init__(self, performances: list[Performance]) -> None:
        self._waiting = deque(performances)
        self._news = threading.Condition()
        self._credit: float = float("inf")
        self._stopped = False
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin, if there is anything to come."""
        if self._waiting:
            self._thread = threading.Thread(target=self._run, name="windows ahead", daemon=True)
            self._thread.start()

    def handed_over(self, period: int) -> Iterator[Performance]:
        """The windows that begin now: from here on whoever asked makes them."""
        with self._news:
            while self._waiting and self._waiting[0].window.start <= period:
                yield self._waiting.popleft()
                self._news.notify()

    def rest(self) -> None:
        """Nobody waits any more: stop soon."""
        with self._news:
            self._credit = _CHUNKS_AHEAD

    def go_on(self) -> None:
        """Somebody waits."""
        with self._news:
            self._credit = float("inf")
            self._news.notify()

    def stop(self) -> None:
        """End the thread; returns when it has ended."""
        with self._news:
            self._stopped = True
            self._news.notify()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        while (performance := self._next()) is not None:
            performance.make_ahead()

    def _next(self) -> Performance | None:
        """What to go on with, when it is time to; None at the end."""
        with self._news:
            while not self._stopped and self._waiting:
                if self._credit > 0:
                    for performance in list(self._waiting)[:_WINDOWS_AHEAD]:
                        if not performance.ended:
                            self._credit -= 1
                            return performance
                self._news.wait()
        return None
