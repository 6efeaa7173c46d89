"""The page on this machine: where it listens, one server for each record, the browser opened."""

from __future__ import annotations

import gc
import json
import logging
import secrets
import signal
import socket
import sys
import threading
import urllib.error
import urllib.request
import webbrowser
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Self

import uvicorn

from trainer.errors import SettingsError, StoreError
from trainer.web.guard import Guard

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["DEFAULT_PORT", "serve_locally"]

HOST = "127.0.0.1"
# Below the ports Linux gives out by itself (32768 up), so it is seldom taken by chance.
DEFAULT_PORT = 28467
WHO = "/running"
# A server that is just starting answers within this, or is not there.
ANSWER_WAIT_S = 5.0
# An open connection, as of a tab that plays, is not waited for longer.
LEAVE_S = 2
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class _Sign:
    """Says that a server runs: where, for whom; `token` proves that it is this one."""

    port: int
    learner: str
    token: str

    @property
    def address(self) -> str:
        """What to open in a browser."""
        return f"http://{HOST}:{self.port}/"

    @classmethod
    def read(cls, path: Path) -> Self | None:
        """The sign put up in a file; None if there is none that makes sense."""
        try:
            said = json.loads(path.read_text(encoding="utf-8"))
            return cls(int(said["port"]), str(said["learner"]), str(said["token"]))
        except (OSError, ValueError, KeyError, TypeError) as error:
            _LOG.debug("no server is known to run: %s", error)
            return None

    def put_up(self, path: Path) -> None:
        """Write it, in one step. Raises StoreError if it cannot be written there."""
        made = path.with_suffix(f".{self.token[:8]}")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            made.touch(0o600)
            made.write_text(json.dumps(asdict(self)), encoding="utf-8")
            made.replace(path)
        except OSError as error:
            raise StoreError(
                f"{path.parent}: {error.strerror}, expected a folder that can be written. Choose "
                "another with --data."
            ) from error

    def is_true(self) -> bool:
        """Whether the server it speaks of answers."""
        # Never through a proxy.
        opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        try:
            with opener.open(f"{self.address.rstrip('/')}{WHO}", timeout=ANSWER_WAIT_S) as answer:
                found: bytes = answer.read(len(self.token) + 1)
        except (OSError, urllib.error.URLError) as error:
            _LOG.debug("no server answers at %s: %s", self.address, error)
            return False
        return secrets.compare_digest(found, self.token.encode())


def serve_locally(
    make_app: Callable[[], ASGIApp],
    *,
    folder: Path,
    learner: str = "me",
    port: int | None = None,
    browser: bool = True,
    say: Callable[[str], None] = print,
    once_up: Callable[[], None] | None = None,
) -> None:
    """Serve the page on the loopback address until interrupted; safely guarded.

    If a server for the same record and learner runs already, it is shown instead.

    Parameters
    ----------
    make_app : makes the application; called after the port is taken.
    folder : of the record; a note of the running server is kept there.
    port : None for `DEFAULT_PORT`, or any free one if that is taken.
    browser : whether to open the browser when the server answers.
    say : tells the person something, a line at a time.
    once_up : called when the server answers.

    Raises
    ------
    SettingsError
        `port` is given and taken.
    StoreError
        `folder` cannot be written.
    """
    path = folder / "running.json"
    known = _Sign.read(path)
    if known is not None and known.learner == learner and known.is_true():
        say(f"The page is open already: {known.address}")
        if browser:
            webbrowser.open(known.address)
        return
    with closing(_listen(port)) as listening:
        sign = _Sign(listening.getsockname()[1], learner, secrets.token_urlsafe(16))
        sign.put_up(path)
        try:
            app = Guard(_Named(make_app(), sign.token))
            taken = port is None and sign.port != DEFAULT_PORT
            _Server(app, sign, browser, say, once_up, taken=taken).run_until_told(listening)
        finally:
            if _Sign.read(path) == sign:
                path.unlink(missing_ok=True)


def _listen(port: int | None) -> socket.socket:
    """A listening socket on the loopback address."""
    try:
        return _listening_at(DEFAULT_PORT if port is None else port)
    except (OSError, OverflowError) as error:
        if port is not None:
            why = error.strerror if isinstance(error, OSError) else error
            raise SettingsError("--port", f"{port} ({why})", "a free port, 1024 to 65535") from None
        return _listening_at(0)


def _listening_at(port: int) -> socket.socket:
    return socket.create_server((HOST, port))


class _Named:
    """Answers who is running; everything else is the application's."""

    def __init__(self, app: ASGIApp, token: str) -> None:
        self._app, self._token = app, token.encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["path"] != WHO:
            await self._app(scope, receive, send)
            return
        headers = [(b"content-type", b"text/plain")]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": self._token})


class _Server(uvicorn.Server):
    """Tells the person where it is when it answers, and stops quietly."""

    def __init__(
        self,
        app: ASGIApp,
        sign: _Sign,
        browser: bool,
        say: Callable[[str], None],
        once_up: Callable[[], None] | None,
        *,
        taken: bool,
    ) -> None:
        super().__init__(uvicorn.Config(
            app, log_level="error", access_log=False, server_header=False, lifespan="auto",
            ws="none", timeout_graceful_shutdown=LEAVE_S, proxy_headers=False,
        ))  # fmt: skip
        self._sign, self._browser, self._say, self._once_up = sign, browser, say, once_up
        self._why = f"port {DEFAULT_PORT} is taken; " if taken else ""

    def run_until_told(self, listening: socket.socket) -> None:
        """Serve until Ctrl-C or SIGTERM."""
        # The server hands signals on when it has ended; they then lead out of here.
        before = signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
        # A shell that starts a program in the background has it ignore SIGINT; the server does not.
        interrupt = signal.signal(signal.SIGINT, signal.default_int_handler)
        try:
            self.run(sockets=[listening])
        except KeyboardInterrupt:
            self._say("Stopped. Everything is kept.")
        finally:
            signal.signal(signal.SIGTERM, before)
            signal.signal(signal.SIGINT, interrupt)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start answering, and say so."""
        await super().startup(sockets)
        # What the program itself is made of stays: looking through it again makes answers late.
        gc.freeze()
        self._say(f"The page is at {self._sign.address}  ({self._why}Ctrl-C stops it)")
        if self._browser:
            # Some browsers keep whoever opens them waiting.
            opening = threading.Thread(target=webbrowser.open, args=(self._sign.address,))
            opening.daemon = True
            opening.start()
        if self._once_up is not None:
            self._once_up()
