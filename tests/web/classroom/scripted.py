"""A scripted learner: listens, writes along, hands in, as the page's own scripts do.

Requests go over plain sockets of `asyncio`, so that two hundred learners take little of the
processor that the servers need. Where a server does not answer, or says 503, a learner asks again
until it does, as `server.js`, `draft.js` and `transport.js` do in a browser.
"""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import cycle
from urllib.parse import urlencode

from tests.patience import PATIENCE_S
from tests.web.classroom.running import ORIGIN

__all__ = ["Answer", "Learner", "Measured"]

BYTES_PER_S = 4 * 44100
HEADER_BYTES = 44
# A browser that has so much of a sound ahead reads no further.
AHEAD_S = 8.0
READ_BYTES = 2**16
# A sound whose first bytes are there begins after this; browsers wait for about as long.
START_S = 0.2
AGAIN_S = 0.25
REPORT_S = 3.0
DRAFT_S = 2.0
KEY = re.compile(r'data-key="([^"]+)"')
FORM = "application/x-www-form-urlencoded"


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back: status, headers in small letters, and the body as text."""

    status: int
    headers: dict[str, str]
    text: str


@dataclass(slots=True)
class Measured:
    """What learners saw: seconds that answers took by kind, how far behind real time sounds came,
    requests that were asked again, and statuses that nobody expected."""

    took_s: dict[str, list[float]] = field(default_factory=dict)
    late_s: list[float] = field(default_factory=list)
    asked_again: int = 0
    wrong: list[str] = field(default_factory=list)
    handed_in: list[str] = field(default_factory=list)


class Learner:
    """One learner who is signed in.

    Parameters
    ----------
    ports : of the servers, which are asked in turn.
    cookie : of the session.
    measured : what they see is added here.
    """

    def __init__(self, ports: Sequence[int], cookie: str, measured: Measured) -> None:
        self._ports = cycle(ports)
        self._cookie, self._measured = cookie, measured
        self._open: dict[int, tuple[asyncio.StreamReader, asyncio.StreamWriter]] = {}

    async def work(self, item_uid: str, chart: str, bar_s: float) -> str:
        """Begin an item, listen once while writing the chart, a bar in `bar_s` seconds, hand in;
        the address of the result."""
        await self.ask("page", "GET", "/assigned")
        begun = await self.ask("page", "POST", f"/assigned/items/{item_uid}/begin", expect=303)
        place = begun.headers["location"]
        page = (await self.ask("page", "GET", place)).text
        token = page.partition('name="token" value="')[2].partition('"')[0]
        sound = page.partition('<audio id="song"')[2].partition('src="')[2].partition('"')[0]
        await self.ask("listen", "POST", f"{place}/listen?token={token}")
        hearing = asyncio.create_task(self._hear(sound.replace("&amp;", "&")))
        try:
            await self._write(place, token, chart, bar_s)
        finally:
            hearing.cancel()
            await asyncio.gather(hearing, return_exceptions=True)
        form = urlencode({"token": token, "text": chart})
        answer = await self.ask("submit", "POST", place, form, expect=303)
        self._measured.handed_in.append(token)
        await self.ask("page", "GET", answer.headers["location"])
        return answer.headers["location"]

    async def _write(self, place: str, token: str, chart: str, bar_s: float) -> None:
        """Write a chart a bar at a time: after each key the sheet is drawn, the draft is kept and
        the position told now and then."""
        exercise = place.rpartition("/")[2]
        shown: list[str] = []
        started = kept = told = time.monotonic()
        for at_s, end in _keys(chart, bar_s):
            await asyncio.sleep(max(0.0, started + at_s - time.monotonic()))
            headers = {"Shown-Lines": " ".join(shown)}
            text = chart[:end]
            sheet = await self.ask(
                "preview", "POST", f"/preview/{exercise}", text, headers, type_="text/plain"
            )
            shown = KEY.findall(sheet.text)
            now = time.monotonic()
            if now - kept > DRAFT_S:
                form = urlencode({"text": text, "token": token, "stamps": "[]"})
                await self.ask("save", "PUT", f"{place}/draft", form, expect=204)
                kept = now
            if now - told > REPORT_S:
                where = urlencode({"position_s": round(now - started, 2), "token": token})
                await self.ask("save", "POST", f"{place}/heard?{where}", expect=204)
                told = now

    async def _hear(self, place: str) -> None:
        """Read a sound as a browser does, and note how far it ever was behind real time."""
        got, began, late_s, first = 0, time.monotonic(), 0.0, 0.0
        while True:
            try:
                reader, writer = await asyncio.open_connection("127.0.0.1", next(self._ports))
            except OSError:
                self._measured.asked_again += 1
                await asyncio.sleep(AGAIN_S)
                continue
            try:
                writer.write(self._request("GET", place, "", {"Range": f"bytes={got}-"}, ""))
                head = await _read_head(reader)
                if head.status not in (200, 206):
                    raise ConnectionError(f"{head.status} {place}")
                size = got + int(head.headers["content-length"])
                while got < size:
                    data = await reader.read(READ_BYTES)
                    if not data:
                        raise ConnectionError("the sound broke off")
                    now = time.monotonic()
                    if got <= HEADER_BYTES:
                        self._took("first sound", now - began)
                        first = now + START_S
                    late_s = max(late_s, now - first - (got - HEADER_BYTES) / BYTES_PER_S)
                    got += len(data)
                    ahead_s = got / BYTES_PER_S - (now - first)
                    if ahead_s > AHEAD_S:
                        await asyncio.sleep(ahead_s - AHEAD_S)
                return
            except (OSError, asyncio.IncompleteReadError):
                self._measured.asked_again += 1
                await asyncio.sleep(AGAIN_S)
            finally:
                self._measured.late_s.append(late_s)
                writer.close()

    async def ask(
        self,
        kind: str,
        method: str,
        place: str,
        body: str = "",
        headers: dict[str, str] | None = None,
        *,
        expect: int = 200,
        type_: str = FORM,
    ) -> Answer:
        """Ask the next server until one answers; the time of the answer counts, of `kind`."""
        message = self._request(method, place, body, headers or {}, type_)
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            port = next(self._ports)
            was_open = port in self._open
            started = time.monotonic()
            try:
                answer = await self._exchange(port, message)
            except (OSError, asyncio.IncompleteReadError):
                self._drop(port)
                if was_open:
                    # The server has closed a connection that was not used for a while.
                    continue
            else:
                if answer.status != 503:
                    self._took(kind, time.monotonic() - started)
                    if answer.status != expect:
                        self._measured.wrong.append(f"{method} {place}: {answer.status}")
                        raise AssertionError(
                            f"{method} {place}: {answer.status} {answer.text[:300]}"
                        )
                    return answer
            self._measured.asked_again += 1
            await asyncio.sleep(AGAIN_S)
        raise AssertionError(f"{method} {place}: no answer for {PATIENCE_S:.0f} s")

    async def _exchange(self, port: int, message: bytes) -> Answer:
        if port not in self._open:
            self._open[port] = await asyncio.open_connection("127.0.0.1", port)
        reader, writer = self._open[port]
        writer.write(message)
        head = await _read_head(reader)
        data = b""
        if head.status not in (204, 304):
            data = await reader.readexactly(int(head.headers["content-length"]))
        if head.headers.get("connection") == "close":
            self._drop(port)
        return Answer(head.status, head.headers, data.decode())

    def _request(
        self, method: str, place: str, body: str, headers: dict[str, str], type_: str
    ) -> bytes:
        data = body.encode()
        lines = {
            "Host": ORIGIN.partition("//")[2], "Origin": ORIGIN, "Cookie": self._cookie,
            "Accept": "text/html", "Content-Length": str(len(data)), **headers,
        }  # fmt: skip
        if data:
            lines["Content-Type"] = type_
        head = "".join(f"{name}: {value}\r\n" for name, value in lines.items())
        return f"{method} {place} HTTP/1.1\r\n{head}\r\n".encode() + data

    def _took(self, kind: str, seconds: float) -> None:
        self._measured.took_s.setdefault(kind, []).append(seconds)

    def _drop(self, port: int) -> None:
        if port in self._open:
            self._open.pop(port)[1].close()

    def close(self) -> None:
        """Close the connections."""
        for port in list(self._open):
            self._drop(port)


async def _read_head(reader: asyncio.StreamReader) -> Answer:
    """Status and headers; the body is left. Raises OSError, IncompleteReadError."""
    lines = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1").split("\r\n")
    headers = [line.partition(": ") for line in lines[1:] if line]
    return Answer(int(lines[0].split()[1]), {name.lower(): value for name, _, value in headers}, "")


def _keys(chart: str, bar_s: float) -> list[tuple[float, int]]:
    """When each key is pressed, in seconds after the beginning, and where the text ends after it:
    the characters of a bar are typed evenly while it sounds."""
    found: list[tuple[float, int]] = []
    at_s = 0.0
    for bar in re.finditer(r"\S+\s*", chart):
        size = bar.end() - bar.start()
        found += [(at_s + bar_s * key / size, bar.start() + key) for key in range(1, size + 1)]
        at_s += bar_s
    return found
