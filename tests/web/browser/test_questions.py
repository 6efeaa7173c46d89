"""What can be read in two ways is asked beside its bar and answered by one key."""

from __future__ import annotations

from playwright.sync_api import Route, expect

from tests.web.browser.house import House, Opened, begin, open_exercise
from tests.web.browser.test_access import check
from tests.web.browser.test_touch import PHONE


def test_a_question_is_answered_by_one_key(known: House, open_page: Opened) -> None:
    """Alt and a number answers the question nearest before the caret, which stays where it is; the
    answer takes the place of what was typed, and is one step to undo."""
    page = open_exercise(known, open_page)
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


def test_an_answer_before_the_sheet_is_drawn_waits_for_it(known: House, open_page: Opened) -> None:
    """While the drawing of the last key is under way, Alt and a number is not lost: it answers the
    question when the sheet is drawn."""
    page = open_exercise(known, open_page)
    field = page.locator("#text")
    page.keyboard.type("1 57 4")
    expect(page.locator("#sheet .question")).to_have_count(1)
    held: list[Route] = []
    page.route("**/preview/*", lambda route: held.append(route))  # noqa: PLW0108 - Playwright sets an attribute on it
    page.keyboard.type(" 5")
    page.keyboard.press("Alt+1")
    expect(field).to_have_value("1 57 4 5")
    for route in held:
        route.continue_()
    expect(field).to_have_value("1 5^7 4 5")


def test_a_question_is_answered_by_a_tap(known: House, open_page: Opened) -> None:
    """Each answer is a button for a finger, under the bar it is about."""
    page = open_exercise(known, open_page, **PHONE)
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
    page = open_exercise(known, open_page)
    said = page.locator("#status")
    for text, told in (("1 57 4", "One place isn't clear yet"), ("1 ? 4", "One bar is left open"),
                       ("? ? 4", "2 bars are left open")):  # fmt: skip
        page.locator("#text").fill(text)
        page.keyboard.press("Control+Enter")
        expect(said).to_contain_text(told)
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")


def test_letters_are_told_once_and_read_by_one_button(known: House, open_page: Opened) -> None:
    """Chords in letters have one note for the song, whose button has them read as letters."""
    page = open_page(known.url)
    begin(page)
    key = page.locator(".heading .muted").inner_text().partition("key of ")[2].split()[0]
    page.locator("#text").fill(f"{key} {key}\n{key} {key}")
    page.locator("#text").blur()
    expect(page.locator("#sheet .note")).to_have_count(1)
    expect(page.locator("#sheet .note")).to_contain_text("4 chords are letters")
    check(page, "write, in letters where numbers are expected")
    page.get_by_role("button", name="I write letters").click()
    expect(page.locator("#text")).to_have_value(f"chords: letters\n{key} {key}\n{key} {key}")
    expect(page.locator("#sheet .note")).to_have_count(0)
    expect(page.locator("#chord-names")).to_have_value("letters")


def test_one_answer_goes_for_the_whole_song(known: House, open_page: Opened) -> None:
    """Bar lines are asked about once, by one key, and lines typed later are read alike; accents
    are answered in all places in one step."""
    page = open_page(known.url)
    begin(page)
    field = page.locator("#text")
    field.fill("| 1 4 5 1 | 4 4 1 1 |\n| 1 4 5 1 | 4 4 1 1 |\n")
    expect(page.locator("#sheet .question")).to_have_count(1)
    field.focus()
    page.keyboard.press("Alt+2")
    expect(field).to_have_value("bar lines: bars\n| 1 4 5 1 | 4 4 1 1 |\n| 1 4 5 1 | 4 4 1 1 |\n")
    field.press_sequentially("| 1 1 5 1 | 4 4 1 1 |")
    expect(page.locator("#sheet .bar")).to_have_count(6)
    expect(page.locator("#sheet .question")).to_have_count(0)
    field.fill("^1 4\n^1 5")
    field.blur()
    page.locator("#sheet .question").get_by_role("button", name="push").click()
    expect(field).to_have_value("1p 4\n1p 5")
