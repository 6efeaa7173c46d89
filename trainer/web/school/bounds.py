"""How long the answer of another system may take and how large it may be."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import httpx2

__all__ = ["MOST_BYTES", "Bounds"]

MOST_BYTES = 2**20


class Bounds:
    """A response hook of httpx2 that lets the body of an answer be read only within bounds.

    Parameters
    ----------
    until : when the body must have been read, on `timer`.
    timer : gives the time in seconds from some start.
    """

    def __init__(self, until: float, timer: Callable[[], float]) -> None:
        self._until, self._timer = until, timer

    def __call__(self, answer: httpx2.Response) -> None:
        """Bound an answer. Raises httpx2.DecodingError if it is compressed, because its size is not
        known before it is read."""
        coding = answer.headers.get("content-encoding", "identity")
        if coding.lower() != "identity":
            raise httpx2.DecodingError(f"found the content coding {coding!r}, expected none")
        assert isinstance(answer.stream, httpx2.SyncByteStream)
        answer.stream = _BoundedStream(answer.stream, self._check)

    def _check(self, size: int) -> None:
        if self._timer() > self._until:
            raise httpx2.ReadTimeout("the answer took too long as a whole")
        if size > MOST_BYTES:
            raise httpx2.ReadError(f"the answer has more than {MOST_BYTES} bytes")


class _BoundedStream(httpx2.SyncByteStream):
    """A body of which each part is checked; `check` gets the size so far and raises."""

    def __init__(self, body: httpx2.SyncByteStream, check: Callable[[int], None]) -> None:
        self._body, self._check = body, check

    def __iter__(self) -> Iterator[bytes]:
        size = 0
        for part in self._body:
            size += len(part)
            self._check(size)
            yield part

    def close(self) -> None:
        self._body.close()
