"""A class server in-process: people who sign in, each in a browser of their own."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field

from fastapi import FastAPI
from fastapi.testclient import TestClient
from httpx2 import BaseTransport

from tests.classroom.people import CHEAP, WORDS, Clock
from tests.web.fakes import FakeLibrary
from trainer.classroom import Accounts, NewPerson, Passwords, Sessions
from trainer.store import Account, Role, Store
from trainer.web import create_app
from trainer.web.classroom.access import ClassServer
from trainer.web.school.settings import NO_SCHOOL, SchoolSettings

ORIGIN = "http://testserver"


def make_class_server(
    store: Store,
    clock: Callable[[], object],
    origin: str = ORIGIN,
    systems: SchoolSettings = NO_SCHOOL,
    transport: BaseTransport | None = None,
) -> ClassServer:
    """What serves a class over a store, with hashes that cost little."""
    passwords = Passwords(CHEAP)
    return ClassServer(
        Accounts(store, clock, passwords),  # type: ignore[arg-type]  # a test's clock
        Sessions(store, clock, passwords),  # type: ignore[arg-type]  # a test's clock
        origin,
        systems,
        transport,
    )


@dataclass
class School:
    """A store, the application over it, and the browsers that are open."""

    store: Store
    library: FakeLibrary
    open: ExitStack
    clock: Clock = field(default_factory=Clock)
    origin: str = ORIGIN
    systems: SchoolSettings = NO_SCHOOL
    transport: BaseTransport | None = None

    def __post_init__(self) -> None:
        self.server = make_class_server(
            self.store, self.clock, self.origin, self.systems, self.transport
        )
        self.app: FastAPI = create_app(
            self.store, self.library, now=self.clock, class_server=self.server
        )

    def browser(self, accept: str = "text/html") -> TestClient:
        """A browser in which nobody is signed in."""
        client = TestClient(self.app, base_url=self.origin, headers={"accept": accept})
        return self.open.enter_context(client)

    def account(self, name: str, role: Role = Role.LEARNER) -> Account:
        """An account whose person has read the hearing caution."""
        made = self.server.accounts.sign_up(NewPerson(name, f"{name.title()} H.", WORDS), role)
        learner = self.store.learners.get(name)
        assert learner is not None
        self.store.learners.caution_shown(learner, self.clock())
        return made

    def signed_in(self, name: str, role: Role = Role.LEARNER) -> TestClient:
        """A browser in which that person is signed in; they get an account if they have none."""
        if self.store.accounts.by_sign_in(name) is None:
            self.account(name, role)
        client = self.browser()
        sign_in(client, name)
        return client


def sign_in(client: TestClient, name: str, password: str = WORDS, **fields: str) -> None:
    """Sign in on the page."""
    form = {"name": name, "password": password} | fields
    answer = client.post("/sign-in", data=form, follow_redirects=False)
    assert answer.status_code == 303, answer.text
