"""The page in Debian's Chromium, against a server of its own."""

from __future__ import annotations

import shutil
from collections.abc import Generator, Iterator
from contextlib import ExitStack, contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.patience import PATIENCE_S
from tests.web.browser.house import House, Opened
from tests.web.fakes import FakeLibrary
from trainer.store import Store

# The first that is there: the headless shell opens a page with a third of the work.
CHROMIUM = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
DESKTOP = {"width": 1280, "height": 800}
PATIENCE_MS = 1000 * PATIENCE_S
expect.set_options(timeout=PATIENCE_MS)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder drives a browser."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker("browser")


@contextmanager
def launched() -> Iterator[Browser]:
    """A Chromium."""
    path = next(filter(None, map(shutil.which, CHROMIUM)), None)
    assert path, f"no browser: looked for {', '.join(CHROMIUM)}; apt-get install {CHROMIUM[0]}"
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield opened
        opened.close()


# Holds the Chromium that is open, if one is.
_open = ExitStack()
_browsers: list[Browser] = []


@pytest.fixture
def browser() -> Browser:
    """One Chromium for all tests of this folder that follow each other."""
    if not _browsers:
        _browsers.append(_open.enter_context(launched()))
    return _browsers[0]


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(nextitem: pytest.Item | None) -> Generator[None, None, None]:
    """Close Chromium before a test of another folder: while Playwright is open no other event loop
    runs in this thread.
    """
    try:
        return (yield)
    finally:
        if nextitem is None or Path(__file__).parent not in nextitem.path.parents:
            _browsers.clear()
            _open.close()


@pytest.fixture
def house(tmp_path: Path, record: Path) -> Iterator[House]:
    """A server with an empty record and tones for sound."""
    folder = tmp_path / "audio"
    folder.mkdir()
    with Store.open(record) as store:
        made = House(store, FakeLibrary(folder))
        made.open()
        yield made
        made.close()


@pytest.fixture
def known(house: House, fixed_now: datetime) -> House:
    """A server whose learner has read the caution."""
    learners = house.store.learners
    learners.caution_shown(learners.get_or_add("me", fixed_now), fixed_now)
    return house


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Opened]:
    """Opens pages, each in a browser of its own; whatever goes wrong in one fails the test."""
    contexts: list[BrowserContext] = []
    wrong: list[str] = []

    def opened(url: str, **how: Any) -> Page:
        context = browser.new_context(**({"viewport": DESKTOP} | how))
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda said: note(wrong, said))
        page.goto(url)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert [text for text in wrong if "violates the following Content Security" not in text] == []


@pytest.fixture
def browser_page(known: House, open_page: Opened) -> Page:
    """The start page, in which the scripts' own work is run."""
    return open_page(known.url)


def note(wrong: list[str], said: Any) -> None:
    """Keep what a console calls an error, but for answers that a test asked for."""
    if said.type == "error" and "Failed to load resource" not in said.text:
        wrong.append(said.text)
