"""Missed bars practised in the browser."""

from __future__ import annotations

from functools import partial

from playwright.sync_api import Route, expect

from tests.web.browser.house import House, Opened, open_exercise
from tests.web.browser.test_access import check
from tests.web.browser.test_keyboard import reference


def keep(held: list[Route], route: Route) -> None:
    """Hold a request on to the server."""
    held.append(route)


def let_go(held: list[Route]) -> None:
    """Send the requests that are held on to the server."""
    while held:
        held.pop().continue_()


def test_bars_are_practised_by_keyboard_until_they_are_right(
    known: House, open_page: Opened
) -> None:
    """From a wrong bar to its loop, a wrong try and two right ones; the band goes on meanwhile."""
    page = open_exercise(known, open_page, color_scheme="light")
    chords = [str(bar.events[0].chord) for bar in reference(known, page).bars()]
    page.keyboard.type(" ".join([*chords[:2], "7o", *chords[3:]]))
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")
    expect(page.locator("#selection")).to_contain_text("Bar 3: the band played")
    page.get_by_role("button", name="Practise these bars").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/bars/*")
    text = page.locator("#text")
    expect(text).to_be_focused()
    expect(text).to_have_value(f"{chords[1]} ")
    check(page, "bars to practise")
    page.evaluate(
        "() => document.getElementById('song').addEventListener('seeked', () => "
        "{ window.turns = (window.turns ?? 0) + 1; })"
    )
    page.keyboard.press("Alt+p")
    page.wait_for_function("() => window.turns >= 1 && !document.getElementById('song').paused")
    state, told = page.locator(".stretches small"), page.locator("#told")
    page.keyboard.type("7o")
    page.keyboard.press("Control+Enter")
    expect(told).to_contain_text("Not right yet.")
    check(page, "bars that are wrong")
    # The server takes its time to count a listen: what is handed in meanwhile waits for it.
    held: list[Route] = []
    page.route("**/listen?**", partial(keep, held))
    for said, stands in (("Right. Once more", "right once"), ("Right twice in a row", "twice ✓")):
        expect(text).to_have_value(f"{chords[1]} ")
        page.keyboard.type(chords[2])
        expect(told).to_be_empty()
        expect(page.locator("#hand-in")).to_be_enabled()
        with page.expect_request("**/listen?**"):
            page.keyboard.press("Control+Enter")
            let_go(held)
        expect(told).to_contain_text(said)
        expect(state).to_contain_text(stands)
    assert not page.evaluate("() => document.getElementById('song').paused")
    check(page, "bars that are right")
    tries = known.store.attempts.history(known.drills.learner, limit=3)
    assert [(one.seen, one.level, one.listens) for one in tries] == [(True, None, 1)] * 3
    page.get_by_role("link", name="Back to the result").press("Enter")
    page.wait_for_url("**/result/*")
