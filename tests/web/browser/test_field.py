"""The field grows with the song and follows the caret; what hands in is never covered."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.web.browser.house import House, Opened, begin, open_exercise
from tests.web.browser.test_touch import PHONE, TABLET

LINES = "\n".join(f"{number} 4 5 1" for number in range(1, 8)) + "\n"
# Whether the middle of a button is the button, not something over it.
UNCOVERED = """(button) => {
  const { left, top, width, height } = button.getBoundingClientRect();
  const found = document.elementFromPoint(left + width / 2, top + height / 2);
  return found !== null && button.contains(found);
}"""
# Where the caret's line is on the screen, in a field whose text ends with the caret.
CARET = """(area) => {
  const { top } = area.getBoundingClientRect();
  const { paddingBottom } = getComputedStyle(area);
  return top + area.scrollHeight - area.scrollTop - parseFloat(paddingBottom);
}"""


def is_uncovered(page: Page) -> bool:
    """Whether Hand in can be pressed where it is on the screen."""
    found: bool = page.locator("#hand-in").evaluate(UNCOVERED)
    return found


def test_the_field_grows_with_the_song(known: House, open_page: Opened) -> None:
    """The field is as high as its text, and the page goes with the line that is being written;
    Hand in and the band's buttons stay on the screen."""
    page = open_exercise(known, open_page)
    area = page.locator("#text")
    area.focus()
    for _ in range(8):
        page.keyboard.insert_text(LINES)
        scroll, client = area.evaluate("(area) => [area.scrollHeight, area.clientHeight]")
        assert scroll <= client + 1
        hand_in, play = (page.locator(name).bounding_box() for name in ("#hand-in", "#play"))
        assert hand_in is not None
        assert play is not None
        assert play["y"] >= 0
        assert area.evaluate(CARET) <= hand_in["y"]
        assert is_uncovered(page)
    page.keyboard.press("Control+Home")
    page.wait_for_function(
        """() => {
          const band = document.querySelector(".transport").getBoundingClientRect();
          const area = document.getElementById("text");
          const padding = parseFloat(getComputedStyle(area).paddingTop);
          return area.getBoundingClientRect().top + padding >= band.bottom;
        }"""
    )


@pytest.mark.parametrize("device", [TABLET, PHONE], ids=["tablet", "phone"])
def test_a_small_field_follows_the_caret(
    known: House, open_page: Opened, device: dict[str, object]
) -> None:
    """Over the keypad the field is low: it shows the line where the keypad types, and the line
    where the caret is put; Hand in is on the screen all the while."""
    page = open_exercise(known, open_page, **device)
    area, keypad = page.locator("#text"), page.locator("#keypad")
    for number in "1234567":
        keypad.get_by_role("button", name=number, exact=True).tap()
        keypad.get_by_role("button", name="new line", exact=True).tap()
        box = area.bounding_box()
        assert box is not None
        assert area.evaluate(CARET) <= box["y"] + box["height"]
        assert is_uncovered(page)
    assert area.evaluate("(area) => area.scrollTop") > 0
    area.focus()
    area.evaluate("(area) => area.setSelectionRange(0, 0)")
    expect(area).to_have_js_property("scrollTop", 0)


@pytest.mark.parametrize("device", [TABLET, PHONE], ids=["tablet", "phone"])
def test_keys_are_made_for_fingers(
    known: House, open_page: Opened, device: dict[str, object]
) -> None:
    """Every key of the keypad, and every button for a bar, is at least 44 by 44 CSS pixels."""
    page = open_exercise(known, open_page, **device)
    page.locator("#text").fill("1 4 5 1")
    page.locator("#sheet .bar-button").nth(1).tap()
    expect(page.locator("#bar-tools")).to_be_visible()
    small = page.evaluate(
        """() => [...document.querySelectorAll("#keypad button, #bar-tools button, #hand-in")]
        .map((one) => [one.innerText, one.getBoundingClientRect()])
        .filter(([, box]) => box.width < 44 || box.height < 44)
        .map(([name, box]) => `${name} ${box.width} x ${box.height}`)"""
    )
    assert small == []


def test_a_keyboard_on_the_screen_covers_nothing(known: House, open_page: Opened) -> None:
    """When a keyboard on the screen takes the foot of the page, Hand in stands above it."""
    page = open_exercise(known, open_page, **PHONE)
    page.locator("#keypad-toggle").tap()
    page.locator("#text").tap()
    covered = 336
    page.evaluate(
        """(covered) => {
          const view = visualViewport;
          const height = innerHeight - covered;
          Object.defineProperty(view, "height", { get: () => height });
          view.dispatchEvent(new Event("resize"));
        }""",
        covered,
    )
    height = page.evaluate("innerHeight") - covered
    for _ in range(3):
        page.keyboard.insert_text(LINES)
        box = page.locator("#hand-in").bounding_box()
        assert box is not None
        assert 0 <= box["y"] <= height - box["height"]
        assert page.locator("#text").evaluate(CARET) <= box["y"]


def test_letters_are_written_for_those_who_hear_letters(known: House, open_page: Opened) -> None:
    """A learner who chooses letters writes them, on the keypad too, and sees the numbers on the
    sheet; the choice holds for the next song, and can be undone.
    """
    page = open_exercise(known, open_page)
    key = page.locator(".heading .muted").inner_text().partition("key of ")[2][0]
    page.get_by_label("I write").select_option("letters")
    expect(page.locator("#text")).to_have_value("chords: letters\n")
    expect(page.locator("#sheet .empty")).to_be_visible()
    page.locator("#keypad-toggle").click()
    for name in (key, "minor", "0: none, a bar without a chord"):
        page.locator("#keypad").get_by_role("button", name=name, exact=True).click()
    expect(page.locator("#text")).to_have_value(f"chords: letters\n{key}- 0")
    expect(page.locator("#sheet .bar-button").first).to_contain_text("one minor")
    page.goto(known.url)
    begin(page, 2)
    expect(page.locator("#text")).to_have_value("chords: letters\n")
    page.get_by_label("I write").select_option("numbers")
    expect(page.locator("#text")).to_have_value("")
    page.locator("#text").focus()
    page.keyboard.press("Control+z")
    expect(page.get_by_label("I write")).to_have_value("letters")
