"""Windows played together: summed in order, the next ones made ahead by a second thread."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Generator, Iterator

import numpy as np
from numpy.typing import NDArray

from trainer.sound.engine import PERIOD
from trainer.sound.limiter import CHUNK
from trainer.sound.sequence import SynthSequence
from trainer.sound.windows import GRID, EngineFactory, WindowRenderer, split_into_windows

__all__ = ["mix_windows"]

# Windows that the lookahead may make ahead: 5 MB each.
_WINDOWS_AHEAD = 2
# Chunks it still makes while nobody asks for more, so that writing a block does not stop it.
_CHUNKS_AHEAD = 2
# What the limiter takes before it gives its first block; the lookahead leaves it the machine.
_FIRST_CHUNKS = 3


def mix_windows(
    sequence: SynthSequence, first: int, frames: int, new_engine: EngineFactory
) -> Generator[NDArray[np.float32]]:
    """Play a sequence from the period `first` until `frames` are out.

    Only windows that are heard from there on are played, each from its start: the sum has the
    same bits wherever it begins.

    Yields
    ------
    float32 arrays (CHUNK, 2); `first` is a multiple of GRID.
    """
    renderers = [
        WindowRenderer(window, sequence, new_engine)
        for window in split_into_windows(sequence)
        if window.until > first
    ]
    base = min([renderer.window.start for renderer in renderers[:1]] + [first])
    playing: list[WindowRenderer] = []
    lookahead = _LookaheadThread(renderers)
    helper_from = first + _FIRST_CHUNKS * GRID if base == first else base
    try:
        while base * PERIOD < frames:
            if base == helper_from:
                lookahead.start()
            playing += lookahead.handed_over(base)
            chunk = _sum(playing, at_once=base == first)
            if base >= first:
                lookahead.rest()
                yield chunk
                lookahead.go_on()
            base += GRID
    finally:
        lookahead.stop()
        for renderer in renderers:
            renderer.close()


def _sum(playing: list[WindowRenderer], *, at_once: bool) -> NDArray[np.float32]:
    """The next chunk of all, in the order of the windows; those that have ended are dropped."""
    total = np.zeros((CHUNK, 2), np.float32)
    for renderer in tuple(playing):
        chunk = renderer.take(at_once=at_once)
        if chunk is None:
            playing.remove(renderer)
        else:
            total += chunk
    return total


class _LookaheadThread:
    """A thread that makes what comes next, while somebody waits for what is now."""

    def __init__(self, renderers: list[WindowRenderer]) -> None:
        self._waiting = deque(renderers)
        self._news = threading.Condition()
        self._credit: float = float("inf")
        self._stopped = False
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin, if there is anything to come."""
        if self._waiting:
            self._thread = threading.Thread(target=self._run, name="windows ahead", daemon=True)
            self._thread.start()

    def handed_over(self, period: int) -> Iterator[WindowRenderer]:
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
        while (renderer := self._next()) is not None:
            renderer.make_ahead()

    def _next(self) -> WindowRenderer | None:
        """What to go on with, when it is time to; None at the end."""
        with self._news:
            while not self._stopped and self._waiting:
                if self._credit > 0:
                    for renderer in list(self._waiting)[:_WINDOWS_AHEAD]:
                        if not renderer.ended:
                            self._credit -= 1
                            return renderer
                self._news.wait()
        return None
