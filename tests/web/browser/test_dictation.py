"""A live dictation in the browser: a teacher's desk, two seats and the room's screen."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, Route, expect

from tests.classroom.lockside import Lockside, found, wrong_first_bar
from tests.patience import waiting
from tests.web.browser.class_house import ClassHouse
from tests.web.browser.house import Opened
from tests.web.browser.test_access import SCREENS, check
from tests.web.browser.test_class import assert_fits, sign_in
from tests.web.browser.test_class_work import Place, url_of
from tests.web.fakes import FakeLibrary
from trainer.chart import Chart, format_chart
from trainer.classroom.dictation_answers import item_of
from trainer.store import Dictation, Store
from trainer.web.app import utc_now


@dataclass
class Ahead:
    """A clock that goes as the machine's and can be put forward."""

    by: timedelta = timedelta()

    def __call__(self) -> datetime:
        return utc_now() + self.by


@pytest.fixture
def clock() -> Ahead:
    """What time it is at the server."""
    return Ahead()


@pytest.fixture
def lockside(tmp_path: Path, record: Path, clock: Ahead) -> Iterator[Lockside]:
    """A class with a teacher and two learners on a server."""
    folder = tmp_path / "audio"
    folder.mkdir()
    with Store.open(record) as store:
        house = ClassHouse(store, FakeLibrary(folder), clock=clock)
        house.open()
        yield found(Place(house))
        house.close()


def test_a_dictation_from_the_first_beat_to_the_grades(
    lockside: Lockside, clock: Ahead, open_page: Opened
) -> None:
    """The band plays at the desk alone; both learners write at once and the teacher sees who is
    where, stops, replays bars, shows the answers to a bar without names, ends it and shows the
    results."""
    teacher, dictation = at_the_desk(lockside, open_page)
    chart = chart_of(lockside, dictation)
    seats = [at_the_seat(lockside, open_page, name) for name in ("wren", "zoe")]
    wren, zoe = seats
    teacher.get_by_role("button", name="Play the song").click()
    expect(teacher.locator("#band-status")).to_contain_text("The band")
    for seat, text in zip(seats, (format_chart(chart), wrong_first_bar(chart)), strict=True):
        expect(seat.locator("#phase")).to_have_text("Listen: the band is playing.")
        expect(seat.locator("audio")).to_have_count(0)
        seat.locator("#text").fill(text)
        expect(seat.locator("#sheet .bar")).to_have_count(dictation.bars)
    # The count-off is over sooner than it sounds.
    clock.by = timedelta(seconds=20)
    expect(teacher.locator("#band-status")).to_contain_text("The band is at bar")
    all_but_one = "|".join(f"{bar} of {bar + 1}" for bar in range(dictation.bars))
    for name, right in (("Wren Halloway", r"(\d+) of \2"), ("Zoe Halloway", all_but_one)):
        row = teacher.get_by_role("row", name=name)
        expect(row).to_contain_text(re.compile(f"open{dictation.bars}({right})$"))
    stop_and_replay(teacher, wren, dictation.bars)
    read_answers(teacher, chart)
    wren.get_by_role("button", name="Hand in").click()
    expect(wren.locator("#phase")).to_contain_text("You've handed in.")
    expect(teacher.get_by_role("row", name="Wren Halloway")).to_contain_text("handed in")
    end(teacher)
    for seat in seats:
        expect(seat.locator("#phase")).to_contain_text("It's over.")
    expect(zoe.locator("#text")).not_to_be_editable()
    teacher.get_by_role("button", name="Show the results now").click()
    wren.get_by_role("link", name="Back to your class work").click()
    wren.get_by_role("link", name="Friday").click()
    expect(wren.get_by_text("100%").first).to_be_visible()


def test_a_server_that_comes_back_is_found_again(lockside: Lockside, open_page: Opened) -> None:
    """What is typed while the server is gone reaches it when it is back, the seat follows the band
    again and so does the desk, and nobody loads a page."""
    assert isinstance(lockside.school, Place)
    house = lockside.school.house
    teacher, dictation = at_the_desk(lockside, open_page)
    seat = at_the_seat(lockside, open_page, "wren")
    seat.locator("#text").fill("1 4")
    wait_for_text(lockside, seat, dictation, "1 4")
    house.close()
    seat.locator("#text").fill("1 4 5")
    expect(seat.locator("#sheet")).to_have_class("chart-sheet outdated")
    house.open()
    wait_for_text(lockside, seat, dictation, "1 4 5")
    teacher.get_by_role("button", name="Play the song").click()
    expect(seat.locator("#phase")).to_have_text("Listen: the band is playing.")
    expect(teacher.get_by_role("row", name="Wren Halloway")).to_contain_text("open3")
    seat.reload()
    expect(seat.locator("#text")).to_have_value("1 4 5")


def test_what_is_typed_before_the_script_comes_is_sent(
    lockside: Lockside, open_page: Opened
) -> None:
    """On a slow network somebody types while the page's script is still on its way."""
    _, dictation = at_the_desk(lockside, open_page)
    seat = at_the_seat(lockside, open_page, "wren")
    waits: list[Route] = []

    def hold(route: Route) -> None:
        waits.append(route)

    seat.route("**/dictation_seat.js", hold)
    seat.goto(seat.url, wait_until="commit")
    seat.locator("#text").fill("1 4 5")
    for _ in waiting("the script is asked for"):
        if waits:
            break
        seat.wait_for_timeout(50)
    waits[0].continue_()
    wait_for_text(lockside, seat, dictation, "1 4 5")
    expect(seat.locator("#sheet .bar")).to_have_count(3)


@pytest.mark.parametrize("screen", SCREENS)
def test_the_pages_of_a_dictation(lockside: Lockside, open_page: Opened, screen: str) -> None:
    """No page of a dictation, in no phase, has a fault that axe-core knows, and nothing is wider
    than the screen."""
    teacher, dictation = at_the_desk(lockside, open_page, **SCREENS[screen])
    seat = at_the_seat(lockside, open_page, "wren", **SCREENS[screen])
    seat.locator("#text").fill("1 4 5 1")
    check_page(seat, "a seat")
    teacher.get_by_role("button", name="Play the song").click()
    expect(teacher.get_by_role("row", name="Wren Halloway")).to_contain_text("open4")
    teacher.locator("summary").click()
    check_page(teacher, "the desk")
    desk = teacher.url
    teacher.goto(f"{desk}/screen")
    expect(teacher.locator("#answers")).to_contain_text("1 wrote")
    check_page(teacher, "the screen")
    teacher.goto(desk)
    end(teacher)
    check_page(teacher, "the desk, over")
    teacher.goto(f"{url_of(lockside)}/classes/{lockside.school_class.uid}/dictations")
    check_page(teacher, "all dictations")
    expect(seat.locator("#phase")).to_contain_text("It's over.")
    check_page(seat, "a seat, over")
    assert dictation.bars > 4


def at_the_desk(lockside: Lockside, open_page: Opened, **how: object) -> tuple[Page, Dictation]:
    """The teacher begins a dictation with a song of the first level."""
    page = open_page(f"{url_of(lockside)}/classes", **how)
    sign_in(page, "ada")
    begin_dictation(page)
    (found,) = lockside.store.dictations.of_class(lockside.school_class.id)
    return page, found


def begin_dictation(teacher: Page) -> None:
    """From the classes to the desk."""
    teacher.get_by_role("link", name="Lock-side band").first.click()
    teacher.get_by_role("link", name="Live dictation").click()
    teacher.get_by_label("Song").select_option("level:home-four-five")
    # So slowly that the band still plays on the slowest machine.
    teacher.get_by_label("Speed").fill("50")
    teacher.get_by_label("Title").fill("Friday")
    teacher.get_by_role("button", name="Go to the desk").click()
    expect(teacher.get_by_role("heading", name="Who is where")).to_be_visible()


def at_the_seat(lockside: Lockside, open_page: Opened, name: str, **how: object) -> Page:
    """A learner finds the dictation under Class work."""
    page = open_page(f"{url_of(lockside)}/assigned", **how)
    sign_in(page, name)
    sit_down(page)
    expect(page.locator("#phase")).to_have_text("Your teacher hasn't started the band yet.")
    return page


def sit_down(learner: Page) -> None:
    """From Class work to the seat."""
    learner.get_by_role("link", name="Dictation in Lock-side band").click()
    expect(learner.get_by_role("heading", name="Dictation")).to_be_visible()


def chart_of(lockside: Lockside, dictation: Dictation) -> Chart:
    """What the band plays."""
    return item_of(dictation, lockside.store.dictations.song(dictation)).exercise.chart


def stop_and_replay(teacher: Page, seat: Page, bars: int) -> None:
    """Stop the band, and play the song again without its first and its last bar."""
    teacher.get_by_role("button", name="Stop").click()
    expect(seat.locator("#phase")).to_have_text("Stopped.")
    teacher.get_by_label("From bar").fill("2")
    teacher.get_by_label("to bar").fill(str(bars - 1))
    with teacher.expect_response(lambda answer: "/sound" in answer.url) as asked:
        teacher.get_by_role("button", name="Play these bars").click()
    assert asked.value.url.endswith(f"first=2&last={bars - 1}")
    expect(seat.locator("#phase")).to_have_text("Listen: the band is playing.")
    expect(teacher.locator("#band-status")).to_contain_text("The band")


def read_answers(teacher: Page, chart: Chart) -> None:
    """The answers to the first two bars, at the desk and on the room's screen."""
    first, second = (str(bar.events[0].chord) for bar in chart.bars()[:2])
    both = [f"1 wrote {first}", f"1 wrote {first}-"]
    expect(teacher.locator("#answers li")).to_have_text(both)
    with teacher.expect_popup() as opened:
        teacher.get_by_role("link", name="Show on the screen").click()
    screen = opened.value
    expect(screen.get_by_role("heading", name="Bar 1")).to_be_visible()
    expect(screen.locator("#answers li")).to_have_text(both)
    screen.get_by_role("button", name="Next bar").click()
    expect(screen.locator("#answers li")).to_have_text([f"2 wrote {second}"])
    expect(screen.get_by_text(re.compile("Wren|Zoe"))).to_have_count(0)
    screen.close()


def end(teacher: Page) -> None:
    """End the dictation at the desk, by keys: the tables above may still be growing."""
    teacher.locator("summary", has_text="End the dictation").press("Enter")
    teacher.get_by_role("button", name="End it now").press("Enter")
    expect(teacher.get_by_text("What the class wrote is graded.")).to_be_visible()


def wait_for_text(lockside: Lockside, page: Page, dictation: Dictation, text: str) -> None:
    """Wait until the server has just this text of the learner."""
    for _ in waiting(f"the server has {text!r}"):
        if any(each.text == text for each in lockside.store.dictations.answers(dictation)):
            return
        page.wait_for_timeout(50)


def check_page(page: Page, name: str) -> None:
    """Axe-core finds nothing, and the page fits."""
    check(page, name)
    assert_fits(page, name)
