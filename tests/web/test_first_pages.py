"""The page for those who do not know number charts, and the page of signs."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest
from fastapi.testclient import TestClient

from tests.readability import flesch_kincaid_grade
from tests.web.conftest import JSON
from tests.web.fakes import FakeLibrary
from tests.web.helpers import key_of
from trainer.chart import chord_letters
from trainer.drill import FIRST_CHART, STEPS, check_first_bar, play_first_bars, play_sign
from trainer.drill.first_chart import OTHER_KEY
from trainer.exercise import load_signs
from trainer.store import Store
from trainer.web.context import LearnerContext

PLACE = "/what-is-a-chart"
RIGHT = ("1", "4", "5", "1")


def text_of(html: str) -> str:
    """The words of a page's main part."""
    main = html.partition("<main")[2].partition("</main>")[0]
    return " ".join(re.sub(r"<[^>]+>", " ", main).split())


def test_a_learner_without_attempts_is_shown_the_first_page_first(client: TestClient) -> None:
    """The first card of the start page leads there; it stays in reach later."""
    page = client.get("/").text
    assert page.index(PLACE) < page.index('id="today"')
    assert f'class="button primary" href="{PLACE}"' in page


def test_four_bars_are_written_one_after_another(client: TestClient, store: Store) -> None:
    """Each right bar is told so and drawn; after the fourth the chart can be heard in another key.
    Nothing is stored."""
    for number, bar in enumerate(RIGHT):
        told = client.post(PLACE, data={"written": number, "text": bar}, headers=JSON).json()
        assert STEPS[number].praise in told["html"]
        assert told["html"].count('class="bar"') == number + 1
    assert "Hear it in C" in told["html"]
    learner = store.learners.get("me")
    assert learner is not None
    assert store.attempts.count(learner) == 0
    assert store.lesson_runs.all(learner) == ()


def test_a_wrong_bar_is_told_why_and_stays(client: TestClient) -> None:
    """The bar is asked again, with what was typed and a hint."""
    told = client.post(PLACE, data={"written": 1, "text": "5"}, headers=JSON).json()["html"]
    assert "one step too far" in told
    assert 'value="5"' in told
    assert told.count('class="bar"') == 1


def test_without_scripts_the_page_goes_on(client: TestClient) -> None:
    """A form that is posted gives the whole page with the next step."""
    page = client.post(PLACE, data={"written": 0, "text": "1"}).text
    assert "<h1>What is a number chart?</h1>" in page
    assert STEPS[1].ask in page


@pytest.mark.parametrize("fields", [{"written": 4, "text": "1"}, {"written": -1}, {"written": "x"}])
def test_a_step_that_is_not_there_is_refused(client: TestClient, fields: dict[str, object]) -> None:
    """There are four bars."""
    assert client.post(PLACE, data=fields).status_code == 422


def test_the_bars_are_heard(client: TestClient, library: FakeLibrary) -> None:
    """Each step plays the bars up to the one asked for; the whole also in another key."""
    for query, played in (
        ("bars=2", play_first_bars(2)),
        ("bars=4&key=other", play_first_bars(4, in_other_key=True)),
    ):
        url = client.get(f"{PLACE}/sound?{query}").json()["url"]
        assert library.registered[key_of(url)] == played
    assert client.get(f"{PLACE}/sound?bars=5").status_code == 422


@pytest.mark.parametrize(
    ("number", "typed", "said"),
    [
        (1, "1", STEPS[0].praise),
        (1, "4", "The band starts at home here"),
        (2, "4", STEPS[1].praise),
        (2, "1", "not at home any more"),
        (2, "4-", "The number is right. Leave out the rest"),
        (2, "6-", STEPS[1].hint),
        (3, "", "Type one number"),
        (3, "4 5", "Type one number"),
        (3, "what?", "Type one number"),
        (2, "C", "That is a letter name"),
        (3, " Dm7 ", "That is a letter name"),
        (3, "Bb", "That is a letter name"),
        (2, "9", "from 1 to 7"),
        (4, "5", "The 5 was the bar before"),
        (4, " 1 ", STEPS[3].praise),
    ],
)
def test_what_is_said_of_a_bar(number: int, typed: str, said: str) -> None:
    """The right number is praised; a wrong one has the hint that fits it."""
    found = check_first_bar(number, typed)
    assert said in found.said
    assert found.is_right == (found.said == STEPS[number - 1].praise)


def test_no_hint_for_a_bar_gives_it_away_before_it_is_tried() -> None:
    """What is said of a text that is no number names no bar of the chart."""
    for number in (2, 3):
        assert RIGHT[number - 1] not in check_first_bar(number, "?!").said
        assert RIGHT[number - 1] not in check_first_bar(number, "Q").said


def test_the_letters_under_the_numbers_are_those_of_the_chart(client: TestClient) -> None:
    """The letters that the last step names are the chart in its own key and in the other one."""
    told = client.post(PLACE, data={"written": 3, "text": "1"}, headers=JSON).json()["html"]
    for key in (FIRST_CHART.key, OTHER_KEY):
        chords = [event.chord for bar in FIRST_CHART.bars() for event in bar.events]
        letters = [chord_letters(chord, key) for chord in chords if chord is not None]
        named = ", ".join(letters).replace("b", "♭")
        assert f"In {str(key).replace('b', '♭')} you'd play {named}." in told


def test_the_first_page_is_easy_to_read(client: TestClient) -> None:
    """The page and every hint have a Flesch-Kincaid grade of 7 at most."""
    hints = [text for step in STEPS for text in (step.ask, step.praise, step.hint)]
    hints += [text for step in STEPS for text in step.hints.values()]
    assert flesch_kincaid_grade(" ".join(hints)) <= 7
    words = text_of(client.get(PLACE).text)
    assert flesch_kincaid_grade(re.sub(r"\b\d\b", "five", words)) <= 7


def test_every_sign_is_shown_drawn_and_heard(client: TestClient, library: FakeLibrary) -> None:
    """The page of signs has each as it is typed and as it is drawn, with its sound and lesson."""
    page = client.get("/signs").text
    signs = load_signs()
    assert page.count('class="chart-sheet"') == len(signs)
    for sign in signs:
        url = client.get(f"/signs/{sign.id}/sound").json()["url"]
        key = key_of(url)
        assert library.registered[key] == play_sign(sign)
        if sign.lesson:
            assert f'href="/lessons/{sign.lesson}"' in page
    assert client.get("/signs/nowhere/sound").status_code == 404


def test_the_guide_leads_to_the_signs(client: TestClient, context: LearnerContext) -> None:
    """The card beside the field links to the whole page."""
    place = client.post("/begin", data={"level": "1"}, follow_redirects=False).headers["location"]
    assert 'href="/signs"' in client.get(place).text


def test_the_keys_come_from_the_table_that_pages_obey() -> None:
    """The page of signs names no key itself: its script lists the table of shortcuts.js."""
    static = files("trainer.web") / "static"
    script = (static / "signs.js").read_text("utf-8")
    assert 'import { SHORTCUTS, showKeys } from "./shortcuts.js";' in script
    assert "Alt" not in script
