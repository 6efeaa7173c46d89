"""Steps that tests of the page share."""

from __future__ import annotations

from fastapi.testclient import TestClient

from trainer.exercise import Exercise, load_course, make_exercise


def exercise_of(number: int, seed: int = 7) -> Exercise:
    """A level's exercise."""
    level = load_course()[number - 1]
    return make_exercise(level.recipe, seed, level)


def begin(client: TestClient, **fields: str) -> str:
    """Begin an exercise; its id."""
    answer = client.post("/begin", data=fields, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    place: str = answer.headers["location"]
    assert place.startswith("/write/")
    return place.removeprefix("/write/")


def begin_known(client: TestClient, exercise_id: str) -> None:
    """Begin a drill at an exercise that the learner has."""
    answer = client.post(f"/write/{exercise_id}/begin", follow_redirects=False)
    assert answer.status_code == 303, answer.text


def keep_text(client: TestClient, exercise_id: str, text: str, **fields: str) -> None:
    """Keep what was typed."""
    answer = client.put(f"/write/{exercise_id}/draft", data={"text": text} | fields)
    assert answer.status_code == 204, answer.text


def token_of(client: TestClient, exercise_id: str) -> str:
    """What names the handing-in on a page to write on."""
    page = client.get(f"/write/{exercise_id}").text
    return page.partition('name="token" value="')[2].partition('"')[0]


def hear_out(client: TestClient, exercise_id: str, text: str) -> str:
    """Listen once and hand a chart in; the address of its result."""
    assert client.post(f"/write/{exercise_id}/listen").status_code == 200
    return hand_in(client, exercise_id, text)


def hand_in(client: TestClient, exercise_id: str, text: str, **fields: str) -> str:
    """Hand a chart in; the address of its result."""
    form = {"token": token_of(client, exercise_id), "text": text} | fields
    answer = client.post(f"/write/{exercise_id}", data=form, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    place: str = answer.headers["location"]
    return place
