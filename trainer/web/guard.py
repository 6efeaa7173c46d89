"""What keeps the page to its owner: no other host's name, no other site's requests, no script but
our own, no body beyond reason.

A page on the loopback address can be reached by every web site the same browser opens. Its
requests are told from ours by Host (against names rebound to 127.0.0.1), Origin (RFC 6454) and
Sec-Fetch-Site (W3C Fetch Metadata Request Headers).
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["LOOPBACK_HOSTS", "Guard"]

LOOPBACK_HOSTS = frozenset({"localhost", "127.0.0.1", "[::1]"})
BODY_LIMIT_BYTES = 2**20
# Read and thrown away of a body too large, so that its sender gets to see the answer.
_DRAINED_LIMITS = 16
# Not even a link on another site leads here.
NO_LINKS_TO = ("/audio/", "/preview/")
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
_HOST = re.compile(r"(\[[0-9a-f:.]+\]|[^\[\]:/@\s]+)(?::(\d{1,5}))?", re.IGNORECASE)
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
HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    # With "no-referrer" browsers send our own forms with the Origin "null" (Fetch standard).
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
_MISDIRECTED, _FORBIDDEN, _TOO_LARGE, _BAD = 421, 403, 413, 400
# WebSocket close code "policy violation", RFC 6455 section 7.4.1.
_POLICY_VIOLATION = 1008


class Guard:
    """ASGI middleware around the whole application.

    Parameters
    ----------
    allowed_hosts : names this page answers to, without port; IPv6 addresses in brackets.
    body_limit_bytes : largest request body.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        allowed_hosts: Collection[str] = LOOPBACK_HOSTS,
        body_limit_bytes: int = BODY_LIMIT_BYTES,
    ) -> None:
        self.app = app
        self.allowed_hosts = frozenset(host.casefold() for host in allowed_hosts)
        self.body_limit_bytes = body_limit_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or let the application answer."""
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": _POLICY_VIOLATION})
            return
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        send = _with_headers(send)
        refused = self._wrong_host(scope) or _foreign(scope)
        if refused is not None:
            await _refuse(send, *refused)
        elif _has_body(scope):
            await self._with_body(scope, receive, send)
        else:
            await self.app(scope, receive, send)

    def _wrong_host(self, scope: Scope) -> tuple[int, str] | None:
        """Why a request is not for this page; None if it is."""
        hosts = _all(scope, b"host")
        if len(hosts) != 1:
            return _BAD, f"Found {len(hosts)} Host headers, expected one."
        named = _HOST.fullmatch(hosts[0])
        served = (scope.get("server") or (None, None))[1]
        if named is not None:
            port = int(named[2] or _DEFAULT_PORTS.get(scope["scheme"], 0))
            if named[1].casefold() in self.allowed_hosts and served in (None, port):
                return None
        expected = ", ".join(sorted(self.allowed_hosts))
        return _MISDIRECTED, (
            f"Found the host {hosts[0]!r}, expected {expected} with port {served}. "
            "This page answers only under the address it was started with."
        )

    async def _with_body(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Read the body first, so that one too large never reaches the application."""
        length = _one(scope, b"content-length")
        size, body = 0, bytearray()
        declared = int(length) if length.isdecimal() else 0
        most = self.body_limit_bytes
        more = True
        while more and size <= most * _DRAINED_LIMITS:
            message = await receive()
            if message["type"] != "http.request":
                return
            part = message.get("body", b"")
            more = message.get("more_body", False)
            size += len(part)
            if max(size, declared) <= most:
                body += part
        if max(size, declared) > most:
            found = f"{max(size, declared):,} bytes" + (" or more" if more and not declared else "")
            await _refuse(
                send,
                _TOO_LARGE,
                f"Found {found}, expected at most {most:,}. "
                "Nothing was changed; what you wrote is still in your browser.",
            )
            return
        await self.app(scope, _replaying(bytes(body), receive), send)


def _foreign(scope: Scope) -> tuple[int, str] | None:
    """Why a request of another site's making is refused; None if it is ours, or a plain link."""
    origin, host = _one(scope, b"origin"), _one(scope, b"host")
    site = _one(scope, b"sec-fetch-site")
    if origin and origin.casefold() != f"{scope['scheme']}://{host}".casefold():
        return _FORBIDDEN, f"Found a request from {origin!r}, expected one from this page itself."
    if site in ("", "same-origin", "none"):
        return None
    is_link = (
        scope["method"] in SAFE_METHODS
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


def _with_headers(send: Send) -> Send:
    """Adds what every answer says; what the application says itself is left."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = list(message.get("headers", ()))
            said = {key.lower(): value for key, value in headers}
            added = HEADERS | {"cache-control": _caching(said.get(b"content-type", b""))}
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
    if status == _TOO_LARGE:
        headers.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
