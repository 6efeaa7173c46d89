"""How sending scores ends."""

from __future__ import annotations

import threading

from tests.patience import PATIENCE_S
from trainer.classroom.passback import Passback
from trainer.web.school.scores import ScoreLoop


class Held(Passback):
    """A run that lasts until it is let go, as while a platform keeps silent."""

    def __init__(self) -> None:
        self.began, self.let_go = threading.Event(), threading.Event()

    def run(self, *_: object) -> int:
        """Wait to be let go."""
        self.began.set()
        self.let_go.wait(PATIENCE_S)
        return 0


def test_stopping_waits_for_no_platform() -> None:
    """The server's event loop may stop the scores while one is on its way, and the end of the
    server waits for it only so long."""
    held = Held()
    loop = ScoreLoop(held, every_s=0.01)
    loop.start()
    assert held.began.wait(PATIENCE_S)
    stopping = threading.Thread(target=loop.stop, daemon=True)
    stopping.start()
    stopping.join(5)
    assert not stopping.is_alive()
    loop.close(most_s=0.01)
    held.let_go.set()
    loop.close()


class Broken(Passback):
    """A run that fails in a way nobody thought of, twice."""

    def __init__(self) -> None:
        self.runs, self.third = 0, threading.Event()

    def run(self, *_: object) -> int:
        """Fail, but not the third time."""
        self.runs += 1
        if self.runs < 3:
            raise OverflowError("too much")
        self.third.set()
        return 0


def test_a_run_that_breaks_is_not_the_last() -> None:
    """The thread goes on after any exception."""
    broken = Broken()
    loop = ScoreLoop(broken, every_s=0.01)
    loop.start()
    assert broken.third.wait(5)
    loop.close()
