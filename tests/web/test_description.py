"""The server against its own OpenAPI description, by schemathesis.

Whatever comes, in every form that the description allows or nearly allows, no answer is an error of
the server, and none has a status that is not described.

A normal run tries every route a few times with the same examples each time; the thorough run
(`scripts/test --thorough`) draws many new ones.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import requests
import schemathesis
from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import Response
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st
from schemathesis import Case, GenerationMode
from schemathesis.core.result import Ok

from tests.databases import put_store
from tests.thorough import is_thorough
from tests.web.classroom.matrix import fill_path, work_of
from tests.web.classroom.school import ORIGIN, School
from tests.web.description import BESIDES, HAND_READ, READERS, TEXT_READER, describe, name_of
from tests.web.fakes import FakeLibrary
from trainer.store import Role, Store
from trainer.web import create_app
from trainer.web.classroom.access import routes_of

# These end what the others are about.
LAST = ("delete", "sign-out", "sign-out-everywhere", "leave", "off")
PER_ROUTE, PER_ROUTE_THOROUGH = 2, 30
JSON = {"accept": "application/json"}
UNAUTHORIZED = 401
LONGEST_ADDRESS = 60_000


@dataclass
class Seat:
    """A browser of somebody who signs in again whenever they are signed out."""

    client: TestClient
    again: Callable[[], TestClient] | None = None

    def ask(self, case: Case) -> Response:
        """What the server answers to a case; an error of the server is an answer, too (500)."""
        self.client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
        answer = send(self.client, case)
        if answer.status_code == UNAUTHORIZED or "session" not in self.client.cookies:
            self.client = self.client if self.again is None else self.again()
        return answer


@dataclass
class Tried:
    """An application with whoever asks, and what is there for them."""

    app: FastAPI
    browsers: list[Seat]
    known: Mapping[str, str]


@pytest.fixture
def at_home(tmp_path: Path, sqlite_template: Path) -> Iterator[Tried]:
    """The page for one desk."""
    with Store.open(put_store(sqlite_template, tmp_path / "home")) as store, ExitStack() as stack:
        app = create_app(store, FakeLibrary(tmp_path))
        client = stack.enter_context(TestClient(app, headers={"accept": "text/html"}))
        client.post("/hearing")
        yield Tried(app, [Seat(client)], work_of(client))


@pytest.fixture
def for_a_class(tmp_path: Path, sqlite_template: Path) -> Iterator[Tried]:
    """A class server: a learner with an evening's work, an owner, and somebody not signed in."""
    with Store.open(put_store(sqlite_template, tmp_path / "class")) as store, ExitStack() as stack:
        school = School(store, FakeLibrary(tmp_path), stack)
        learner = school.signed_in("learner")
        known = work_of(learner)
        account = store.accounts.by_sign_in("learner")
        assert account is not None
        browsers = [
            Seat(learner, lambda: school.signed_in("learner")),
            Seat(school.signed_in("owner", Role.OWNER), lambda: school.signed_in("owner")),
            Seat(school.browser()),
        ]
        yield Tried(school.app, browsers, known | {"account": account.uid})


def operations(app: FastAPI) -> list[Any]:
    """Every operation of the description, those that end something last."""
    schema = schemathesis.openapi.from_dict(describe(app))
    found = [each.ok() for each in schema.get_all_operations() if isinstance(each, Ok)]
    return sorted(found, key=lambda each: (each.path.endswith(LAST), each.path, each.method))


def try_all(tried: Tried, chosen: Callable[[str], bool] = lambda path: True) -> str:
    """Try every route whose path is chosen; what was not as described."""
    wrong: list[str] = []
    for operation in operations(tried.app):
        if chosen(operation.path):
            ask_with(tried, operation, wrong)
    return "\n".join(wrong)


def ask_with(tried: Tried, operation: Any, wrong: list[str]) -> None:
    """Ask a route with examples: of whoever, with ids that are there and ids that are not, with
    what the description allows and with what it does not."""
    how = st.tuples(
        st.one_of(
            operation.as_strategy(generation_mode=GenerationMode.POSITIVE),
            operation.as_strategy(generation_mode=GenerationMode.NEGATIVE),
        ),
        st.booleans(),
    )

    @settings(
        max_examples=PER_ROUTE_THOROUGH if is_thorough() else PER_ROUTE,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(how, st.sampled_from(tried.browsers))
    def run(asked: tuple[Case, bool], browser: Seat) -> None:
        case, is_known = asked
        if is_known:
            case.path_parameters = fill_path(operation.path, tried.known, case.path_parameters)
        answer = browser.ask(case)
        documented = {int(each) for each in operation.definition.raw["responses"]}
        if answer.status_code not in documented:
            asked_for = str(case.as_transport_kwargs(base_url=ORIGIN))
            route = f"{operation.method.upper()} {operation.path}"
            told = f"{route}: {answer.status_code} is not described"
            wrong.append(f"{told}\n{asked_for[:1000]}\n{answer.text[:300]}")

    run()


def send(client: TestClient, case: Case) -> Response:
    """What the server answers to a case."""
    asked = case.as_transport_kwargs(base_url=ORIGIN)
    wanted = {"method", "url", "params", "data", "json", "files"}
    # What no client sends is left out: httpx2 refuses addresses of more than 65,536 characters.
    made = requests.Request(**{name: asked[name] for name in wanted & set(asked)}).prepare()
    kind = made.headers.get("content-type") or asked["headers"].get("Content-Type")
    assume(len(str(made.url)) < LONGEST_ADDRESS)
    return client.request(
        str(made.method),
        str(made.url),
        content=made.body or b"",
        headers=JSON | ({"content-type": kind} if kind else {}),
        follow_redirects=False,
    )


@pytest.fixture
def apps(record: Path, library: FakeLibrary) -> Iterator[tuple[FastAPI, FastAPI]]:
    """The page for one desk, and a class server."""
    with Store.open(record) as store, ExitStack() as stack:
        yield create_app(store, library), School(store, library, stack).app


def test_every_route_is_described(apps: tuple[FastAPI, FastAPI]) -> None:
    """The description has every route with every method, and nothing else; what is said besides is
    said of routes that there are."""
    everything, names = set(), set()
    for app in apps:
        paths = describe(app)["paths"]
        described = {(method.upper(), path) for path in paths for method in paths[path]}
        there = {(method, r.path) for r in routes_of(app) for method in r.methods or ()}
        assert described == there
        everything |= {f"{method} {path}" for method, path in there}
        for path, method in ((p, m) for p in paths for m in paths[p]):
            assert paths[path][method]["responses"]
        names |= {name_of(route) for route in routes_of(app)}
    assert set(BESIDES) <= everything
    assert set(HAND_READ) <= names


def test_no_form_is_read_by_hand_in_secret() -> None:
    """FastAPI describes the forms that it reads itself; who reads one by hand says what for."""
    found = set()
    for path in (Path(__file__).parents[2] / "trainer" / "web").rglob("*.py"):
        for function in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef) and re.search(
                r"\brequest\.(?:form|body|json|stream)\(\)", ast.unparse(function)
            ):
                found.add(function.name)
    assert found == READERS | {TEXT_READER}


@pytest.mark.hypothesis
def test_the_page_answers_as_described(at_home: Tried) -> None:
    """At home, where nobody signs in; a normal run leaves out what a class server has, too."""
    there_alone = ("/learners", "/alive")
    chosen = lambda path: is_thorough() or path.startswith(there_alone)  # noqa: E731 - one use
    assert try_all(at_home, chosen) == ""


@pytest.mark.hypothesis
def test_a_class_server_answers_as_described(for_a_class: Tried) -> None:
    """On a class server, for somebody who is not signed in, a learner and an owner."""
    assert try_all(for_a_class) == ""
