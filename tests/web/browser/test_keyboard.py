from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.web.browser.house import House, Opened, open_exercise, wait_until_ended
from trainer.chart import Chart, format_chart


def tab_to(page: Page, name: str, most: int = 60) -> None:
    """Press Tab until what has the focus is called so."""
    for _ in range(most):
        page.keyboard.press("Tab")
        said = page.evaluate(
            "() => document.activeElement.getAttribute('aria-label') ?? "
            "document.activeElement.innerText"
        )
        if str(said).startswith(name):
            return
    raise AssertionError(f"{name!r} is not reached by Tab")


def seconds(page: Page) -> float:
    """Where the song stands."""
    found: float = page.evaluate("() => document.getElementById('song').currentTime")
    return found


def test_a_whole_exercise_by_keyboard_alone(house: House, open_page: Opened) -> None:
    """From the caution to the next level without a pointer; the sound really goes on."""
    page = open_page(house.url)
    tab_to(page, "It's comfortable")
    page.keyboard.press("Enter")
    page.wait_for_url(house.url)
    tab_to(page, "Begin level 1")
    page.keyboard.press("Enter")
    page.wait_for_url("**/write/*")
    expect(page.locator("#text")).to_be_focused()
    page.keyboard.press("Alt+p")
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.4")
    expect(page.locator("#play")).to_contain_text("Pause")
    chart = reference(house, page)
    body = format_chart(chart).partition("\n\n")[2]
    page.keyboard.type(body)
    expect(page.locator("#sheet .bar")).to_have_count(len(chart.bars()))
    expect(page.locator("#text")).to_be_focused()
    page.keyboard.press("Alt+p")
    stood = seconds(page)
    expect(page.locator("#play")).to_contain_text("Continue")
    page.keyboard.press("Alt+j")
    assert seconds(page) < stood
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")
    expect(page.locator(".score")).to_have_text("100%")
    page.keyboard.press("Alt+p")
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.2")
    tab_to(page, "Go to level 2")
    page.keyboard.press("Enter")
    page.wait_for_url("**/write/*")


def reference(house: House, page: Page) -> Chart:
    """The chart of the exercise on the page, from the record."""
    drill = house.drills.find(page.url.rpartition("/")[2])
    assert drill is not None
    return drill.exercise.chart


def test_mistakes_are_stepped_through(known: House, open_page: Opened) -> None:
    """Alt and a full stop goes to each mistake in turn and says it; both sides are heard."""
    # A song whose bars 2 and 4 are two mistakes. The page opens at the costlier.
    page = open_exercise(known, open_page, 1, 2)
    chart = reference(known, page)
    wrong = [
        "7o" if k in (1, 3) else str(bar.events[0].chord) for k, bar in enumerate(chart.bars())
    ]
    page.keyboard.type(" ".join(wrong))
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")
    said = page.locator("#selection")
    expect(said).to_contain_text(re.compile("Bar [24]: the band played"))
    first, other = (2, 4) if "Bar 2" in said.inner_text() else (4, 2)
    for bar in (other, first, other):
        page.keyboard.press("Alt+.")
        expect(said).to_contain_text(f"Bar {bar}: the band played")
        expect(page.locator(".pair:focus")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("Alt+,")
    expect(said).to_contain_text(f"Bar {first}: the band played")
    for key in ("Alt+p", "Alt+w"):
        page.keyboard.press(key)
        page.wait_for_function("() => document.getElementById('song').currentTime > 0.2")


def test_the_advice_beside_the_charts_is_on_the_bar_chosen(known: House, open_page: Opened) -> None:
    """The costliest place is chosen when the page opens; arrows lead to the advice on each bar;
    Escape and the button show all of it."""
    page = open_exercise(known, open_page)
    chords = [str(bar.events[0].chord) for bar in reference(known, page).bars()]
    page.keyboard.type(" ".join(["b6o", "7o", *chords[2:]]))
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")
    shown = page.locator("#advice li:visible")
    chosen = page.locator(".pair[aria-pressed=true]")
    expect(chosen).to_have_count(1)
    expect(shown).to_have_count(1)
    assert page.evaluate("() => scrollY") == 0
    first = chosen.get_attribute("data-advice")
    chosen.focus()
    page.keyboard.press("ArrowRight" if chosen.get_by_text("Bar 1:").count() else "ArrowLeft")
    expect(shown).to_have_count(1)
    assert chosen.get_attribute("data-advice") != first
    page.locator("#all-advice").click()
    expect(shown).to_have_count(2)
    chosen.focus()
    page.keyboard.press("Escape")
    expect(chosen).to_have_count(0)
    expect(shown).to_have_count(2)
    page.locator(".pair.right").last.click()
    expect(shown).to_have_count(0)
    expect(page.locator("#no-advice")).to_have_text("This bar is right.")


def test_speed_the_1_and_a_loop(known: House, open_page: Opened) -> None:
    """Shortcuts slow the band, sound the 1, and set a loop that the song stays in."""
    page = open_exercise(known, open_page)
    length = page.locator("#duration")
    expect(length).to_have_text(length.inner_text())
    page.keyboard.press("Alt+,")
    page.keyboard.press("Alt+,")
    expect(page.locator("#speed")).to_have_text("80%")
    page.keyboard.press("Alt+o")
    page.wait_for_function("() => document.getElementById('tonic').currentTime > 0.1")
    page.keyboard.press("Alt+p")
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.5")
    page.keyboard.press("Alt+l")
    expect(page.locator("#loop")).to_contain_text("Loop to here")
    start = seconds(page)
    page.wait_for_function(f"() => document.getElementById('song').currentTime > {start + 0.6}")
    page.keyboard.press("Alt+l")
    expect(page.locator("#loop")).to_contain_text("Loop off")
    page.evaluate(
        "() => { document.getElementById('song').addEventListener('seeked', () => "
        "{ window.turns = (window.turns ?? 0) + 1; }); }"
    )
    page.wait_for_function("() => window.turns >= 2")
    page.keyboard.press("Alt+l")
    expect(page.locator("#loop")).to_contain_text("Loop from here")


def test_keys_can_be_turned_off(known: House, open_page: Opened) -> None:
    """With the keys off, they do nothing while writing, also after loading the page again."""
    page = open_exercise(known, open_page)
    page.locator("#key-toggle").uncheck()
    for _ in range(2):
        page.locator("#text").focus()
        page.keyboard.press("Alt+p")
        page.keyboard.press("Alt+,")
        expect(page.locator("#speed")).to_have_text("100%")
        assert page.evaluate("() => document.getElementById('song').paused")
        page.reload()
        page.locator("#sheet .empty").wait_for()


def test_listens_run_out(known: House, open_page: Opened) -> None:
    """A song with two listens is heard twice, not thrice; pausing costs none."""
    page = open_page(known.url)
    page.get_by_role("button", name="Second Street Strut").click()
    page.wait_for_url("**/write/*")
    page.locator("#sheet .empty").wait_for()
    expect(page.locator("#back")).to_have_count(0)
    for left in ("1 listen left", "0 listens left"):
        page.keyboard.press("Alt+p")
        expect(page.locator("#listens")).to_have_text(left)
        page.wait_for_function("() => document.getElementById('song').currentTime > 0.2")
        page.keyboard.press("Alt+p")
        page.keyboard.press("Alt+p")
        page.wait_for_function("() => !document.getElementById('song').paused")
        page.keyboard.press("Alt+r")
    expect(page.locator("#play")).to_be_disabled()
    page.keyboard.press("Alt+p")
    assert page.evaluate("() => document.getElementById('song').paused")
    wait_until_ended(known, page)
    page.reload()
    expect(page.locator("#play")).to_be_disabled()


def test_writing_goes_on_after_a_click(known: House, open_page: Opened) -> None:
    """After a button of the band is clicked, what is typed goes to the end of the chart, a space
    too; so it does when the page is loaded again."""
    page = open_exercise(known, open_page)
    page.locator("#play").click()
    page.wait_for_function("() => document.getElementById('song').currentTime > 0.1")
    page.keyboard.type("1 4 ")
    expect(page.locator("#text")).to_have_value("1 4 ")
    assert not page.evaluate("() => document.getElementById('song').paused")
    page.reload()
    page.keyboard.type("5")
    expect(page.locator("#text")).to_have_value("1 4 5")


def test_a_self_test_has_no_way_to_stop(known: House, open_page: Opened) -> None:
    """While a self-test plays nothing is offered that would void it."""
    page = open_page(f"{known.url}speed")
    page.get_by_role("button", name="Begin a test").click()
    page.wait_for_url("**/write/*")
    play = page.locator("#play")
    play.click()
    expect(play).to_contain_text("Playing")
    expect(play).to_be_disabled()
    expect(page.locator("#stop, #back")).to_have_count(0)
    page.keyboard.press("Alt+p")
    assert not page.evaluate("() => document.getElementById('song').paused")


def test_bars_of_a_result_are_walked_and_heard(known: House, open_page: Opened) -> None:
    """Arrows go from bar to bar and move no other; Enter plays what was played, and what sounds is
    marked until it is over."""
    page = open_exercise(known, open_page)
    bars = [str(bar.events[0].chord) for bar in reference(known, page).bars()]
    page.keyboard.type(" ".join([bars[0], "7o", *bars[2:]]))
    page.keyboard.press("Control+Enter")
    page.wait_for_url("**/result/*")
    pairs = page.locator(".pair")
    place = "(one) => [one.offsetLeft, one.offsetTop, one.offsetWidth, one.offsetHeight]"
    last = pairs.nth(3).evaluate(place)
    pairs.first.focus()
    page.keyboard.press("ArrowRight")
    expect(pairs.nth(1)).to_be_focused()
    expect(page.locator("#selection")).to_contain_text("Bar 2")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    expect(pairs.first).to_be_focused()
    assert pairs.nth(3).evaluate(place) == last
    page.keyboard.press("Enter")
    expect(page.locator("#hear-played")).to_have_attribute("aria-pressed", "true")
    expect(pairs.first).to_have_attribute("data-playing", "played")
    page.keyboard.press("Alt+w")
    expect(pairs.first).to_have_attribute("data-playing", "written")
    expect(page.locator("#hear-played")).to_have_attribute("aria-pressed", "false")
    page.keyboard.press("Alt+r")
    expect(page.locator("[data-playing], [aria-pressed=true]:not(.pair)")).to_have_count(0)
