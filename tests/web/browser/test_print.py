from __future__ import annotations

import re

from playwright.sync_api import expect

from tests.web.browser.house import House, Opened, open_exercise
from trainer.drill import submit
from trainer.exercise import Exercise, load_course, load_songs, make_exercise


def long_songs() -> list[Exercise]:
    """The longest songs of the last levels, and those of the house band."""
    course = load_course()
    made = [make_exercise(course[k].recipe, seed, course[k]) for k in (-2, -1) for seed in range(9)]
    made.sort(key=lambda one: -len(one.chart.bars()))
    return [*made[:3], *load_songs()]


def test_a_chart_prints_on_one_page(known: House, open_page: Opened) -> None:
    """However long the song, the page of its chart prints as one page: the drawn sheet."""
    page = open_page(known.url)
    for exercise in long_songs():
        token = known.drills.begin(exercise).token
        attempt = submit(known.drills, exercise.id, "0", token=token).attempt
        page.goto(f"{known.url}handout/{attempt.id}/played")
        for paper in ("A4", "Letter"):
            printed = page.pdf(format=paper, prefer_css_page_size=False)
            pages = len(re.findall(rb"/Type\s*/Page\b", printed))
            assert pages == 1, f"{exercise.chart.title}, {len(exercise.chart.bars())} bars: {pages}"
        page.emulate_media(media="print")
        assert page.locator(".paper").evaluate(
            "(sheet) => sheet.complete && sheet.naturalWidth > 0"
        )
        expect(page.locator(".paper")).to_be_visible()
        expect(page.locator(".page")).to_be_hidden()
        page.emulate_media(media="null")


def test_beats_are_drawn_with_what_printers_keep(known: House, open_page: Opened) -> None:
    """Ticks over an uneven split are no background, which is not printed; they stand over their
    number without touching its box."""
    page = open_exercise(known, open_page)
    page.locator("#text").fill("Turnaround:\n(1''' 5') . (4'' b7/1'')")
    page.locator(".beats").first.wait_for()
    drawn = page.evaluate(
        """() => [...document.querySelectorAll(".beats")].map((one) => {
          const [own, digit] = [one, one.parentElement].map((el) => el.getBoundingClientRect());
          const tick = getComputedStyle(one.firstElementChild);
          return [tick.borderLeftStyle, tick.backgroundImage, tick.backgroundColor,
            Math.abs(own.left + own.right - digit.left - digit.right) < 2,
            own.bottom < digit.top];
        })"""
    )
    assert drawn == [["solid", "none", "rgba(0, 0, 0, 0)", True, True]] * 2


def test_what_starts_at_the_left_is_a_phrase(known: House, open_page: Opened) -> None:
    """The rest of a phrase too long for the sheet hangs inside; a dot stands after its bar; where
    no section has a name nothing is left free for one."""
    page = open_exercise(known, open_page)
    page.locator("#text").fill("1 " * 30 + ". 4 4")
    expect(page.locator(".phrase")).to_have_count(2)
    lefts = page.evaluate(
        """() => { const sheet = document.getElementById("sheet").getBoundingClientRect().left;
          return [...document.querySelectorAll(".phrase")].map((one) =>
            [...new Set([...one.children].map((bar) => {
              const box = bar.getBoundingClientRect();
              return [Math.round(box.top), Math.round(box.left - sheet)];
            }).sort((a, b) => a[0] - b[0] || a[1] - b[1])
              .filter(([top], k, all) => !k || all[k - 1][0] !== top).map(([, left]) => left))])
        }"""
    )
    first, second = lefts
    assert len(first) == 2
    assert first[1] > first[0] + 20
    assert second == first[:1]
    assert first[0] < 40
