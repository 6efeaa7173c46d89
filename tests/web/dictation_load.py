"""How long a class waits for the answers of a live dictation.

`python -m tests.web.dictation_load --learners 30 --seconds 30` starts a class server on SQLite in a
process of its own. Each learner asks for the phase and sends a longer text once a second, and every
third second has the sheet drawn; the teacher asks for the table and the answers to a bar once a
second. It prints the 50th and 95th percentile in milliseconds and the server's processor time.
"""

from __future__ import annotations

import argparse
import asyncio
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

import httpx
import numpy as np

from tests.classroom.people import WORDS
from tests.patience import PATIENCE_S
from tests.web.dictation_server import begin, served

SHEET_EVERY = 3
Times = dict[str, list[float]]


class Client:
    """Somebody's browser, which notes how long each answer took."""

    def __init__(self, address: str, name: str, times: Times) -> None:
        headers = {"origin": address, "accept": "application/json"}
        self._http = httpx.AsyncClient(
            base_url=address, headers=headers, trust_env=False, timeout=PATIENCE_S
        )
        self.name, self._times = name, times

    async def sign_in(self) -> None:
        """Sign in; nobody measures it."""
        form = {"name": self.name, "password": WORDS}
        answer = await self._http.post("/sign-in", data=form)
        assert answer.status_code == httpx.codes.SEE_OTHER, answer.text

    async def ask(self, what: str, method: str, place: str, **how: object) -> None:
        """Ask once, and note the time under what it was."""
        begun = time.perf_counter()
        answer = await self._http.request(method, place, **how)  # type: ignore[arg-type]  # handed on
        self._times[what].append(time.perf_counter() - begun)
        assert answer.is_success, f"{what}: {answer.status_code} {answer.text}"

    async def close(self) -> None:
        """Close the browser."""
        await self._http.aclose()


async def learn(client: Client, uid: str, seconds: int, late_s: float) -> None:
    """Write a bar a second, beginning a little later than the others."""
    seat = f"/assigned/dictations/{uid}"
    await asyncio.sleep(late_s)
    begun = time.perf_counter()
    for second in range(seconds):
        text = " ".join(["1", "4", "5/7", "6-", "(1", "4)", "5"] * (1 + second // 6))
        await client.ask("phase", "GET", f"{seat}/phase?revision=2")
        await client.ask("text", "PUT", f"{seat}/text", data={"text": text})
        if second % SHEET_EVERY == 0:
            await client.ask("sheet", "POST", f"/preview/dictations/{uid}", content=text)
        await asyncio.sleep(max(0.0, begun + second + 1 - time.perf_counter()))


async def teach(client: Client, uid: str, seconds: int) -> None:
    """Look at the class once a second."""
    begun = time.perf_counter()
    for second in range(seconds):
        await client.ask("table", "GET", f"/dictations/{uid}/table")
        await client.ask("answers", "GET", f"/dictations/{uid}/answers?bar=3")
        await asyncio.sleep(max(0.0, begun + second + 1 - time.perf_counter()))


async def run(address: str, uid: str, names: list[str], seconds: int) -> Times:
    """Everybody at once; the times by what was asked for."""
    times: Times = defaultdict(list)
    teacher = Client(address, "ada", times)
    learners = [Client(address, name, times) for name in names]
    for each in (teacher, *learners):
        await each.sign_in()
    await teacher.ask("play", "POST", f"/dictations/{uid}/play", data={"first": "1"})
    parts = [
        learn(each, uid, seconds, place / len(learners)) for place, each in enumerate(learners)
    ]
    await asyncio.gather(teach(teacher, uid, seconds), *parts)
    for each in (teacher, *learners):
        await each.close()
    return times


def main() -> None:
    """Run and print a table."""
    parser = argparse.ArgumentParser(prog="python -m tests.web.dictation_load")
    parser.add_argument("--learners", type=int, default=30)
    parser.add_argument("--seconds", type=int, default=30)
    options = parser.parse_args()
    names = [f"pupil{number}" for number in range(options.learners)]
    with tempfile.TemporaryDirectory() as folder:
        record = Path(folder) / "record"
        uid = begin(record, names).uid
        with served(record) as server:
            before = server.processor_s()
            times = asyncio.run(run(server.address, uid, names, options.seconds))
            used = server.processor_s() - before
    for what, found in times.items():
        half, most = 1000 * np.percentile(found, [50, 95])
        sys.stdout.write(f"{what:8}{len(found):6} answers {half:8.1f} ms {most:8.1f} ms at 95%\n")
    count = sum(map(len, times.values()))
    sys.stdout.write(
        f"{count} answers in {options.seconds} s; the server used {used:.1f} s of a processor, "
        f"{1000 * used / count:.1f} ms an answer, signing in included\n"
    )


if __name__ == "__main__":
    main()
