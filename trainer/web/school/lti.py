"""Somebody comes from a course of a learning platform, or chooses an assignment for it (LTI 1.3).

The platform opens `/lti/login`, which sends the browser to the platform; the platform has it bring
a signed message to `/lti/launch`. Both come from another site, with no cookies of ours, and do
nothing. The page that `/lti/launch` answers posts the message on to `/lti/enter`, now from our own
site with our cookies, and there it is checked and taken once. So no cookie has to be SameSite=None.
In a frame nothing is shown but a way into a window of its own.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlencode

from anyio import to_thread
from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from trainer.classroom import Entered
from trainer.errors import SignInElsewhereFailed
from trainer.web.classroom.access import ANYBODY, TEACHERS, ClassServer, Teacher
from trainer.web.classroom.classes import assignments_of, classes_of
from trainer.web.classroom.cookies import remember_session, session_token
from trainer.web.classroom.sign_in import browser_of, refused, signed_in_answer
from trainer.web.context import PageContext, PublicContext
from trainer.web.guard import CONTENT_SECURITY_POLICY
from trainer.web.school.openid import log_failure
from trainer.web.school.platform import (
    Message,
    Platform,
    deep_link_response,
    origin_of,
)
from trainer.web.school.systems import Learning, systems_of

if TYPE_CHECKING:
    from trainer.web.school.asked import Asked

__all__ = ["router"]

router = APIRouter(prefix="/lti")
SEE_OTHER, NOT_FOUND, WRONG = 303, 404, 422
# What browsers say that would show a page inside another.
FRAMES = frozenset({"iframe", "frame", "embed", "object"})
Field = Annotated[str, Form()]
Everybody = Depends(ANYBODY)


def _learning(request: Request) -> Learning:
    """What learning platforms need. Raises HTTPException 404 if there are none."""
    found = systems_of(request).learning
    if found is None:
        raise HTTPException(NOT_FOUND, "This server works with no learning platform.")
    return found


Platforms = Annotated[Learning, Depends(_learning)]


@router.get("/keys", dependencies=[Everybody])
def keys(learning: Platforms) -> JSONResponse:
    """The public keys with which this server signs."""
    return JSONResponse(learning.keys.published())


@router.get("/login", dependencies=[Everybody])
def login_by_link(
    request: Request,
    context: PublicContext,
    learning: Platforms,
    iss: str = "",
    client_id: str = "",
    login_hint: str = "",
    lti_message_hint: str = "",
) -> Response:
    """A platform begins a launch (1EdTech Security Framework 1.0, section 5.1.1.1)."""
    hints = {"login_hint": login_hint, "lti_message_hint": lti_message_hint}
    return _login(request, context, learning.platform(iss, client_id), hints)


@router.post("/login", dependencies=[Everybody])
def login_by_form(
    request: Request,
    context: PublicContext,
    learning: Platforms,
    iss: Field = "",
    client_id: Field = "",
    login_hint: Field = "",
    lti_message_hint: Field = "",
) -> Response:
    """The same, by a form."""
    hints = {"login_hint": login_hint, "lti_message_hint": lti_message_hint}
    return _login(request, context, learning.platform(iss, client_id), hints)


def _login(
    request: Request, context: PageContext, platform: Platform | None, hints: dict[str, str]
) -> Response:
    if platform is None or not hints["login_hint"]:
        text = "No course that this server knows sent you here. Ask whoever looks after it."
        return context.page("lti_failed.html", {"wrong": text}, WRONG)
    if request.headers.get("sec-fetch-dest") in FRAMES:
        settings = platform.settings
        query = {"iss": settings.issuer, "client_id": settings.client_id} | hints
        values = {"address": f"/lti/login?{urlencode(query)}", "platform": platform.name}
        page = context.page("lti_window.html", values)
        _allow(page, "frame-ancestors", platform.origins, instead=True)
        return page
    asked_cookies = systems_of(request).asked
    asked = asked_cookies.begin(of=platform.key)
    answer = RedirectResponse(platform.address_for(asked, hints), SEE_OTHER)
    asked_cookies.keep(answer, asked)
    return answer


@router.post("/launch", dependencies=[Everybody])
def launch(
    context: PublicContext,
    learning: Platforms,
    id_token: Field = "",
    state: Field = "",
    error: Field = "",
) -> HTMLResponse:
    """Have the browser bring a message once more, from our own site; nothing is done with it."""
    del learning
    values = {"id_token": id_token, "state": state, "error": error}
    return context.page("lti_pass_on.html", values)


@router.post("/enter", dependencies=[Everybody])
async def enter(
    request: Request,
    context: PublicContext,
    learning: Platforms,
    id_token: Field = "",
    state: Field = "",
    error: Field = "",
) -> Response:
    """Check a message, and let whoever brings it into their class."""
    work = partial(_enter, request, context, learning, id_token, state, error)
    return await to_thread.run_sync(work, limiter=request.app.state.school_limiter)


def _enter(
    request: Request,
    context: PageContext,
    learning: Learning,
    token: str,
    state: str,
    error: str,
) -> Response:
    cookies = systems_of(request).asked
    try:
        asked = cookies.find(request, state)
        platform = learning.by_key(asked.of)
        if platform is None or error or not token:
            raise SignInElsewhereFailed(
                "Your course couldn't open the trainer. Go back there and try again.",
                f"error {error[:200]!r} of {asked.of!r}",
            )
        answer = _admit(request, context, learning, platform, platform.message(token, asked), asked)
    except SignInElsewhereFailed as problem:
        log_failure(problem)
        page = context.page("lti_failed.html", {"wrong": str(problem)})
        answer = refused(page, problem)
    cookies.forget(answer)
    return answer


def _admit(
    request: Request,
    context: PageContext,
    learning: Learning,
    platform: Platform,
    message: Message,
    asked: Asked,
) -> Response:
    """Sign somebody in, and show them what they came for. Raises SignInElsewhereFailed."""
    if message.choosing is not None and not message.launch.is_teacher:
        raise SignInElsewhereFailed("Only teachers of the course choose what a link leads to.")
    entered = learning.courses.enter(message.launch, asked.ticket)
    server: ClassServer = request.app.state.class_server
    # The way back here is one press in the course: the session may be short.
    session = server.sessions.begin(entered.account, browser_of(request, is_shared=True))
    if message.choosing is None:
        place = _place(entered, is_teacher=message.launch.is_teacher)
        return signed_in_answer(request, session, place)
    wish = learning.choices.dumps(
        [
            entered.account.uid,
            entered.school_class.uid,
            platform.key,
            message.launch.deployment,
            message.choosing.back,
            message.choosing.data,
        ]
    )
    page = _choose(context, entered, str(wish), platform)
    server.sessions.sign_out(session_token(request))
    remember_session(request, page, session, is_secure=server.is_secure)
    return page


def _place(entered: Entered, *, is_teacher: bool) -> str:
    """The page that a launch leads to."""
    if entered.assignment is None:
        return f"/classes/{entered.school_class.uid}" if is_teacher else "/assigned"
    uid = entered.assignment.uid
    return f"/gradebook/{uid}" if is_teacher else f"/assigned/{uid}"


def _choose(context: PageContext, entered: Entered, wish: str, platform: Platform) -> HTMLResponse:
    values = {
        "account": entered.account,
        "class_": entered.school_class,
        "assignments": context.store.assignments.of_class(entered.school_class.id),
        "wish": wish,
        "platform": platform.name,
    }
    return context.page("lti_choose.html", values)


@router.post("/choose", dependencies=[Depends(TEACHERS)])
def choose(
    request: Request,
    context: Teacher,
    learning: Platforms,
    wish: Field = "",
    assignment: Field = "",
) -> Response:
    """Send the platform the assignment that was chosen for a link."""
    found = learning.wish(wish, context.account.uid)
    platform = None if found is None else learning.by_key(found.platform)
    if found is None or platform is None:
        text = "This choice is too old. Go back to your course and choose again."
        return context.page("lti_failed.html", {"wrong": text}, WRONG)
    school_class, chosen = assignments_of(context).find(assignment)
    if school_class.uid != classes_of(context).teach(found.class_uid).uid:
        raise HTTPException(NOT_FOUND, "That assignment is in another class.")
    origin = request.app.state.class_server.origin
    item = {
        "type": "ltiResourceLink",
        "title": chosen.title,
        "url": f"{origin}{Platform.LAUNCH}",
        "custom": {"assignment": chosen.uid},
        "lineItem": {"scoreMaximum": 100, "label": chosen.title, "resourceId": chosen.uid},
        "window": {"targetName": "_blank"},
    }
    claims = deep_link_response(platform.settings, found.deployment, found.data, [item])
    values = {"back": found.back, "token": learning.keys.sign(claims), "platform": platform.name}
    page = context.page("lti_return.html", values)
    _allow(page, "form-action", (origin_of(found.back),))
    return page


def _allow(
    page: Response, directive: str, origins: tuple[str, ...], *, instead: bool = False
) -> None:
    """Let a page's policy allow other origins in a directive, beside or instead of the usual."""
    rules = []
    for rule in CONTENT_SECURITY_POLICY.split("; "):
        name, _, usual = rule.partition(" ")
        if name == directive:
            rule = " ".join((name, *(() if instead else (usual,)), *origins))
        rules.append(rule)
    page.headers["content-security-policy"] = "; ".join(rules)
