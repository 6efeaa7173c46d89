"""A light for the beats, and the band slower and faster while it plays."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from tests.web.browser.house import House, Opened, drill_of, open_exercise
from tests.web.browser.test_listens import POSITION, begin_song
from trainer.drill import beat_times_s


def places(page: Page) -> list[dict[str, int]]:
    """Bar and beat of a song of three bars at several times."""
    found: list[dict[str, int]] = page.evaluate(
        """async () => {
          const { placeIn } = await import("/static/light.js");
          const beats = [[1, 2, 3, 4], [5, 6], [7, 8, 9, 10]];
          return [0.5, 1, 4.9, 5, 6.5, 7.2, 99].map((at) => placeIn(beats, at));
        }"""
    )
    return found


def test_the_light_knows_where_it_is(browser_page: Page) -> None:
    """At each moment the light is at the bar and the beat that have begun last."""
    assert places(browser_page) == [
        {"bar": bar, "beat": beat}
        for bar, beat in [(-1, -1), (0, 0), (0, 3), (1, 0), (1, 1), (2, 0), (2, 3)]
    ]


def test_a_light_is_offered_and_remembered(known: House, open_page: Opened) -> None:
    """On the first levels a light shows beats and counts bars, at any speed; it is off until it is
    wanted, then on for every song, and turned by a key."""
    page = open_exercise(known, open_page)
    light, toggle = page.locator("#light"), page.locator("#light-toggle")
    expect(light).to_be_hidden()
    page.keyboard.press("Alt+k")
    expect(toggle).to_have_attribute("aria-pressed", "true")
    expect(light.locator("i")).to_have_count(4)
    expect(light.locator("i.on")).to_have_count(0)
    beats = beat_times_s(drill_of(known, page).exercise)
    page.wait_for_function("() => document.getElementById('song').readyState > 0")
    usual = page.evaluate("() => document.getElementById('song').currentSrc")
    page.keyboard.press("Alt+,")
    expect(page.locator("#speed")).to_have_text("90%")
    page.wait_for_function(
        "usual => { const song = document.getElementById('song');"
        " return song.currentSrc !== usual && song.readyState > 0; }",
        arg=usual,
    )
    for number, beat in [(1, 0), (3, 2)]:
        seconds = (beats[number - 1][beat] + 0.05) / 0.9
        page.evaluate(f"document.getElementById('song').currentTime = {seconds}")
        expect(light).to_have_text(f"bar {number}")
        expect(light.locator("i").nth(beat)).to_have_class("on")
        expect(light.locator("i.on")).to_have_count(1)
    page.reload()
    expect(light).to_be_visible()
    page.keyboard.press("Alt+k")
    expect(light).to_be_hidden()
    page.reload()
    expect(light).to_be_hidden()


def test_no_light_where_bars_are_asked_for(known: House, open_page: Opened) -> None:
    """A song to be written as at a session has no light."""
    page = open_page(known.url)
    begin_song(page)
    expect(page.locator("#light, #light-toggle")).to_have_count(0)


def test_the_band_slows_down_where_it_is(known: House, open_page: Opened) -> None:
    """Slower and faster while a counted listen is under way: it goes on at the same place of the
    song, takes no listen, and counts as paused and as slow as it was."""
    page = open_page(known.url)
    begin_song(page)
    page.keyboard.press("Alt+p")
    page.wait_for_function(f"() => {POSITION} > 1")
    before = page.evaluate(POSITION)
    for _ in range(5):
        page.keyboard.press("Alt+,")
    expect(page.locator("#speed")).to_have_text("50%")
    expect(page.locator("#slower")).to_be_disabled()
    expect(page.locator("#status")).to_have_text("Speed 50%")
    page.wait_for_function(f"() => {POSITION} > {2 * before}")
    assert page.evaluate(POSITION) < 2 * before + 8
    assert not page.evaluate("document.getElementById('song').paused")
    expect(page.locator("#play")).to_contain_text("Pause")
    expect(page.locator("#listens")).to_have_text("1 listen left")
    page.keyboard.press("Alt+.")
    expect(page.locator("#status")).to_have_text("Speed 60%")
    drill = drill_of(known, page)
    assert drill.progress.speeds == (50,)
    assert drill.progress.paused


def test_a_loop_goes_with_the_speed(known: House, open_page: Opened) -> None:
    """A loop stays around the same bars when the band is slowed down."""
    page = open_exercise(known, open_page)
    page.keyboard.press("Alt+p")
    page.wait_for_function(f"() => {POSITION} > 1")
    page.keyboard.press("Alt+p")
    page.evaluate("document.getElementById('song').currentTime = 10")
    page.keyboard.press("Alt+l")
    page.evaluate("document.getElementById('song').currentTime = 20")
    page.keyboard.press("Alt+l")
    expect(page.locator("#loop-range")).to_have_text("0:10 to 0:20")
    for _ in range(5):
        page.keyboard.press("Alt+,")
    expect(page.locator("#speed")).to_have_text("50%")
    expect(page.locator("#loop-range")).to_have_text("0:20 to 0:40")
