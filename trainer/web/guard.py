"""Keeps the page to its owner: it refuses other host names, requests from other sites, scripts that
are not ours, and bodies that are too large.

A server for a class is known under one address, its origin. There a request that may change
something has to prove that it comes from the page itself, by its Origin or its Sec-Fetch-Site, one
of which every browser sends; that is the defence against forged requests (CSRF), and the forms need
no tokens. At home a request without both is let through: no browser made it.

A page on the loopback address can be reached by every web site the same browser opens. Its requests
are recognised by Host (against names rebound to 127.0.0.1), Origin (RFC 6454) and Sec-Fetch-Site
(W3C Fetch Metadata Request Headers). Names of hosts and sizes of bodies are checked by Starlette's
own middleware; the port, the other headers and the texts are ours.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.middleware.body_limit import RequestBodyLimitMiddleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["CONTENT_SECURITY_POLICY", "LOOPBACK_HOSTS", "Guard"]

LOOPBACK_HOSTS = frozenset({"localhost", "127.0.0.1", "[::1]"})
BODY_LIMIT_BYTES = 2**20
# Where whole songbooks come in, and how large they may be.
UPLOADS_TO, UPLOAD_LIMIT_BYTES = frozenset({"/songbook/import", "/account/import"}), 16 * 2**20
# Not even a link on another site leads here.
NO_LINKS_TO = ("/audio/", "/preview/")
# Here a learning platform sends browsers by a form, or in a frame; nothing is done there.
FROM_ELSEWHERE = frozenset({"/lti/login", "/lti/launch"})
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
_DEFAULT_PORTS = {"http": 80, "https": 443}

CONTENT_SECURITY_POLICY = "; ".join((
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self'",
    "media-src 'self' blob:",
    "connect-src 'self'",
    "form-action 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
))  # fmt: skip
# Over TLS browsers are told never to try without it (RFC 6797), for a year.
STRICT_TRANSPORT = "max-age=31536000"
HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    # With "no-referrer" browsers send our own forms with the Origin "null" (Fetch standard).
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
_MISDIRECTED, _FORBIDDEN, _TOO_LARGE, _BAD = 421, 403, 413, 400
# What Starlette answers to a body that is too large.
_STARLETTE_TOO_LARGE = b"Content Too Large"
# WebSocket close code "policy violation", RFC 6455 section 7.4.1.
_POLICY_VIOLATION = 1008


class Guard:
    """ASGI middleware around the whole application.

    Parameters
    ----------
    allowed_hosts : names this page answers to, without port; IPv6 addresses in brackets.
    body_limit_bytes : largest request body.
    upload_limit_bytes : largest request body where files are uploaded (`UPLOADS_TO`).
    origin : the one address of a server for a class, such as "https://class.example"; the names of
        hosts then do not matter.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        allowed_hosts: Collection[str] = LOOPBACK_HOSTS,
        body_limit_bytes: int = BODY_LIMIT_BYTES,
        upload_limit_bytes: int = UPLOAD_LIMIT_BYTES,
        origin: str | None = None,
    ) -> None:
        self.app = app
        self.allowed_hosts = sorted(host.casefold() for host in allowed_hosts)
        self.origin = origin.casefold() if origin is not None else None
        is_secure = self.origin is not None and self.origin.startswith("https:")
        self._headers = HEADERS | (
            {"strict-transport-security": STRICT_TRANSPORT} if is_secure else {}
        )
        self.body_limit_bytes = body_limit_bytes
        self.upload_limit_bytes = upload_limit_bytes
        self._limited, self._uploads = (
            RequestBodyLimitMiddleware(_BodyFirst(app), limit)
            for limit in (body_limit_bytes, upload_limit_bytes)
        )

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or let the application answer."""
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": _POLICY_VIOLATION})
            return
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        send = _with_headers(send, self._headers)
        refused = await self._wrong_host(scope, receive) or _foreign(scope, self.origin)
        if refused is not None:
            await _refuse(send, *refused)
        else:
            limited = self._uploads if _is_upload(scope) else self._limited
            await limited(scope, receive, self._explaining(send, scope))

    async def _wrong_host(self, scope: Scope, receive: Receive) -> tuple[int, str] | None:
        """Why a request is not for this page; None if it is."""
        hosts = Headers(scope=scope).getlist("host")
        if len(hosts) != 1:
            return _BAD, f"Found {len(hosts)} Host headers, expected one."
        if self.origin is not None:
            return _wrong_origin(scope, hosts[0], self.origin)
        served = (scope.get("server") or (None, None))[1]
        if await self._is_allowed(scope, receive) and served in (None, _port(hosts[0], scope)):
            return None
        return _MISDIRECTED, (
            f"Found the host {hosts[0]!r}, expected {', '.join(self.allowed_hosts)} with port "
            f"{served}. This page answers only under the address it was started with."
        )

    async def _is_allowed(self, scope: Scope, receive: Receive) -> bool:
        """Whether Starlette lets the name of the host pass."""
        passed = False

        async def allowed(*_: object) -> None:
            nonlocal passed
            passed = True

        async def ignore(_: Message) -> None:
            """Starlette's own answer gives no reason."""

        check = TrustedHostMiddleware(allowed, self.allowed_hosts, www_redirect=False)
        await check(scope, receive, ignore)
        return passed

    def _explaining(self, send: Send, scope: Scope) -> Send:
        """Says what is wrong where Starlette refuses a body."""
        start: Message | None = None

        async def sending(message: Message) -> None:
            nonlocal start
            if message["type"] == "http.response.start" and message["status"] == _TOO_LARGE:
                start = message
                return
            if start is not None and message.get("body") == _STARLETTE_TOO_LARGE:
                await _refuse(send, _TOO_LARGE, self._too_large(scope))
                return
            if start is not None:
                await send(start)
                start = None
            await send(message)

        return sending

    def _too_large(self, scope: Scope) -> str:
        limit = self.upload_limit_bytes if _is_upload(scope) else self.body_limit_bytes
        most = f"{limit:,}"
        declared = _one(scope, b"content-length")
        is_told = declared.isdecimal() and int(declared) > limit
        found = f"{int(declared):,} bytes" if is_told else f"more than {most} bytes"
        return (
            f"Found {found}, expected at most {most}. "
            "Nothing was changed; what you wrote is still in your browser."
        )


class _BodyFirst:
    """Reads the body first, so that one that is too large or breaks off never reaches the
    application."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if not _has_body(scope):
            await self._app(scope, receive, send)
            return
        body, more = bytearray(), True
        while more:
            message = await receive()
            if message["type"] != "http.request":
                return
            body += message.get("body", b"")
            more = message.get("more_body", False)
        await self._app(scope, _replaying(bytes(body), receive), send)


def _is_upload(scope: Scope) -> bool:
    """Whether a file is sent where files are uploaded."""
    return scope["method"] == "POST" and scope["path"] in UPLOADS_TO


def _wrong_origin(scope: Scope, host: str, origin: str) -> tuple[int, str] | None:
    """Why a request is not for the server known under an origin; None if it is."""
    usual = f":{_DEFAULT_PORTS.get(scope['scheme'])}"
    found = f"{scope['scheme']}://{host}".casefold()
    if found.removesuffix(usual) == origin.removesuffix(usual):
        return None
    return _MISDIRECTED, (
        f"Found the address {found!r}, expected {origin!r}. This server answers only under the "
        "address it was started with (--public-url). A proxy in front of it has to hand on the "
        "Host header and X-Forwarded-Proto."
    )


def _port(host: str, scope: Scope) -> int | None:
    """The port that a Host header names, or the usual one; None if it is out of range."""
    try:
        return urlsplit(f"//{host}").port or _DEFAULT_PORTS.get(scope["scheme"])
    except ValueError:
        return None


def _foreign(scope: Scope, ours: str | None) -> tuple[int, str] | None:
    """Why a request of another site's making is refused; None if it is ours, or a plain link.

    `ours` is the origin of a server for a class, which asks for proof.
    """
    if ours is not None and scope["path"] in FROM_ELSEWHERE:
        return None
    origin, host = _one(scope, b"origin"), _one(scope, b"host")
    site = _one(scope, b"sec-fetch-site")
    is_safe = scope["method"] in SAFE_METHODS
    if origin and origin.casefold() != (ours or f"{scope['scheme']}://{host}".casefold()):
        return _FORBIDDEN, f"Found a request from {origin!r}, expected one from this page itself."
    if ours is not None and not is_safe and not origin and site != "same-origin":
        return _FORBIDDEN, (
            "Found a request without an Origin, expected one from this page itself. Does a proxy "
            "or an extension of the browser take the header away?"
        )
    if site in ("", "same-origin", "none"):
        return None
    is_link = (
        is_safe
        and _one(scope, b"sec-fetch-mode") == "navigate"
        and _one(scope, b"sec-fetch-dest") == "document"
        and not scope["path"].startswith(NO_LINKS_TO)
    )
    if is_link:
        return None
    return _FORBIDDEN, "Found a request from another site, expected one from this page itself."


def _all(scope: Scope, name: bytes) -> list[str]:
    return [value.decode("latin-1").strip() for key, value in scope["headers"] if key == name]


def _one(scope: Scope, name: bytes) -> str:
    """A header's value; "" if it is missing, several joined."""
    return ", ".join(_all(scope, name))


def _has_body(scope: Scope) -> bool:
    is_chunked = bool(_all(scope, b"transfer-encoding"))
    return is_chunked or _one(scope, b"content-length") not in ("", "0")


def _replaying(body: bytes, receive: Receive) -> Receive:
    """Gives the body that was read, then what else comes."""
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def replay() -> Message:
        return waiting.pop() if waiting else await receive()

    return replay


def _with_headers(send: Send, always: Mapping[str, str]) -> Send:
    """Adds what every answer says; what the application says itself is left."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = list(message.get("headers", ()))
            said = {key.lower(): value for key, value in headers}
            added = {**always, "cache-control": _caching(said.get(b"content-type", b""))}
            headers += [
                (key.encode(), value.encode())
                for key, value in added.items()
                if key.encode() not in said
            ]
            message = {**message, "headers": headers}
        await send(message)

    return sending


def _caching(content_type: bytes) -> str:
    """Pages and data are never kept; scripts and styles are asked about again."""
    is_static = content_type.startswith((b"text/javascript", b"text/css", b"image/", b"font/"))
    return "no-cache" if is_static else "no-store"


async def _refuse(send: Send, status: int, text: str) -> None:
    body = f"{text}\n".encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
