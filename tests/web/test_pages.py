from __future__ import annotations

from datetime import datetime
from html import unescape

import pytest
from fastapi.testclient import TestClient

from tests.web.helpers import begin, begin_known, hand_in, hear_out, keep_text
from trainer.chart import format_chart
from trainer.exercise import (
    exercise_from_json,
    exercise_to_json,
    load_course,
    make_exercise,
    named_recipe,
    recipe_from_dict,
)
from trainer.store import Store
from trainer.web.context import LearnerContext


def test_whoever_is_new_reads_the_caution_first(stranger: TestClient, store: Store) -> None:
    """The start page and a shared address lead to the caution; after it the way goes on."""
    answer = stranger.get("/", follow_redirects=False)
    assert answer.headers["location"] == "/hearing"
    answer = stranger.get("/write/abc123", follow_redirects=False)
    assert answer.headers["location"] == "/hearing?then=abc123"
    page = stranger.get("/hearing").text
    assert "H.870" in page
    assert "80 dBA" in page
    assert store.learners.get("me") is None
    answer = stranger.post("/hearing", data={"then": "abc123"}, follow_redirects=False)
    assert answer.headers["location"] == "/write/abc123"
    assert store.learners.get("me") is not None
    assert stranger.get("/", follow_redirects=False).status_code == 200


def test_a_learner_made_elsewhere_reads_the_caution_first(
    stranger: TestClient, store: Store, fixed_now: datetime
) -> None:
    """A learner made by an import or in the terminal who was not shown the caution is led to it by
    pages and buttons, and scripts get an error; once it was shown, neither happens.
    """
    learner = store.learners.get_or_add("me", fixed_now)
    for place in ("/", "/today", "/progress", "/history", "/speed", "/progress/numbers.json"):
        answer = stranger.get(place, follow_redirects=False)
        assert answer.headers["location"] == "/hearing", place
    answer = stranger.post("/begin", data={"level": "1"}, follow_redirects=False)
    assert answer.headers["location"] == "/hearing"
    answer = stranger.post("/write/abc/listen", headers={"accept": "application/json"})
    assert answer.status_code == 409
    assert "advice on your hearing" in answer.json()["error"]
    assert "Before you listen" in stranger.get("/hearing").text
    stranger.post("/hearing")
    shown = store.learners.by_uid(learner.uid)
    assert shown is not None
    assert shown.caution_at == fixed_now
    assert stranger.get("/", follow_redirects=False).status_code == 200


def test_the_caution_leads_nowhere_else(client: TestClient) -> None:
    """What is no exercise's name leads to the start page, never to another context."""
    answer = client.post("/hearing", data={"then": "//elsewhere"}, follow_redirects=False)
    assert answer.headers["location"] == "/"


def test_the_start_page_shows_the_course(client: TestClient) -> None:
    """Every level stands with its title, what it trains and its pass mark, every song by title."""
    page = unescape(client.get("/").text)
    for level in load_course():
        assert level.title in page
        assert f"You need {level.pass_mark:.0%} to pass" in page
    assert "Second Street Strut" in page


def test_the_best_result_stands_at_its_level(client: TestClient, context: LearnerContext) -> None:
    """After a perfect level 1 that was listened to it is passed, and level 2 is next."""
    exercise_id = begin(client, level="1", seed="5")
    exercise = context.exercise(exercise_id).exercise
    unheard = client.get(hand_in(client, exercise_id, format_chart(exercise.chart))).text
    assert "count for a level or your ratings" in unheard
    assert "Level 1 passed" not in unheard
    assert "passed, 100%" not in client.get("/").text
    exercise_id = begin(client, level="1", seed="6")
    exercise = context.exercise(exercise_id).exercise
    heard = client.get(hear_out(client, exercise_id, format_chart(exercise.chart))).text
    assert "Level 1 passed" in heard
    page = client.get("/").text
    assert "passed, 100%" in page
    assert "Next: level 2" in page


def test_a_check_that_is_passed_moves_the_course_on(
    client: TestClient, context: LearnerContext
) -> None:
    """Whoever passes level 11 goes on with 12; the map says why those before are skipped, what each
    level adds, and lets a skipped one be taken as a check."""
    exercise_id = begin(client, level="11", seed="1")
    exercise = context.exercise(exercise_id).exercise
    hear_out(client, exercise_id, format_chart(exercise.chart))
    page = unescape(client.get("/").text)
    assert "Next: level 12" in page
    assert "You've passed level 11, so levels " in page
    assert 'aria-label="Check level 3">Check</button>' in page
    assert 'aria-label="Begin level 13">Begin</button>' in page
    assert "5 of 5 passed" not in page
    assert "0 of 5 passed, 5 skipped" in page
    assert "adds 6/8 time, the 6/8 feel" in page


def test_a_seed_gives_the_same_song(client: TestClient, context: LearnerContext) -> None:
    """Level and seed make the exercise that the course makes of them."""
    level = load_course()[3]
    exercise_id = begin(client, level="4", seed="41")
    assert context.exercise(exercise_id).exercise == make_exercise(level.recipe, 41, level)
    assert begin(client, level="4", seed=" 41 ") == exercise_id
    assert begin(client, level="4") != exercise_id


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"level": "99"}, "expected a level from 1 to"),
        ({"level": "1", "seed": "-4"}, "expected a whole number from 0"),
        ({"level": "1", "seed": "9" * 5000}, "expected a whole number from 0"),
        ({"level": "1", "seed": "²"}, "expected a whole number from 0"),
        ({"level": "1", "seed": "0" * 5000}, "expected a whole number from 0"),
        ({"level": "1", "seed": "0" * 20 + "9" * 30}, "expected a whole number from 0"),
        ({"song": "nothing"}, "expected one of: "),
        ({"recipe": "nothing"}, "expected one of the recipes everyday"),
        ({}, "expected a level from 1 to"),
        ({"level": "one"}, "level"),
    ],
)
def test_a_wrong_choice_is_told(client: TestClient, fields: dict[str, str], said: str) -> None:
    """What cannot be begun is answered with what was found and expected, as a page."""
    answer = client.post("/begin", data=fields)
    assert answer.status_code == 422
    assert said in answer.text
    assert "Go to the start page" in answer.text


def test_a_named_recipe_is_offered(client: TestClient, context: LearnerContext) -> None:
    """The start page offers an everyday song, another each time, or that of a seed."""
    page = client.get("/").text
    assert "A song from Millrace radio" in page
    assert '<input type="hidden" name="recipe" value="everyday">' in page
    exercise_id = begin(client, recipe="everyday", seed="3")
    expected = make_exercise(named_recipe("everyday").recipe, 3)
    assert context.exercise(exercise_id).exercise == expected
    assert begin(client, recipe="everyday") != exercise_id
    assert client.get(f"/write/{exercise_id}").status_code == 200


def test_a_recipe_of_ones_own(client: TestClient, context: LearnerContext) -> None:
    """A recipe file gives the exercise that the recipe and the seed make."""
    text = 'size = "phrase"\nchords = ["1", "4", "5"]\nlistens = 3\n'
    files = {"recipe": ("mine.toml", text.encode())}
    answer = client.post("/begin/recipe", data={"seed": "3"}, files=files, follow_redirects=False)
    exercise_id = answer.headers["location"].removeprefix("/write/")
    recipe = recipe_from_dict(
        {"size": "phrase", "chords": ["1", "4", "5"], "listens": 3}, "mine.toml"
    )
    assert context.exercise(exercise_id).exercise == make_exercise(recipe, 3)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "found no file"),
        (b"\xff\xfe", "is not UTF-8"),
        (b"size = ", "not TOML"),
        (b'siez = "song"', "mine.toml: siez: found an unknown key"),
        (b"#" * 8_001, "more than 8,000 bytes"),
        (b"a." * 2_000 + b"a = 1", "2,001 levels of nesting"),
        (b"a = " + b"[" * 3_900 + b"]" * 3_900, "3,900 levels of nesting"),
        (b"listens = " + b"9" * 5_000, "a number of more than 4,300 digits"),
        (b"listens = 0x" + b"f" * 5_000, "a value that is too large to show"),
        (b"minor = " + b"9" * 400, "expected a number from 0 to 1"),
    ],
)
def test_a_wrong_recipe_is_told(client: TestClient, data: bytes, said: str) -> None:
    """A file that is no recipe says which key or byte is wrong."""
    answer = client.post("/begin/recipe", files={"recipe": ("mine.toml", data)})
    assert answer.status_code == 422
    assert said in answer.text


def test_a_song_of_the_band(client: TestClient, context: LearnerContext) -> None:
    """A hand-written song is taken as it is."""
    exercise_id = begin(client, song="second-street-strut")
    record = context.exercise(exercise_id)
    assert record.origin == "song"
    assert record.exercise in context.songs


def test_one_goes_on_where_one_was(client: TestClient, context: LearnerContext) -> None:
    """What was typed and not handed in is offered, with its text, until it is handed in."""
    exercise_id = begin(client, level="2", seed="8")
    assert "Pick up where you left off" not in client.get("/").text
    keep_text(client, exercise_id, "Verse:\n1 4 6-")
    assert f'href="/write/{exercise_id}"' in client.get("/").text
    assert "1 4 6-" in client.get(f"/write/{exercise_id}").text
    hand_in(client, exercise_id, "1 4 6-")
    assert "Pick up where you left off" not in client.get("/").text


def test_pages_that_are_not_there(client: TestClient) -> None:
    """What is not there says so on a page, and to a script as JSON."""
    for place in ("/nowhere", "/write/nothing", "/result/7", "/result/-1", "/handout/7/played"):
        answer = client.get(place)
        assert answer.status_code == 404, place
        assert "Not found" in answer.text
    answer = client.get("/result/7", headers={"accept": "application/json"})
    assert answer.json()["error"].startswith("There is no such result")
    assert client.get(f"/result/{10**30}").status_code in {404, 422}


def test_an_exercise_of_an_older_generator_opens(
    client: TestClient, context: LearnerContext
) -> None:
    """The chart as it was kept is asked and graded, whatever the generator would make today."""
    level = load_course()[0]
    data = exercise_to_json(make_exercise(level.recipe, 2, level))
    old = data | {
        "id": "from-long-ago",
        "generator_version": "0",
        "recipe": data["recipe"] | {"styles": ["a style that is gone"]},
    }
    context.store.exercises.keep(context.learner, exercise_from_json(old))
    begin_known(client, "from-long-ago")
    assert client.get("/write/from-long-ago").status_code == 200
    place = hand_in(client, "from-long-ago", data["chart"]["text"])
    assert "100%" in client.get(place).text
