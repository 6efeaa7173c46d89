"""The page on this machine: where it listens, one server for each record, the browser opened.

A connection is closed when its client is too slow to send a request. uvicorn itself closes one
that sends nothing for `IDLE_S` after an answer. `_TimedProtocol` does the rest: a request whose
head is not whole `HEAD_S` after the connection was made or the last answer was sent, and a body of
which nothing comes for `BODY_S`. Answers have no time limit: a browser reads the sound of a song
as it plays it.
"""

from __future__ import annotations

import asyncio
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
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Self

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from trainer.errors import SettingsError, StoreError
from trainer.store import make_private_folder, private_opener
from trainer.web.guard import Guard

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["DEFAULT_PORT", "Hooks", "Server", "serve_locally"]

HOST = "127.0.0.1"
# Below the ports Linux gives out by itself (32768 up), so it is seldom taken by chance.
DEFAULT_PORT = 28467
WHO = "/running"
# A server that is just starting answers within this, or is not there.
ANSWER_WAIT_S = 5.0
# An answer that is being sent when the server is told to stop is not waited for longer.
LEAVE_S = 2
# How long a client may take (see above).
IDLE_S, HEAD_S, BODY_S = 5, 10.0, 20.0
_LOOK_EVERY_S = 1.0
_GARBAGE_AFTER = 20_000
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class _Instance:
    """A server that runs: where and for whom; `token` proves that it is this one."""

    port: int
    learner: str
    token: str

    @property
    def address(self) -> str:
        """What to open in a browser."""
        return f"http://{HOST}:{self.port}/"

    @classmethod
    def read(cls, path: Path) -> Self | None:
        """The instance noted in a file; None if there is none that makes sense."""
        try:
            found = json.loads(path.read_text(encoding="utf-8"))
            return cls(int(found["port"]), str(found["learner"]), str(found["token"]))
        except (OSError, ValueError, KeyError, TypeError) as error:
            _LOG.debug("no server is known to run: %s", error)
            return None

    def write(self, path: Path) -> None:
        """Note it in a file that only its owner reads, in one step. Raises StoreError."""
        unfinished = path.with_suffix(f".{self.token[:8]}")
        try:
            make_private_folder(path.parent)
            with open(unfinished, "x", encoding="utf-8", opener=private_opener) as file:
                json.dump(asdict(self), file)
            unfinished.replace(path)
        except OSError as error:
            raise StoreError(
                f"{path.parent}: {error.strerror}, expected a folder the program can write to. "
                "Choose another one with --data."
            ) from error

    def is_running(self) -> bool:
        """Whether this server answers."""
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
    before_stop: Callable[[], None] | None = None,
) -> None:
    """Serve the page, guarded, on the loopback address until interrupted.

    If a server for the same record and learner runs already, it is shown instead.

    Parameters
    ----------
    make_app : makes the application; called after the port is taken.
    folder : of the record; a note of the running server is kept there.
    port : None for `DEFAULT_PORT`, or any free one if that is taken.
    browser : whether to open the browser when the server answers.
    say : tells the person something, a line at a time.
    once_up : called when the server answers.
    before_stop : called when it is told to stop, before it waits for the answers being sent.

    Raises
    ------
    SettingsError
        `port` is given and taken.
    StoreError
        `folder` cannot be written.
    """
    path = folder / "running.json"
    known = _Instance.read(path)
    if known is not None and known.learner == learner and known.is_running():
        say(f"The page is already open: {known.address}")
        if browser:
            webbrowser.open(known.address)
        return
    with closing(_listen(port)) as listening:
        instance = _Instance(listening.getsockname()[1], learner, secrets.token_urlsafe(16))
        instance.write(path)
        try:
            app = Guard(_InstanceEndpoint(make_app(), instance.token))
            taken = port is None and instance.port != DEFAULT_PORT
            why = f"port {DEFAULT_PORT} is taken; " if taken else ""
            up = f"The page is at {instance.address}  ({why}Ctrl-C stops it)"
            open_at = instance.address if browser else None
            hooks = Hooks(say, once_up, before_stop)
            Server(app, up, hooks, open_at=open_at).run_until_told(listening)
        finally:
            if _Instance.read(path) == instance:
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


class _InstanceEndpoint:
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


@dataclass(frozen=True, slots=True)
class Hooks:
    """What a server calls: `say` tells the person something, a line at a time; `once_up` is called
    when it answers, and `before_stop` when it is told to stop, before it waits for the answers
    being sent.
    """

    say: Callable[[str], None] = print
    once_up: Callable[[], None] | None = None
    before_stop: Callable[[], None] | None = None


class Server(uvicorn.Server):
    """Tells the person where it is when it answers, and stops quietly.

    Parameters
    ----------
    up : what is said when it answers.
    open_at : the address to open in the browser then.
    proxies : the network addresses of proxies that are believed when they say who asked, and
        whether over TLS; empty for none.
    """

    def __init__(
        self,
        app: ASGIApp,
        up: str,
        hooks: Hooks,
        *,
        open_at: str | None = None,
        proxies: Sequence[str] = (),
    ) -> None:
        super().__init__(uvicorn.Config(
            app, log_level="error", access_log=False, server_header=False, lifespan="auto",
            ws="none", timeout_graceful_shutdown=LEAVE_S, proxy_headers=bool(proxies),
            forwarded_allow_ips=list(proxies), http=_TimedProtocol, timeout_keep_alive=IDLE_S,
        ))  # fmt: skip
        self._up, self._hooks, self._open_at = up, hooks, open_at

    def run_until_told(self, listening: socket.socket) -> None:
        """Serve until Ctrl-C or SIGTERM."""
        # The server hands signals on when it has ended; they then lead out of here.
        before = signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
        # A shell that starts a program in the background has it ignore SIGINT; the server does not.
        interrupt = signal.signal(signal.SIGINT, signal.default_int_handler)
        try:
            self.run(sockets=[listening])
        except KeyboardInterrupt:
            self._hooks.say("Stopped. Everything is saved.")
        finally:
            signal.signal(signal.SIGTERM, before)
            signal.signal(signal.SIGINT, interrupt)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start answering, and say so."""
        await super().startup(sockets)
        # What the program itself is made of stays: looking through it again makes answers late.
        gc.freeze()
        # Looking for garbage after every 700 objects, as Python does, takes a third of the time in
        # which a long song is arranged.
        gc.set_threshold(_GARBAGE_AFTER, 20, 20)
        self._hooks.say(self._up)
        if self._open_at is not None:
            # Some browsers keep whoever opens them waiting.
            opening = threading.Thread(target=webbrowser.open, args=(self._open_at,))
            opening.daemon = True
            opening.start()
        if self._hooks.once_up is not None:
            self._hooks.once_up()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End: give up what is being made, so that nobody waits for it."""
        # Answers that break off now are no errors.
        logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)
        if self._hooks.before_stop is not None:
            self._hooks.before_stop()
        await super().shutdown(sockets)


class _TimedProtocol(H11Protocol):
    """A connection that is closed when its client takes too long to send a request."""

    _look: asyncio.TimerHandle
    # When the connection was made, the last answer was sent, or the last bytes of a body came.
    _waits_since: float

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as in the base class
        """Begin to wait for a request."""
        super().connection_made(transport)
        self._waits_since = self.loop.time()
        self._look = self.loop.call_later(_LOOK_EVERY_S, self._close_if_late)

    def connection_lost(self, exc: Exception | None) -> None:
        """Look no more."""
        self._look.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Handle what came; a part of a body is progress, a part of a head is not."""
        if not self._waits_for_head():
            self._waits_since = self.loop.time()
        super().data_received(data)

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        self._waits_since = self.loop.time()
        super().on_response_complete()

    def _waits_for_head(self) -> bool:
        if self.cycle is None:
            # Before the first request, whatever the annotation says.
            return True  # type: ignore[unreachable]
        # What is not sent yet may wait for a reader that takes its time.
        return self.cycle.response_complete and not self.transport.get_write_buffer_size()

    def _waits_for_body(self) -> bool:
        return self.cycle.more_body and not self.cycle.response_complete

    def _close_if_late(self) -> None:
        waited_s = self.loop.time() - self._waits_since
        if self._waits_for_head():
            is_late = waited_s > HEAD_S
        else:
            is_late = self._waits_for_body() and waited_s > BODY_S
        if is_late:
            self.transport.close()
        else:
            self._look = self.loop.call_later(_LOOK_EVERY_S, self._close_if_late)
