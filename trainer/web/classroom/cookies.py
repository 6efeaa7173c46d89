"""The session's cookie, and the marks of browsers that signed in before.

The session's cookie is Starlette's own (`SessionMiddleware`): signed, HttpOnly, SameSite=Lax, and
over TLS Secure with the prefix `__Host-`, which no other host can set (RFC 6265bis, section 4.1.3).
It carries a random token and nothing else, and is set only when somebody signs in or out. Whether
the token is worth anything is for the store to say, so that the server can end a session at any
time; a signed cookie alone would be worth something until it expires. The signature is no defence
here, only the library's way; the key is shared by all server processes through the store.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from starlette.middleware.sessions import SessionMiddleware

from trainer.classroom.sessions import LASTS
from trainer.classroom.tokens import new_token

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from fastapi import FastAPI, Request, Response

    from trainer.classroom import NewSession
    from trainer.store import Store

__all__ = [
    "add_sessions",
    "cookie_name",
    "forget_session",
    "known_marks",
    "remember_session",
    "session_token",
]

_TOKEN = "token"  # noqa: S105 - the name under which it is kept
_KEY = "cookies"
# As long as browsers keep a cookie at most (RFC 6265bis, section 5.5).
_MARKS_KEPT_S = 400 * 86_400
# So many people may share a browser before the first is no longer known.
_MOST_MARKS = 5
_MARK = re.compile(r"[0-9a-f]{64}")


def add_sessions(
    app: FastAPI, store: Store, clock: Callable[[], datetime], *, is_secure: bool
) -> None:
    """Have an application read and set the session's cookie."""
    app.add_middleware(
        SessionMiddleware,
        secret_key=store.server_secrets.get_or_add(_KEY, new_token, clock()),
        session_cookie=cookie_name("session", is_secure=is_secure),
        max_age=int(LASTS.total_seconds()),
        same_site="lax",
        https_only=is_secure,
    )


def session_token(request: Request) -> str:
    """The token that a browser sends, "" for none."""
    token = request.session.get(_TOKEN, "")
    return token if isinstance(token, str) else ""


def remember_session(
    request: Request, answer: Response, new: NewSession, *, is_secure: bool
) -> None:
    """Give a browser a new session in place of what it had, and the mark that it keeps."""
    request.session.clear()
    request.session[_TOKEN] = new.token
    if not new.mark:
        return
    marks = [new.mark, *(mark for mark in known_marks(request, is_secure) if mark != new.mark)]
    answer.set_cookie(
        cookie_name("known", is_secure=is_secure),
        ".".join(marks[:_MOST_MARKS]),
        max_age=_MARKS_KEPT_S,
        path="/",
        httponly=True,
        samesite="lax",
        secure=is_secure,
    )


def forget_session(request: Request) -> None:
    """Take a browser's session away. The marks stay: they open nothing."""
    request.session.clear()


def known_marks(request: Request, is_secure: bool) -> tuple[str, ...]:
    """The marks that sign-ins left in a browser."""
    kept = request.cookies.get(cookie_name("known", is_secure=is_secure), "").split(".")
    return tuple(mark for mark in kept[:_MOST_MARKS] if _MARK.fullmatch(mark))


def cookie_name(name: str, *, is_secure: bool) -> str:
    """What a cookie is called: over TLS with the prefix that binds it to this host."""
    return f"__Host-{name}" if is_secure else name
