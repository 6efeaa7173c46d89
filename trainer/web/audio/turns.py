"""Which of the sounds that are wanted is rendered now: a few at a time, the most needed first, and
none while a page is being made."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from enum import IntEnum
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["Need", "PagesFirst", "RenderTurns", "Renderer"]

# Pages hold turns back for so long at a stretch: however many are asked for, sounds go on.
MAX_HOLD_S = 0.5
# A turn goes on for so long before it goes to another that is needed as much.
SLICE_S = 0.1


class Need(IntEnum):
    """How much a sound is needed: nobody waits for it, somebody waits for more of it, or somebody
    waits for its first bytes."""

    NONE = 0
    MORE = 1
    FIRST = 2


class Renderer(Protocol):
    """What renders a block in each of its turns."""

    @property
    def need(self) -> Need:
        """How much its sound is needed now."""

    @property
    def stopped(self) -> bool:
        """Whether it wants no more turns."""


class RenderTurns:
    """Gives out turns to render one block, a limited number at once; safe to use from threads.

    A turn goes to the renderer whose sound is needed most, of several to the one that has waited
    longest; nobody renders beside one that is needed more, for the two would share the processor.
    No block is begun while a page is being made.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        # When each turn began.
        self._since: dict[Renderer, float] = {}
        self._lock = threading.Lock()
        self._queue: list[_Waiting] = []
        self._closed = False
        self._pages = 0
        self._held_since = 0.0

    def acquire(self, renderer: Renderer) -> bool:
        """Wait for the turn to render one block; False if the renderer is to stop.

        Whoever has a turn keeps it for `SLICE_S` while nobody is needed more: changing at each
        block takes longer. `release` ends it.
        """
        with self._lock:
            if self._closed or renderer.stopped:
                return False
            if renderer in self._since:
                if self._may_keep(renderer):
                    self._give_out()
                    return True
                del self._since[renderer]
            waiting = _Waiting(renderer)
            self._queue.append(waiting)
            self._give_out()
        while not waiting.decided.wait(MAX_HOLD_S):
            with self._lock:
                self._give_out()
        return waiting.granted

    def release(self, renderer: Renderer) -> None:
        """End a turn, if the renderer has one."""
        with self._lock:
            self._since.pop(renderer, None)
            self._give_out()

    @contextmanager
    def page(self) -> Iterator[None]:
        """Begin no turn while a page is being made."""
        with self._lock:
            if not self._pages:
                self._held_since = time.monotonic()
            self._pages += 1
        try:
            yield
        finally:
            with self._lock:
                self._pages -= 1
                self._give_out()

    def cancel(self, renderer: Renderer) -> None:
        """Let a renderer that has stopped wait no longer."""
        with self._lock:
            self._dismiss([one for one in self._queue if one.renderer is renderer])

    def close(self) -> None:
        """Give out no more turns."""
        with self._lock:
            self._closed = True
            self._dismiss(self._queue)

    def _is_held(self) -> bool:
        return self._pages > 0 and time.monotonic() - self._held_since < MAX_HOLD_S

    def _may_keep(self, renderer: Renderer) -> bool:
        others = [other for other in self._since if other is not renderer]
        waiting = [one.renderer for one in self._queue]
        most = _most_needed([*others, *waiting])
        if self._is_held() or most > renderer.need:
            return False
        is_equal = _most_needed(waiting) == renderer.need and waiting
        return not is_equal or time.monotonic() - self._since[renderer] < SLICE_S

    def _give_out(self) -> None:
        while self._queue and len(self._since) < self._most and not self._is_held():
            # Of equals, `max` finds the first.
            best = max(self._queue, key=lambda waiting: waiting.renderer.need)
            if _most_needed(self._since) > best.renderer.need:
                return
            self._queue.remove(best)
            self._since[best.renderer] = time.monotonic()
            best.granted = True
            best.decided.set()

    def _dismiss(self, waiting: list[_Waiting]) -> None:
        for one in list(waiting):
            self._queue.remove(one)
            one.decided.set()


class PagesFirst:
    """ASGI middleware: while a request for anything but a sound is answered, no turn begins."""

    def __init__(self, app: ASGIApp, turns: RenderTurns, sounds: str) -> None:
        self._app, self._turns, self._sounds = app, turns, sounds

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request."""
        if scope["type"] == "http" and not scope["path"].startswith(self._sounds):
            with self._turns.page():
                await self._app(scope, receive, send)
        else:
            await self._app(scope, receive, send)


def _most_needed(renderers: Iterable[Renderer]) -> Need:
    return max((renderer.need for renderer in renderers), default=Need.NONE)


class _Waiting:
    """A renderer that waits for a turn."""

    def __init__(self, renderer: Renderer) -> None:
        self.renderer = renderer
        self.decided = threading.Event()
        self.granted = False
