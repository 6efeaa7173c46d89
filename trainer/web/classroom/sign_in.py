"""Signing in and out, and the links that make an account or set a password.

What makes a link worth something stands behind the `#` of its address, which browsers do not send:
so it stands in no log of a server or proxy on the way (OWASP ASVS 5.0, 14.2.1). A script puts it
into a form; without scripts it is pasted there.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from typing import Annotated

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from trainer.classroom import Browser, NewPerson, NewSession
from trainer.errors import AccountError, LinkUseless, TooManyTries, TrainerError
from trainer.web.classroom.access import (
    ANYBODY,
    SIGNED_IN,
    ClassServer,
    Person,
)
from trainer.web.classroom.clients import client_in_words
from trainer.web.classroom.cookies import (
    forget_session,
    known_marks,
    remember_session,
    session_token,
)
from trainer.web.context import PageContext, PublicContext
from trainer.web.school.systems import systems_of

__all__ = ["browser_of", "in_turn", "place_after", "refused", "router", "signed_in_answer"]

router = APIRouter()
SEE_OTHER, WRONG, TOO_MANY = 303, 422, 429
# An address of this server: one slash first, never two, which would name another host.
_PLACE = re.compile(r"/(?![/\\])[\w\-./?=&%~+:@,;]*", re.ASCII)
# What a browser, or an address, may say of itself; longer ones are cut.
_LONGEST_AGENT = 400
Field = Annotated[str, Form()]
Everybody = Depends(ANYBODY)


@router.get("/sign-in", dependencies=[Everybody])
def sign_in(request: Request, context: PublicContext, then: str = "", left: str = "") -> Response:
    """Ask for name and password.

    `then` is where to go on; `left` is the uid of a learner who has just signed out: the browser
    forgets what it kept of theirs.
    """
    if context.account is not None:
        return RedirectResponse(place_after(then), SEE_OTHER)
    return context.page("sign_in.html", _fields(request, then=then, left=left))


@router.post("/sign-in", dependencies=[Everybody])
async def try_sign_in(
    request: Request,
    context: PublicContext,
    name: Field = "",
    password: Field = "",
    shared: Field = "",
    then: Field = "",
) -> Response:
    """Begin a session, or say what is wrong."""
    work = partial(_sign_in, request, context, name, password, is_shared=bool(shared), then=then)
    return await in_turn(request, work)


def _sign_in(
    request: Request, context: PageContext, name: str, password: str, *, is_shared: bool, then: str
) -> Response:
    browser = browser_of(request, is_shared=is_shared)
    try:
        new = _server(request).sessions.sign_in(name, password, browser)
    except AccountError as error:
        fields = _fields(request, then=then, name=name, is_shared=is_shared, wrong=str(error))
        return refused(context.page("sign_in.html", fields), error)
    return signed_in_answer(request, new, place_after(then))


async def in_turn(request: Request, work: Callable[[], Response]) -> Response:
    """Answer with what `work` gives, which makes or checks a hash.

    Only few such answers are made at a time, in threads of their own: whoever waits for a turn,
    when a class signs in together or somebody floods the server, takes no thread from the pages.
    """
    limiter: CapacityLimiter = request.app.state.password_limiter
    return await to_thread.run_sync(work, limiter=limiter)


@router.post("/sign-out", dependencies=[Depends(SIGNED_IN)])
def sign_out(request: Request, context: Person) -> Response:
    """End this browser's session."""
    context.server.sessions.sign_out(session_token(request))
    forget_session(request)
    return RedirectResponse(f"/sign-in?left={context.learner.uid}", SEE_OTHER)


@router.get("/link", dependencies=[Everybody])
def link(context: PublicContext) -> HTMLResponse:
    """Where links that are handed out lead; what they are worth comes in a form."""
    return context.page("link.html", {"wrong": ""})


@router.post("/link", dependencies=[Everybody])
def open_link(request: Request, context: PublicContext, token: Field = "") -> HTMLResponse:
    """Ask for what a link needs: names and a password, or a password."""
    return _ask(request, context, token, {})


@router.post("/link/account", dependencies=[Everybody])
def make_account(
    request: Request,
    context: PublicContext,
    token: Field = "",
    name: Field = "",
    shown: Field = "",
    password: Field = "",
) -> Response:
    """Make the account of a link, and sign in."""
    server = _server(request)
    try:
        account = server.accounts.sign_up_by_link(token, NewPerson(name, shown, password))
    except AccountError as error:
        return _ask(request, context, token, {"wrong": str(error), "name": name, "shown": shown})
    new = server.sessions.begin(account, browser_of(request))
    return signed_in_answer(request, new, "/")


@router.post("/link/password", dependencies=[Everybody])
def set_password(
    request: Request, context: PublicContext, token: Field = "", password: Field = ""
) -> Response:
    """Set the password that a link is for, and sign in."""
    server = _server(request)
    try:
        account = server.accounts.set_password_by_link(token, password)
    except AccountError as error:
        return _ask(request, context, token, {"wrong": str(error)})
    new = server.sessions.begin(account, browser_of(request))
    return signed_in_answer(request, new, "/")


def _ask(
    request: Request, context: PageContext, token: str, values: dict[str, str]
) -> HTMLResponse:
    try:
        found, account = _server(request).accounts.find_link(token.strip())
    except LinkUseless as error:
        return context.page("link.html", {"wrong": str(error)}, WRONG)
    known = {"token": token.strip(), "wrong": "", "name": "", "shown": ""} | values
    status = WRONG if known["wrong"] else 200
    if account is not None:
        return context.page("link_password.html", known | {"person": account}, status)
    assert found.role is not None
    return context.page("link_account.html", known | {"role": found.role.value}, status)


def browser_of(request: Request, *, is_shared: bool = False) -> Browser:
    """Where a request comes from."""
    agent = request.headers.get("user-agent", "")[:_LONGEST_AGENT]
    address = request.client.host if request.client is not None else ""
    marks = known_marks(request, _server(request).is_secure)
    return Browser(address, client_in_words(agent), marks, is_shared)


def signed_in_answer(request: Request, new: NewSession, place: str) -> Response:
    """Lead somebody who has just signed in to a place; what the browser had before ends."""
    server = _server(request)
    server.sessions.sign_out(session_token(request))
    answer = RedirectResponse(place, SEE_OTHER)
    remember_session(request, answer, new, is_secure=server.is_secure)
    return answer


def refused(page: HTMLResponse, error: TrainerError) -> HTMLResponse:
    """A page that says what is wrong; for too many tries, when to try again (RFC 6585, section 4;
    RFC 9110, section 10.2.3)."""
    page.status_code = WRONG
    if isinstance(error, TooManyTries):
        page.status_code = TOO_MANY
        page.headers["retry-after"] = str(error.wait_s)
    return page


def _server(request: Request) -> ClassServer:
    server: ClassServer = request.app.state.class_server
    return server


def _fields(
    request: Request,
    *,
    then: str,
    left: str = "",
    name: str = "",
    is_shared: bool = False,
    wrong: str = "",
) -> dict[str, object]:
    place = place_after(then)
    provider = systems_of(request).provider
    return {
        "school": None if provider is None else provider.name,
        "then": place if place != "/" else "",
        "left": left,
        "name": name,
        "is_shared": is_shared,
        "wrong": wrong,
    }


def place_after(then: str) -> str:
    """Where to go on: an address of this server, or the start page."""
    return then if _PLACE.fullmatch(then) else "/"
