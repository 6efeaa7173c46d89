"""A lesson from the list to the stored result, by keyboard; the first chart; the page of signs."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from tests.web.browser.house import House, Opened
from tests.web.browser.test_access import SCREENS, check
from trainer.exercise import QUESTIONS, load_lessons, make_questions
from trainer.store import LessonRun

SEVEN = next(lesson for lesson in load_lessons() if lesson.id == "five-over-seven")
IS_PLAYING = "() => !document.getElementById('song').paused"


def run_of(house: House) -> LessonRun:
    """The learner's newest run at the lesson."""
    run = house.store.lesson_runs.newest(house.drills.learner, SEVEN.id)
    assert run is not None
    return run


def test_a_press_before_the_script_is_there_is_heard(known: House, open_page: Opened) -> None:
    """A sound's button that is pressed while the page's module still loads plays once it has."""
    page = open_page(known.url)
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/static/lesson.js", hold)
    page.goto(f"{known.url}lessons/{SEVEN.id}", wait_until="commit")
    page.get_by_role("button", name="Hear the other five").click()
    assert page.locator('.hear[aria-pressed="true"]').count() == 0
    held[0].continue_()
    page.wait_for_function(IS_PLAYING)
    expect(page.locator('.hear[aria-pressed="true"]')).to_contain_text("five")


def test_a_lesson_from_start_to_finish(known: House, open_page: Opened) -> None:
    """Both sounds are heard by name, five questions are heard and answered with keys alone, each
    answer is told at once and both can be heard again; the result is stored."""
    page = open_page(known.url, color_scheme="light")
    page.get_by_role("link", name="Lessons", exact=True).click()
    check(page, "lessons")
    page.get_by_role("link", name="Five over seven").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/lessons/five-over-seven")
    check(page, "a lesson")
    for name in ("Hear one five over seven", "Hear the other five"):
        button = page.get_by_role("button", name=name)
        button.focus()
        page.keyboard.press("Enter")
        page.wait_for_function(IS_PLAYING)
        expect(page.locator('.hear[aria-pressed="true"]')).to_have_count(1)
    page.keyboard.press("Enter")
    expect(page.locator('.hear[aria-pressed="true"]')).to_have_count(0)
    page.get_by_role("button", name="five questions").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/lessons/five-over-seven/*")
    questions = make_questions(SEVEN, run_of(known).seed)
    for question in questions:
        answer_with_keys(page, "ab"[question.right], question.number)
    expect(page.locator("#done")).to_have_text("5 of 5 right")
    expect(page.locator("#done")).to_be_focused()
    check(page, "all questions answered")
    assert run_of(known).right == QUESTIONS
    page.goto(f"{known.url}lessons")
    expect(page.get_by_text("best 5 of 5")).to_be_visible()


def answer_with_keys(page: Page, letter: str, number: int) -> None:
    """Hear a question, answer it by its letter, hear the other version, and go on."""
    play = page.locator(".play")
    expect(play).to_be_focused()
    if number == 1:
        check(page, "a question")
        page.keyboard.press("Enter")
    page.wait_for_function(IS_PLAYING)
    page.keyboard.press(letter)
    told = page.locator("#told")
    expect(told).to_contain_text("Right:")
    expect(told).to_be_focused()
    if number == 1:
        check(page, "an answer")
        page.locator(".hear").nth(1).click()
        page.wait_for_function(IS_PLAYING)
        page.get_by_role("link", name="Next question").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#question h2")).to_contain_text(
        f"{number + 1} of 5" if number < QUESTIONS else "right"
    )


def test_a_wrong_answer_says_what_to_listen_for(known: House, open_page: Opened) -> None:
    """A wrong answer is named with what was played; opened again, the next question is there."""
    page = open_page(f"{known.url}lessons/five-over-seven", color_scheme="light")
    page.get_by_role("button", name="five questions").click()
    page.locator(".play").wait_for()
    # An answer given before the page's script has come loads a page with another address.
    address = page.url
    right = make_questions(SEVEN, run_of(known).seed)[0].right
    page.locator(".answer").nth(1 - right).click()
    told = page.locator("#told")
    expect(told).to_contain_text("It was")
    expect(page.locator(".answered")).to_contain_text(SEVEN.listen_for)
    check(page, "a wrong answer")
    page.goto(address)
    expect(page.locator("#asked")).to_contain_text("2 of 5")


def test_a_lost_server_is_told(known: House, open_page: Opened) -> None:
    """Where the server does not answer, the question stays and says so."""
    page = open_page(f"{known.url}lessons/five-over-seven")
    page.get_by_role("button", name="five questions").click()
    page.locator(".play").wait_for()
    page.wait_for_load_state("load")
    known.close()
    page.locator(".answer").first.click()
    expect(page.locator("#status")).to_contain_text("isn't answering")
    known.open()
    page.locator(".answer").first.click()
    expect(page.locator("#told")).to_be_visible()


@pytest.mark.parametrize("screen", SCREENS)
def test_new_pages_have_no_fault(known: House, open_page: Opened, screen: str) -> None:
    """The first chart in every state, the signs and a lesson of three, under axe-core."""
    page = open_page(f"{known.url}what-is-a-chart", **SCREENS[screen])
    check(page, "what is a chart")
    write_first_chart(page)
    check(page, "the first chart written")
    for place in ("signs", "lessons/five-over-seven-or-five", "lessons/turnaround"):
        page.goto(known.url + place)
        check(page, place)


def write_first_chart(page: Page) -> None:
    """Hear and write the four bars, one of them wrongly at first."""
    field, said = page.locator("#bar"), page.locator("#said")
    for number, bars in enumerate((("1",), ("5", "4"), ("5",), ("1",)), 1):
        page.locator("#first-bars .hear").click()
        page.wait_for_function(IS_PLAYING)
        for bar in bars:
            field.fill(bar)
            field.press("Enter")
            expect(said).to_have_class("said right" if bar == bars[-1] else "said wrong")
            if bar != bars[-1]:
                check(page, "a wrong bar")
                expect(field).to_be_focused()
        expect(page.locator("#first-bars .bar")).to_have_count(number)


def test_the_keys_are_those_of_the_pages(known: House, open_page: Opened) -> None:
    """The page of signs lists every shortcut of the table, once each, and no other."""
    page = open_page(f"{known.url}signs")
    listed: list[Any] = page.locator("#keys dd").all_inner_texts()
    table = page.evaluate(
        "async () => (await import('/static/shortcuts.js')).SHORTCUTS.map((one) => one.does)"
    )
    assert sorted(listed) == sorted(table)
    assert len(table) > 10


def test_the_shortcuts_of_buttons_are_in_the_table(known: House, open_page: Opened) -> None:
    """Every key that a button on the page to write on obeys stands in the table."""
    page = open_page(known.url)
    page.get_by_role("button", name="Begin level 1", exact=True).last.click()
    page.wait_for_url("**/write/*")
    obeyed = page.evaluate(
        "() => [...document.querySelectorAll('[aria-keyshortcuts]')]"
        ".flatMap((one) => one.getAttribute('aria-keyshortcuts').split(' '))"
    )
    table = page.evaluate(
        "async () => (await import('/static/shortcuts.js')).SHORTCUTS.map((one) => one.keys)"
    )
    assert obeyed
    assert set(obeyed) <= set(table)
