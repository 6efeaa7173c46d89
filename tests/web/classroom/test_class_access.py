"""Every route about a class, asked by everybody: those it belongs to, and those it does not."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.classroom.lockside import wrong_first_bar
from tests.web.classroom.lockside import Lockside
from tests.web.classroom.matrix import OF_A_CLASS, Request, class_names, requests
from tests.web.classroom.school import School
from trainer.exercise import song_digest
from trainer.store import Role

FORBIDDEN, NOT_FOUND, WRONG = 403, 404, 422
JSON = {"accept": "application/json"}
# These end what the others are about.
LAST = ("delete", "close", "remove", "leave", "code/end", "hand-in", "/end")


@pytest.fixture
def lockside(school: School) -> Lockside:
    """A class with an assignment that was answered, an accepted chart, and people outside."""
    made = Lockside(school)
    school.account("moss")
    school.account("bram", Role.TEACHER)
    return made


def known(lockside: Lockside) -> dict[str, str]:
    """What the addresses of the class name."""
    uid = lockside.assign()
    (item,) = lockside.items(uid)
    result = lockside.write("wren", uid)
    second = wrong_first_bar(item.exercise.chart)
    song = song_digest(item.exercise)
    lockside.post(f"/gradebook/songs/{item.uid}/chart", song=song, text=second, do="accept")
    (chart,) = lockside.school.store.class_grades.accepted([item.id])
    return {
        "class": lockside.class_uid,
        "member": lockside.account("wren").uid,
        "assignment": uid,
        "item": item.uid,
        "chart": str(chart.id),
        "handed in": result.rpartition("/")[2],
        "dictation": lockside.dictate(),
    }


def routes(lockside: Lockside) -> list[Request]:
    """The routes that name something of a class, those that end it last."""
    found = [one for one in requests(lockside.school.app) if class_names(one)]
    return sorted(found, key=lambda one: (one.path.endswith(LAST), str(one)))


def is_of_learners(one: Request) -> bool:
    """Whether a route is for those who learn in the class."""
    return one.path.startswith(("/assigned", "/preview/dictations"))


def ask_all(lockside: Lockside, client: TestClient, names: dict[str, str]) -> dict[str, int]:
    """The statuses of every route about a class, by route."""
    return {str(one): one.send(client, names, headers=JSON).status_code for one in routes(lockside)}


def test_the_routes_are_there(lockside: Lockside) -> None:
    """There are many, and between them they name everything of a class."""
    found = routes(lockside)
    assert len(found) > 30
    assert {name for one in found for name in class_names(one)} == set(OF_A_CLASS)


def test_strangers_find_nothing_of_a_class(lockside: Lockside) -> None:
    """Another teacher gets the same answer as for what does not exist, and changes nothing."""
    names = known(lockside)
    client = lockside.school.signed_in("bram")
    store = lockside.school.store
    before = (store.assignments.find(names["assignment"]), store.classes.find(names["class"]))
    made_up = ask_all(lockside, client, dict.fromkeys(names, "0"))
    for route, status in ask_all(lockside, client, names).items():
        assert status == made_up[route], route
        assert status in {NOT_FOUND, WRONG}, route
    after = (store.assignments.find(names["assignment"]), store.classes.find(names["class"]))
    assert after == before


@pytest.mark.parametrize("name", ["moss", "wren"])
def test_learners_reach_nothing_of_the_teachers(lockside: Lockside, name: str) -> None:
    """A learner, in the class or not, is forbidden everything that is for teachers."""
    names = known(lockside)
    client = lockside.school.signed_in(name)
    for one in routes(lockside):
        if not is_of_learners(one):
            assert one.send(client, names, headers=JSON).status_code == FORBIDDEN, one


def test_who_is_not_in_the_class_finds_no_work(lockside: Lockside) -> None:
    """A learner of no class gets no work of it."""
    names = known(lockside)
    client = lockside.school.signed_in("moss")
    for one in filter(is_of_learners, routes(lockside)):
        assert one.send(client, names, headers=JSON).status_code == NOT_FOUND, one


def test_nobody_reads_a_learners_exercise(lockside: Lockside) -> None:
    """What was handed out to one learner is neither the other's nor the teacher's to open."""
    uid = lockside.assign()
    key = lockside.begin("wren", uid)
    for client in (lockside.learners["zoe"], lockside.teacher):
        for place in (f"/write/{key}", f"/write/{key}/sound", f"/write/{key}/light"):
            assert client.get(place, headers=JSON).status_code == NOT_FOUND
        assert client.post(f"/write/{key}/listen", headers=JSON).status_code == 409


def test_the_teacher_and_the_learner_find_what_is_theirs(lockside: Lockside) -> None:
    """What is refused to others is there for those it belongs to, so that refusing means something;
    no answer is an error of the server."""
    names = known(lockside)
    wren = lockside.school.signed_in("wren")
    for one in routes(lockside):
        client = wren if is_of_learners(one) else lockside.teacher
        status = one.send(client, names, headers=JSON).status_code
        assert status < 500, one
        assert status != FORBIDDEN, one
        if one.method == "GET":
            assert status == 200, one
