"""The sheet is brought up to what is typed: only lines that changed are sent and drawn anew."""

from __future__ import annotations

import random

from playwright.sync_api import Page, expect

from tests.web.browser.house import House, Opened, open_exercise

# Draws each text over the one before, as the page does, and into a sheet of its own from nothing.
# Gives the number of lines that were sent whole, and both sheets as HTML.
DRAW_ALL = """async ([place, texts]) => {
  const { patchSheet, shownLines } = await import("/static/sheet_patch.js");
  const ask = async (body, shown) => {
    const headers = shown ? { "Shown-Lines": shown } : {};
    return (await fetch(place, { method: "POST", body, headers })).text();
  };
  const plain = (element) => element.innerHTML.replaceAll(/>\\s+</g, "><").trim();
  const drawing = document.createElement("div"), found = [];
  for (const text of texts) {
    const sent = await ask(text, shownLines(drawing));
    patchSheet(drawing, sent);
    const whole = document.createElement("div");
    whole.innerHTML = await ask(text);
    found.push([sent.match(/data-key="\\w+" class/g)?.length ?? 0, plain(drawing), plain(whole)]);
  }
  return [found, drawing.innerHTML.length - plain(drawing).length];
}"""
TEXTS = (
    "",
    "1 4 5 1",
    "1 4 5 1\n6- 2- 5 1",
    "1 4 5 1\nChorus:\n6- 2- 5 1",
    "Verse:\n1 4 5 1\nChorus:\n6- 2- 5 1",
    "Verse:\n1 4 5 1\nBridge:\n4 4\nChorus:\n6- 2- 5 1",
    "Verse:\n1 4 5 1\nChorus:\n6- 2- 5 1",
    "Verse:\n1 4 x 1\nChorus:\n6- 2- 5 A",
    "6- 2- 5 1\n1 4 5 1",
    "wrong at once\n1 4 5 1",
    "1 4 5 1\n1 4 5 1\n1 4 5 1",
    "1 4 5 1\n1 4 5 1",
    "",
    "1",
)


def drawn(page: Page, known: House, texts: list[str]) -> tuple[list[int], int]:
    """How many lines were sent for each text, and how much white space stands in the last sheet;
    fails where a sheet is not the one drawn from nothing."""
    place = f"/preview/{page.locator('#main').get_attribute('data-exercise')}"
    found, space = page.evaluate(DRAW_ALL, [place, texts])
    for text, (_, patched, whole) in zip(texts, found, strict=True):
        assert patched == whole, text
    return [sent for sent, *_ in found], space


def test_a_sheet_that_is_brought_up_is_the_whole_sheet(known: House, open_page: Opened) -> None:
    """Whatever a text becomes (sections and lines added, moved and removed, messages, nothing), the
    sheet is the one that would be drawn from nothing."""
    page = open_exercise(known, open_page)
    sent, _ = drawn(page, known, list(TEXTS))
    assert sent[TEXTS.index("Verse:\n1 4 5 1\nBridge:\n4 4\nChorus:\n6- 2- 5 1")] == 2
    assert sent[-3] == 0


def test_random_edits(known: House, open_page: Opened) -> None:
    """The same holds for lines and labels that are put in, changed and removed in any order, and
    white space does not pile up in the sheet."""
    page = open_exercise(known, open_page)
    rng = random.Random(4)
    lines, texts = ["1 4 5 1"] * 6, []
    for _ in range(80):
        at = rng.randrange(len(lines) + 1)
        new = rng.choice(("Verse:", "1 4", "6- (2- 5)", "x y", "", "5/7 . 1", "Chorus:"))
        lines[at : at + rng.randrange(3)] = [new] * rng.randrange(3) or ["1"]
        texts.append("\n".join(lines))
    sent, space = drawn(page, known, texts)
    assert sum(sent) < sum(text.count("\n") + 1 for text in texts)
    assert space < 10 * len(lines) + 100


def test_lines_that_did_not_change_stay(known: House, open_page: Opened) -> None:
    """What is typed in one line leaves the elements of all others where they are, and the server
    sends that line alone."""
    page = open_exercise(known, open_page)
    page.locator("#text").fill("1 4 5 1\n6- 2- 5 1\n4 4")
    expect(page.locator("#sheet .bar")).to_have_count(10)
    page.evaluate("for (const line of document.querySelectorAll('#sheet .line')) line.before_ = 1")
    page.locator("#text").press("Control+End")
    with page.expect_response("**/preview/**") as answer:
        page.keyboard.type(" ")
    answer.value.finished()
    with page.expect_response("**/preview/**") as answer:
        page.keyboard.type("5")
    assert answer.value.text().count('data-column="') == 3
    expect(page.locator("#sheet .bar")).to_have_count(11)
    kept = "[...document.querySelectorAll('#sheet .line')].map((line) => line.before_ ?? 0)"
    assert page.evaluate(kept) == [1, 1, 0]
