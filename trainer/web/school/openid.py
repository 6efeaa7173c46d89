"""Signing in by an OpenID provider, and connecting an account with it.

Being sent to the provider stores nothing: what belongs to a sign-in stands in a signed cookie. What
comes back is believed only together with that cookie, and once.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Annotated

from anyio import to_thread
from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from trainer.classroom import Vouched
from trainer.errors import AccountError, SignInElsewhereFailed
from trainer.web.classroom.access import ANYBODY, ClassServer, Person, find_signed_in
from trainer.web.classroom.account import account_page
from trainer.web.classroom.sign_in import browser_of, place_after, refused, signed_in_answer
from trainer.web.context import PageContext, PublicContext
from trainer.web.numbers import RowNumber
from trainer.web.school.asked import TOO_LATE
from trainer.web.school.provider import Provider, refused_by
from trainer.web.school.systems import Systems, systems_of

if TYPE_CHECKING:
    from trainer.web.school.asked import Asked

__all__ = ["log_failure", "router"]

router = APIRouter()
SEE_OTHER, NOT_FOUND = 303, 404
Field = Annotated[str, Form()]
Everybody = Depends(ANYBODY)
_LOG = logging.getLogger(__name__)


@router.get("/sign-in/school", dependencies=[Everybody])
async def go(
    request: Request, context: PublicContext, then: str = "", shared: bool = False
) -> Response:
    """Send a browser to the school's system to sign in there."""
    if context.account is not None:
        return RedirectResponse(place_after(then), SEE_OTHER)
    systems, provider = _provider(request)
    asked = systems.asked.begin(then=place_after(then), is_shared=shared)
    return await _in_turn(request, partial(_send, context, systems, provider, asked))


@router.get("/sign-in/school/back", dependencies=[Everybody])
async def back(
    request: Request,
    context: PublicContext,
    code: str = "",
    state: str = "",
    error: str = "",
    iss: str = "",
) -> Response:
    """Where the school's system sends a browser back."""
    systems, provider = _provider(request)

    def work() -> Response:
        try:
            asked = systems.asked.find(request, state)
            if asked.of:
                raise SignInElsewhereFailed(TOO_LATE, f"a sign-in begun for {asked.of!r}")
            if error or not code:
                raise refused_by(provider.name, error or "no code")
            answer = _answer(request, systems, provider.person(code, iss, asked), asked)
        except SignInElsewhereFailed as problem:
            answer = _failed(context, provider.name, problem)
        systems.asked.forget(answer)
        return answer

    return await _in_turn(request, work)


@router.post("/account/school")
async def connect(request: Request, context: Person, password: Field = "") -> Response:
    """Begin to connect one's account with the school's system."""
    systems, provider = _provider(request)

    def work() -> Response:
        sessions = context.server.sessions
        try:
            sessions.check_password(context.account, password, browser_of(request))
            asked = systems.asked.begin(connects=context.account.uid)
            values = {"school": provider.name, "address": provider.address_for(asked)}
        except AccountError as problem:
            log_failure(problem)
            return refused(account_page(request, context, {"wrong_school": str(problem)}), problem)
        # A link and no redirect: the page's policy lets a form lead nowhere else.
        answer = context.page("school_go.html", values)
        systems.asked.keep(answer, asked)
        return answer

    return await _in_turn(request, work)


@router.post("/account/school/{identity_id}/end")
def disconnect(request: Request, context: Person, identity_id: RowNumber) -> Response:
    """Have one's account no longer signed in to by the school's system."""
    try:
        found = systems_of(request).people.disconnect(context.account, identity_id)
    except AccountError as problem:
        return refused(account_page(request, context, {"wrong_school": str(problem)}), problem)
    if found is None:
        raise HTTPException(NOT_FOUND, "Your account isn't connected in that way any more.")
    return RedirectResponse("/account?told=disconnected", SEE_OTHER)


def _send(context: PageContext, systems: Systems, provider: Provider, asked: Asked) -> Response:
    try:
        address = provider.address_for(asked)
    except SignInElsewhereFailed as problem:
        return _failed(context, provider.name, problem)
    answer = RedirectResponse(address, SEE_OTHER)
    systems.asked.keep(answer, asked)
    return answer


def _answer(request: Request, systems: Systems, person: Vouched, asked: Asked) -> Response:
    """Sign in whoever came back, or connect their account. Raises SignInElsewhereFailed."""
    if not asked.connects:
        account = systems.people.account_of(person, asked.ticket)
        server: ClassServer = request.app.state.class_server
        session = server.sessions.begin(account, browser_of(request, is_shared=asked.is_shared))
        return signed_in_answer(request, session, asked.then)
    found = find_signed_in(request)
    if found is None or found.account.uid != asked.connects:
        raise SignInElsewhereFailed("You were signed out here meanwhile. Sign in, then try again.")
    systems.people.connect(found.account, person, asked.ticket)
    return RedirectResponse("/account?told=connected", SEE_OTHER)


def _failed(context: PageContext, name: str, problem: SignInElsewhereFailed) -> Response:
    log_failure(problem)
    values = {"school": name, "wrong": str(problem)}
    return refused(context.page("school_failed.html", values), problem)


def log_failure(problem: AccountError) -> None:
    """Tell whoever runs the server more than the person is told."""
    if isinstance(problem, SignInElsewhereFailed):
        _LOG.warning("sign-in by the school's system: %s (%s)", problem, problem.why)


async def _in_turn(request: Request, work: Callable[[], Response]) -> Response:
    """Answer with what `work` gives, which may ask another system: only a few such answers are
    made at a time, in threads of their own, so that a system that hangs does not take the pages
    along."""
    return await to_thread.run_sync(work, limiter=request.app.state.school_limiter)


def _provider(request: Request) -> tuple[Systems, Provider]:
    """The systems with the provider. Raises HTTPException 404 if there is none."""
    systems = systems_of(request)
    if systems.provider is None:
        raise HTTPException(NOT_FOUND, "This server has no sign-in by a school's own system.")
    return systems, systems.provider
