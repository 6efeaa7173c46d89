"""Only what differs is typed: keys for the line above, the last section, and gaps; all undone."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.web.browser.house import House, Opened, open_exercise

PASTE = """async ([what, text, caret]) => {
  const fast = await import("/static/fast_writing.js");
  const found = fast[what](text, caret ?? text.length);
  return found && text.slice(0, found.at) + found.put + text.slice(found.at);
}"""
LINES = [
    ("1 4 5 1\n", "1 4 5 1\n1 4 5 1"),
    ("1 4 5 1\n6- 4", "1 4 5 1\n6- 4 5 1"),
    ("1 1 5 5 . 1 4 5 1\n6- 4 1 1", "1 1 5 5 . 1 4 5 1\n6- 4 1 1 . 1 4 5 1"),
    ("1 1 5 5 . 1 4 5 1\n6- 4 1 1 .", "1 1 5 5 . 1 4 5 1\n6- 4 1 1 . 1 4 5 1"),
    ("1 4 5 1", "1 4 5 1\n1 4 5 1"),
    ("1155\n44", "1155\n44 55"),
    ("Verse:\n1 4 5 1\n\nChorus:\n", "Verse:\n1 4 5 1\n\nChorus:\n1 4 5 1"),
    ("1 [2/4] 5 4 1\n6-", "1 [2/4] 5 4 1\n6- [2/4] 5 4 1"),
    ("1 (4 5/7) 1\n6-", "1 (4 5/7) 1\n6- (4 5/7) 1"),
    ("key: D\n", None),
    ("V1: 1 4 5 1\n", "V1: 1 4 5 1\n1 4 5 1"),
    ("V1: 1 4 5 1\nC: 6-", "V1: 1 4 5 1\nC: 6- 4 5 1"),
]
SECTIONS = [
    ("Verse 1:\n1 4\n5 1\n\nChorus:\n4 5\n\nVerse 2:\n",
     "Verse 1:\n1 4\n5 1\n\nChorus:\n4 5\n\nVerse 2:\n1 4\n5 1"),
    ("Verse 1:\n1 4\n5 1\n\nVerse 2:\n6- 4\n", "Verse 1:\n1 4\n5 1\n\nVerse 2:\n6- 4\n5 1"),
    ("V1:\n1 4\n\n[Verse 2]", "V1:\n1 4\n\n[Verse 2]\n1 4"),
    ("Verse 1:\n1 4\n\nBridge:\n", None),
    ("V1\n1 4\n\nV2\n", "V1\n1 4\n\nV2\n1 4"),
    ("Chorus (all in)\n4 5\n\nCh\n", "Chorus (all in)\n4 5\n\nCh\n4 5"),
    ("V1: 1 4\n5 1\nC: 4 5\nV2:", "V1: 1 4\n5 1\nC: 4 5\nV2:\n1 4\n5 1"),
]  # fmt: skip


def test_what_is_pasted(browser_page: Page) -> None:
    """A key writes the line above, or the rest of it; another the last section of that name, or
    the rest of it."""
    for what, cases in (("lineAbove", LINES), ("lastSection", SECTIONS)):
        for text, expected in cases:
            assert browser_page.evaluate(PASTE, [what, text, None]) == expected, text


def test_keys_write_what_comes_again(known: House, open_page: Opened) -> None:
    """In the text = & ? and ! act while the band plays, and with the keys off are typed."""
    page = open_exercise(known, open_page)
    field = page.locator("#text")
    expect(field).to_have_accessible_description(
        "= The line above, or the rest of it & The last section of that name "
        "? Don’t know yet: a gap ! Next gap"
    )
    page.keyboard.press("Alt+p")
    page.keyboard.type("Verse 1:\n1 ?? 1\n=")
    expect(field).to_have_value("Verse 1:\n1 ? ? 1\n1 ? ? 1")
    page.keyboard.type("\n\nVerse 2:\n6- 4\n&")
    expect(field).to_have_value("Verse 1:\n1 ? ? 1\n1 ? ? 1\n\nVerse 2:\n6- 4\n1 ? ? 1")
    page.keyboard.type("!4!5")
    expect(field).to_have_value("Verse 1:\n1 4 5 1\n1 ? ? 1\n\nVerse 2:\n6- 4\n1 ? ? 1")
    assert not page.evaluate("document.getElementById('song').paused")
    page.locator("#key-toggle").uncheck()
    field.fill("")
    field.focus()
    page.keyboard.type("1=?")
    expect(field).to_have_value("1=?")


def test_a_word_is_typed_as_it_is(known: House, open_page: Opened) -> None:
    """In a name of a section the signs of the keys are signs."""
    page = open_exercise(known, open_page)
    page.keyboard.type("Verse & Chorus!")
    expect(page.locator("#text")).to_have_value("Verse & Chorus!")


def test_each_step_is_undone(known: House, open_page: Opened) -> None:
    """A word, a space, a paste by key and each tap on the keypad are one step, to be undone and
    done again by keys and by the keypad's own."""
    page = open_exercise(known, open_page)
    field = page.locator("#text")
    page.locator("#keypad-toggle").click()
    keypad = page.locator("#keypad")
    undo = keypad.get_by_role("button", name="undo", exact=True)
    redo = keypad.get_by_role("button", name="redo", exact=True)
    expect(undo).to_be_disabled()
    field.focus()
    steps = [""]
    for typed, text in (("1", "1"), (" ", "1 "), ("6-", "1 6-"), ("=", "1 6-\n1 6-")):
        page.keyboard.type(typed)
        steps.append(text)
    for tapped, more in (("4", " 4"), ("minor", "-"), ("don’t know yet: leave a gap", " ?")):
        keypad.get_by_role("button", name=tapped, exact=True).click()
        steps.append(steps[-1] + more)
    expect(field).to_have_value(steps[-1])
    for number, text in enumerate(reversed(steps[:-1])):
        undo.click() if number % 2 else page.keyboard.press("Control+z")
        expect(field).to_have_value(text)
    expect(undo).to_be_disabled()
    for number, text in enumerate(steps[1:]):
        redo.click() if number % 2 else page.keyboard.press("Control+y")
        expect(field).to_have_value(text)
    expect(redo).to_be_disabled()


def test_an_edit_on_the_sheet_is_one_step(known: House, open_page: Opened) -> None:
    """All that was typed into a bar of the sheet is undone at once, while it is typed, from the
    bar and from the text."""
    page = open_exercise(known, open_page)
    field, first = page.locator("#text"), page.locator("#sheet .bar-button").first
    page.keyboard.type("1 4")
    expect(page.locator("#sheet .bar")).to_have_count(2)
    for leave in (None, first, field):
        first.click()
        page.keyboard.type("5/7")
        expect(field).to_have_value("5/7 4")
        if leave is not None:
            page.keyboard.press("Enter")
            expect(first).to_be_focused()
            leave.focus()
        page.keyboard.press("Control+z")
        expect(field).to_have_value("1 4")


def test_the_browsers_own_undo_is_ours(known: House, open_page: Opened) -> None:
    """Undo from the browser's menu takes back what the text's own undo would."""
    page = open_exercise(known, open_page)
    page.keyboard.type("1 4 5\n=")
    expect(page.locator("#text")).to_have_value("1 4 5\n1 4 5")
    page.locator("#text").evaluate(
        "(area) => area.dispatchEvent(new InputEvent('beforeinput', "
        "{ inputType: 'historyUndo', cancelable: true }))"
    )
    expect(page.locator("#text")).to_have_value("1 4 5\n")
