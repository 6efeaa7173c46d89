"""How long other systems may take to answer, and how much they may say."""

from __future__ import annotations

from collections.abc import Iterator

import httpx2
import pytest

from trainer.errors import SignInElsewhereFailed
from trainer.web.school.bounds import MOST_BYTES
from trainer.web.school.fetching import PATIENCE_S, Fetcher

PLACE = "https://login.lockgate.example/keys"


class Dripping(httpx2.SyncByteStream):
    """A body in some parts, each `every_s` after the one before; it moves the time on itself."""

    def __init__(self, parts: list[bytes], every_s: float) -> None:
        self.parts, self.every_s, self.now, self.read = parts, every_s, 0.0, 0

    def __iter__(self) -> Iterator[bytes]:
        for part in self.parts:
            self.now += self.every_s
            self.read += 1
            yield part


def fetcher(body: Dripping, **headers: str) -> Fetcher:
    """Asks a system that answers so."""
    transport = httpx2.MockTransport(lambda _: httpx2.Response(200, headers=headers, stream=body))
    return Fetcher("Lockgate", transport, lambda: body.now)


def test_an_answer_in_parts_is_read() -> None:
    """What comes in time is read as a whole."""
    assert fetcher(Dripping([b'{"a"', b": 1}"], PATIENCE_S / 2)).json(PLACE) == {"a": 1}


@pytest.mark.parametrize("how", ["GET", "POST"])
def test_a_slow_answer_is_given_up(how: str) -> None:
    """Ten seconds are for the whole answer, also if every part of it comes in time."""
    body = Dripping([b" "] * 100, 1.0)
    options = fetcher(body).options()
    with httpx2.Client(**options) as client, pytest.raises(httpx2.ReadTimeout, match="as a whole"):
        client.request(how, PLACE)
    assert body.read == PATIENCE_S + 1


def test_somebody_who_signs_in_is_told() -> None:
    """A slow answer is told as no answer."""
    with pytest.raises(SignInElsewhereFailed, match="doesn't answer right now"):
        fetcher(Dripping([b" "] * 100, 1.0)).json(PLACE)


def test_a_large_answer_is_given_up() -> None:
    """No more than the limit is taken into memory."""
    body = Dripping([b" " * 2**18] * 100, 0.0)
    with (
        httpx2.Client(**fetcher(body).options()) as client,
        pytest.raises(httpx2.ReadError, match=str(MOST_BYTES)),
    ):
        client.post(PLACE)
    assert body.read == 5


def test_a_compressed_answer_is_not_read() -> None:
    """A small body may hold a large one; none is asked for."""
    body = Dripping([b"x"], 0.0)
    found = fetcher(body, **{"content-encoding": "gzip"})
    with pytest.raises(SignInElsewhereFailed):
        found.json(PLACE)
    assert body.read == 0
