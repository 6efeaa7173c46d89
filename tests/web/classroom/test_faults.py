"""Faults in the middle of a class at work: nothing that was confirmed is lost, and learners go on
by themselves."""

from __future__ import annotations

import resource
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.databases import SAFE_SETTINGS, Server, find_programs, running_server
from tests.web.classroom.at_work import (
    HOST,
    assert_all_kept,
    found_class,
    start,
    work_through,
)
from tests.web.classroom.lockside import Lockside
from tests.web.classroom.running import ORIGIN
from tests.web.classroom.school import School
from trainer.chart import format_chart


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
    with safe_postgresql() as database, ThreadPoolExecutor(1) as threads:
        location = database.url(database.make())
        item_uid, chart = found_class(location)
        server = start(location, tmp_path / "home")

        def fault() -> None:
            database.end()
            assert server.ask("GET", "/alive", headers=HOST).status_code == 204
            database.start()

        try:
            measured = work_through(server, item_uid, chart, fault, threads)
        finally:
            server.kill()
        assert measured.asked_again > 0
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
