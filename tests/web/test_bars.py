"""The page on which missed bars are practised."""

from __future__ import annotations

import re
from html import unescape

import pytest
from fastapi.testclient import TestClient

from tests.web.fakes import FakeLibrary
from tests.web.helpers import begin, hand_in, hear_out
from trainer.chart import Chart, format_chart
from trainer.drill import Result, find_result, practised_bars
from trainer.store import Store
from trainer.web.context import LearnerContext

JSON = {"accept": "application/json"}


def written_wrong(client: TestClient, context: LearnerContext, *wrong: int) -> str:
    """A first song of level 1 with these bars wrong; the address of its result."""
    exercise_id = begin(client, level="1", seed="1")
    chart = context.exercise(exercise_id).exercise.chart
    bars = [
        "7o" if number in wrong else str(bar.events[0].chord)
        for number, bar in enumerate(chart.bars(), 1)
    ]
    return hear_out(client, exercise_id, " ".join(bars))


def result_at(context: LearnerContext, place: str) -> Result:
    """The result at an address."""
    found = find_result(context.store, context.learner, int(place.rpartition("/")[2]))
    assert found is not None
    return found


def practise(client: TestClient, place: str, bar: str = "") -> str:
    """Begin to practise what a result missed; the address of the page."""
    answer = client.post(f"{place}/practise", data={"bar": bar}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    found: str = answer.headers["location"]
    assert found.startswith("/bars/")
    return found


def field(page: str, name: str) -> str:
    """What a hidden field or a data attribute of the page says."""
    found = re.search(rf'(?:data-{name}|name="{name}"[^>]*? value)="([^"]*)"', page)
    assert found is not None
    return unescape(found[1])


def body(chart: Chart) -> str:
    """A chart without its header."""
    return format_chart(chart).partition("\n\n")[2]


def test_missed_bars_are_written_until_right_twice_in_a_row(
    client: TestClient, context: LearnerContext
) -> None:
    """A wrong try is told what is wrong, a right one that it is; after two the bars are there."""
    place = written_wrong(client, context, 3)
    page = client.get(practise(client, place))
    assert "Bars 2–3 of" in page.text
    assert "not yet" in page.text
    exercise = context.exercise(page.url.path.rpartition("/")[2]).exercise
    assert field(page.text, "lead-in").strip() == str(exercise.chart.bars()[0].events[0].chord)
    token, right = field(page.text, "token"), body(exercise.chart)
    said = []
    for text in ("1 b7", right, right):
        form = {"token": token, "text": text}
        answer = client.post(page.url.path, data=form, headers=JSON).json()
        said.append((answer["states"], answer["told"]))
        token = answer["token"]
    assert [states for states, _ in said] == [["not yet"], ["right once"], ["right twice ✓"]]
    assert "Not right yet" in said[0][1]
    assert "and you wrote b7" in said[0][1]
    assert "Once more" in said[1][1]
    assert "You've now got every bar that you missed." in said[2][1]


def test_without_scripts_the_page_tells_the_same(
    client: TestClient, context: LearnerContext
) -> None:
    """A form that is sent leads back to the page with what is to be said."""
    place = practise(client, written_wrong(client, context, 3))
    token = field(client.get(place).text, "token")
    page = client.post(place, data={"token": token, "text": "1 b7"})
    assert "Not right yet" in page.text
    assert field(page.text, "token") != token


def test_the_bar_that_is_chosen_says_which_stretch(
    client: TestClient, context: LearnerContext
) -> None:
    """Beginning from a bar begins the stretch that has it, from none the first."""
    place = written_wrong(client, context, 1, 4)
    result = result_at(context, place)
    practice = practised_bars(context.store, context.learner, result)
    assert practice is not None
    for bar, number in (("", 0), ("4", len(practice.stretches) - 1), ("99", 0), ("x", 0)):
        assert practise(client, place, bar) == f"/bars/{practice.exercise(number).id}"


def test_bars_are_looped_slower_and_in_another_key(
    client: TestClient, context: LearnerContext, library: FakeLibrary
) -> None:
    """The sound of a slower loop is longer; in another key all else stays as it was."""
    place = practise(client, written_wrong(client, context, 3))
    full, half = (
        client.get(f"{place}/sound?speed={speed}", headers=JSON).json() for speed in (100, 50)
    )
    assert half["loop_end_s"] == pytest.approx(2 * full["loop_end_s"], rel=0.01)
    assert client.get(f"{place}/sound?speed=33", headers=JSON).status_code == 422
    moved = client.post(f"{place}/begin", data={"number": "0", "shift": "5"})
    assert "Bars 2–3 of" in moved.text
    before, after = (
        context.exercise(path.rpartition("/")[2]).exercise.chart for path in (place, moved.url.path)
    )
    assert after.key == before.key.shifted(5)
    assert after.bars() == before.bars()


def test_a_result_offers_its_missed_bars(client: TestClient, context: LearnerContext) -> None:
    """A result with mistakes offers to practise them, one without does not, nor does a try."""
    place = written_wrong(client, context, 2)
    assert "Practise these bars" in client.get(place).text
    perfect = written_wrong(client, context)
    assert "Practise these bars" not in client.get(perfect).text
    assert client.post(f"{perfect}/practise").status_code == 404
    bars = practise(client, place)
    token = field(client.get(bars).text, "token")
    tried = client.post(bars, data={"token": token, "text": "b7 b7"}, follow_redirects=False)
    shown = client.get(f"/result/{tried.headers['location'].partition('tried=')[2]}").text
    assert "Practise these bars" not in shown
    assert f'href="{bars}"' in shown


def test_tries_stand_in_the_history(client: TestClient, context: LearnerContext) -> None:
    """A try is an attempt of its own kind; the page to write on leads to the page of the bars."""
    bars = practise(client, written_wrong(client, context, 3))
    token = field(client.get(bars).text, "token")
    client.post(bars, data={"token": token, "text": "1 4"})
    page = client.get("/history?kind=bars").text
    assert "bars practised</td>" in page
    assert "1 attempt<" in page
    wrote = client.get(bars.replace("/bars/", "/write/"), follow_redirects=False)
    assert (wrote.status_code, wrote.headers["location"]) == (303, bars)


def test_what_is_no_practice_is_not_there(
    client: TestClient, store: Store, context: LearnerContext
) -> None:
    """An ordinary exercise, a stretch too many, and another's bars have no such page."""
    exercise_id = begin(client, level="1", seed="4")
    hand_in(client, exercise_id, "1 4 5 1")
    assert client.get(f"/bars/{exercise_id}").status_code == 404
    bars = practise(client, written_wrong(client, context, 3))
    assert client.post(f"{bars}/begin", data={"number": "9"}).status_code == 404
    assert client.post(f"{bars}/begin", data={"number": "0", "shift": "12"}).status_code == 422
    other = store.learners.add("somebody else", context.clock())
    store.learners.caution_shown(other, context.clock())
    client.post("/learners/choose", data={"uid": other.uid})
    assert client.get(bars).status_code == 404
