"""The sheet is written on: its bars are walked, edited, added and removed, and the text follows."""

from __future__ import annotations

from playwright.sync_api import Locator, Page, expect

from tests.web.browser.house import House, Opened, open_exercise

EDIT = """async ([what, text, start, end, next]) => {
  const edits = await import("/static/bar_edits.js");
  const bar = { start, end };
  const { span, put } = what === "phrase"
    ? edits.togglePhraseEnd(text, bar, next, /[.\\n]/.test(text.slice(end, next.start)))
    : edits[what](text, bar, "6-");
  return text.slice(0, span.start) + put + text.slice(span.end);
}"""


def write(page: Page, text: str) -> None:
    """Write a text, and wait for its sheet."""
    page.locator("#text").fill(text)
    page.locator("#text").evaluate("(area) => area.setSelectionRange(0, 0)")
    expect(page.locator("#sheet .bar").first).to_be_visible()


def bar(page: Page, number: int) -> Locator:
    """The button of a bar on the sheet."""
    return page.locator("#sheet .bar-button").nth(number - 1)


def text_of(page: Page) -> Locator:
    """The field of the text."""
    return page.locator("#text")


def test_a_bar_is_edited_where_it_stands(known: House, open_page: Opened) -> None:
    """A click opens a field on the bar; what is typed there replaces the bar in the text at once,
    on the sheet, and in what the server keeps; Enter is done."""
    page = open_exercise(known, open_page)
    write(page, "Verse:\n1 4 5 1")
    bar(page, 3).click()
    field = page.locator("#bar-field")
    expect(field).to_be_focused()
    expect(field).to_have_value("5")
    page.keyboard.type("5/7")
    expect(text_of(page)).to_have_value("Verse:\n1 4 5/7 1")
    expect(page.locator("#mirror mark")).to_have_text("5/7")
    page.keyboard.press("Enter")
    expect(field).to_be_hidden()
    expect(bar(page, 3)).to_be_focused()
    expect(bar(page, 3)).to_contain_text("five over seven, bar 3")


def test_bars_are_walked_with_the_arrows(known: House, open_page: Opened) -> None:
    """From the text one Tab leads to the sheet; arrows go from bar to bar and from line to line;
    what is typed on a bar goes into it, and Escape leads back to the text at that bar."""
    page = open_exercise(known, open_page)
    write(page, "1 4 5 1\n6- 2- 5 1")
    expect(page.locator("#sheet .bar")).to_have_count(8)
    bar(page, 1).focus()
    for key, number in [("ArrowRight", 2), ("ArrowDown", 6), ("End", 8), ("ArrowUp", 4),
                        ("ArrowLeft", 3), ("Home", 1)]:  # fmt: skip
        page.keyboard.press(key)
        expect(bar(page, number)).to_be_focused()
        expect(page.locator("#sheet [tabindex='0']")).to_have_count(1)
    page.keyboard.press("ArrowRight")
    page.keyboard.type("b7")
    page.keyboard.press("ArrowRight")
    expect(bar(page, 3)).to_be_focused()
    expect(text_of(page)).to_have_value("1 b7 5 1\n6- 2- 5 1")
    page.keyboard.press("Escape")
    expect(text_of(page)).to_be_focused()
    assert page.evaluate("document.getElementById('text').selectionStart") == 6


def test_text_and_sheet_show_the_same_bar(known: House, open_page: Opened) -> None:
    """The bar that the caret is at is marked on the sheet; the bar that is chosen on the sheet is
    marked in the text."""
    page = open_exercise(known, open_page)
    write(page, "1 4 5/7 1")
    page.locator("#text").focus()
    for place, number in [(0, 1), (3, 2), (5, 3), (9, 4)]:
        page.evaluate(f"document.getElementById('text').setSelectionRange({place}, {place})")
        expect(page.locator("#sheet [aria-current]")).to_have_count(1)
        expect(bar(page, number)).to_have_attribute("aria-current", "true")
    bar(page, 3).focus()
    expect(page.locator("#mirror mark")).to_have_text("5/7")
    expect(page.locator("#sheet [aria-current]")).to_have_count(0)
    page.locator("#text").focus()
    expect(page.locator("#mirror mark")).to_have_count(0)


def test_bars_come_and_go_on_the_sheet(known: House, open_page: Opened) -> None:
    """A bar is added after one, removed, and a phrase ended and joined there, by key and by
    button; each is one step to undo."""
    page = open_exercise(known, open_page)
    write(page, "1 4 5 1\n6- 4 5 1")
    expect(page.locator("#sheet .bar")).to_have_count(8)
    bar(page, 2).focus()
    page.keyboard.press("+")
    expect(page.locator("#bar-field")).to_be_focused()
    page.keyboard.type("2-")
    page.keyboard.press("Enter")
    expect(text_of(page)).to_have_value("1 4 2- 5 1\n6- 4 5 1")
    expect(bar(page, 3)).to_be_focused()
    page.keyboard.press("Delete")
    expect(text_of(page)).to_have_value("1 4 5 1\n6- 4 5 1")
    expect(page.locator("#sheet .bar")).to_have_count(8)
    expect(page.locator("#sheet .bar-button:focus")).to_have_count(1)
    bar(page, 2).focus()
    page.keyboard.press(".")
    expect(text_of(page)).to_have_value("1 4 . 5 1\n6- 4 5 1")
    expect(bar(page, 2)).to_be_focused()
    expect(page.locator("#bar-tools")).to_contain_text("Join the phrases")
    page.get_by_role("button", name="Join the phrases").click()
    expect(text_of(page)).to_have_value("1 4 5 1\n6- 4 5 1")
    page.get_by_role("button", name="Remove").click()
    expect(text_of(page)).to_have_value("1 5 1\n6- 4 5 1")
    for before in ("1 4 5 1\n6- 4 5 1", "1 4 . 5 1\n6- 4 5 1", "1 4 5 1\n6- 4 5 1",
                   "1 4 2- 5 1\n6- 4 5 1", "1 4 5 1\n6- 4 5 1"):  # fmt: skip
        page.keyboard.press("Control+z")
        expect(text_of(page)).to_have_value(before)
    page.keyboard.press("Control+Shift+z")
    expect(text_of(page)).to_have_value("1 4 2- 5 1\n6- 4 5 1")


def test_no_key_is_lost_while_the_sheet_is_drawn(known: House, open_page: Opened) -> None:
    """What is typed on a bar before the sheet shows the last change goes into the bar all the
    same, also into one that is only just added."""
    page = open_exercise(known, open_page)
    page.evaluate(
        """() => {
          const { fetch } = window;
          window.fetch = async (...asked) => {
            await new Promise((done) => setTimeout(done, 300));
            return fetch(...asked);
          };
        }"""
    )
    for keys, text in (("b7", "b7 5"), ("+b7", "4 b7 5")):
        write(page, "1 4 5")
        expect(page.locator("#sheet .bar")).to_have_count(3)
        bar(page, 1).focus()
        page.keyboard.press("Delete")
        page.keyboard.type(keys)
        expect(page.locator("#bar-field")).to_be_visible()
        expect(page.locator("#bar-field")).to_have_value("b7")
        page.keyboard.press("Enter")
        expect(text_of(page)).to_have_value(text)
        expect(page.locator("#bar-field")).to_be_hidden()
        expect(page.locator("#sheet .bar-button:focus")).to_have_count(1)


def test_escape_leaves_a_bar_as_it_was(known: House, open_page: Opened) -> None:
    """Escape takes back what was typed on a bar, and a bar that was only just added."""
    page = open_exercise(known, open_page)
    write(page, "1 4 5")
    bar(page, 2).click()
    page.keyboard.type("b7^maj7")
    page.keyboard.press("Escape")
    expect(text_of(page)).to_have_value("1 4 5")
    expect(bar(page, 2)).to_be_focused()
    page.keyboard.press("+")
    page.keyboard.type("6")
    page.keyboard.press("Escape")
    expect(text_of(page)).to_have_value("1 4 5")
    expect(page.locator("#bar-field")).to_be_hidden()


def test_a_message_stands_at_its_bar(known: House, open_page: Opened) -> None:
    """What is not clear about a bar is said under it and with it; what is in no bar is said at its
    line, and leads to its place in the text."""
    page = open_exercise(known, open_page)
    page.locator("#text").fill("meter: 9/17\n1 4 x 5")
    page.locator("#play-tonic").focus()
    wrong = page.locator("#sheet .bar", has=page.locator(".note"))
    expect(wrong).to_have_count(1)
    expect(wrong.locator(".note")).to_contain_text("found x")
    expect(bar(page, 3)).to_have_accessible_description("found x, expected a number 1–7, or 0 for "
                                                        "a bar with no chord")  # fmt: skip
    page.get_by_role("button", name="Line 1").click()
    assert page.evaluate("document.getElementById('text').selectionStart") == len("meter: ")
    bar(page, 3).click()
    page.keyboard.type("6-")
    expect(page.locator("#sheet .bar .note")).to_have_count(0)


CASES = [
    ("removeBar", "1 4 5", 2, "1 5"), ("removeBar", "1 4 5", 0, "4 5"),
    ("removeBar", "1 4 5", 4, "1 4"), ("removeBar", "1 4 . 5 1", 6, "1 4 . 1"),
    ("removeBar", "1 . 5 1", 0, "5 1"), ("removeBar", "4\n1\n5", 2, "4\n5"),
    ("removeBar", "4\n1", 2, "4"), ("removeBar", "1 4 . 5", 6, "1 4 . "),
    ("removeBar", "5472", 1, "5 72"),
    ("replaceBar", "1155", 1, "1 6- 55"), ("replaceBar", "1 4 5", 2, "1 6- 5"),
    ("roomAfter", "1 4 5", 2, "1 4  5"), ("roomAfter", "1155", 1, "11  55"),
]  # fmt: skip


def test_the_text_is_left_tidy(browser_page: Page) -> None:
    """Whatever is done to a bar, those beside it stay what they were."""
    for what, text, at, expected in CASES:
        assert browser_page.evaluate(EDIT, [what, text, at, at + 1, None]) == expected


def test_phrases_are_ended_and_joined_over_lines(browser_page: Page) -> None:
    """A dot, a line end or both between two bars of a section are what ends a phrase there."""
    for text, expected in [("1 4 5", "1 . 4 5"), ("1 . 4 5", "1 4 5"), ("1\n4 5", "1 4 5"),
                           ("1 .\n\n4 5", "1 4 5"), ("1|4|5", "1 . | 4|5")]:  # fmt: skip
        second = {"start": text.index("4"), "end": text.index("4") + 1}
        assert browser_page.evaluate(EDIT, ["phrase", text, 0, 1, second]) == expected
