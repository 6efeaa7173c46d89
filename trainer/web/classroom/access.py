"""Who may ask for a route, and the contexts of those who are signed in.

Every route of a class server declares it by an `Access` among its dependencies: its own, its
router's, or that of the context that it takes. `declared_access` reads the declaration from the
route itself, so that a test can drive every route with every role, and the application refuses to
start if one has none.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from fastapi import Depends, FastAPI, HTTPException, Request
from fastapi.routing import RouteContext, iter_route_contexts

from trainer.classroom import Accounts, Sessions
from trainer.store import Role
from trainer.web.classroom.cookies import session_token
from trainer.web.context import LearnerContext, PageContext, Visitor, page_address
from trainer.web.school.settings import NO_SCHOOL, SchoolSettings

if TYPE_CHECKING:
    from fastapi.dependencies.models import Dependant
    from httpx2 import BaseTransport

    from trainer.store import Account, Learner, SignedIn

__all__ = [
    "ANYBODY",
    "OWNERS",
    "SIGNED_IN",
    "TEACHERS",
    "Access",
    "ClassServer",
    "Owner",
    "Person",
    "PersonContext",
    "SignInFirst",
    "Teacher",
    "class_visitor",
    "declared_access",
    "find_signed_in",
    "routes_of",
    "undeclared",
]

FORBIDDEN = 403


class SignInFirst(Exception):
    """Raised when somebody who is not signed in asks for what only others get.

    `then` is the address to go on with afterwards, "" for none.
    """

    def __init__(self, then: str = "") -> None:
        super().__init__("nobody is signed in")
        self.then = then


@dataclass(frozen=True, slots=True)
class ClassServer:
    """What serving a class needs besides the page itself.

    `origin` is how the server is reached, such as "https://class.example". `school` says which
    systems of a school are believed; they are asked over the network unless a `transport` is given.
    """

    accounts: Accounts
    sessions: Sessions
    origin: str
    school: SchoolSettings = NO_SCHOOL
    transport: BaseTransport | None = None

    @property
    def is_secure(self) -> bool:
        """Whether it is reached over TLS."""
        return self.origin.startswith("https:")


@dataclass(frozen=True, slots=True)
class Access:
    """Who may ask for a route: accounts of these roles; everybody, if that `is_open`.

    As a dependency it raises SignInFirst or HTTPException 403.
    """

    roles: frozenset[Role]
    is_open: bool = False

    def __call__(self, request: Request) -> None:
        """See that whoever asks may."""
        if self.is_open:
            return
        found = find_signed_in(request)
        if found is None:
            raise SignInFirst(page_address(request))
        if found.account.role not in self.roles:
            raise HTTPException(FORBIDDEN, "Your account isn't allowed to do this.")


ANYBODY = Access(frozenset(Role), is_open=True)
SIGNED_IN = Access(frozenset(Role))
TEACHERS = Access(frozenset({Role.TEACHER, Role.OWNER}))
OWNERS = Access(frozenset({Role.OWNER}))


def find_signed_in(request: Request) -> SignedIn | None:
    """Who is signed in; looked up once for a request."""
    if not hasattr(request.state, "signed_in"):
        server: ClassServer = request.app.state.class_server
        request.state.signed_in = server.sessions.find(session_token(request))
    found: SignedIn | None = request.state.signed_in
    return found


def class_visitor(request: Request) -> Visitor:
    """On a class server: the learner of whoever is signed in."""
    found = find_signed_in(request)
    return Visitor(None) if found is None else Visitor(found.learner, found.account)


@dataclass(frozen=True, slots=True)
class PersonContext(PageContext):
    """The application as somebody sees it who is signed in."""

    learner: Learner
    account: Account
    is_class: bool
    address: str
    signed_in: SignedIn
    server: ClassServer

    @property
    def as_learner(self) -> LearnerContext:
        """The same for what a learner does."""
        return LearnerContext(
            self.store,
            self.audio,
            self.clock,
            self.owner,
            self.learner,
            self.account,
            self.is_class,
            self.address,
        )


def _person_context(request: Request, _: Annotated[None, Depends(SIGNED_IN)]) -> PersonContext:
    """The context of a request of somebody who is signed in."""
    context: PageContext = request.app.state.context
    found = find_signed_in(request)
    assert found is not None
    return PersonContext(
        context.store,
        context.audio,
        context.clock,
        context.owner,
        found.learner,
        found.account,
        context.is_class,
        page_address(request),
        found,
        request.app.state.class_server,
    )


Person = Annotated[PersonContext, Depends(_person_context)]


def _teacher_context(context: Person, _: Annotated[None, Depends(TEACHERS)]) -> PersonContext:
    return context


def _owner_context(context: Person, _: Annotated[None, Depends(OWNERS)]) -> PersonContext:
    return context


Teacher = Annotated[PersonContext, Depends(_teacher_context)]
Owner = Annotated[PersonContext, Depends(_owner_context)]


def declared_access(route: RouteContext) -> Access | None:
    """What a route declares: the narrowest of all `Access` it depends on; None if there is none."""
    dependant: Dependant | None = getattr(route, "dependant", None)
    found = [] if dependant is None else list(_accesses(dependant))
    if not found:
        return None
    return Access(
        frozenset.intersection(*(access.roles for access in found)),
        is_open=all(access.is_open for access in found),
    )


def _accesses(dependant: Dependant) -> Iterator[Access]:
    if isinstance(dependant.call, Access):
        yield dependant.call
    for each in dependant.dependencies:
        yield from _accesses(each)


def routes_of(app: FastAPI) -> list[RouteContext]:
    """Every route of the application but mounted folders, those of its routers included."""
    return [route for route in iter_route_contexts(app.routes) if route.methods]


def undeclared(app: FastAPI) -> list[str]:
    """The routes that say nothing of who may ask for them."""
    return [
        f"{', '.join(sorted(route.methods or ()))} {route.path}"
        for route in routes_of(app)
        if declared_access(route) is None
    ]
