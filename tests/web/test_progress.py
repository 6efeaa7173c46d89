from __future__ import annotations

import csv
import io
import random
import re
from datetime import UTC, date, datetime, timedelta
from html import unescape

import html5lib
import pytest
from fastapi.testclient import TestClient

from tests.web.conftest import context_of
from tests.web.evenings import evenings, hand_in_at
from trainer.drill import rating_state
from trainer.exercise import load_course, make_exercise
from trainer.practice import (
    SpeedResult,
    describe_mistakes,
    skill_summaries,
    speed_history,
    speed_test,
)
from trainer.practice.speed import PROTOCOL
from trainer.store import ConfusionCount, DayRecord, Store
from trainer.web.context import LearnerContext
from trainer.web.formatting import percent
from trainer.web.speed import speed_view
from trainer.web.views.confusions import LEFT_OUT, confusion_table
from trainer.web.views.periods import PERIODS, Period, period_of
from trainer.web.views.plots import Point, bars, line, scale_for
from trainer.web.views.progress import day_plots

TODAY = date(2026, 3, 2)


@pytest.fixture(scope="module")
def practised(shared_client: TestClient, fixed_now: datetime) -> LearnerContext:
    """A learner with a week and a half behind them, and one exercise long ago; to look at only."""
    context = context_of(shared_client)
    days = (0, 1, 2, 4, 5, 8, 120)
    evenings(context.store, context.learner, fixed_now, days, random.Random(7))
    return context


@pytest.mark.parametrize("time", [name for name, _, _ in PERIODS])
def test_every_plot_has_a_table_and_a_summary(
    shared_client: TestClient, practised: LearnerContext, time: str
) -> None:
    """In every range each drawing is named by a sentence and has its numbers in a table; the page
    is strictly valid."""
    page = shared_client.get("/progress", params={"time": time}).text
    html5lib.HTMLParser(strict=True).parse(page)
    figures = re.findall(r"<figure.*?</figure>", page, re.DOTALL)
    assert len(figures) >= 9
    for figure in figures:
        said = re.search(r'role="img" aria-labelledby="([^"]+)"', figure)
        assert said
        sentence = re.search(rf'<p id="{re.escape(said[1])}"[^>]*>([^<]+)</p>', figure)
        assert sentence
        assert sentence[1].strip()
        drawn = "<circle" in figure or "<rect" in figure
        assert drawn == ("<td" in figure)
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_the_page_says_what_the_store_says(
    shared_client: TestClient, practised: LearnerContext, fixed_now: datetime
) -> None:
    """Totals, skills and mistakes are those of the record within the range."""
    page = shared_client.get("/progress").text
    days = practised.store.progress.days(practised.learner, since=TODAY - timedelta(days=27))
    assert len(days) == 6
    assert f"<dd>{sum(day.attempts for day in days)}</dd>" in page
    lines = skill_summaries(rating_state(practised.store, practised.learner), fixed_now)
    for one in lines:
        assert f'<th scope="row">{one.name}</th>' in unescape(page)
    mixed = practised.store.progress.confusions(practised.learner, days[0].day)
    plain = describe_mistakes((each.played, each.written, each.chords) for each in mixed)
    said = re.findall(r"<li>(When [^<]+)</li>", page)
    assert said == plain[:5]
    assert "You tell " in page


@pytest.mark.usefixtures("practised")
def test_a_range_that_is_none(shared_client: TestClient) -> None:
    """A range we do not know is the one usually shown."""
    page = shared_client.get("/progress?time=yesterday").text
    assert "nothing here yet" not in page
    assert re.search(r'time=month" aria-current="true"', page)


def test_nothing_yet(client: TestClient, stranger: TestClient) -> None:
    """Before the first exercise the page says so and leads to it."""
    page = client.get("/progress").text
    assert "nothing here yet" in page
    assert 'action="/today/begin"' in page


def test_a_stranger_has_no_progress(stranger: TestClient) -> None:
    """A new learner reads the caution first."""
    for place in ("/progress", "/speed"):
        assert stranger.get(place, follow_redirects=False).headers["location"] == "/hearing"


def test_numbers_to_take_along(shared_client: TestClient, practised: LearnerContext) -> None:
    """JSON has what the page shows, CSV a line for each exercise, both as files to keep."""
    answer = shared_client.get("/progress/numbers.json?time=all")
    assert answer.headers["content-disposition"].startswith("attachment")
    data = answer.json()
    assert sum(day["attempts"] for day in data["days"]) == practised.store.attempts.count(
        practised.learner
    )
    assert {each["skill"] for each in data["skills"]} >= {e["skill"] for e in data["rating_days"]}
    assert data["confusions"] == [
        each for each in data["chords"] if each["played"] != each["written"]
    ]
    assert len(data["confusions"]) < len(data["chords"])
    answer = shared_client.get("/progress/exercises.csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert len(rows) == practised.store.attempts.count(practised.learner)
    assert rows[0]["finished_at"].startswith("2025-11-02")


def test_a_self_test_counts_and_is_held_against_others(
    client: TestClient, context: LearnerContext, fixed_now: datetime, rng: random.Random
) -> None:
    """The page shows last, best and standing; the attempt's own result says that it counts."""
    assert "taken a test yet" in client.get("/speed").text
    for ago, share in ((2, 0.0), (1, 0.5)):
        at = fixed_now - timedelta(days=ago)
        number = hand_in_at(context.store, context.learner, speed_test(ago), at, share, rng)
    page = client.get("/speed").text
    html5lib.HTMLParser(strict=True).parse(page)
    assert "This is below all your earlier tests." in page
    assert "This counts as a speed test." in client.get(f"/result/{number}").text


def test_a_self_test_begins(client: TestClient, context: LearnerContext) -> None:
    """It sits one down to the protocol's exercise, another each time; slowing down is not
    offered."""
    places = {client.post("/speed/begin", follow_redirects=False).headers["location"]
              for _ in range(2)}  # fmt: skip
    assert len(places) == 2
    page = client.get(places.pop()).text
    assert "This is the speed test" in page
    assert 'aria-label="Speed, same pitch" hidden' in page


def test_a_result_shows_the_lag_and_the_weights(
    client: TestClient,
    context: LearnerContext,
    store: Store,
    fixed_now: datetime,
    rng: random.Random,
) -> None:
    """Each bar's lag stands in the plot's table, where the writer fell behind is said, and what
    counted how much is told."""
    level = load_course()[9]
    exercise = make_exercise(level.recipe, 4, level)
    number = hand_in_at(store, context.learner, exercise, fixed_now, 0.1, rng)
    detail = store.attempts.get(number)
    assert detail is not None
    speed = detail.report["speed"]
    page = client.get(f"/result/{number}").text
    assert speed["fell_behind"] is not None
    assert f"You fell behind at bar {speed['fell_behind']}." in page
    table = page.partition('aria-label="Beats behind, bar by bar, table"')[2]
    found = re.findall(r'<th scope="row">(\d+)</th><td class="numeric">([\d.–-]+)</td>', table)
    assert found == [(str(n), f"{lag:.1f}") for n, lag in enumerate(speed["lag_beats"], 1)]
    assert "How it's scored" in page


@pytest.mark.parametrize(
    ("name", "pieces", "step", "since"),
    [("month", 28, 1, date(2026, 2, 3)), ("quarter", 13, 7, date(2025, 12, 2)),
     ("year", 26, 14, date(2025, 3, 4))],
)  # fmt: skip
def test_a_range_is_cut_into_pieces(name: str, pieces: int, step: int, since: date) -> None:
    """A range ends today; its pieces are days or whole weeks."""
    period = period_of(name, TODAY, None)
    assert (period.count, period.days_each, period.since) == (pieces, step, since)
    assert period.index_of(TODAY) == pieces - 1
    assert period.index_of(since) == 0
    assert len(period.labels()) == len(period.names()) == pieces


@pytest.mark.parametrize("days", [0, 27, 31, 400, 3000, 20_000])
def test_all_of_it_has_room(days: int) -> None:
    """Everything there is fits into few pieces, the first day in one of them."""
    first = TODAY - timedelta(days=days)
    period = period_of("all", TODAY, first)
    assert period.since <= first
    assert period.count <= 31


def test_values_stand_where_they_belong() -> None:
    """On a scale the largest value is highest, 0 at the foot, none where there is nothing; a value
    below 0 hangs under the line of 0."""
    points = [Point("a", 0.0), Point("b", None), Point("c", 5.0), Point("d", 10.0)]
    scale = scale_for([0.0, 5.0, 10.0], str)
    drawn = line("k", "t", "s", points, scale, ("h",), [])
    heights = [y for _, y in drawn.dots]
    assert heights[0] > heights[1] > heights[2]
    assert heights[0] - heights[1] == pytest.approx(heights[1] - heights[2])
    below = bars("k", "t", "s", [Point("a", -2.0), Point("b", 2.0)],
                 scale_for([-2.0, 2.0], str), ("h",), [])  # fmt: skip
    assert below.boxes[0].y == pytest.approx(below.boxes[1].y + below.boxes[1].height)


def test_shares_of_what_was_played() -> None:
    """A row of the table of mistakes adds up to all times it was played, left out and others too;
    the diagonal is right."""
    counted = (("4", "4", 6), ("4", "2-", 3), ("4", "", 1), ("2-", "2-", 5), ("1", "1", 50),
               ("", "5", 2))  # fmt: skip
    found = confusion_table([ConfusionCount(*each) for each in counted])
    assert [row.played for row in found.rows] == ["2-", "4"]
    four = found.rows[1]
    assert sum(cell.chords for cell in four.cells) == four.chords == 10
    assert [cell.right for cell in four.cells] == [False, True, False, False]
    assert four.cells[found.columns.index(LEFT_OUT)].chords == 1
    assert confusion_table([]).rows == ()


def test_a_share_reads_the_same_in_text_and_plots() -> None:
    """Only all of something is 100%: 99.6% reads 99% in a sentence, a table and a plot."""
    almost = [DayRecord(TODAY, 4, 12.0, 0.996, 3, None)]
    period = period_of("month", TODAY, None)
    score = next(plot for plot in day_plots(almost, period) if plot.key == "score")
    assert score.summary == "Your average score is 99%."
    assert score.rows[0][1] == "99%"
    assert [percent(share) for share in (0.996, 0.9999, 1.0)] == ["99%", "99%", "100%"]
    at = datetime(2026, 3, 2, 9, tzinfo=UTC)
    result = SpeedResult(PROTOCOL, at, 0.996, 0.997, None)
    view = speed_view(speed_history([result]))
    assert view.plot is not None
    assert view.plot.summary == (
        "You've taken 1 test. You kept up with 99% in the first, 99% in the best and "
        "99% in the last."
    )
    assert view.plot.rows[0][1:3] == ("99%", "99%")


def test_a_lag_of_those_who_write_afterwards_is_not_drawn() -> None:
    """Whoever usually listens first and writes afterwards has no plot of the lag."""
    day = date(2026, 11, 19)
    period = Period("a week", day - timedelta(days=6), day, 7, 1)
    for lag, is_drawn in ((3.0, True), (60.0, False)):
        plots = day_plots([DayRecord(day, 1, 5.0, 0.9, 0, lag)], period)
        assert any(plot.key == "lag" for plot in plots) == is_drawn
