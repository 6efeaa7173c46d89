from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.web.browser.house import House, Opened

TABLET: dict[str, Any] = {
    "viewport": {"width": 820, "height": 1180}, "has_touch": True, "is_mobile": True,
}  # fmt: skip
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
}  # fmt: skip
# By what is written on the keys, or said of them.
TAPS = ["Verse", "1", "4", "join in one bar", "5", "over, the bass", "7", "phrase ends",
        "flat, before a number", "7", "6", "minor", "seventh", "1", "hold"]  # fmt: skip
TYPED = "Verse 1:\n1 4_5/7 . b7 6-^7 1d"


@pytest.mark.parametrize("device", [TABLET, PHONE], ids=["tablet", "phone"])
def test_a_whole_exercise_by_touch_alone(
    house: House, open_page: Opened, device: dict[str, Any]
) -> None:
    """From the caution to the result with a finger; the keypad types the notation."""
    page = open_page(house.url, **device)
    page.get_by_role("button", name="It is comfortable").tap()
    page.get_by_role("button", name="Begin level 1", exact=True).first.tap()
    page.wait_for_url("**/write/*")
    keypad = page.locator("#keypad")
    expect(keypad).to_be_visible()
    page.locator("#play").tap()
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.3")
    page.locator("#text").tap()
    for name in TAPS:
        keypad.get_by_role("button", name=name, exact=True).first.tap()
    expect(page.locator("#text")).to_have_value(TYPED)
    expect(page.locator("#sheet .bar")).to_have_count(5)
    assert_no_sideways(page)
    keypad.get_by_role("button", name="delete").tap()
    expect(page.locator("#text")).to_have_value(TYPED[:-1])
    keypad.get_by_role("button", name="left", exact=True).tap()
    keypad.get_by_role("button", name="0", exact=True).tap()
    expect(page.locator("#text")).to_have_value("Verse 1:\n1 4_5/7 . b7 6-^7 01")
    page.locator("#hand-in").tap()
    page.wait_for_url("**/result/*")
    page.locator("#following").tap()
    expect(page.locator("#chosen")).to_contain_text("ar ")
    page.locator("#hear-written").tap()
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.1")
    assert_no_sideways(page)


def assert_no_sideways(page: Page) -> None:
    """Nothing is wider than the screen."""
    wide, there = page.evaluate(
        "() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert wide <= there


def test_fingers_find_their_targets(house: House, open_page: Opened) -> None:
    """Every button and link by itself is at least 24 by 24 CSS pixels (WCAG 2.2, 2.5.8)."""
    page = open_page(house.url, **PHONE)
    page.get_by_role("button", name="It is comfortable").tap()
    page.get_by_role("button", name="Begin level 1", exact=True).first.tap()
    page.wait_for_url("**/write/*")
    for place in (page.url, f"{house.url}history", house.url):
        page.goto(place)
        small = page.evaluate(
            """() => [...document.querySelectorAll("button, a, input, select, summary")]
            .filter((one) => one.checkVisibility() && one.closest("p, td") === null)
            .map((one) => [one.outerHTML.slice(0, 80), one.getBoundingClientRect()])
            .filter(([, box]) => box.bottom > 0 && (box.width < 24 || box.height < 24))
            .map(([name, box]) => `${name} ${box.width} x ${box.height}`)"""
        )
        assert small == []
