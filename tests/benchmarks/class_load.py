"""A class at work: learners who listen, write along and hand in, all at once.

`python -m tests.benchmarks.class_load --database sqlite --learners 10,20,30` starts a class server
and prints what that many learners saw; `--database postgresql --processes 2 --learners 50,100,200`
has two server processes over one PostgreSQL, whose requests go to each in turn. All of it runs on
this machine, the learners too, so their part of the processor is printed as well.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import random
import resource
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from statistics import quantiles

from tests.benchmarks import Row, at_least, at_most, seen
from tests.benchmarks.__main__ import table
from tests.benchmarks.web_audio import when_idle
from tests.classroom.lockside import found
from tests.classroom.people import School
from tests.databases import SAFE_SETTINGS, find_programs, running_server
from tests.web.classroom.running import Browser, Running, running
from tests.web.classroom.scripted import Learner, Measured
from trainer.classroom.items import ItemPlan
from trainer.store import Store

# 32 bars, a minute and a half; everybody hears the same song.
LINES = "Verse 1:\n1 5/7 6- 5 . 4 1/3 2- 5\n\nChorus:\n4 5 1 6- . 4 5 1 1\n\n"
SONG = f"title: Ropewalk Morning\nkey: G\ntempo: 92\n\n{LINES}{LINES.replace('1:', '2:')}"
MOST_MS = 100
# How far apart the first and the last learner begin.
WITHIN_S = 10.0
DATABASES = ("sqlite", "postgresql")


@dataclass(frozen=True)
class Room:
    """A class with its servers: sign-in names, the item, the chart that all of them write, and how
    long a bar of it lasts."""

    location: Path | str
    servers: list[Running]
    names: list[str]
    item_uid: str
    chart: str
    bar_s: float


@contextmanager
def room(database: str, processes: int, learners: int) -> Iterator[Room]:
    """A class of so many learners, on a database of its own."""
    with ExitStack() as open_:
        folder = Path(open_.enter_context(tempfile.TemporaryDirectory(prefix="class-")))
        location: Path | str = folder / "record"
        if database == "postgresql":
            programs = find_programs()
            assert programs is not None, "PostgreSQL is not installed"
            server = open_.enter_context(running_server(programs, SAFE_SETTINGS))
            location = server.url(server.make())
        names = [f"learner{number}" for number in range(learners)]
        item_uid, chart, bar_s = _found_class(location, names)
        homes = [folder / "home"] * processes
        servers = open_.enter_context(running(location, homes=homes))
        for one in servers:
            when_idle(one.process.pid)
        yield Room(location, servers, names, item_uid, chart, bar_s)


def _found_class(location: Path | str, names: Sequence[str]) -> tuple[str, str, float]:
    """Make the class and its assignment; the item, what is written, and seconds of a bar."""
    with Store.open(location) as store:
        school = found(School(store, lambda: datetime.now(UTC)), names)  # type: ignore[arg-type]  # the real clock
        for learner in store.learners.all():
            store.learners.caution_shown(learner, datetime.now(UTC))
        song = school.songbook.new(SONG)
        _, (item,) = school.assign([ItemPlan("song", song.uid)])
        chart = item.exercise.chart
    return item.uid, LINES + LINES.replace("1:", "2:"), 60 / chart.tempo * chart.meter.beats


def work(class_room: Room) -> Measured:
    """Have everybody work once."""
    measured = Measured()
    browser = Browser(class_room.servers)
    cookies = []
    for name in class_room.names:
        browser.sign_in(name)
        cookies.append("; ".join(f"{k}={v}" for k, v in browser.cookies.items()))
        browser.cookies.clear()
    browser.close()
    asyncio.run(_work(class_room, cookies, measured))
    return measured


async def _work(class_room: Room, cookies: Sequence[str], measured: Measured) -> None:
    rng = random.Random(14)
    ports = [server.port for server in class_room.servers]

    async def one(cookie: str, wait_s: float, turn: int) -> None:
        await asyncio.sleep(wait_s)
        learner = Learner([*ports[turn:], *ports[:turn]], cookie, measured)
        try:
            await learner.work(class_room.item_uid, class_room.chart, class_room.bar_s)
        finally:
            learner.close()

    tasks = (
        one(cookie, rng.uniform(0, WITHIN_S), number % len(ports))
        for number, cookie in enumerate(cookies)
    )
    for result in await asyncio.gather(*tasks, return_exceptions=True):
        if isinstance(result, BaseException):
            measured.wrong.append(str(result) or type(result).__name__)


def lost(class_room: Room, measured: Measured) -> int:
    """How many of the answers that were confirmed the record does not have."""
    kept = set()
    with Store.open(class_room.location) as store:
        for learner in store.learners.all():
            kept |= {each.token for each in store.attempts.history(learner, limit=1000)}
    return len(set(measured.handed_in) - kept)


def p95_ms(took_s: Sequence[float]) -> float:
    """The 95th percentile in ms."""
    return 1000 * (quantiles(took_s, n=20)[-1] if len(took_s) > 1 else sum(took_s))


def measure(database: str, processes: int, learners: int) -> list[Row]:
    """All rows of one class."""
    with room(database, processes, learners) as class_room:
        pids = [server.process.pid for server in class_room.servers]
        busy, own, began = processor_s(pids), _own_s(), time.monotonic()
        measured = work(class_room)
        spent_s = time.monotonic() - began
        busy, own = processor_s(pids) - busy, _own_s() - own
        gone = lost(class_room, measured)
    what = f"{learners} learners, {database}, {processes} server processes"
    rows = [
        at_most(f"{what}: {kind}, 95th percentile", p95_ms(measured.took_s[kind]), MOST_MS, "ms")
        for kind in ("page", "preview")
    ]
    rows += [
        seen(f"{kind}, 95th percentile", p95_ms(measured.took_s[kind]), "ms")
        for kind in ("save", "listen", "submit", "first sound")
    ]
    asked = sum(map(len, measured.took_s.values()))
    for text in measured.wrong[:5]:
        print(text, file=sys.stderr)
    return [
        *rows,
        at_most("sound behind real time, at most", max(measured.late_s, default=0.0), 0.0, "s"),
        at_most("errors", len(measured.wrong) + measured.asked_again, 0, ""),
        at_least("answers handed in", len(measured.handed_in), learners, ""),
        at_most("answers lost", gone, 0, ""),
        seen("requests a second", asked / spent_s, ""),
        seen("processors the servers used", busy / spent_s, ""),
        seen("processors the learners used", own / spent_s, ""),
        seen("load of the machine in the last minute", os.getloadavg()[0], ""),
    ]


def processor_s(pids: Sequence[int]) -> float:
    """Processor time that processes have used."""
    from tests.benchmarks.web_load import processor_s as of_one

    return sum(map(of_one, pids))


def _own_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def run() -> list[Row]:
    """A class of thirty on SQLite."""
    return measure("sqlite", 1, 30)


def main() -> int:
    """Print the table; 1 if a target was missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.class_load")
    parser.add_argument("--database", choices=DATABASES, default="sqlite")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--learners", default="30", help="numbers with commas")
    options = parser.parse_args()
    rows: list[Row] = []
    for number in map(int, options.learners.split(",")):
        rows += measure(options.database, options.processes, number)
        print(table(rows[-14:]), flush=True)
    return 1 if any(row.ok is False for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
