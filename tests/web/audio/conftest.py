"""A library with the small soundfont, a served one, and renderings that come when they are let."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
import uvicorn
from fastapi import FastAPI

from tests.patience import PATIENCE_S
from tests.web.audio.gated import Gated
from trainer.band import Arrangement
from trainer.sound.soundfonts import bundled_soundfont
from trainer.web.audio import AudioLibrary

MakeLibrary = Callable[..., AudioLibrary]
Serve = Callable[[AudioLibrary], httpx.Client]


@pytest.fixture(scope="session")
def small_soundfont() -> Path:
    """The soundfont that comes with pretty_midi."""
    return bundled_soundfont()


@pytest.fixture
def make_library(small_soundfont: Path, tmp_path: Path) -> Iterator[MakeLibrary]:
    """Makes libraries over one folder, as one start of the program after another."""
    made: list[AudioLibrary] = []

    def make(limit_bytes: int = 2**26, soundfont: Path | None = None) -> AudioLibrary:
        made.append(AudioLibrary(soundfont or small_soundfont, tmp_path / "sounds", limit_bytes))
        return made[-1]

    yield make
    for library in made:
        library.close()


@pytest.fixture
def library(make_library: MakeLibrary) -> AudioLibrary:
    """An empty library."""
    return make_library()


@pytest.fixture
def gated(library: AudioLibrary, monkeypatch: pytest.MonkeyPatch) -> Iterator[Gated]:
    """The library renders noise, a block at a time as the test lets it."""
    gated = Gated()

    def rendering(_: Arrangement) -> Gated:
        gated.begun += 1
        return gated

    monkeypatch.setattr(library._pool, "rendering", rendering)
    yield gated
    assert not gated.timed_out


@contextmanager
def served(library: AudioLibrary) -> Iterator[httpx.Client]:
    """A library behind a real server on the loopback address, and an independent client."""
    app = FastAPI()
    app.include_router(library.router, prefix="/audio")
    app.add_api_route("/alive", lambda: "yes", methods=["GET"])
    listening = socket.create_server(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="critical", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    address = f"http://127.0.0.1:{listening.getsockname()[1]}"
    try:
        with httpx.Client(base_url=address, timeout=PATIENCE_S, trust_env=False) as client:
            yield client
    finally:
        server.should_exit = True
        thread.join()
        listening.close()


@pytest.fixture
def client(library: AudioLibrary) -> Iterator[httpx.Client]:
    """A client of the library, served."""
    with served(library) as client:
        yield client
