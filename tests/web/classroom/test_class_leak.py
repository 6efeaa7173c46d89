"""Nothing that a learner gets of a handed-out song leads to its chart before it is answered."""

from __future__ import annotations

import re

import pytest

from tests.web.classroom.lockside import Lockside
from tests.web.classroom.school import School
from tests.web.helpers import key_of, token_of
from tests.web.test_leak import everything_loaded, secrets_of
from trainer.exercise import Exercise
from trainer.generate import GENERATOR_VERSION

EXPORTS = ("/progress/exercises.csv", "/progress/numbers.json")


def keys_of(exercise: Exercise) -> list[str]:
    """What `generate` would need, or what tells which song it is: seed, usual id, digests."""
    return [str(exercise.seed), exercise.id, exercise.id[:6]]


@pytest.fixture
def lockside(school: School) -> Lockside:
    """A class whose two learners have joined."""
    return Lockside(school)


@pytest.mark.parametrize("level", ["home-four-five", "five-over-seven", "two-sections"])
@pytest.mark.parametrize("results", ["teacher", "closed"])
def test_no_answer_of_the_server_leads_to_the_chart(
    lockside: Lockside, level: str, results: str
) -> None:
    """Every page, script answer and export, before handing in and while the result is hidden, is
    searched for the seed, the usual id, lines of the chart and where its bars begin."""
    uid = lockside.assign(f"level:{level}", results=results)
    (item,) = lockside.items(uid)
    other = lockside.assign(f"level:{level}", results=results)
    wren = lockside.learners["wren"]
    common = "\n".join(everything_loaded(wren, lockside.begin("wren", other)))
    key = lockside.begin("wren", uid)
    texts = everything_loaded(wren, key)
    chart = item.exercise
    hidden = wren.post(f"/write/{key}", data={"token": token_of(wren, key), "text": "1 4 5 1"})
    texts += [hidden.text, str(hidden.url)]
    pages = [
        "/assigned",
        f"/assigned/{uid}",
        "/history",
        "/progress",
        "/songbook",
        "/lessons",
        "/account",
    ]
    for place in (*pages, *EXPORTS, f"/write/{key}", f"/write/{key}/light"):
        answer = wren.get(place)
        assert answer.status_code < 500, place
        texts.append(str(answer.headers) + answer.text)
    texts.append(wren.post("/account/export").text)
    again = wren.post(f"/write/{key}/begin")
    assert "once your teacher shows the results" in again.text
    texts.append(again.text)
    secrets = [*keys_of(chart), *(each for each in secrets_of(chart) if each not in common)]
    for text in texts:
        for secret in secrets:
            if secret not in common:
                assert secret not in text
        assert f'"generator_version": "{GENERATOR_VERSION}"' not in text
        assert not re.search(r'"seed":\s*[1-9]', text)


def test_two_learners_of_one_song_have_nothing_in_common_but_the_sound(lockside: Lockside) -> None:
    """The id of a learner's exercise is random; title, key and sound are what a class shares."""
    uid = lockside.assign(results="teacher")
    first, second = (lockside.begin(name, uid) for name in ("wren", "zoe"))
    assert first != second
    assert min(len(first), len(second)) >= 20
    sounds = [
        client.get(f"/write/{key}/sound", headers={"accept": "application/json"})
        .json()["url"]
        .partition("?")[0]
        for client, key in ((lockside.learners["wren"], first), (lockside.learners["zoe"], second))
    ]
    assert key_of(sounds[0]) == key_of(sounds[1])


def test_the_record_of_a_shown_result_makes_no_song(lockside: Lockside) -> None:
    """Even once a result is shown, the exercise in a learner's record has no seed and no recipe
    that makes the song, so that it does not help a friend whose result is still to come."""
    uid = lockside.assign(results="at once")
    lockside.write("wren", uid)
    (item,) = lockside.items(uid)
    learner = lockside.school.store.learners.get("wren")
    assert learner is not None
    exported = lockside.school.store.transfer.export_json(learner)
    (exercise,) = exported["exercises"]
    assert exercise["data"]["seed"] == 0
    assert "styles" not in exercise["data"]["recipe"]
    assert str(item.exercise.seed) not in str(exported)
