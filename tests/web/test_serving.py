"""Servers in processes of their own, asked over the loopback address."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path

import httpx
import pytest

from tests.patience import PATIENCE_S, until, waiting
from trainer.errors import SettingsError, StoreError
from trainer.web.serving import DEFAULT_PORT, serve_locally

ROOT = Path(__file__).parents[2]

PROGRAM = """
import sys
from pathlib import Path
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from trainer.web.serving import serve_locally

def say(line):
    print(line, flush=True)

def make():
    return Starlette(routes=[Route("/", lambda request: PlainTextResponse("a page"))])

folder, learner, port, browser = sys.argv[1:]
serve_locally(make, folder=Path(folder), learner=learner, port=int(port) or None,
              browser=browser == "yes", say=say, once_up=lambda: Path(folder, "up").touch())
"""


class Running:
    """A server in a process of its own; its first line is read.

    Raises AssertionError with all that it said if it ends before it answers.
    """

    def __init__(self, *line: str, env: dict[str, str] | None = None) -> None:
        self.process = subprocess.Popen(
            [sys.executable, *line], cwd=ROOT, text=True, env={**os.environ, **(env or {})},
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        assert self.process.stdout is not None
        self.said = self.process.stdout.readline()
        if not self.said:
            out, err = self.process.communicate()
            raise AssertionError(f"ended with {self.process.returncode}: {out}{err}")
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", self.said)
        self.address = found[0] if found else ""
        self.port = int(found[1]) if found else 0

    def get(self, path: str = "", **headers: str) -> httpx.Response:
        """Ask it."""
        return httpx.get(self.address + path, headers=headers, trust_env=False, timeout=PATIENCE_S,
                         follow_redirects=True)  # fmt: skip

    def stop(self, how: signal.Signals = signal.SIGINT) -> tuple[int, str, str]:
        """Stop it: exit code and what else it said."""
        self.process.send_signal(how)
        out, err = self.process.communicate(timeout=PATIENCE_S)
        return self.process.returncode, out, err


Start = Callable[..., Running]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Starts servers; what still runs in the end is stopped."""
    started: list[Running] = []

    def start(
        folder: str = "record",
        learner: str = "me",
        port: int = 0,
        browser: str = "no",
        **env: str,
    ) -> Running:
        started.append(
            Running("-c", PROGRAM, str(tmp_path / folder), learner, str(port), browser, env=env)
        )
        return started[-1]

    yield start
    for running in started:
        if running.process.poll() is None:
            running.process.kill()
        running.process.communicate()


def sign(folder: Path) -> dict[str, object]:
    """The note that a server runs."""
    said: dict[str, object] = json.loads((folder / "running.json").read_text("utf-8"))
    return said


class TestServing:
    def test_it_answers_where_it_says(self, start: Start) -> None:
        """The address printed is on the loopback, and the page is there, guarded."""
        server = start()
        answer = server.get()
        assert answer.text == "a page"
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert "server" not in answer.headers
        assert server.get(host="rebound.example").status_code == 421

    def test_only_this_machine_reaches_it(self, start: Start) -> None:
        """Nothing listens on the machine's other addresses (here: 127.0.0.2 stands for them)."""
        server = start()
        with closing(socket.socket()) as knocking:
            assert knocking.connect_ex(("127.0.0.2", server.port)) != 0

    @pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
    def test_it_stops_quietly(self, start: Start, tmp_path: Path, how: signal.Signals) -> None:
        """Ctrl-C and SIGTERM end it with exit code 0, no traceback, and no note left behind."""
        server = start()
        server.get()
        code, out, err = server.stop(how)
        assert (code, err) == (0, "")
        assert out == ("Stopped. Everything is saved.\n" if how is signal.SIGINT else "")
        assert (tmp_path / "record" / "up").exists()
        assert not (tmp_path / "record" / "running.json").exists()

    def test_an_open_connection_does_not_hold_it(self, start: Start) -> None:
        """A tab that keeps its connection open does not keep the server from ending."""
        server = start()
        with httpx.Client(trust_env=False) as tab:
            tab.get(server.address)
            assert server.stop()[0] == 0

    def test_a_taken_port_is_avoided(self, start: Start, tmp_path: Path) -> None:
        """Two records at a time get ports of their own."""
        one, two = start("one"), start("two")
        assert one.port != two.port
        for each in (one, two):
            told = f"(port {DEFAULT_PORT} is taken; Ctrl-C stops it)" in each.said
            assert told == (each.port != DEFAULT_PORT)
        assert one.get().text == two.get().text == "a page"

    def test_a_folder_that_cannot_be_written_is_told(self, tmp_path: Path) -> None:
        """A record that cannot be kept is an error that names the folder and the way out."""
        (tmp_path / "file").write_text("in the way")
        with pytest.raises(StoreError, match="expected a folder the program can write to"):
            serve_locally(lambda: None, folder=tmp_path / "file" / "record")  # type: ignore[arg-type, return-value]

    def test_the_usual_port_is_taken_if_it_is_free(self, tmp_path: Path) -> None:
        """The same address each day, as long as nobody else has it.

        Another server of this machine may have the usual port; here a port that is free is usual.
        Another program may take that one before the server does, but not three times.
        """
        for _ in range(3):
            with closing(socket.create_server(("127.0.0.1", 0))) as free:
                usual = free.getsockname()[1]
            program = f"import trainer.web.serving as s\ns.DEFAULT_PORT = {usual}\n{PROGRAM}"
            server = Running("-c", program, str(tmp_path / "record"), "me", "0", "no")
            server.stop()
            if server.port == usual:
                return
        pytest.fail(f"found port {server.port} in use, expected {usual}, which was free")

    def test_a_port_asked_for(self, start: Start) -> None:
        """A free one is used, a taken one is an error that names it."""
        with closing(socket.create_server(("127.0.0.1", 0))) as other:
            taken = other.getsockname()[1]
            with pytest.raises(SettingsError, match=f"--port: found {taken} .*, expected a free"):
                serve_locally(lambda: None, folder=Path("unused"), port=taken)  # type: ignore[arg-type, return-value]
        assert start(port=taken).port == taken

    def test_the_browser_is_opened_when_it_answers(self, start: Start, tmp_path: Path) -> None:
        """The browser is given the address, once the page is there to be fetched."""
        told = tmp_path / "told"
        os.mkfifo(told)
        browser = tmp_path / "browser"
        fetch = "import sys, urllib.request as u; u.urlopen(sys.argv[1]).read()"
        browser.write_text(
            f'#!/bin/sh\n"{sys.executable}" -c "{fetch}" "$1" && echo "$1" > "{told}"\n'
        )
        browser.chmod(0o755)
        server = start(browser="yes", BROWSER=str(browser))
        assert told.read_text().strip() == server.address


# Serves a sound of a quarter of an hour and prints its address and its key.
SOUNDING = """
import sys
from pathlib import Path
from tests.sound.pieces import song
from trainer.sound.soundfonts import bundled_soundfont
from trainer.web.audio import AudioLibrary
from trainer.web.serving import serve_locally
from fastapi import FastAPI

library = AudioLibrary(bundled_soundfont(), Path(sys.argv[1]) / "sounds")
key = library.register(song(1, bars=450))

def make():
    app = FastAPI()
    app.include_router(library.router, prefix="/audio")
    return app

try:
    serve_locally(make, folder=Path(sys.argv[1]), browser=False, before_stop=library.stop,
                  say=lambda line: print(line, key, flush=True))
finally:
    library.close()
"""


@pytest.mark.audio
@pytest.mark.parametrize("kind", ["flac", "wav"])
def test_it_ends_while_sounds_are_made(tmp_path: Path, kind: str) -> None:
    """SIGTERM ends the server before what is being rendered and encoded is done, and nothing of it
    is left."""
    server = Running("-c", SOUNDING, str(tmp_path))
    key = server.said.split()[-1]
    head = f"GET /audio/{key}.{kind} HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n\r\n"
    held = [knock(server.port, head.encode()) for _ in range(8)]
    sounds = tmp_path / "sounds"
    until(lambda: any(sounds.glob("*.part")), "something is being rendered")
    code, _, err = server.stop(signal.SIGTERM)
    for connection in held:
        connection.close()
    assert (code, err) == (0, "")
    # Nor is anything finished: the server has not waited for the end of the song.
    assert [path.name for path in sounds.iterdir()] == ["secret"]


def knock(port: int, *parts: bytes) -> socket.socket:
    """A connection on which something was sent."""
    connection = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S)
    for part in parts:
        connection.sendall(part)
    return connection


HALF_HEAD = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"
HALF_BODY = b"POST / HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Length: 100\r\n\r\nhalf"


class TestSlowClients:
    HASTY = "import trainer.web.serving as s\ns.HEAD_S = s.BODY_S = 1.0\ns._LOOK_EVERY_S = 0.1\n"

    @pytest.fixture
    def hasty(self, tmp_path: Path) -> Iterator[Running]:
        """A server that waits for a second."""
        running = Running("-c", self.HASTY + PROGRAM, str(tmp_path / "record"), "me", "0", "no")
        yield running
        running.process.kill()
        running.process.communicate()

    @pytest.mark.parametrize("sent", [b"", b"G", HALF_HEAD], ids=["nothing", "a byte", "half"])
    def test_a_head_that_never_ends(self, hasty: Running, sent: bytes) -> None:
        """Connections on which no whole request head comes are closed, a hundred of them, too."""
        held = [knock(hasty.port, sent) for _ in range(100)]
        for connection in held:
            with closing(connection):
                assert ended(connection)
        for _ in waiting("the server answers again"):
            # A machine that stands still for a second makes this request late, too.
            with suppress(httpx.TransportError):
                assert hasty.get().text == "a page"
                return

    def test_a_head_that_trickles(self, hasty: Running) -> None:
        """A byte now and then does not keep a connection open."""
        with closing(knock(hasty.port)) as connection:
            connection.sendall(HALF_HEAD + b"X-Long: ")
            # The time limit of a receive is the pause between two bytes.
            connection.settimeout(0.1)
            for _ in waiting("the server closes the connection"):
                try:
                    connection.sendall(b"a")
                    assert connection.recv(1) == b""
                    return
                except TimeoutError:
                    continue
                except ConnectionError:
                    return

    def test_a_body_that_never_ends(self, hasty: Running) -> None:
        """So is one on which half a body came."""
        with closing(knock(hasty.port, HALF_BODY % hasty.port)) as connection:
            assert ended(connection)

    def test_a_head_that_never_ends_after_an_answer(self, hasty: Running) -> None:
        """And one that was answered and then sends the next head by half."""
        head = HALF_HEAD.replace(b"127.0.0.1", b"127.0.0.1:%d" % hasty.port)
        for _ in waiting("a request is answered before its time is over"):
            with closing(knock(hasty.port, head + b"\r\n")) as connection:
                answer = b""
                while not answer.endswith(b"a page") and (part := connection.recv(1000)):
                    answer += part
                if answer:
                    connection.sendall(head)
                    assert ended(connection)
                    return

    def test_an_answer_has_no_limit(self, tmp_path: Path) -> None:
        """Who reads slowly, as a browser that plays, is not cut off."""
        program = self.HASTY + PROGRAM.replace(
            'lambda request: PlainTextResponse("a page")',
            'lambda request: PlainTextResponse("a page" * 2_000_000)',
        )
        running = Running("-c", program, str(tmp_path / "record"), "me", "0", "no")
        try:
            head = HALF_HEAD.replace(b"127.0.0.1", b"127.0.0.1:%d" % running.port)
            reading = head + b"Connection: close\r\n\r\n"
            with closing(knock(running.port, reading)) as slow:
                # Others come and are closed for being late; this one stays.
                for _ in range(3):
                    with closing(knock(running.port, b"G")) as other:
                        assert ended(other)
                got = 0
                while part := slow.recv(2**20):
                    got += len(part)
            assert got > 12_000_000
        finally:
            running.process.kill()
            running.process.communicate()


@pytest.mark.parametrize("length", [2**20 + 1, 30_000_000])
def test_a_body_too_large_is_told(start: Start, length: int) -> None:
    """A client that sends too much sees why it was refused and may send something else next."""
    server = start()
    with httpx.Client(trust_env=False) as client:
        for content in (bytes(length), iter([bytes(length)])):
            answer = client.post(server.address, content=content)
            assert answer.status_code == 413
            assert "expected at most 1,048,576" in answer.text
        assert client.get(server.address).text == "a page"


def ended(connection: socket.socket) -> bool:
    """Whether the server closes a connection on which it has said nothing more."""
    try:
        return connection.recv(1000) == b""
    except ConnectionResetError:
        return True


class TestOneForEachRecord:
    def test_a_second_start_shows_the_first(self, start: Start) -> None:
        """The one that runs is named, and the second ends at once."""
        first = start()
        second = start()
        assert second.said == f"The page is already open: {first.address}\n"
        assert second.process.wait(PATIENCE_S) == 0
        assert first.get().text == "a page"

    def test_a_second_start_finds_one_that_is_still_loading(
        self, start: Start, tmp_path: Path
    ) -> None:
        """The note stands as soon as the port is taken, and tells a port and a secret token."""
        server = start()
        said = sign(tmp_path / "record")
        assert said["port"] == server.port
        assert server.get("running").text == said["token"]
        assert (tmp_path / "record" / "running.json").stat().st_mode & 0o077 == 0
        assert (tmp_path / "record").stat().st_mode & 0o077 == 0

    def test_another_learner_gets_another(self, start: Start) -> None:
        """Two learners of one record are served apart."""
        one, two = start(learner="Rosa"), start(learner="Ben")
        assert one.port != two.port
        assert two.get().text == "a page"

    def test_one_that_was_killed_is_not_missed(self, start: Start, tmp_path: Path) -> None:
        """A note whose server is gone is ignored and replaced."""
        first = start()
        first.stop(signal.SIGKILL)
        assert sign(tmp_path / "record")["port"] == first.port
        second = start()
        assert second.get().text == "a page"
        assert sign(tmp_path / "record")["port"] == second.port

    def test_a_stranger_on_the_port_is_not_taken_for_ours(
        self, start: Start, tmp_path: Path
    ) -> None:
        """A server that does not know the token is not opened."""
        stranger = start("other")
        (tmp_path / "record").mkdir()
        note = {"port": stranger.port, "learner": "me", "token": "x" * 22}
        (tmp_path / "record" / "running.json").write_text(json.dumps(note))
        assert start().port != stranger.port

    @pytest.mark.parametrize("text", ["", "{}", "[]", '{"port": "x"}', "null"])
    def test_a_damaged_note_is_ignored(self, start: Start, tmp_path: Path, text: str) -> None:
        """A note that makes no sense is replaced."""
        (tmp_path / "record").mkdir()
        (tmp_path / "record" / "running.json").write_text(text)
        server = start()
        assert sign(tmp_path / "record")["port"] == server.port


class TestCommand:
    MAIN = "from trainer.cli.main import main; main()"

    def test_the_page_comes_without_a_command(self, tmp_path: Path) -> None:
        """`chart-trainer --no-browser` serves the page over the record named, until Ctrl-C."""
        server = Running("-c", self.MAIN, "--no-browser", "--data", str(tmp_path), "--learner", "R")
        try:
            answer = server.get(accept="text/html")
            assert answer.status_code == 200
            assert "default-src 'none'" in answer.headers["content-security-policy"]
            assert (tmp_path / "trainer.sqlite3").exists()
            head = httpx.head(server.address, trust_env=False, follow_redirects=True,
                              headers={"accept": "text/html"})  # fmt: skip
            assert (head.status_code, head.content) == (200, b"")
            assert head.headers["content-length"] == answer.headers["content-length"]
        finally:
            code, out, err = server.stop()
        assert (code, out, err) == (0, "Stopped. Everything is saved.\n", "")

    @pytest.mark.parametrize(
        ("line", "said"),
        [
            (["--soundfont", "missing.sf2"], "missing.sf2"),
            (["--data", "somewhere", "drill"], "--data: found it before the command drill"),
            (["--no-browser", "progress"], "--no-browser: found it before the command progress"),
        ],
    )
    def test_wrong_options(self, line: list[str], said: str) -> None:
        """Exit code 2 and the reason; options in the wrong place are not silently dropped."""
        done = subprocess.run([sys.executable, "-c", self.MAIN, *line], cwd=ROOT, text=True,
                              capture_output=True, check=False)  # fmt: skip
        assert done.returncode == 2
        assert said in done.stderr
