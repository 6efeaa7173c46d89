"""A song given to a friend by its code."""

from __future__ import annotations

import re
from html import unescape

from fastapi.testclient import TestClient

from tests.web.helpers import begin, hand_in
from trainer.web.context import LearnerContext


def given(client: TestClient, result: str) -> str:
    """The page that gives a result's song to a friend."""
    assert f'href="{result}/code"' in client.get(result).text
    return unescape(client.get(f"{result}/code").text)


def test_a_friend_gets_the_same_song_and_no_chart(
    client: TestClient, context: LearnerContext
) -> None:
    """The result's code begins the same exercise; the page of the code shows nothing of the chart,
    its key, or the seed that makes it."""
    exercise_id = begin(client, level="9", seed="704233")
    exercise = context.exercise(exercise_id).exercise
    page = given(client, hand_in(client, exercise_id, "1 4 5"))
    code = re.findall(r"<textarea id=\"code\"[^>]*>([^<]+)<", page)[0]
    link = re.findall(r'href="(http[^"]+code=[^"]+)"', page)[0]
    shown = unescape(client.get(link).text)
    assert f"level {exercise.level}" in shown
    for secret in ("704233", exercise.chart.title, f"key of {exercise.chart.key}"):
        assert secret not in shown
    for typed in (code, code.lower()):
        begun = client.post("/code", data={"code": typed}, follow_redirects=False)
        assert begun.headers["location"] == f"/write/{exercise_id}"


def test_looking_at_a_code_stores_nothing(client: TestClient, context: LearnerContext) -> None:
    """The page of a code begins no drill."""
    house = begin(client, song="second-street-strut")
    page = given(client, hand_in(client, house, "1 4 5"))
    link = re.findall(r'href="(http[^"]+code=[^"]+)"', page)[0]
    before = context.store.open_drills.latest(context.learner)
    assert "a song by the house band" in client.get(link).text
    assert context.store.open_drills.latest(context.learner) == before


def test_a_wrong_code_stays_in_the_field(client: TestClient) -> None:
    """What was typed is there to be mended, with what is wrong; without a code the page asks."""
    answer = client.get("/code", params={"code": "ABCD-EFGH"})
    assert answer.status_code == 422
    assert "found a code with a slip in it" in answer.text
    assert 'value="ABCD-EFGH"' in answer.text
    assert client.post("/code", data={"code": "ABCD"}).status_code == 422
    assert client.get("/code").status_code == 200


def test_a_song_of_ones_own_has_no_code(client: TestClient, context: LearnerContext) -> None:
    """A song of the songbook is given as a file, and its page says so."""
    uid = context.songbook.new("title: Lock Gate\n\n1 4 5 1").uid
    begun = client.post(f"/songbook/{uid}/exercise", follow_redirects=False).headers["location"]
    page = given(client, hand_in(client, begun.rpartition("/")[2], "1 4 5 1"))
    assert "This song has no code." in page
    assert "saved there as a file" in page
