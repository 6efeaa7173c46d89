"""The authorisation matrix: every route of a class server, asked by everybody.

The routes are read from the application itself. A route that does not declare who may ask for it
fails here, and the application does not start with it. For a route that names something in its
address, `matrix.FILLED` says what that is, or the route fails here, too; then everybody else asks
for what belongs to a learner.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import pytest
from fastapi import APIRouter, Depends, FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response

from tests.databases import put_store
from tests.web.classroom.matrix import SIGNS_OUT, evening, requests
from tests.web.classroom.school import School
from tests.web.fakes import FakeLibrary
from tests.web.test_reading import contents
from trainer.store import FILE_NAME, Role, Store
from trainer.web import app as web_app
from trainer.web.classroom.access import (
    ANYBODY,
    OWNERS,
    SIGNED_IN,
    TEACHERS,
    declared_access,
    routes_of,
    undeclared,
)

# Whoever asks, by the role of their account; "nobody" is not signed in.
ASKERS = {
    "nobody": None,
    "learner": Role.LEARNER,
    "other": Role.LEARNER,
    "teacher": Role.TEACHER,
    "stranger": Role.TEACHER,
    "owner": Role.OWNER,
}
UNAUTHORIZED, FORBIDDEN, NOT_FOUND, CONFLICT = 401, 403, 404, 409
JSON = {"accept": "application/json"}


@dataclass
class Evening:
    """A class server on which everybody has an account, with a learner's work on it."""

    school: School
    own: dict[str, str]

    def browser(self, asker: str) -> TestClient:
        """A new browser in which the asker is signed in, or nobody."""
        return self.school.browser() if asker == "nobody" else self.school.signed_in(asker)


@pytest.fixture(scope="module")
def filled(
    tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path
) -> tuple[Path, dict[str, str]]:
    """The file of a store with the learner's work, and what each thing is called."""
    folder = tmp_path_factory.mktemp("evening")
    with ExitStack() as stack:
        store = stack.enter_context(Store.open(put_store(sqlite_template, folder / "record")))
        school = School(store, FakeLibrary(folder), stack)
        for name, role in ASKERS.items():
            if role is not None:
                school.account(name, role)
        own = evening(school, school.signed_in("learner"), "learner")
    return folder / "record" / FILE_NAME, own


@pytest.fixture
def night(tmp_path: Path, filled: tuple[Path, dict[str, str]]) -> Iterator[Evening]:
    """A copy of it, to be asked."""
    template, own = filled
    with ExitStack() as stack:
        store = stack.enter_context(Store.open(put_store(template, tmp_path / "record")))
        yield Evening(School(store, FakeLibrary(tmp_path), stack), own)


def is_refused(answer: Response) -> bool:
    """Whether an answer says that somebody may not ask, or has to sign in first."""
    leads_to = answer.headers.get("location", "")
    return answer.status_code in {UNAUTHORIZED, FORBIDDEN} or leads_to.startswith("/sign-in?then=")


def test_every_route_says_who_may_ask(night: Evening) -> None:
    """No route is without a declaration, and what is open to everybody is known by name."""
    app = night.school.app
    assert undeclared(app) == []
    everybodys = {str(one) for one in requests(app) if one.access.is_open}
    assert everybodys == {
        "GET /alive", "GET /join", "GET /link", "GET /privacy", "GET /sign-in", "POST /join",
        "POST /link", "POST /link/account", "POST /link/password", "POST /sign-in",
        "GET /sign-in/school", "GET /sign-in/school/back", "GET /lti/keys", "GET /lti/login",
        "POST /lti/login", "POST /lti/launch", "POST /lti/enter",
    }  # fmt: skip
    assert len(list(requests(app))) > 90


def test_a_route_without_a_declaration_stops_the_server(
    night: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who adds a router and forgets to say whom it is for cannot start the class server."""
    router = APIRouter()
    router.add_api_route("/forgotten", lambda: None, methods=["GET"])
    page = ModuleType("page")
    vars(page)["router"] = router
    pages = (*web_app.CLASS_PAGES, page)
    monkeypatch.setattr(web_app, "CLASS_PAGES", pages)
    with pytest.raises(ValueError, match="GET /forgotten"):
        School(night.school.store, night.school.library, night.school.open)


def test_the_narrowest_declaration_counts() -> None:
    """What a router and a route declare holds together."""
    app = FastAPI(openapi_url=None)
    for number, first in enumerate((ANYBODY, SIGNED_IN, TEACHERS)):
        router = APIRouter(dependencies=[Depends(first)])
        router.add_api_route(f"/{number}", lambda: None, dependencies=[Depends(OWNERS)])
        app.include_router(router)
    for route in routes_of(app):
        found = declared_access(route)
        assert found is not None
        assert found == OWNERS


@pytest.mark.parametrize("asker", ASKERS)
def test_every_route_answers_as_it_declares(night: Evening, asker: str) -> None:
    """Whoever may ask is not refused; whoever may not is told to sign in, or that it is not
    allowed; and no answer is an error of the server."""
    role, wrong = ASKERS[asker], []
    nothing = dict.fromkeys(night.own, "0")
    client = night.browser(asker)
    for one in requests(night.school.app):
        answer = one.send(client, nothing, headers=JSON)
        if one.path in SIGNS_OUT:
            client = night.browser(asker)
        if one.access.is_open or role in one.access.roles:
            is_right = not is_refused(answer) and answer.status_code < 500
        else:
            expected = UNAUTHORIZED if role is None else FORBIDDEN
            is_right = answer.status_code == expected
        if not is_right:
            wrong.append(f"{one}: {answer.status_code} {answer.text[:80]}")
    assert "\n".join(wrong) == ""


def test_reading_stores_nothing(night: Evening) -> None:
    """No GET changes a row, whoever asks; only that a session is in use is noted now and then."""
    for asker in ("nobody", "learner", "owner"):
        client = night.browser(asker)
        before = contents(night.school.store)
        for one in requests(night.school.app):
            if one.method == "GET":
                one.send(client, night.own)
                assert contents(night.school.store) == before, one
    night.school.clock.passes(minutes=6)
    client.get("/account")
    after = contents(night.school.store)
    assert [name for name, rows in after.items() if rows != before[name]] == ["sessions"]


def test_a_page_leads_to_the_sign_in(night: Evening) -> None:
    """Somebody who is not signed in and asks for a page is led to sign in, and never shown it."""
    nothing = dict.fromkeys(night.own, "0")
    client = night.browser("nobody")
    for one in requests(night.school.app):
        if one.access.is_open:
            continue
        answer = one.send(client, nothing)
        assert answer.status_code == 303, one
        assert answer.headers["location"].startswith("/sign-in"), one
        assert answer.content == b"", one


def test_what_is_ones_own_is_found(night: Evening) -> None:
    """The learner gets what the addresses name, so that refusing it to others means something."""
    owned = [one for one in requests(night.school.app) if one.owned() - {"account"}]
    assert {name for one in owned for name in one.owned()} == set(night.own) - {"account"}
    lost = []
    client = night.browser("learner")
    for one in owned:
        if one.method == "GET":
            answer = one.send(client, night.own)
            if answer.status_code not in {200, 303}:
                lost.append(f"{one}: {answer.status_code} {answer.text[:200]}")
    assert "\n".join(lost) == ""


@pytest.mark.parametrize("asker", [name for name in ASKERS if name not in {"nobody", "learner"}])
def test_what_is_anothers_is_not_there(night: Evening, asker: str) -> None:
    """Whatever belongs to a learner does not exist for anybody else, of any role; nothing of it
    changes, and the answer is that for something nobody has."""
    store = night.school.store
    learner = store.learners.get("learner")
    assert learner is not None
    before = store.transfer.export_json(learner)
    client, wrong = night.browser(asker), []
    nothing = {name: "0" * 36 if name in {"song", "set"} else "0" for name in night.own}
    for one in requests(night.school.app):
        if not one.owned() - {"account"}:
            continue
        answer = one.send(client, night.own, headers=JSON)
        made_up = one.send(client, nothing, headers=JSON)
        is_same = answer.status_code == made_up.status_code
        if not is_same or answer.status_code not in {NOT_FOUND, CONFLICT}:
            wrong.append(f"{one}: {answer.status_code}, {made_up.status_code} {answer.text[:80]}")
    assert "\n".join(wrong) == ""
    assert store.transfer.export_json(learner) == before


def test_a_song_is_not_reached_by_another_way(night: Evening) -> None:
    """A learner's song is neither compared, put into a set nor begun by somebody who has its id."""
    client, song = night.browser("other"), night.own["song"]
    made = client.post("/songbook/sets/new", data={"name": "Mine"}, follow_redirects=False)
    own_set = made.headers["location"].rpartition("/")[2]
    assert client.get(f"/songbook/compare?left={song}&right={song}").status_code == NOT_FOUND
    add = client.post(f"/songbook/sets/{own_set}/add", data={"song": song})
    assert song not in client.get(f"/songbook/sets/{own_set}").text, add.status_code
    assert client.post("/begin", data={"song": song}).status_code in {NOT_FOUND, 422}


def test_each_sees_only_their_own_lists(night: Evening) -> None:
    """Start, history, progress and songbook of another learner show nothing of the learner's."""
    client = night.browser("other")
    for place in ("/", "/today", "/history", "/progress", "/progress/exercises.csv",
                  "/progress/numbers.json", "/songbook", "/account"):  # fmt: skip
        text = client.get(place).text
        for value in night.own.values():
            if len(value) > 3:
                assert value not in text, place


def test_roles_are_read_at_every_request(night: Evening) -> None:
    """Who loses a role loses it at once, in browsers that are signed in."""
    client = night.browser("owner")
    assert client.get("/people").status_code == 200
    store = night.school.store
    owner, other = store.accounts.by_sign_in("owner"), store.accounts.by_sign_in("teacher")
    assert owner is not None
    assert other is not None
    night.school.server.accounts.set_role(other, Role.OWNER, owner)
    night.school.server.accounts.set_role(owner, Role.LEARNER, other)
    assert client.get("/people").status_code == FORBIDDEN
