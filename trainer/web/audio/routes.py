"""The sounds over HTTP: exact lengths, byte ranges, bytes as soon as they are made."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, Response, StreamingResponse
from starlette.requests import ClientDisconnect
from starlette.types import Receive, Scope, Send

from trainer.errors import TrainerError
from trainer.sound.files import WAV_HEADER_BYTES
from trainer.web.audio.cache import AudioSource
from trainer.web.audio.library import AudioLibrary, NotRegistered

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["ByteRange", "RangeNotSatisfiable", "audio_routes", "is_unchanged", "requested_range"]

# RFC 9639 registers audio/flac; audio/wav is what browsers use for WAVE (no registration fits).
WAV, FLAC = "audio/wav", "audio/flac"
# A key names its bytes, so they may be kept; not by caches that others share.
CACHING = "private, max-age=86400, immutable"
CHUNK_BYTES = 2**18
# Threads that may wait for bytes or for files at once; the pages' own threads are others.
MOST_READERS, MOST_OPENERS = 64, 8
# One range of RFC 9110, section 14.1.2: "first-", "first-last" or "-suffix length".
_ONE = re.compile(r"bytes\s*=\s*(\d*)\s*-\s*(\d*)", re.IGNORECASE)
_MOST_DIGITS = 18


def audio_routes(library: AudioLibrary) -> APIRouter:
    """GET and HEAD of a library's sounds."""
    desk = _Endpoints(library)
    router = APIRouter()
    router.add_api_route("/{key}.wav", desk.wav, methods=["GET", "HEAD"], response_model=None)
    router.add_api_route("/{key}.flac", desk.flac, methods=["GET", "HEAD"], response_model=None)
    return router


class _Endpoints:
    """Answers requests for one library's sounds."""

    def __init__(self, library: AudioLibrary) -> None:
        self._library = library
        self._readers, self._openers = CapacityLimiter(MOST_READERS), CapacityLimiter(MOST_OPENERS)

    async def wav(self, key: str, request: Request) -> Response:
        """A sound as WAV; made now, if it is not there yet."""
        return await self._told(lambda: self._wav(key, request))

    async def flac(self, key: str, request: Request) -> Response:
        """A sound as FLAC."""
        return await self._told(lambda: self._flac(key, request))

    async def _told(self, answer: Callable[[], Response]) -> Response:
        """What is wrong in plain text."""
        try:
            return await to_thread.run_sync(answer, limiter=self._openers)
        except NotRegistered:
            return PlainTextResponse("This sound is no longer here. Load the page again.\n", 404)
        except TrainerError as error:
            return PlainTextResponse(f"No sound: {error}\n", 503)

    def _wav(self, key: str, request: Request) -> Response:
        size = self._library.wav_size(key)
        return self._answer(
            request, f"{key}.wav", WAV, size, lambda at: self._library.open_wav(key, at)
        )

    def _flac(self, key: str, request: Request) -> Response:
        source = self._library.open_flac(key)
        taken = False

        def job(_: int) -> AudioSource:
            nonlocal taken
            taken = True
            return source

        try:
            return self._answer(request, f"{key}.flac", FLAC, source.size, job)
        finally:
            if not taken:
                source.leave()

    def _answer(
        self, request: Request, name: str, kind: str, size: int, open_: Callable[[int], AudioSource]
    ) -> Response:
        """The answer to one request; the source is opened only if its bytes are wanted."""
        etag = f'"{name}"'
        headers = {"accept-ranges": "bytes", "etag": etag, "cache-control": CACHING}
        if is_unchanged(request.headers, etag):
            return Response(status_code=304, headers=headers)
        if request.method == "HEAD":
            return Response(headers=headers | {"content-length": str(size)}, media_type=kind)
        try:
            part = requested_range(request.headers, size, etag)
        except RangeNotSatisfiable:
            return PlainTextResponse(
                "There is no such part.\n", 416, {"content-range": f"bytes */{size}"}
            )
        span = part or ByteRange(0, size)
        headers["content-length"] = str(span.size)
        if part is not None:
            headers["content-range"] = f"bytes {part.first}-{part.end - 1}/{size}"
        source = open_(span.first)
        try:
            # What goes wrong at the start is still told in words; afterwards only by breaking off.
            source.wait_for(WAV_HEADER_BYTES)
        except TrainerError:
            source.leave()
            raise
        return _SourceResponse(
            source, span, self._readers, 200 if part is None else 206, headers, kind
        )


class _SourceResponse(StreamingResponse):
    """Bytes of a source as they come; it is left when they are sent or the asker is gone."""

    def __init__(
        self,
        source: AudioSource,
        span: ByteRange,
        readers: CapacityLimiter,
        status: int,
        headers: Mapping[str, str],
        kind: str,
    ) -> None:
        self._source, self._span, self._readers = source, span, readers
        super().__init__(self._bytes(), status, headers, kind)

    async def _bytes(self) -> AsyncIterator[bytes]:
        at = self._span.first
        while at < self._span.end:
            most = min(CHUNK_BYTES, self._span.end - at)
            data = await to_thread.run_sync(self._source.read, at, most, limiter=self._readers)
            at += len(data)
            yield data

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await super().__call__(scope, receive, send)
        except ClientDisconnect:
            return
        finally:
            self._source.leave()


@dataclass(frozen=True, slots=True)
class ByteRange:
    """Bytes from `first` up to, not including, `end`."""

    first: int
    end: int

    @property
    def size(self) -> int:
        """How many bytes."""
        return self.end - self.first


class RangeNotSatisfiable(Exception):
    """A range that starts after the end."""


def requested_range(headers: Mapping[str, str], size: int, etag: str) -> ByteRange | None:
    """The part that a GET asks for; None for the whole.

    Several ranges at once, other units and what cannot be read are answered with the whole, as
    RFC 9110 section 14.2 allows; so is a range of another version of the bytes (If-Range).

    Raises RangeNotSatisfiable.
    """
    asked = _ONE.fullmatch(headers.get("range", "").strip())
    if asked is None or headers.get("if-range", etag).strip() != etag:
        return None
    first, last = asked.groups()
    if max(len(first), len(last)) > _MOST_DIGITS or not first + last:
        return None
    if not first:
        return _suffix(int(last), size)
    start = int(first)
    if last and int(last) < start:
        return None
    if start >= size:
        raise RangeNotSatisfiable
    return ByteRange(start, min(int(last) + 1, size) if last else size)


def _suffix(length: int, size: int) -> ByteRange:
    if length == 0 or size == 0:
        raise RangeNotSatisfiable
    return ByteRange(max(0, size - length), size)


def is_unchanged(headers: Mapping[str, str], etag: str) -> bool:
    """Whether the asker has these very bytes already (If-None-Match)."""
    known = [one.strip().removeprefix("W/") for one in headers.get("if-none-match", "").split(",")]
    return etag in known or known == ["*"]
