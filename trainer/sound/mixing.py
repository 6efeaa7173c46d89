"""The windows of a sequence rendered and added up in order.

A second thread renders the next windows ahead while a chunk is waited for.
"""

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

# Windows that may be rendered ahead, 5 MB each.
_WINDOWS_AHEAD = 2
# Chunks it still makes while nobody asks for more, so that writing a block does not stop it.
_CHUNKS_AHEAD = 2
# What the limiter takes before it gives its first block; the thread starts after them.
_FIRST_CHUNKS = 3


def mix_windows(
    sequence: SynthSequence, first: int, frames: int, new_engine: EngineFactory
) -> Generator[NDArray[np.float32]]:
    """Render a sequence from the period `first` until `frames` frames are out.

    Only windows that sound from there on are rendered, each from its own start, so that the sum has
    the same bits wherever it begins.

    Parameters
    ----------
    first : a multiple of GRID.
    frames : the end, counted from the beginning of the sequence.
    new_engine : makes the synth of a window.

    Yields
    ------
    float32 arrays (CHUNK, 2).
    """
    renderers = [
        WindowRenderer(window, sequence, new_engine)
        for window in split_into_windows(sequence)
        if window.until > first
    ]
    base = min([renderer.window.start for renderer in renderers[:1]] + [first])
    playing: list[WindowRenderer] = []
    lookahead = _LookaheadThread(renderers)
    # Where the first note is waited for: a piece may begin with silence.
    waited = max([renderer.window.start for renderer in renderers[:1]] + [first])
    helper_from = waited + _FIRST_CHUNKS * GRID if base == first else base
    try:
        while base * PERIOD < frames:
            if base == helper_from:
                lookahead.start()
            playing += lookahead.handed_over(base)
            chunk = _sum(playing, at_once=base <= waited)
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
    """The next chunk of all windows added up in order; windows that have ended are removed."""
    total = np.zeros((CHUNK, 2), np.float32)
    for renderer in tuple(playing):
        chunk = renderer.take(at_once=at_once)
        if chunk is None:
            playing.remove(renderer)
        else:
            total += chunk
    return total


class _LookaheadThread:
    """A thread that renders the next windows while somebody waits for the present chunk."""

    def __init__(self, renderers: list[WindowRenderer]) -> None:
        self._waiting = deque(renderers)
        self._news = threading.Condition()
        self._credit: float = float("inf")
        self._stopped = False
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Start the thread, if there are windows to render."""
        if self._waiting:
            self._thread = threading.Thread(target=self._run, name="windows ahead", daemon=True)
            self._thread.start()

    def handed_over(self, period: int) -> Iterator[WindowRenderer]:
        """Yield the windows that begin at a period; from then on the caller renders them."""
        with self._news:
            while self._waiting and self._waiting[0].window.start <= period:
                yield self._waiting.popleft()
                self._news.notify()

    def rest(self) -> None:
        """Render only a few more chunks, since nobody waits now."""
        with self._news:
            self._credit = _CHUNKS_AHEAD

    def go_on(self) -> None:
        """Render on, since somebody waits again."""
        with self._news:
            self._credit = float("inf")
            self._news.notify()

    def stop(self) -> None:
        """End the thread, and return when it has ended."""
        with self._news:
            self._stopped = True
            self._news.notify()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        while (renderer := self._next()) is not None:
            renderer.make_ahead()

    def _next(self) -> WindowRenderer | None:
        """Wait until there is a window to render a chunk of; None at the end."""
        with self._news:
            while not self._stopped and self._waiting:
                if self._credit > 0:
                    for renderer in list(self._waiting)[:_WINDOWS_AHEAD]:
                        if not renderer.ended:
                            self._credit -= 1
                            return renderer
                self._news.wait()
        return None
