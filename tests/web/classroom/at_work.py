"""A small class at work on a server of its own, in the middle of which something happens."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

from tests.classroom.lockside import found
from tests.classroom.people import School as People
from tests.web.classroom.running import MAIN, ORIGIN, Browser, Running
from tests.web.classroom.scripted import Learner, Measured
from trainer.chart import format_chart
from trainer.store import Store
from trainer.store.migrate import SHIPPED, Migrations

__all__ = ["COLD", "HOST", "assert_all_kept", "found_class", "start", "work_through"]

HOST = {"host": ORIGIN.partition("//")[2]}
NAMES = ("wren", "zoe", "jory")
# Quick enough for a test; each learner writes for a few seconds.
BAR_S = 0.3
# The faults come after so many answers.
BEFORE = 25
COLD = f"import trainer.cli.page; trainer.cli.page.WARM_UP_AFTER_S = 10**6; {MAIN}"


def found_class(location: Path | str) -> tuple[str, str]:
    """A class with one song; the item and the song's chart."""
    with Store.open(location) as store:
        school = found(People(store, lambda: datetime.now(UTC)), NAMES)  # type: ignore[arg-type]  # the real clock
        for learner in store.learners.all():
            store.learners.caution_shown(learner, datetime.now(UTC))
        _, (item,) = school.assign()
    return item.uid, format_chart(item.exercise.chart).partition("\n\n")[2]


def start(location: Path | str, home: Path, port: int = 0, program: str = COLD) -> Running:
    """A server of the class."""
    return Running(location, "--public-url", ORIGIN, port=port, data_home=home, program=program)


def work_through(
    server: Running,
    item_uid: str,
    chart: str,
    fault: Callable[[], object],
    threads: ThreadPoolExecutor | None = None,
) -> Measured:
    """Three learners at work; the fault comes in the middle, in another thread. What it starts may
    end with that thread; `threads` last longer."""
    measured = Measured()
    browser = Browser([server])
    cookies = []
    for name in NAMES:
        browser.sign_in(name)
        cookies.append("; ".join(f"{k}={v}" for k, v in browser.cookies.items()))
        browser.cookies.clear()
    browser.close()

    async def at_fault() -> None:
        while sum(map(len, measured.took_s.values())) < BEFORE:
            await asyncio.sleep(0.01)
        await asyncio.get_running_loop().run_in_executor(threads, fault)

    async def everybody() -> None:
        learners = [Learner([server.port], cookie, measured) for cookie in cookies]
        try:
            await asyncio.gather(
                at_fault(), *(each.work(item_uid, chart, BAR_S) for each in learners)
            )
        finally:
            for each in learners:
                each.close()

    asyncio.run(everybody())
    return measured


def assert_all_kept(
    location: Path | str, measured: Measured, migrations: Migrations = SHIPPED
) -> None:
    """Everybody handed in, no answer was unexpected, and the record has what was confirmed."""
    assert measured.wrong == []
    assert len(measured.handed_in) == len(NAMES)
    with Store(location, migrations=migrations) as store:
        kept = [
            attempt.token
            for learner in store.learners.all()
            for attempt in store.attempts.history(learner, limit=100)
        ]
    assert sorted(kept, key=str) == sorted(measured.handed_in)
