"""Class servers in processes of their own, and browsers whose requests go from one to the next."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from itertools import cycle
from pathlib import Path
from typing import Any

import httpx

from tests.classroom.people import CHEAP, WORDS
from tests.patience import PATIENCE_S, waiting
from trainer.classroom import Accounts, NewPerson, Passwords
from trainer.store import Account, Role, Store

__all__ = ["MAIN", "ORIGIN", "Browser", "Running", "add_people", "free_port", "running"]

ROOT = Path(__file__).parents[3]
MAIN = "from trainer.cli.main import main; main()"
ORIGIN = "http://class.example"


def free_port() -> int:
    """A port that was free a moment ago."""
    with closing(socket.create_server(("127.0.0.1", 0))) as listening:
        port: int = listening.getsockname()[1]
        return port


class Running:
    """A class server in a process of its own.

    Parameters
    ----------
    location : the data folder or the database's URL.
    data_home : where the process keeps what is on its machine alone; two of them make two machines.
    program : what Python runs, in place of the trainer's own.
    """

    def __init__(
        self,
        location: Path | str,
        *options: str,
        port: int = 0,
        data_home: Path | None = None,
        program: str = MAIN,
        root: Path = ROOT,
    ) -> None:
        self.port = port or free_port()
        line = ["serve", "--data", str(location), "--port", str(self.port), *options]
        home = {"XDG_DATA_HOME": str(data_home)} if data_home is not None else {}
        self._said = tempfile.TemporaryFile("w+")  # noqa: SIM115 - closed by `_end`
        self.process = subprocess.Popen(
            [sys.executable, "-c", program, *line], cwd=root, stdout=self._said,
            env={**os.environ, "PYTHONPATH": str(root), **home},
        )  # fmt: skip
        self.url = f"http://127.0.0.1:{self.port}"
        for _ in waiting("the class is up"):
            try:
                self.ask("GET", "/alive")
                return
            except httpx.TransportError:
                assert self.process.poll() is None, self.said

    @property
    def said(self) -> str:
        """What it has told the person at its machine."""
        self._said.seek(0)
        return self._said.read()

    def ask(self, method: str, place: str, **how: object) -> httpx.Response:
        """Ask it as a proxy in front of it does."""
        return httpx.request(
            method, f"{self.url}{place}", trust_env=False, timeout=PATIENCE_S, **how  # type: ignore[arg-type]  # handed on
        )  # fmt: skip

    def stop(self) -> int:
        """Stop it; its exit code."""
        self.process.send_signal(signal.SIGINT)
        return self._end()

    def kill(self) -> None:
        """End it at once, as a machine does that loses its power; nothing if it has ended."""
        self.process.kill()
        self._end()

    def _end(self) -> int:
        code = self.process.wait(timeout=PATIENCE_S)
        self._said.close()
        return code


@contextmanager
def running(
    location: Path | str, *options: str, homes: Sequence[Path | None] = (None,), **how: Any
) -> Iterator[list[Running]]:
    """A server process for each data home, all over one database and known under `ORIGIN`."""
    servers: list[Running] = []
    try:
        line = ("--public-url", ORIGIN, *options)
        servers.extend(Running(location, *line, data_home=home, **how) for home in homes)
        yield servers
    finally:
        for server in servers:
            server.kill()


def add_people(store: Store, *names: str, role: Role = Role.LEARNER) -> list[Account]:
    """People whose password is `WORDS` and who have read the hearing caution."""
    now = datetime.now(UTC)
    accounts = Accounts(store, lambda: now, Passwords(CHEAP))
    made = []
    for name in names:
        made.append(accounts.sign_up(NewPerson(name, f"{name.title()} H.", WORDS), role))
        learner = store.learners.get(name)
        assert learner is not None
        store.learners.caution_shown(learner, now)
    return made


class Browser:
    """A browser whose every request goes to the next of several servers.

    A proxy that hands requests on in turn looks like this to both sides.
    """

    def __init__(self, servers: Sequence[Running], accept: str = "text/html") -> None:
        self._turns = cycle(servers)
        self._client = httpx.Client(
            trust_env=False, timeout=PATIENCE_S, headers={"accept": accept, "origin": ORIGIN}
        )

    def ask(
        self, method: str, place: str, server: Running | None = None, **how: Any
    ) -> httpx.Response:
        """Ask a server; the next one, if none is named. What leads elsewhere is not followed."""
        to = (server or next(self._turns)).url
        headers = {"host": ORIGIN.partition("//")[2]} | how.pop("headers", {})
        return self._client.request(method, f"{to}{place}", headers=headers, **how)

    @property
    def cookies(self) -> httpx.Cookies:
        """What it keeps."""
        return self._client.cookies

    def sign_in(self, name: str) -> None:
        """Sign somebody in."""
        answer = self.ask("POST", "/sign-in", data={"name": name, "password": WORDS})
        assert answer.status_code == httpx.codes.SEE_OTHER, answer.text

    def close(self) -> None:
        """Close its connections."""
        self._client.close()
