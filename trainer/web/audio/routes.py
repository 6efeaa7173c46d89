"""The sounds over HTTP: exact lengths, byte ranges, bytes as soon as they are made."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from typing import TYPE_CHECKING

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, Response, StreamingResponse
from starlette.requests import ClientDisconnect
from starlette.types import Receive, Scope, Send

from trainer.errors import TrainerError
from trainer.sound.files import WAV_HEADER_BYTES
from trainer.web.audio.ranges import Span, Unsatisfiable, is_same, wanted
from trainer.web.audio.shelf import AudioShelf, NotOffered
from trainer.web.audio.sources import Source

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["routes_of"]

# RFC 9639 registers audio/flac; audio/wav is what browsers use for WAVE (no registration fits).
WAV, FLAC = "audio/wav", "audio/flac"
# A key names its bytes, so they may be kept; not by caches that others share.
CACHING = "private, max-age=86400, immutable"
CHUNK_BYTES = 2**18
# Threads that may wait for bytes or for files at once; the pages' own threads are others.
MOST_READERS, MOST_OPENERS = 64, 8


def routes_of(shelf: AudioShelf) -> APIRouter:
    """GET and HEAD of a shelf's sounds."""
    desk = _Desk(shelf)
    router = APIRouter()
    router.add_api_route("/{key}.wav", desk.wav, methods=["GET", "HEAD"], response_model=None)
    router.add_api_route("/{key}.flac", desk.flac, methods=["GET", "HEAD"], response_model=None)
    return router


class _Desk:
    """Answers requests for one shelf's sounds."""

    def __init__(self, shelf: AudioShelf) -> None:
        self._shelf = shelf
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
        except NotOffered:
            return PlainTextResponse("This sound is no longer here. Load the page again.\n", 404)
        except TrainerError as error:
            return PlainTextResponse(f"No sound: {error}\n", 503)

    def _wav(self, key: str, request: Request) -> Response:
        size = self._shelf.wav_size(key)
        return self._answer(
            request, f"{key}.wav", WAV, size, lambda at: self._shelf.open_wav(key, at)
        )

    def _flac(self, key: str, request: Request) -> Response:
        source = self._shelf.open_flac(key)
        taken = False

        def take(_: int) -> Source:
            nonlocal taken
            taken = True
            return source

        try:
            return self._answer(request, f"{key}.flac", FLAC, source.size, take)
        finally:
            if not taken:
                source.leave()

    def _answer(
        self, request: Request, name: str, kind: str, size: int, open_: Callable[[int], Source]
    ) -> Response:
        """The answer to one request; the source is opened only if its bytes are wanted."""
        etag = f'"{name}"'
        headers = {"accept-ranges": "bytes", "etag": etag, "cache-control": CACHING}
        if is_same(request.headers, etag):
            return Response(status_code=304, headers=headers)
        if request.method == "HEAD":
            return Response(headers=headers | {"content-length": str(size)}, media_type=kind)
        try:
            part = wanted(request.headers, size, etag)
        except Unsatisfiable:
            return PlainTextResponse(
                "There is no such part.\n", 416, {"content-range": f"bytes */{size}"}
            )
        span = part or Span(0, size)
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
        return _Sent(source, span, self._readers, 200 if part is None else 206, headers, kind)


class _Sent(StreamingResponse):
    """Bytes of a source as they come; it is left when they are sent or the asker is gone."""

    def __init__(
        self,
        source: Source,
        span: Span,
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
