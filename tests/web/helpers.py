"""Steps that tests of the page share."""

from __future__ import annotations

from fastapi.testclient import TestClient

from trainer.exercise import Exercise, load_course, make_exercise


def exercise_of(number: int, seed: int = 7) -> Exercise:
    """A level's exercise."""
    level = load_course()[number - 1]
    return make_exercise(level.recipe, seed, level)


def key_of(url: str) -> str:
    """The key in the address of a sound."""
    return url.removeprefix("/audio/").partition(".wav")[0]


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


def read_pages(client: TestClient) -> dict[str, str]:
    """The text of every page by name, in a state that shows most of it."""
    learner = client.app.state.context.store.learners.get("me")  # type: ignore[attr-defined]
    song = begin(client, song="second-street-strut")
    keep_text(client, song, "Verse:\n1 4 x")
    answered = begin(client, level="1", seed="1")
    result = hand_in(client, answered, "key: D\n1 4d 5/7 (6- 2-) [2/4] 3 0")
    question, done = lesson_pages(client)
    places = {
        "start": "/",
        "write": f"/write/{song}",
        "level": f"/write/{begin(client, level='2', seed='2')}",
        "result": result,
        "history": "/history",
        "begin": f"/write/{answered}",
        "handout": result.replace("result", "handout") + "/played",
        "code given": f"{result}/code",
        "code": "/code",
        "hearing": "/hearing",
        "today": "/today",
        "speed": "/speed",
        "progress": "/progress",
        "learners": "/learners",
        "lessons": "/lessons",
        "lesson": "/lessons/tag",
        "question": question,
        "answered": f"{question}?told=1",
        "done": done,
        "signs": "/signs",
        "what": "/what-is-a-chart",
        "delete": f"/learners/{learner.uid}/delete",
        "rename": f"/learners/{learner.uid}/rename",
        "error": "/nowhere",
    }
    return {name: client.get(place).text for name, place in places.items()}


def lesson_pages(client: TestClient) -> tuple[str, str]:
    """The addresses of a run with one answer and of one that is finished."""
    found = []
    for lesson, answers in (("five-over-seven-or-five", 1), ("four-over-five", 5)):
        begun = client.post(f"/lessons/{lesson}/begin", follow_redirects=False)
        found.append(begun.headers["location"])
        for number in range(1, answers + 1):
            client.post(found[-1], data={"number": number, "choice": 0})
    return found[0], found[1]
