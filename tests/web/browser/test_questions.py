"""What can be read in two ways is asked beside its bar and answered by one key."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.web.browser.house import House, Opened, begin
from tests.web.browser.test_touch import PHONE


def test_a_question_is_answered_by_one_key(known: House, open_page: Opened) -> None:
    """Alt and a number answers the question nearest before the caret, which stays where it is; the
    answer takes the place of what was typed, and is one step to undo."""
    page = open_page(known.url)
    begin(page)
    field, questions = page.locator("#text"), page.locator("#sheet .question")
    page.keyboard.type("1 57 4 57 1")
    expect(questions).to_have_count(2)
    expect(questions.first).to_be_hidden()
    expect(questions.first).to_be_visible()
    expect(questions.first).to_contain_text("5^7, or 5 and then 7?")
    expect(page.locator("#spoken")).to_contain_text("Bar 2: 5^7, or 5 and then 7?")
    expect(page.locator("#sheet .nearest kbd")).to_have_text(["Alt 1", "Alt 2"])
    page.keyboard.press("Alt+2")
    expect(field).to_have_value("1 57 4 5 7 1")
    expect(questions).to_have_count(1)
    page.keyboard.type(" 5")
    expect(field).to_have_value("1 57 4 5 7 1 5")
    field.evaluate("(area) => area.setSelectionRange(0, 0)")
    page.keyboard.press("Alt+1")
    expect(field).to_have_value("1 5^7 4 5 7 1 5")
    assert field.evaluate("(area) => area.selectionStart") == 0
    expect(questions).to_have_count(0)
    page.keyboard.press("Control+z")
    expect(field).to_have_value("1 57 4 5 7 1 5")


def test_a_question_is_answered_by_a_tap(known: House, open_page: Opened) -> None:
    """Each answer is a button for a finger, under the bar it is about."""
    page = open_page(known.url, **PHONE)
    begin(page)
    page.locator("#text").fill("1 57 4")
    question = page.get_by_role("group", name="5^7, or 5 and then 7?")
    button = question.get_by_role("button", name="5 then 7")
    page.locator("#text").blur()
    box = button.bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) >= 44
    button.tap()
    expect(page.locator("#text")).to_have_value("1 5 7 4")


def test_what_is_open_is_asked_about_before_handing_in(known: House, open_page: Opened) -> None:
    """With a question open, then with a gap left, Hand in asks once before it is done."""
    page = open_page(known.url)
    begin(page)
    said = page.locator("#status")
    for text, told in (("1 57 4", "One place isn't clear yet"), ("1 ? 4", "One bar is left open"),
                       ("? ? 4", "2 bars are left open")):  # fmt: skip
        page.locator("#text").fill(text)
        page.keyboard.press("Control+Enter")
        expect(said).to_contain_text(told)
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")
