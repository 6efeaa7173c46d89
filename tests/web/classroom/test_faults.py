"""Faults in the middle of a class at work: nothing that was confirmed is lost, and learners go on
by themselves."""

from __future__ import annotations

import asyncio
import resource
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.classroom.lockside import found
from tests.classroom.people import School as People
from tests.databases import SAFE_SETTINGS, Server, find_programs, running_server
from tests.web.classroom.lockside import Lockside
from tests.web.classroom.running import MAIN, ORIGIN, Browser, Running
from tests.web.classroom.school import School
from tests.web.classroom.scripted import Learner, Measured, Pace
from trainer.chart import format_chart
from trainer.store import Store

NAMES = ("wren", "zoe", "jory")
# Quick enough for a test; each learner writes for a few seconds.
PACE = Pace(bar_s=0.3, key_s=0.1)
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


def start(location: Path | str, home: Path, port: int = 0) -> Running:
    """A server of the class."""
    return Running(location, "--public-url", ORIGIN, port=port, data_home=home, program=COLD)


def work_through(
    server: Running, item_uid: str, chart: str, fault: Callable[[], object]
) -> Measured:
    """Three learners at work; the fault comes in the middle, in a thread of its own."""
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
        await asyncio.to_thread(fault)

    async def everybody() -> None:
        learners = [Learner([server.port], cookie, measured) for cookie in cookies]
        try:
            await asyncio.gather(
                at_fault(), *(each.work(item_uid, chart, PACE) for each in learners)
            )
        finally:
            for each in learners:
                each.close()

    asyncio.run(everybody())
    return measured


def assert_all_kept(location: Path | str, measured: Measured) -> None:
    """Everybody handed in, no answer was unexpected, and the record has what was confirmed."""
    assert measured.wrong == []
    assert len(measured.handed_in) == len(NAMES)
    with Store.open(location) as store:
        kept = [
            attempt.token
            for learner in store.learners.all()
            for attempt in store.attempts.history(learner, limit=100)
        ]
    assert sorted(kept, key=str) == sorted(measured.handed_in)


def test_the_server_is_killed(record: Path, tmp_path: Path) -> None:
    """A server that is killed and started again while learners write: they go on."""
    item_uid, chart = found_class(record)
    servers = [start(record, tmp_path / "home")]

    def fault() -> None:
        servers[0].kill()
        servers.append(start(record, tmp_path / "home", servers[0].port))

    try:
        measured = work_through(servers[0], item_uid, chart, fault)
    finally:
        servers[-1].kill()
    assert measured.asked_again > 0
    assert_all_kept(record, measured)


@contextmanager
def safe_postgresql() -> Iterator[Server]:
    """A PostgreSQL that loses nothing it has confirmed."""
    programs = find_programs()
    if programs is None:
        pytest.skip("PostgreSQL's server is not installed")
    with running_server(programs, SAFE_SETTINGS) as server:
        yield server


def test_the_database_ends_and_begins_again(tmp_path: Path) -> None:
    """PostgreSQL breaks off in the middle and comes back; the class server stays."""
    with safe_postgresql() as database:
        location = database.url(database.make())
        item_uid, chart = found_class(location)
        server = start(location, tmp_path / "home")

        def fault() -> None:
            database.end()
            assert server.ask("GET", "/alive", headers=HOST).status_code == 204
            database.start()

        try:
            measured = work_through(server, item_uid, chart, fault)
        finally:
            server.kill()
        assert_all_kept(location, measured)


def test_the_disk_is_full_for_a_while(record: Path, tmp_path: Path) -> None:
    """While the server cannot write a byte, nothing is confirmed that is not kept; once it can,
    everybody goes on."""
    item_uid, chart = found_class(record)
    server = start(record, tmp_path / "home")
    pid = server.process.pid
    before = resource.prlimit(pid, resource.RLIMIT_FSIZE)
    refused: list[int] = []

    def fault() -> None:
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (0, before[1]))
        form = {"name": "nobody", "password": "nine herons on a weir"}
        answer = server.ask("POST", "/sign-in", data=form, headers=HOST | {"origin": ORIGIN})
        refused.append(answer.status_code)
        resource.prlimit(pid, resource.RLIMIT_FSIZE, before)

    try:
        measured = work_through(server, item_uid, chart, fault)
    finally:
        server.kill()
    assert refused == [503]
    assert_all_kept(record, measured)


HOST = {"host": ORIGIN.partition("//")[2]}


@pytest.mark.parametrize("hours", [-30, -1, 1, 30])
def test_the_clock_jumps(school: School, hours: int) -> None:
    """The server's clock is set by hours while a learner writes: the draft, the position and the
    answer are kept, the learner stays signed in, and the answer counts."""
    lockside = Lockside(school)
    uid = lockside.assign()
    client, key = lockside.learners["wren"], lockside.begin("wren", uid)
    page = client.get(f"/write/{key}").text
    token = page.partition('name="token" value="')[2].partition('"')[0]
    assert client.post(f"/write/{key}/listen", params={"token": token}).status_code == 200
    school.clock.passes(hours=hours)
    told = {"token": token, "position_s": "3"}
    assert client.post(f"/write/{key}/heard", params=told).status_code == 204
    draft = client.put(f"/write/{key}/draft", data={"token": token, "text": "1 4"})
    assert draft.status_code == 204
    chart = format_chart(lockside.items(uid)[0].exercise.chart)
    answer = client.post(
        f"/write/{key}", data={"token": token, "text": chart}, follow_redirects=False
    )
    assert answer.status_code == 303, answer.text
    table = lockside.teacher.get(f"/gradebook/{uid}").text
    assert "100%" in table
