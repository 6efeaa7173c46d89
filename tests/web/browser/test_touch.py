from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.web.browser.house import House, Opened, open_exercise

TABLET: dict[str, Any] = {
    "viewport": {"width": 820, "height": 1180}, "has_touch": True, "is_mobile": True,
}  # fmt: skip
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
}  # fmt: skip
# By what is written on the keys, or said of them.
TAPS = ["Verse", "1", "split: a bar of several chords begins", "4", "5", "over, the bass", "7",
        "split: the bar ends", "phrase ends", "flat, before a number", "7", "6",
        "minor", "seventh", "1", "hold"]  # fmt: skip
TYPED = "Verse 1:\n1 (4 5/7) . b7 6-^7 1d"


@pytest.mark.parametrize("device", [TABLET, PHONE], ids=["tablet", "phone"])
def test_a_whole_exercise_by_touch_alone(
    house: House, open_page: Opened, device: dict[str, Any]
) -> None:
    """From the caution to the result with a finger; the keypad types the notation."""
    page = open_page(house.url, **device)
    page.get_by_role("button", name="It's comfortable").tap()
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
    assert_words_fit(page)
    keypad.get_by_role("button", name="delete").tap()
    expect(page.locator("#text")).to_have_value(TYPED[:-1])
    keypad.get_by_role("button", name="left", exact=True).tap()
    keypad.get_by_role("button", name="0: none, a bar without a chord").tap()
    expect(page.locator("#text")).to_have_value("Verse 1:\n1 (4 5/7) . b7 6-^7 01")
    page.locator("#hand-in").tap()
    page.wait_for_url("**/result/*")
    page.locator("#next-mistake").tap()
    expect(page.locator("#selection")).to_contain_text("ar ")
    page.locator(".pair[data-written]").first.tap()
    page.locator("#hear-written").tap()
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.1")
    assert_no_sideways(page)


def assert_no_sideways(page: Page) -> None:
    """Nothing is wider than the screen."""
    wide, there = page.evaluate(
        "() => [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert wide <= there


def assert_words_fit(page: Page) -> None:
    """Nothing written on a key runs over it."""
    over = page.evaluate(
        "() => [...document.querySelectorAll('#keypad button')]"
        ".filter((key) => key.scrollWidth > key.clientWidth).map((key) => key.innerText)"
    )
    assert over == []


@pytest.mark.parametrize("size", [(820, 1180), (1180, 820), (1024, 768)])
def test_the_keypad_stays_where_it_is(
    known: House, open_page: Opened, size: tuple[int, int]
) -> None:
    """On a tablet held either way all keys, the text and Hand in are on the screen, and stay there
    while the sheet grows; the sheet follows the caret."""
    width, height = size
    page = open_exercise(
        known, open_page, **(TABLET | {"viewport": {"width": width, "height": height}})
    )
    keypad, hand_in = page.locator("#keypad"), page.locator("#hand-in")
    places = [keypad.bounding_box(), hand_in.bounding_box()]
    page.locator("#text").fill("Verse 1:\n" + "1 4 5 1\n" * 20 + "Tag:\n6- 6-")
    expect(page.locator("#sheet .bar")).to_have_count(82)
    assert [keypad.bounding_box(), hand_in.bounding_box()] == places
    assert page.evaluate("() => scrollY") == 0
    for box in places:
        assert box is not None
        assert box["y"] + box["height"] <= height
    keys, button = places
    assert keys is not None
    assert button is not None
    assert button["y"] + button["height"] <= keys["y"]
    expect(page.locator("#sheet .bar").last).to_be_in_viewport()
    page.evaluate("() => document.getElementById('text').setSelectionRange(0, 0)")
    expect(page.locator("#sheet .bar").first).to_be_in_viewport()
    assert_words_fit(page)


def test_fingers_find_their_targets(house: House, open_page: Opened) -> None:
    """Every button and link by itself is at least 24 by 24 CSS pixels (WCAG 2.2, 2.5.8)."""
    page = open_page(house.url, **PHONE)
    page.get_by_role("button", name="It's comfortable").tap()
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
