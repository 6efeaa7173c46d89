"""Every page and state under axe-core (WCAG 2.0 to 2.2, levels A and AA, and best practices).

The dark scheme has other colours and nothing else (`test_only_colours_depend_on_the_scheme`): of
axe-core's rules only the one on contrast is asked again there.
"""

from __future__ import annotations

import random
import re
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

import pytest
from axe_playwright_python.base import AXE_SCRIPT, AxeResults
from playwright.sync_api import Page, expect

from tests.web.browser.house import House, Opened, begin
from tests.web.evenings import evenings
from trainer.songbook import Sets, Songbook
from trainer.store import SetSong

SCREENS: dict[str, dict[str, Any]] = {
    "desktop": {"color_scheme": "light"},
    "phone": {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
              "color_scheme": "light"},
}  # fmt: skip
WRITTEN = "Verse:\n1 (4 5/7) (1''' 5-') . 4d 5^7p 1c\n[2/4] 5 [up 2] 1 x\n1 57 ?"
# Style sheets are fetched again for rules that are off, unless only media are to be loaded first.
MEDIA = {"assets": ["media"]}
RUN = "options => axe.run(options).then(({ violations }) => violations)"


def check(page: Page, state: str) -> None:
    """No violation in this state, and enough contrast in dark colours, too."""
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    _assert_none(page, state, {"resultTypes": ["violations"], "preload": MEDIA})
    page.emulate_media(color_scheme="dark")
    _assert_none(page, f"{state}, dark", {"runOnly": ["color-contrast"]})
    page.emulate_media(color_scheme="light")


def _assert_none(page: Page, state: str, options: dict[str, Any]) -> None:
    """No violation of the rules that the options name."""
    found = AxeResults({"violations": page.evaluate(RUN, options)})
    assert found.violations_count == 0, f"{state}: {found.generate_report()}"


def test_only_colours_depend_on_the_scheme() -> None:
    """What a style sheet says of the dark scheme alone is colours, and no script asks for it."""
    static = files("trainer.web") / "static"
    texts = {path.name: path.read_text("utf-8") for path in static.iterdir()
             if path.name.endswith((".css", ".js"))}  # fmt: skip
    asking = [name for name, text in texts.items() if "prefers-color-scheme" in text]
    assert asking
    for name in asking:
        assert name.endswith(".css")
        for block in texts[name].split("prefers-color-scheme: dark")[1:]:
            values = re.findall(r"[\w-]+:\s*([^;{}]+);", block.partition("}")[0])
            assert values
            assert [value for value in values if not re.fullmatch(r"#[0-9a-f]{6}", value)] == []


@pytest.mark.parametrize("screen", SCREENS)
def test_every_page_and_state(house: House, open_page: Opened, screen: str) -> None:
    """No page, in no state, has a fault that axe-core knows."""
    page = open_page(house.url, **SCREENS[screen])
    check(page, "caution")
    page.get_by_role("button", name="It's comfortable").click()
    check(page, "start")
    page.locator(".level summary").nth(1).click()
    check(page, "a level opened")
    begin(page)
    check(page, "write, empty")
    page.locator("#text").fill(
        "Verse:\n1 (4 5/7) (1''' 5-') . 4d 5^7p 1c\n[2/4] 5 [up 2] 1 x\n1 57 ?"
    )
    expect(page.locator("#sheet .note").first).to_be_visible()
    expect(page.locator("#sheet .question").first).to_be_visible()
    check(page, "write, with a problem, a question and a gap")
    page.locator("#sheet .bar-button").nth(1).click()
    expect(page.locator("#bar-tools")).to_be_visible()
    check(page, "write, on the sheet")
    page.keyboard.press("Escape")
    page.locator("#light-toggle").click()
    page.locator("#play").click()
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.1")
    if page.locator("#keypad").is_hidden():
        page.locator("#keypad-toggle").click()
    check(page, "write, playing, light, keypad")
    page.locator("#hand-in").click()
    check(page, "write, asked again")
    written = page.url
    page.locator("#hand-in").click()
    page.wait_for_url("**/result/*")
    check(page, "result")
    page.locator("#next-mistake").click()
    page.get_by_text("Both charts as text").click()
    check(page, "result, a bar chosen")
    page.get_by_text("How it's scored").click()
    check(page, "result, weights opened")
    number = page.url.rpartition("/")[2]
    again = written.removeprefix(house.url)
    for place in (
        "history",
        f"handout/{number}/played",
        f"handout/{number}/written",
        again,
        "nowhere",
        "",
    ):
        page.goto(house.url + place)
        check(page, place)


@pytest.mark.parametrize("screen", SCREENS)
def test_practice_pages(known: House, open_page: Opened, screen: str) -> None:
    """The daily set, the self-test, progress and learners have no fault, before and after
    practice."""
    store, now = known.store, datetime.now(UTC)
    learner = known.drills.learner
    page = open_page(known.url, **SCREENS[screen])
    for place in ("today", "speed", "progress", "learners"):
        page.goto(known.url + place)
        check(page, f"{place}, nothing yet")
    evenings(store, learner, now, (0, 1, 2, 4, 5, 8), random.Random(7))
    for place in (
        "today",
        "speed",
        "progress?time=quarter",
        f"learners/{learner.uid}/delete",
        f"learners/{learner.uid}/rename",
    ):
        page.goto(known.url + place)
        check(page, place)
    page.goto(f"{known.url}progress")
    for summary in page.locator("summary").all():
        summary.click()
    check(page, "progress, tables opened")
    newest = store.attempts.history(learner, limit=1)[0]
    page.goto(f"{known.url}result/{newest.id}")
    page.get_by_text("As a table").click()
    check(page, "result with the lag")


def test_an_empty_history(known: House, open_page: Opened) -> None:
    """The history before the first attempt has no fault either."""
    page = open_page(f"{known.url}history")
    check(page, "empty history")


def test_the_focus_is_seen(known: House, open_page: Opened) -> None:
    """Whatever has the focus by keyboard has an outline (WCAG 2.4.7)."""
    page = open_page(known.url)
    for _ in range(25):
        page.keyboard.press("Tab")
        width = page.evaluate(
            "() => parseFloat(getComputedStyle(document.activeElement).outlineWidth)"
        )
        assert width >= 2


@pytest.mark.parametrize("screen", SCREENS)
def test_songbook_pages(known: House, open_page: Opened, screen: str) -> None:
    """The songbook's pages have no fault: lists, a song of one's own, closed and open charts, two
    charts compared, a set."""
    book = Songbook(known.store, known.drills.learner, known.clock)
    song = book.new("title: Lock Gate\n\n" + WRITTEN, ["slow"]).uid
    book.save(song, "title: Lock Gate\n\nVerse:\n1 4 5 6- 1\n")
    gone = book.new("1 4").uid
    book.delete(gone)
    songs = [SetSong(song, "E"), SetSong("house-second-street-strut")]
    made = Sets(book).add("Friday", songs).uid
    page = open_page(f"{known.url}songbook?deleted={gone}", **SCREENS[screen])
    check(page, "the list after a deletion")
    for place in (
        song,
        "house-second-street-strut",
        f"compare?left={song}:1&right={song}:2",
        f"compare?left={song}",
        f"sets/{made}",
    ):
        page.goto(f"{known.url}songbook/{place}")
        check(page, place)
    page.goto(f"{known.url}songbook/house-second-street-strut")
    page.get_by_role("button", name="Open the chart").click()
    expect(page.locator(".chart-sheet")).to_be_visible()
    check(page, "a shared song, opened")
