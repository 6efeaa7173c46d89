from __future__ import annotations

import re
from datetime import datetime

import pytest

from tests.web.browser.house import House, Opened
from trainer.exercise import Exercise, exercise_to_json, load_course, load_songs, make_exercise
from trainer.grade import grade, report_to_json
from trainer.store import Sitting


def long_songs() -> list[Exercise]:
    """The longest songs of the last levels, and those of the house band."""
    course = load_course()
    made = [make_exercise(course[k].recipe, seed, course[k]) for k in (29, 30) for seed in range(9)]
    made.sort(key=lambda one: -len(one.chart.bars()))
    return [*made[:3], *load_songs()]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_chart_prints_on_one_page(
    known: House, open_page: Opened, fixed_now: datetime, paper: str
) -> None:
    """However long the song, its chart is one page, with every bar on it."""
    learner = known.store.learners.get("me")
    assert learner is not None
    page = open_page(known.url)
    for exercise in long_songs():
        kept = known.store.exercises.keep(exercise_to_json(exercise))
        report = report_to_json(grade(exercise.chart, None))
        attempt = known.store.attempts.record(
            learner, kept, "", report, Sitting(fixed_now), fixed_now
        )
        page.goto(f"{known.url}keep/{attempt.id}/played")
        printed = page.pdf(format=paper, prefer_css_page_size=False)
        pages = len(re.findall(rb"/Type\s*/Page\b", printed))
        assert pages == 1, f"{exercise.chart.title}, {len(exercise.chart.bars())} bars: {pages}"
        page.emulate_media(media="print")
        cut = page.evaluate(
            "() => [...document.querySelectorAll('.page .bar')].filter((bar) => "
            "bar.getBoundingClientRect().right > document.documentElement.clientWidth).length"
        )
        assert cut == 0
        page.emulate_media(media="null")
