from __future__ import annotations

import threading
from dataclasses import dataclass

import anyio
import pytest
from starlette.types import Message, Receive, Scope, Send

from tests.patience import PATIENCE_S, until
from trainer.web.audio import turns as module
from trainer.web.audio.turns import Need, PagesFirst, RenderTurns


@dataclass(eq=False)
class Sound:
    """A renderer as needed as the test says."""

    need: Need = Need.MORE
    stopped: bool = False


class Queue:
    """Renderers that wait for turns in threads of their own; `got` lists who got one, in order."""

    def __init__(self, turns: RenderTurns) -> None:
        self.turns = turns
        self.got: list[Sound] = []
        self.refused: list[Sound] = []
        self._threads: list[threading.Thread] = []

    def add(self, sound: Sound) -> Sound:
        """Let one wait; returns when it does."""
        waiting = len(self.turns._queue)
        self._threads.append(threading.Thread(target=self._run, args=(sound,)))
        self._threads[-1].start()
        until(lambda: len(self.turns._queue) > waiting)
        return sound

    def join(self) -> None:
        """Wait until all have had their turn."""
        for thread in self._threads:
            thread.join(PATIENCE_S)
            assert not thread.is_alive()

    def _run(self, sound: Sound) -> None:
        if self.turns.acquire(sound):
            self.got.append(sound)
            self.turns.release(sound)
        else:
            self.refused.append(sound)


@pytest.fixture
def turns() -> RenderTurns:
    """One turn at a time."""
    return RenderTurns(1)


@pytest.fixture
def queue(turns: RenderTurns) -> Queue:
    """Those that wait for it."""
    return Queue(turns)


def test_the_most_needed_goes_first(turns: RenderTurns, queue: Queue) -> None:
    """First bytes that are waited for come before more bytes, and those before what nobody reads;
    of equals, the one that has waited longest comes first."""
    one = Sound()
    assert turns.acquire(one)
    needs = [Need.NONE, Need.MORE, Need.FIRST, Need.MORE, Need.FIRST]
    a, b, c, d, e = (queue.add(Sound(need)) for need in needs)
    turns.release(one)
    queue.join()
    assert queue.got == [c, e, b, d, a]


@pytest.mark.parametrize("most", [1, 2, 3])
def test_only_so_many_at_once(most: int) -> None:
    """One more than there are turns waits until one ends."""
    turns = RenderTurns(most)
    sounds = [Sound() for _ in range(most)]
    assert all(turns.acquire(sound) for sound in sounds)
    queue = Queue(turns)
    late = queue.add(Sound())
    assert queue.got == []
    turns.release(sounds[0])
    queue.join()
    assert queue.got == [late]


def test_nobody_renders_beside_one_needed_more() -> None:
    """A second turn is free, but not for one that is needed less; when the first is needed less,
    too, or has ended, it is."""
    turns = RenderTurns(2)
    queue = Queue(turns)
    first, other = Sound(Need.FIRST), Sound(Need.MORE)
    assert turns.acquire(other)
    assert turns.acquire(first)
    again = queue.add(other)
    assert queue.got == []
    first.need = Need.MORE
    assert turns.acquire(first)
    queue.join()
    assert queue.got == [again]
    first.need = Need.FIRST
    late = queue.add(Sound(Need.NONE))
    turns.release(first)
    queue.join()
    assert queue.got == [again, late]


def test_a_turn_goes_on_for_a_while(
    turns: RenderTurns, queue: Queue, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another that is needed as much waits for the end of the slice, one needed more does not."""
    monkeypatch.setattr(module, "SLICE_S", 1000.0)
    one = Sound()
    assert turns.acquire(one)
    equal = queue.add(Sound())
    assert turns.acquire(one)
    assert queue.got == []
    first = queue.add(Sound(Need.FIRST))
    assert turns.acquire(one)
    assert queue.got == [first, equal]
    turns.release(one)
    assert turns.acquire(one)
    last = queue.add(Sound())
    monkeypatch.setattr(module, "SLICE_S", 0.0)
    assert turns.acquire(one)
    queue.join()
    assert queue.got == [first, equal, last]


def test_pages_come_first(turns: RenderTurns, queue: Queue) -> None:
    """While a page is made nobody begins a block, not even who has the turn; then they go on."""
    one = Sound()
    assert turns.acquire(one)
    with turns.page():
        again = queue.add(one)
        assert queue.got == []
        with turns.page():
            other = queue.add(Sound(Need.FIRST))
        assert queue.got == []
    queue.join()
    assert queue.got == [other, again]


def test_pages_do_not_stop_sounds(
    turns: RenderTurns, queue: Queue, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page that takes long, or one after another without end, holds sounds back for a while."""
    with turns.page():
        monkeypatch.setattr(module, "MAX_HOLD_S", 0.0)
        queue.turns.acquire(Sound())


def test_who_is_given_up_waits_no_longer(turns: RenderTurns, queue: Queue) -> None:
    """One that is stopped, and all when the turns are closed, get no turn and wait no more."""
    assert turns.acquire(Sound())
    stopped, other = queue.add(Sound()), queue.add(Sound())
    stopped.stopped = True
    turns.cancel(stopped)
    until(lambda: queue.refused == [stopped])
    assert not turns.acquire(Sound(stopped=True))
    turns.close()
    queue.join()
    assert queue.refused == [stopped, other]
    assert queue.got == []
    assert not turns.acquire(Sound())


@pytest.mark.parametrize(("path", "held"), [("/", True), ("/preview/x", True), ("/audio/x", False)])
def test_requests_hold_sounds_back(turns: RenderTurns, path: str, held: bool) -> None:
    """Every request but that for a sound counts as a page while it is answered, not after it."""
    seen = []

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        seen.append(turns._pages)

    async def receive() -> Message:
        return {}

    async def send(message: Message) -> None:
        raise AssertionError(message)

    anyio.run(PagesFirst(app, turns, "/audio/"), {"type": "http", "path": path}, receive, send)
    assert seen == [int(held)]
    assert turns._pages == 0
