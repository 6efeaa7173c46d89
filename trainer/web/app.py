"""The application: routes in a list, errors as pages a person can read."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING
from urllib.parse import quote

from anyio import CapacityLimiter
from fastapi import APIRouter, Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.exceptions import HTTPException

from trainer.classroom.passwords import MOST_AT_ONCE
from trainer.drill import bring_all_ratings_up
from trainer.errors import (
    ClassNotFound,
    DrillReplaced,
    InputError,
    ResultHidden,
    SongNotFound,
    StoreError,
    TextTooLong,
    TrainerError,
)
from trainer.web import (
    bars,
    history,
    learners,
    lessons,
    progress,
    result,
    signs,
    song,
    song_codes,
    song_compare,
    song_files,
    song_sound,
    songbook,
    speed,
    start,
    today,
    what_is_a_chart,
    write,
)
from trainer.web.classroom import (
    account,
    assignments,
    classes,
    dictation,
    dictation_seat,
    gradebook,
    join,
    password_links,
    people,
    privacy,
    sign_in,
    work,
)
from trainer.web.classroom.access import (
    ANYBODY,
    SIGNED_IN,
    ClassServer,
    SignInFirst,
    class_visitor,
    find_signed_in,
    undeclared,
)
from trainer.web.classroom.cookies import add_sessions
from trainer.web.context import SOUNDS, CautionFirst, PageContext, home_visitor, templates
from trainer.web.packed import PackedFiles
from trainer.web.school import lti, openid
from trainer.web.school.systems import Systems

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from trainer.store import Account, Store
    from trainer.web.context import SoundLibrary

__all__ = ["create_app"]

STATIC = Path(__file__).parent / "static"
PAGES = (
    start, write, result, bars, history, lessons, signs, today, speed, progress, what_is_a_chart,
    songbook, song_compare, song, song_files, song_sound, song_codes,
)  # fmt: skip
# Who learns is chosen at home alone, and only a class has accounts.
HOME_PAGES = (learners,)
CLASS_PAGES = (
    sign_in, join, account, people, privacy, classes, assignments, gradebook, work, password_links,
    dictation, dictation_seat, openid, lti,
)  # fmt: skip
# So many answers at a time may wait for a school's system.
MOST_ASKED = 8
SEE_OTHER, UNAUTHORIZED, NOT_FOUND, CONFLICT, TOO_LARGE, WRONG = 303, 401, 404, 409, 413, 422
FORBIDDEN, BROKEN, FAILED = 403, 500, 503
RETRY_S = "2"


def utc_now() -> datetime:
    """The time, aware and in UTC."""
    return datetime.now(UTC)


def create_app(
    store: Store,
    library: SoundLibrary,
    *,
    now: Callable[[], datetime] = utc_now,
    learner: str = "me",
    class_server: ClassServer | None = None,
) -> FastAPI:
    """The page over a store and a library of sounds.

    Ratings that an older model made are first worked out again.

    Parameters
    ----------
    now : gives the moment, aware and in UTC.
    learner : name of whoever practises where the browser has chosen nobody.
    class_server : given to serve a class: people then sign in, each to a record of their own.
    """
    bring_all_ratings_up(store)
    app = FastAPI(
        title="Chart trainer",
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        telemetry={"tracing": False, "metrics": False, "logs": False, "auto_configure": False},
    )
    app.add_middleware(_HeadAsGet)
    # One sheet is drawn at a time: the interpreter runs one thread, and pages come between.
    app.state.preview_limiter = CapacityLimiter(1)
    # So is one song at a time arranged that nobody has asked to hear yet.
    app.state.ahead_limiter = CapacityLimiter(1)
    app.state.context = PageContext(store, library, now, learner, is_class=class_server is not None)
    app.state.class_server = class_server
    if class_server is None:
        _add_home_routes(app, library)
    else:
        _add_class_routes(app, library, store, class_server)
    app.mount("/static", PackedFiles(directory=STATIC), name="static")
    app.add_exception_handler(CautionFirst, _caution_first)
    app.add_exception_handler(SignInFirst, _sign_in_first)
    app.add_exception_handler(TrainerError, _trainer_error)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(RequestValidationError, _wrong_request)
    app.add_exception_handler(Exception, _unforeseen)
    return app


@cache
def _routes(
    pages: tuple[ModuleType, ...], *, of_signed_in: tuple[ModuleType, ...] = ()
) -> APIRouter:
    """The routes of pages, and of others that only people who are signed in may ask for.

    FastAPI works out what the routes of a router take when the first request comes, which takes a
    quarter of a second for all pages; all applications of a process share it.
    """
    found = APIRouter()
    for page in of_signed_in:
        found.include_router(page.router, dependencies=[Depends(SIGNED_IN)])
    for page in pages:
        found.include_router(page.router)
    return found


def _add_home_routes(app: FastAPI, library: SoundLibrary) -> None:
    """Everything for one desk, without a login."""
    app.state.find_visitor = home_visitor
    app.router.routes.extend(_routes((*PAGES, *HOME_PAGES)).routes)
    app.include_router(library.router, prefix=SOUNDS)
    app.add_api_route("/alive", alive, methods=["GET"])


def _add_class_routes(
    app: FastAPI, library: SoundLibrary, store: Store, class_server: ClassServer
) -> None:
    """The same for people who are signed in, and what is about accounts.

    Raises ValueError if a route does not say who may ask for it.
    """
    context: PageContext = app.state.context
    add_sessions(app, store, context.clock, is_secure=class_server.is_secure)
    app.state.find_visitor = class_visitor
    # Twice as many as are worked out at a time, so that none of those waits for a thread.
    app.state.password_limiter = CapacityLimiter(2 * MOST_AT_ONCE)
    app.state.school_limiter = CapacityLimiter(MOST_ASKED)
    app.state.systems = Systems.of(class_server, store, context.clock)
    app.router.routes.extend(_routes(CLASS_PAGES, of_signed_in=PAGES).routes)
    app.include_router(library.router, prefix=SOUNDS, dependencies=[Depends(SIGNED_IN)])
    app.add_api_route("/alive", alive, methods=["GET"], dependencies=[Depends(ANYBODY)])
    if lacking := undeclared(app):
        raise ValueError(f"found routes that declare no access: {'; '.join(lacking)}")


class _HeadAsGet:
    """ASGI middleware: answers HEAD as GET, without the body (RFC 9110, section 9.3.2).

    Sounds answer HEAD themselves: their GET renders.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        is_head = scope["type"] == "http" and scope["method"] == "HEAD"
        if not is_head or scope["path"].startswith(f"{SOUNDS}/"):
            await self._app(scope, receive, send)
            return

        async def without_body(message: Message) -> None:
            await send(message if "body" not in message else {**message, "body": b""})

        await self._app({**scope, "method": "GET"}, receive, without_body)


def alive() -> Response:
    """Whether the server is there."""
    return Response(status_code=204)


async def _caution_first(request: Request, error: Exception) -> Response:
    """The way to the hearing caution; a script is told to load the page again."""
    assert isinstance(error, CautionFirst)
    if not _wants_page(request):
        return _error_response(
            request,
            CONFLICT,
            "Read the advice on your hearing first. Load the page again.",
        )
    return RedirectResponse(
        f"/hearing?then={quote(error.then)}" if error.then else "/hearing", SEE_OTHER
    )


async def _sign_in_first(request: Request, error: Exception) -> Response:
    """The way to the page for signing in; a script is told to have somebody sign in."""
    assert isinstance(error, SignInFirst)
    if not _wants_page(request):
        text = "You're signed out. Sign in again in another window, then go on here."
        return _error_response(request, UNAUTHORIZED, text)
    place = f"/sign-in?then={quote(error.then)}" if error.then not in ("", "/") else "/sign-in"
    return RedirectResponse(place, SEE_OTHER)


async def _trainer_error(request: Request, error: Exception) -> Response:
    statuses = (
        (DrillReplaced, CONFLICT),
        (TextTooLong, TOO_LARGE),
        (SongNotFound, NOT_FOUND),
        (ClassNotFound, NOT_FOUND),
        (ResultHidden, FORBIDDEN),
        (InputError, WRONG),
    )
    status = next((status for kind, status in statuses if isinstance(error, kind)), FAILED)
    # The database may be back in a moment, or the disk have room again: scripts ask once more.
    headers = {"retry-after": RETRY_S} if isinstance(error, StoreError) else None
    return _error_response(request, status, str(error), headers)


async def _http_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    known = error.status_code != NOT_FOUND or error.detail != "Not Found"
    text = error.detail if known else "There is no page at this address."
    return _error_response(request, error.status_code, text, dict(error.headers or {}))


async def _wrong_request(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    problems = [
        f"{'.'.join(map(str, one['loc'][1:])) or 'request'}: {one['msg']}" for one in error.errors()
    ]
    return _error_response(request, WRONG, "\n".join(problems))


async def _unforeseen(request: Request, error: Exception) -> Response:
    # The server logs the error itself after this answer.
    text = (
        f"Something went wrong in the program ({type(error).__name__}). What you wrote is saved. "
        "Go back and load the page again."
    )
    return _error_response(request, BROKEN, text)


def _error_response(
    request: Request, status: int, text: str, headers: dict[str, str] | None = None
) -> Response:
    """An error as a page, or as JSON to a script."""
    if not _wants_page(request):
        return JSONResponse({"error": text}, status, headers)
    is_class = request.app.state.class_server is not None
    account = _account_of(request) if is_class else None
    values = {"text": text, "status": status, "is_class": is_class, "account": account}
    page = templates().get_template("error.html").render(values)
    return Response(page, status, headers, media_type="text/html")


def _account_of(request: Request) -> Account | None:
    """Who is signed in, as far as it can be found out while something is wrong."""
    # What nobody foresaw is answered outside of the sessions.
    if "session" not in request.scope:
        return None
    try:
        found = find_signed_in(request)
    except StoreError:
        return None
    return None if found is None else found.account


def _wants_page(request: Request) -> bool:
    return "text/html" in request.headers.get("accept", "")
