"""The pages of a live dictation, and that no seat gets anything of the song."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from tests.web.classroom.lockside import Lockside, said
from tests.web.classroom.school import School
from tests.web.classroom.test_class_leak import EXPORTS, keys_of
from tests.web.test_costs import counted_queries
from tests.web.test_leak import secrets_of
from trainer.chart import format_chart
from trainer.classroom.dictation_answers import item_of
from trainer.exercise import Exercise

JSON = {"accept": "application/json"}
# The one of the session, and the one of the dictation.
POLL_READS = 2


@pytest.fixture
def lockside(school: School) -> Lockside:
    """A class whose two learners have joined."""
    return Lockside(school)


def song_of(lockside: Lockside, uid: str) -> Exercise:
    """What the band plays in a dictation."""
    store = lockside.school.store.dictations
    found = store.find(uid)
    assert found is not None
    return item_of(found, store.song(found)).exercise


def act(client: TestClient, place: str, **form: str) -> None:
    """A script of the page tells the server something."""
    answer = client.post(place, data=form, headers=JSON, follow_redirects=False)
    assert answer.status_code in {200, 303}, answer.text


def seat_answers(client: TestClient, uid: str) -> list[str]:
    """Everything that a learner can get while a dictation runs, headers too."""
    place = f"/assigned/dictations/{uid}"
    answers = [
        client.get(place),
        client.get(f"{place}/phase?revision=0"),
        client.put(f"{place}/text", data={"text": "7"}),
        client.post(f"/preview/dictations/{uid}", content="7"),
    ]
    pages = ("/", "/assigned", "/today", "/history", "/progress", "/songbook", *EXPORTS)
    answers += [client.get(page) for page in pages]
    for asked in ("", "/table", "/answers", "/sound", "/screen"):
        refused = client.get(f"/dictations/{uid}{asked}", headers=JSON)
        assert refused.status_code == 403
        answers.append(refused)
    answers.append(client.post("/account/export"))
    assert all(answer.status_code < 500 for answer in answers)
    return [str(answer.url) + str(answer.headers) + answer.text for answer in answers]


@pytest.mark.parametrize("level", ["home-four-five", "two-sections"])
def test_no_seat_gets_anything_of_the_song(lockside: Lockside, level: str) -> None:
    """While the dictation runs and until results are shown, nothing that a learner gets has the
    sound's address, the key, the seed, the recipe, the usual id or a line of the chart."""
    wren, zoe = lockside.learners.values()
    empty = lockside.dictate(f"level:{level}")
    common = "\n".join(seat_answers(zoe, empty))
    act(lockside.teacher, f"/dictations/{empty}/end")
    uid = lockside.dictate(f"level:{level}")
    song = song_of(lockside, uid)
    sound = lockside.teacher.get(f"/dictations/{uid}/sound", headers=JSON).json()["url"]
    texts = seat_answers(wren, uid)
    act(lockside.teacher, f"/dictations/{uid}/play")
    texts += seat_answers(wren, uid)
    act(lockside.teacher, f"/dictations/{uid}/end")
    texts += [
        wren.get(place).text
        for place in ("/assigned", f"/assigned/dictations/{uid}", "/history", "/", *EXPORTS)
    ]
    learner = lockside.school.store.learners.get("wren")
    assert learner is not None
    (attempt,) = lockside.school.store.attempts.history(learner)
    detail = lockside.school.store.attempts.get(attempt.id)
    assert detail is not None
    hidden = wren.get(f"/result/{attempt.id}")
    texts += [hidden.text, str(hidden.headers), wren.post("/account/export").text]
    secrets = [*keys_of(song), *(each for each in secrets_of(song) if each not in common), sound]
    for text in texts:
        for secret in secrets:
            assert secret not in text
        assert "/audio/" not in text
        assert f"key of {song.chart.key}" not in text
        assert "home-four-five" not in text
        assert '"styles"' not in text
        assert not re.search(r'"seed":\s*[1-9]', text)
    # Nobody can write any more; the key is no secret now, but the chart is.
    place = f"/write/{detail.exercise.key}"
    late = [wren.get(place), wren.get(f"{place}/light"), wren.post(f"{place}/begin")]
    late.append(wren.post(place, data={"token": attempt.token, "text": "1"}))
    for answer in late:
        for secret in (*keys_of(song), *(each for each in secrets_of(song) if each not in common)):
            assert secret not in answer.text


def test_an_unchanged_phase_is_an_empty_answer(lockside: Lockside) -> None:
    """A page that has the revision gets an empty answer for the session's read and one more, and
    nothing is written; after a change it gets the phase."""
    uid = lockside.dictate()
    wren = lockside.learners["wren"]
    place = f"/assigned/dictations/{uid}/phase"
    with counted_queries() as queries:
        same = wren.get(f"{place}?revision=1", headers=JSON)
    assert (same.status_code, same.content) == (204, b"")
    assert len(queries) == POLL_READS
    act(lockside.teacher, f"/dictations/{uid}/play")
    told = wren.get(f"{place}?revision=1", headers=JSON)
    assert told.json() == {"phase": "playing", "revision": 2, "can_write": True}


def test_a_dictation_on_the_pages(lockside: Lockside) -> None:
    """Learners find it under their work and write; the teacher sees who is where and the answers
    without names, ends it, and the results come when the teacher shows them."""
    uid = lockside.dictate()
    song, teacher = song_of(lockside, uid), lockside.teacher
    wren, zoe = lockside.learners.values()
    assert "Live now" in said(wren, "/assigned")
    seat = f"/assigned/dictations/{uid}"
    assert "<audio" not in wren.get(seat).text
    act(teacher, f"/dictations/{uid}/play")
    lockside.school.clock.passes(seconds=60)
    wren.put(f"{seat}/text", data={"text": format_chart(song.chart)})
    zoe.put(f"{seat}/text", data={"text": "7"})
    table = teacher.get(f"/dictations/{uid}/table", headers=JSON).json()
    count = len(song.chart.bars())
    assert [(row["name"], row["written"], row["right"]) for row in table["rows"]] == [
        ("Wren H.", count, count), ("Zoe H.", 1, 0),
    ]  # fmt: skip
    first = str(song.chart.bars()[0].events[0].chord)
    answers = teacher.get(f"/dictations/{uid}/answers?bar=1", headers=JSON).json()
    assert sorted(answers["counts"]) == sorted([[first, 1], ["7", 1]])
    screen = teacher.get(f"/dictations/{uid}/screen").text
    assert "Wren" not in screen
    act(zoe, f"{seat}/hand-in", text="7 1")
    act(teacher, f"/dictations/{uid}/end")
    assert "Live now" not in said(wren, "/assigned")
    late = wren.put(f"{seat}/text", data={"text": "1"}, headers=JSON)
    assert (late.status_code, "over" in late.json()["error"]) == (422, True)
    assert "It's over" in said(teacher, f"/dictations/{uid}")
    assert "no end" not in said(teacher, f"/classes/{lockside.class_uid}")
    found = lockside.school.store.dictations.find(uid)
    assert found is not None
    assert found.assignment_id is not None
    assignment = lockside.school.store.assignments.get(found.assignment_id)
    assert assignment is not None
    lockside.post(f"/assignments/{assignment.uid}/results")
    assert "100%" in said(wren, f"/assigned/{assignment.uid}")


def test_no_press_on_play_is_lost(lockside: Lockside) -> None:
    """The buttons of the band can't be pressed before the page's script hears them."""
    page = lockside.teacher.get(f"/dictations/{lockside.dictate()}").text
    for name in ("play", "stop", "replay"):
        assert re.search(rf'<button[^>]* id="{name}"[^>]* disabled>', page)


@pytest.mark.parametrize("what", ["", "skill:home-four-five:chord 4", "song:none", "level:none"])
def test_what_cannot_be_played_is_said_on_the_page(lockside: Lockside, what: str) -> None:
    """A form that names no song is shown again with the reason."""
    place = f"/classes/{lockside.class_uid}/dictations"
    answer = lockside.teacher.post(place, data={"what": what})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text


def test_bars_that_the_song_lacks_have_no_sound(lockside: Lockside) -> None:
    """The desk is told how many bars there are."""
    uid = lockside.dictate()
    for asked in ("first=9&last=3", "first=1&last=999"):
        answer = lockside.teacher.get(f"/dictations/{uid}/sound?{asked}", headers=JSON)
        assert answer.status_code == 422
        assert "The song has bars 1 to" in answer.json()["error"]
