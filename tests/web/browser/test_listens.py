"""A listen that is interrupted goes on, in the same browser and on another device."""

from __future__ import annotations

from playwright.sync_api import Page, Route, expect

from tests.patience import waiting
from tests.web.browser.house import House, Opened, drill_of, wait_until_ended
from tests.web.browser.test_faults import wait_for_draft
from trainer.drill import Drill

POSITION = "document.getElementById('song').currentTime"


def begin_song(page: Page) -> None:
    """From the start page to a song with two listens."""
    page.get_by_role("button", name="Second Street Strut").click()
    page.wait_for_url("**/write/*")
    page.locator("#sheet .empty").wait_for()


def wait_for_position(house: House, page: Page, least_s: float) -> Drill:
    """Wait until the server knows that the listen has got so far."""
    for _ in waiting(f"the server knows of {least_s} s or more"):
        drill = drill_of(house, page)
        if drill.position_s is not None and drill.position_s >= least_s:
            return drill
        page.wait_for_timeout(50)
    raise AssertionError("not reached")


def test_a_reload_takes_no_listen(known: House, open_page: Opened) -> None:
    """Loaded again while the band plays, the page goes on from about there without a new listen,
    and the interruption is a pause."""
    page = open_page(known.url)
    begin_song(page)
    page.keyboard.press("Alt+p")
    page.wait_for_function(f"() => {POSITION} > 1.5")
    assert not drill_of(known, page).progress.paused
    page.reload()
    wait_for_position(known, page, 1.5)
    page.reload()
    expect(page.locator("#play")).to_contain_text("Continue")
    expect(page.locator("#listens")).to_have_text("1 listen left")
    expect(page.get_by_text("The band was interrupted at 0:0")).to_be_visible()
    page.wait_for_function(f"() => {POSITION} > 1.4")
    page.keyboard.press("Alt+p")
    page.wait_for_function(f"() => {POSITION} > 1.9")
    expect(page.locator("#listens")).to_have_text("1 listen left")
    drill = wait_for_position(known, page, 1.5)
    assert drill.progress.listens == 1
    assert drill.progress.paused


def test_a_listen_that_was_given_up_has_ended(known: House, open_page: Opened) -> None:
    """After Stop nothing is left of a listen, also when the page is loaded again."""
    page = open_page(known.url)
    begin_song(page)
    page.keyboard.press("Alt+p")
    page.wait_for_function(f"() => {POSITION} > 0.3")
    page.keyboard.press("Alt+r")
    wait_until_ended(known, page)
    page.reload()
    expect(page.locator("#play")).to_contain_text("Play")
    expect(page.locator("#listens")).to_have_text("1 listen left")
    assert drill_of(known, page).progress.paused


def test_the_last_listen_is_gone_on_with_on_another_device(known: House, open_page: Opened) -> None:
    """Another browser goes on at the place and with the times of the first; what it types then is
    timed from the first listen, too."""
    page = open_page(known.url)
    begin_song(page)
    page.keyboard.press("Alt+p")
    page.wait_for_function(f"() => {POSITION} > 0.3")
    page.keyboard.press("Alt+r")
    page.keyboard.press("Alt+p")
    page.wait_for_function(f"() => {POSITION} > 0.3")
    page.keyboard.type("1 4")
    page.keyboard.press("Alt+p")
    first = wait_for_position(known, page, 0.2)
    wait_for_draft(known, page, "1 4")
    other = open_page(page.url)
    expect(other.locator("#text")).to_have_value("1 4")
    expect(other.locator("#listens")).to_have_text("0 listens left")
    other.locator("#play").click()
    other.wait_for_function(f"() => {POSITION} > {first.position_s} + 0.2")
    other.locator("#text").press_sequentially(" 5")
    runs = other.evaluate(
        """async () => {
          for (;;) {
            const kept = JSON.parse(localStorage.getItem(Object.keys(localStorage)
              .find((name) => name.startsWith("draft "))) ?? "null");
            if (kept && kept.text === "1 4 5") return kept.runs;
            await new Promise((done) => setTimeout(done, 20));
          }
        }"""
    )
    assert sum(count for count, _ in runs) == len("1 4 5")
    times = [seconds for count, seconds in runs for _ in range(count)]
    assert None not in times
    assert times == sorted(times)
    assert times[-1] > times[2]


def test_the_band_cannot_be_started_before_the_page_can_play(
    known: House, open_page: Opened
) -> None:
    """Play is disabled until its script has come, so that no press on it is lost; then it plays."""
    page = open_page(known.url)
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/static/write.js", hold)
    page.get_by_role("button", name="Second Street Strut").click(no_wait_after=True)
    play = page.locator("#play")
    expect(play).to_be_disabled()
    for route in held:
        route.continue_()
    play.click()
    expect(play).to_contain_text("Pause")
