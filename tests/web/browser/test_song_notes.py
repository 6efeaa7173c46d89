"""What a session chart carries, on the page of a song of one's own."""

from __future__ import annotations

import os
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.web.browser.house import House, Opened
from tests.web.browser.test_songbook import write

SESSION = """title: Ferry Bell
key: Bb
capo: 3
count-off: 2 bars
@ Friday's singer wants it slower

Verse 1: [drums out] [half the band]
@ she sings behind the beat
1 1 [build] 5 5 . 1 [keys in] 4 5/7 5c
*12+4 1 *13 (5'' 1''p) [2/4] 5 1d @ watch the hits

Chorus: [full band]
1 4 [up 2] [guitar answers the vocal] 5 1 . 1 4 [hey, shout] *1234 5 1
"""


def open_song(known: House, open_page: Opened, text: str = SESSION, **how: object) -> Page:
    """A new song on the page with a text written into it."""
    page = open_page(f"{known.url}songbook", **how)
    page.get_by_role("button", name="New song").click()
    # The page's scripts are there once they have told the keys.
    expect(page.locator("#keys li").first).to_be_visible()
    write(page, text)
    return page


def test_notes_stand_over_their_bars(known: House, open_page: Opened) -> None:
    """Notes are over the bar or under the section's name, and a screen reader hears them there."""
    page = open_song(known, open_page)
    drawing = page.locator("#drawing")
    expect(drawing.locator(".bar")).to_have_count(20)
    expect(drawing.locator(".label").first.locator(".players")).to_have_text(
        ["drums out", "half the band"]
    )
    third = drawing.locator(".bar").nth(2)
    expect(third.locator(".players")).to_have_text("build")
    expect(third).to_contain_text("build: five")
    hits = drawing.locator(".bar").nth(8)
    expect(hits.locator(".strip .hit")).to_have_count(3)
    expect(hits).to_contain_text("hits on one, the and of two and four")
    above = third.locator(".players").bounding_box()
    number = third.locator(".degree").bounding_box()
    assert above is not None
    assert number is not None
    assert above["y"] + above["height"] <= number["y"] + 2
    expect(drawing.locator(".sheet-top")).to_contain_text("Guitar: capo 3, shapes of G")
    expect(drawing.locator(".remark")).to_have_text(
        ["Friday's singer wants it slower", "she sings behind the beat", "watch the hits"]
    )
    for place, folder in [(page, os.environ.get("NOTE_PICTURES"))]:
        if folder:
            place.screenshot(path=Path(folder) / "desktop.png", full_page=True)


def test_a_word_of_the_list_is_written_at_the_caret(known: House, open_page: Opened) -> None:
    """The words that the band knows stand on the page, and a press writes one before the bar."""
    page = open_song(known, open_page, "1 4 ")
    page.locator("#band-words summary").click()
    page.locator("#band-words").get_by_role("button", name="drums out", exact=True).click()
    page.keyboard.type("5 1!")
    expect(page.locator("#text")).to_have_value("1 4 [drums out] 5 1")
    page.keyboard.type(" [hey!")
    expect(page.locator("#text")).to_have_value("1 4 [drums out] 5 1 [hey!")
