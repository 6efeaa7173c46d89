"""The sounds over HTTP: exact lengths, byte ranges, bytes as soon as they are rendered.

Byte ranges and validators are those of RFC 9110 (sections 13 and 14).
"""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Protocol, TypeVar

from anyio import CapacityLimiter, create_task_group, to_thread
from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, Response, StreamingResponse
from starlette.requests import ClientDisconnect
from starlette.types import Receive, Scope, Send

from trainer.errors import TrainerError
from trainer.sound import WAV_HEADER_BYTES
from trainer.web.audio.asking import ask_page
from trainer.web.audio.cache import AudioSource, CachedFile, NotRegistered
from trainer.web.audio.flac import FlacRequest

__all__ = ["ByteRange", "RangeNotSatisfiable", "audio_routes", "is_unchanged", "requested_range"]

# RFC 9639 registers audio/flac; audio/wav is what browsers use for WAVE (no registration fits).
WAV, FLAC = "audio/wav", "audio/flac"
# The bytes of an address stay the same, so they may be kept; not by caches that others share.
CACHING = "private, max-age=86400, immutable"
CHUNK_BYTES = 2**18
# Threads for what takes milliseconds, and threads that may wait for bytes to be rendered. Pages are
# made in other threads, so a reader who waits for bytes does not keep others from finished files.
MAX_QUICK_THREADS, MAX_WAITING_THREADS = 8, 128
# One range of RFC 9110, section 14.1.2: "first-", "first-last" or "-suffix length".
_ONE_RANGE = re.compile(r"bytes\s*=\s*(\d*)\s*-\s*(\d*)", re.IGNORECASE)
_MAX_DIGITS = 18
_UNAVAILABLE = 503
Result = TypeVar("Result")


class Library(Protocol):
    """What the routes need of an audio library."""

    def file_name(self, key: str, kind: str, /) -> str:
        """The name of a sound's bytes as "wav" or "flac"."""

    def wav_size(self, key: str, /) -> int:
        """Bytes of a sound as WAV. Raises NotRegistered, TrainerError."""

    def open_wav(self, key: str, at: int, /) -> AudioSource:
        """A sound as WAV to read from a byte on. Raises NotRegistered, TrainerError."""

    def request_flac(self, key: str, /) -> FlacRequest:
        """Ask for a sound as FLAC. Raises NotRegistered, TrainerError."""


def audio_routes(library: Library) -> APIRouter:
    """GET and HEAD of a library's sounds."""
    endpoints = _Endpoints(library)
    router = APIRouter()
    for path, endpoint in (("/{key}.wav", endpoints.wav), ("/{key}.flac", endpoints.flac)):
        router.add_api_route(path, endpoint, methods=["GET", "HEAD"], response_model=None)
    return router


class _Endpoints:
    """Answers requests for one library's sounds."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._quick = CapacityLimiter(MAX_QUICK_THREADS)
        self._waiting = CapacityLimiter(MAX_WAITING_THREADS)

    async def wav(self, key: str, request: Request) -> Response:
        """A sound as WAV; its rendering begins if there is none."""
        return await _unless_gone(request, lambda: self._wav(key, request))

    async def flac(self, key: str, request: Request) -> Response:
        """A sound as FLAC."""
        return await _unless_gone(request, lambda: self._flac(key, request))

    async def _wav(self, key: str, request: Request) -> Response:
        found = await to_thread.run_sync(self._open_wav, key, request, limiter=self._quick)
        if isinstance(found, Response):
            return found
        plan, source = found
        try:
            # An error at the start is still answered in words; later errors can only end the answer
            # early.
            await self._in_thread(source, partial(source.wait_for, WAV_HEADER_BYTES))
        except BaseException:
            source.close()
            raise
        return _SourceResponse(plan, source, self._in_thread)

    def _open_wav(self, key: str, request: Request) -> Response | tuple[_Plan, AudioSource]:
        name = self._library.file_name(key, "wav")
        plan = _plan(request, name, WAV, self._library.wav_size(key))
        if isinstance(plan, Response):
            return plan
        return plan, self._library.open_wav(key, plan.span.first)

    async def _flac(self, key: str, request: Request) -> Response:
        flac = await to_thread.run_sync(self._library.request_flac, key, limiter=self._quick)
        try:
            await to_thread.run_sync(flac.wait, limiter=self._waiting, abandon_on_cancel=True)
            # Never abandoned: the file that it opens is closed here or by the response.
            source = await to_thread.run_sync(flac.open, limiter=self._quick)
        finally:
            flac.close()
        plan = _plan(request, self._library.file_name(key, "flac"), FLAC, source.size)
        if isinstance(plan, Response):
            source.close()
            return plan
        return _SourceResponse(plan, source, self._in_thread)

    async def _in_thread(self, source: AudioSource, call: Callable[[], Result]) -> Result:
        """Call a method of a source that may wait; when this is cancelled, closing the source
        ends the wait."""
        is_file = isinstance(source, CachedFile)
        return await to_thread.run_sync(
            call,
            limiter=self._quick if is_file else self._waiting,
            abandon_on_cancel=not is_file,
        )


async def _unless_gone(request: Request, answer: Callable[[], Awaitable[Response]]) -> Response:
    """An answer, in words where it fails; cancelled when the client hangs up before it is there.

    Where this process does not know the sound, the page that showed it is asked first.
    """
    found = Response(status_code=_UNAVAILABLE)
    async with create_task_group() as group:

        async def watch() -> None:
            while (await request.receive())["type"] != "http.disconnect":
                pass
            group.cancel_scope.cancel()

        group.start_soon(watch)
        try:
            found = await _or_after_asking(request, answer)
        except NotRegistered:
            found = PlainTextResponse("This sound is no longer here. Load the page again.\n", 404)
        except TrainerError as error:
            found = PlainTextResponse(f"No sound: {error}\n", _UNAVAILABLE)
        group.cancel_scope.cancel()
    return found


async def _or_after_asking(request: Request, answer: Callable[[], Awaitable[Response]]) -> Response:
    try:
        return await answer()
    except NotRegistered:
        if not await ask_page(request):
            raise
    return await answer()


@dataclass(frozen=True, slots=True)
class _Plan:
    """What to send: the status, the headers and which bytes of the source."""

    status: int
    headers: dict[str, str]
    media_type: str
    span: ByteRange


def _plan(request: Request, name: str, media_type: str, size: int) -> _Plan | Response:
    """How to answer one request; a Response where no bytes are to be sent."""
    etag = f'"{name}"'
    headers = {"accept-ranges": "bytes", "etag": etag, "cache-control": CACHING}
    if is_unchanged(request.headers, etag):
        return Response(status_code=304, headers=headers)
    if request.method == "HEAD":
        headers["content-length"] = str(size)
        return Response(headers=headers, media_type=media_type)
    try:
        part = requested_range(request.headers, size, etag)
    except RangeNotSatisfiable:
        headers = {"content-range": f"bytes */{size}"}
        return PlainTextResponse("There is no such part.\n", 416, headers)
    span = part or ByteRange(0, size)
    headers["content-length"] = str(span.size)
    if part is not None:
        headers["content-range"] = f"bytes {part.first}-{part.end - 1}/{size}"
    return _Plan(200 if part is None else 206, headers, media_type, span)


class _SourceResponse(StreamingResponse):
    """Bytes of a source as they come; it is closed when they are sent or the client is gone."""

    def __init__(
        self, plan: _Plan, source: AudioSource, in_thread: Callable[..., Awaitable[bytes]]
    ) -> None:
        self._source, self._span, self._in_thread = source, plan.span, in_thread
        super().__init__(self._bytes(), plan.status, plan.headers, plan.media_type)

    async def _bytes(self) -> AsyncIterator[bytes]:
        at = self._span.first
        while at < self._span.end:
            most = min(CHUNK_BYTES, self._span.end - at)
            data = await self._in_thread(self._source, partial(self._source.read, at, most))
            at += len(data)
            yield data

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await super().__call__(scope, receive, send)
        except ClientDisconnect:
            return
        finally:
            self._source.close()


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
    asked = _ONE_RANGE.fullmatch(headers.get("range", "").strip())
    if asked is None or headers.get("if-range", etag).strip() != etag:
        return None
    first, last = asked.groups()
    if max(len(first), len(last)) > _MAX_DIGITS or not first + last:
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
