"""A server for the browser, and steps that tests of the page share."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import uvicorn
from playwright.sync_api import Page

from trainer.drill import Drill, Drills
from trainer.store import Store
from trainer.web.app import create_app, utc_now
from trainer.web.guard import Guard

Opened = Callable[..., Page]


@dataclass
class House:
    """A server that can be stopped and started again at the same address, for one learner."""

    store: Store
    audio: Any
    port: int
    clock: Callable[[], datetime] = utc_now
    learner: str = "me"
    _server: uvicorn.Server | None = None
    _thread: threading.Thread | None = None

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
        app = Guard(create_app(self.store, self.audio, now=self.clock, learner=self.learner))
        config = uvicorn.Config(
            app, port=self.port, log_level="error", ws="none", timeout_graceful_shutdown=1
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)
        self._thread.start()
        deadline = time.monotonic() + 10
        while not self._server.started and time.monotonic() < deadline:
            self._thread.join(0.02)
        assert self._server.started

    def close(self) -> None:
        """Stop answering."""
        if self._server is not None and self._thread is not None:
            self._server.should_exit = True
            self._thread.join(10)
            assert not self._thread.is_alive()


def free_port() -> int:
    """A port nobody listens on."""
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        port: int = tried.getsockname()[1]
        return port


def begin(page: Page, level: int = 1) -> None:
    """From the start page to a level's first exercise."""
    page.get_by_role("button", name=f"Begin level {level}", exact=True).last.click()
    page.wait_for_url("**/write/*")
    page.locator("#sheet .empty").wait_for()


def drill_of(house: House, page: Page) -> Drill:
    """The drill on the page, as the server keeps it."""
    drill = house.drills.find(page.url.rpartition("/")[2])
    assert drill is not None
    return drill


def wait_until_ended(house: House, page: Page) -> None:
    """Wait until the server knows that the listen under way has ended."""
    for _ in range(200):
        if drill_of(house, page).position_s is None:
            return
        page.wait_for_timeout(50)
    raise AssertionError("the server still knows of a listen under way")
