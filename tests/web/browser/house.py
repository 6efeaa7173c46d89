"""A server for the browser, and steps that tests of the page share."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import uvicorn
from playwright.sync_api import Page

from tests.patience import PATIENCE_S, waiting
from trainer.drill import Drill, Drills
from trainer.exercise import load_course, make_exercise
from trainer.store import Store
from trainer.web.app import create_app, utc_now
from trainer.web.guard import Guard

Opened = Callable[..., Page]


@dataclass
class House:
    """A server for one learner that can be stopped and started again at the same address.

    The system gives it a port when it first opens: none is looked for before, which another run of
    the tests could take in between.
    """

    store: Store
    audio: Any
    port: int = 0
    clock: Callable[[], datetime] = utc_now
    learner: str = "me"
    _server: uvicorn.Server | None = None
    _thread: threading.Thread | None = None
    _listening: socket.socket | None = None

    @property
    def url(self) -> str:
        """Where the start page is."""
        return f"http://127.0.0.1:{self.port}/"

    @property
    def drills(self) -> Drills:
        """The drills of the learner that the page is for."""
        learner = self.store.learners.get(self.learner)
        assert learner is not None
        return Drills(self.store, learner, self.clock)

    def open(self) -> None:
        """Start answering."""
        self._listening = socket.create_server(("127.0.0.1", self.port))
        self.port = self._listening.getsockname()[1]
        app = self.make_app()
        config = uvicorn.Config(app, log_level="error", ws="none", timeout_graceful_shutdown=1)
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._listening]}, daemon=True
        )
        self._thread.start()
        for _ in waiting("the server has started"):
            if self._server.started:
                return
            self._thread.join(0.02)

    def make_app(self) -> Guard:
        """The application for one desk, guarded."""
        return Guard(create_app(self.store, self.audio, now=self.clock, learner=self.learner))

    def close(self) -> None:
        """Stop answering."""
        if self._server is not None and self._thread is not None:
            self._server.should_exit = True
            self._thread.join(PATIENCE_S)
            assert not self._thread.is_alive()
        if self._listening is not None:
            self._listening.close()


def begin(page: Page, level: int = 1) -> None:
    """From the start page to a level's first exercise."""
    page.get_by_role("button", name=f"Begin level {level}", exact=True).last.click()
    page.wait_for_url("**/write/*")
    page.locator("#sheet .empty").wait_for()


def open_exercise(
    house: House, open_page: Opened, level: int = 1, seed: int = 1, /, **how: Any
) -> Page:
    """Open the page on which an exercise of a level is written, without the pages before it."""
    chosen = load_course()[level - 1]
    drill = house.drills.begin(make_exercise(chosen.recipe, seed, chosen))
    page = open_page(f"{house.url}write/{drill.record.key}", **how)
    page.locator("#sheet .empty").wait_for()
    return page


def drill_of(house: House, page: Page) -> Drill:
    """The drill on the page, as the server keeps it."""
    drill = house.drills.find(page.url.rpartition("/")[2])
    assert drill is not None
    return drill


def wait_until_ended(house: House, page: Page) -> None:
    """Wait until the server knows that the listen under way has ended."""
    for _ in waiting("the server knows that the listen has ended"):
        if drill_of(house, page).position_s is None:
            return
        page.wait_for_timeout(50)
