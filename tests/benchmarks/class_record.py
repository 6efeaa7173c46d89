"""A school's record, and how long its gradebook and progress take.

`python -m tests.benchmarks.class_record PLACE [LEARNERS] [BARS]` makes the record in a folder, or
in the database at a URL, and times the pages over it; one that is there already is only timed.
10,000 learners and 10 million graded bars are made unless others are asked for.

One learner's month of homework is really written and graded: an assignment with `ITEMS` songs. It
is copied for all the others, thirty to a class; what is asked for beyond that is copied to earlier
and earlier months, as practice.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from statistics import median
from typing import Any

from sqlalchemy import Connection, Table, func, select, text

from tests.benchmarks import Row, at_most
from tests.benchmarks.__main__ import table
from tests.benchmarks.million import with_slips
from tests.classroom.lockside import found
from tests.classroom.people import Clock, School
from trainer.chart import format_chart
from trainer.classroom.classes import Classes
from trainer.classroom.items import ItemPlan
from trainer.exercise import load_course
from trainer.store import Store
from trainer.store.assignment_tables import (
    assigned,
    assigned_attempts,
    assignment_items,
    assignments,
    class_members,
    classes,
)
from trainer.store.class_tables import accounts
from trainer.store.tables import (
    attempts,
    bar_results,
    confusion_days,
    exercises,
    learners,
    practice_states,
    rating_days,
    skill_days,
    skill_states,
    submissions,
)

LEARNERS, BARS = 10_000, 10_000_000
ITEMS, CLASS = 30, 30
MOST_MS = 300
LAST = datetime.now(UTC).replace(microsecond=0) - timedelta(days=1)
TEACHER, PUPIL = "ada", "wren"
# Rows of one copy are written by one statement for so many learners.
AT_ONCE = 500


def make(place: Path | str, count: int = LEARNERS, bars: int = BARS) -> int:
    """Make the record; how many graded bars it has."""
    with Store.open(place) as store:
        if not store.accounts.count():
            _write_homework(store)
            database = store.classes._database  # the repositories copy nothing by themselves
            with database.writing() as connection:
                _quicken(connection)
                own = connection.execute(select(func.count()).select_from(bar_results)).scalar_one()
                _copy_all(connection, count, max(1, round(bars / (own * count))))
            with database.writing() as connection:
                connection.execute(text("ANALYZE"))
        with store.classes._database.reading() as connection:
            there: int = connection.execute(select(func.sum(attempts.c.bars))).scalar_one()
    return there


def _write_homework(store: Store) -> None:
    """A class of one learner with an assignment, a song of which is written each day."""
    clock, rng = Clock(LAST - timedelta(days=ITEMS + 1)), random.Random(14)
    school = found(School(store, clock), (PUPIL,))
    plans = [ItemPlan("level", rng.choice(load_course()).id) for _ in range(ITEMS)]
    _, items = school.assign(plans, closes_at=LAST + timedelta(days=30))
    (pupil,) = school.pupils
    store.learners.caution_shown(school.learner(pupil), clock())
    for item in items:
        clock.passes(days=1)
        drill = school.work(pupil).begin(item.uid)
        school.write(pupil, item, format_chart(with_slips(drill.exercise.chart, rng)))


def _quicken(connection: Connection) -> None:
    """Write without a log: a record that is half made is thrown away."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SET LOCAL synchronous_commit = off"))


def _copy_all(connection: Connection, count: int, months: int) -> None:
    """The first learner's rows for all others, and everybody's for earlier months."""
    top = {each.name: _most(connection, each) for each in (learners, accounts, exercises, attempts,
           assignment_items, assigned, assignments, classes, class_members)}  # fmt: skip
    connection.execute(text("CREATE TEMPORARY TABLE numbers (n integer PRIMARY KEY)"))
    connection.execute(text("INSERT INTO numbers VALUES (:n)"), [{"n": n} for n in range(1, count)])
    _copy_classes(connection, -(-count // CLASS), top)
    for first in range(1, count, AT_ONCE):
        span = f"n >= {first} AND n < {first + AT_ONCE}"
        _copy_people(connection, span, top)
        print(f"{first + AT_ONCE - 1:,} learners", file=sys.stderr)
    everybody = f"n >= 0 AND n < {count}"
    connection.execute(text("INSERT INTO numbers VALUES (0)"))
    for month in range(1, months):
        _copy_month(connection, everybody, month, count, top)
        print(f"{month + 1} months", file=sys.stderr)
    connection.execute(text("DROP TABLE numbers"))
    if connection.dialect.name == "postgresql":
        for name in top:
            number = f"SELECT setval(pg_get_serial_sequence('{name}', 'id'), max(id)) FROM {name}"
            connection.execute(text(number))


def _most(connection: Connection, which: Table) -> int:
    return connection.execute(select(func.max(which.c.id))).scalar_one()


def _copy_classes(connection: Connection, count: int, top: Mapping[str, int]) -> None:
    span = f"n < {count}"
    in_class = {"class_id": "class_id + n"}
    _copy(connection, classes, span, {"id": "id + n", "uid": _uid("uid")})
    _copy(connection, assignments, span, {"id": "id + n", "uid": _uid("uid"), **in_class})
    # The teacher teaches all of them.
    teacher = {"id": "-id - n", **in_class}
    _copy(connection, class_members, span, teacher, "role = 'teacher' AND id = 1")
    items = {"id": f"id + n * {ITEMS}", "uid": _uid("uid"), "assignment_id": "assignment_id + n"}
    _copy(connection, assignment_items, span, items, f"id <= {ITEMS}")


def _copy_people(connection: Connection, span: str, top: Mapping[str, int]) -> None:
    own, whose = {"learner_id": "learner_id + n"}, f"learner_id = {top['learners']}"
    by_class = f"n / {CLASS}"
    person = {"id": "id + n", "uid": _uid("uid")}
    _copy(connection, learners, span, {**person, "name": "name || n"}, f"id = {top['learners']}")
    who = {**person, **own, "sign_in": "sign_in || n", "shown_name": "shown_name || ' ' || n"}
    _copy(connection, accounts, span, who, f"id = {top['accounts']}")
    member = {"id": "id + n", "account_id": "account_id + n", "class_id": f"class_id + {by_class}"}
    _copy(connection, class_members, span, member, f"id = {top['class_members']}")
    made = top["exercises"]
    ids = {"id": f"id + n * {made}", "key": _uid("key"), "owner_id": "owner_id + n"}
    _copy(connection, exercises, span, ids, f"id <= {made}")
    handed = {
        "id": f"id + n * {ITEMS}",
        "item_id": f"item_id + ({by_class}) * {ITEMS}",
        "account_id": "account_id + n",
        "exercise_id": f"exercise_id + n * {made}",
    }
    _copy(connection, assigned, span, handed, f"id <= {ITEMS}")
    tried = {"id": f"id + n * {ITEMS}", "exercise_id": f"exercise_id + n * {made}", **own}
    _copy(connection, attempts, span, tried, f"id <= {ITEMS}")
    place = {"attempt_id": f"attempt_id + n * {ITEMS}"}
    graded = {**place, "assigned_id": f"assigned_id + n * {ITEMS}"}
    _copy(connection, assigned_attempts, span, graded, f"attempt_id <= {ITEMS}")
    for each in (submissions, bar_results):
        _copy(connection, each, span, place, f"attempt_id <= {ITEMS}")
    for each in (skill_days, confusion_days, rating_days, practice_states, skill_states):
        _copy(connection, each, span, own, whose)


def _copy_month(
    connection: Connection, span: str, month: int, count: int, top: Mapping[str, int]
) -> None:
    """Everybody's attempts once more, so many months earlier, as practice."""
    days, added = 31 * month, month * count * ITEMS
    at = (lambda name: f"datetime({name}, '-{days} days')") if _is_sqlite(connection) else (
        lambda name: f"{name} - interval '{days} days'"
    )  # fmt: skip
    day = f"date(day, '-{days} days')" if _is_sqlite(connection) else f"day - {days}"
    own, first = {"learner_id": "learner_id + n"}, f"id <= {ITEMS}"
    tried = {"id": f"id + n * {ITEMS} + {added}", "token": "NULL", "day": day,
             "exercise_id": f"exercise_id + n * {top['exercises']}",
             "started_at": at("started_at"), "finished_at": at("finished_at"), **own}  # fmt: skip
    _copy(connection, attempts, span, tried, first)
    place = {"attempt_id": f"attempt_id + n * {ITEMS} + {added}"}
    for each in (submissions, bar_results):
        _copy(connection, each, span, place, f"attempt_id <= {ITEMS}")
    recent = f"learner_id = {top['learners']} AND day > '{(LAST - timedelta(days=40)).date()}'"
    for each in (skill_days, confusion_days, rating_days):
        _copy(connection, each, span, {"day": day, **own}, recent)


def _is_sqlite(connection: Connection) -> bool:
    return connection.dialect.name == "sqlite"


def _uid(name: str) -> str:
    """Another id for each copy, no longer than the first."""
    return f"substr({name}, 1, 26) || '-' || n"


def _copy(
    connection: Connection,
    which: Table,
    span: str,
    changes: Mapping[str, str],
    where: str = "id = 1",
) -> None:
    """Rows of a table once for each number of a span, with changes."""
    names = [str(column.name) for column in which.columns]
    quoted = ", ".join(f'"{name}"' for name in names)
    # "n" names the copy; a column of that name would hide it.
    assert "n" not in names
    taken = ", ".join(changes.get(name, f'"{name}"') for name in names)
    statement = (
        f'INSERT INTO "{which.name}" ({quoted}) SELECT {taken} FROM numbers, '
        f'"{which.name}" WHERE {span} AND {where}'
    )
    connection.execute(text(statement.replace(":", "\\:")))


def time_pages(place: Path | str) -> Iterator[Row]:
    """How long each page takes, ms of the clock, median of five after one that warms up."""
    from tests.web.classroom.school import School as Served
    from tests.web.classroom.school import sign_in
    from tests.web.fakes import FakeLibrary

    with Store.open(place) as store, ExitStack() as open_:
        started = time.perf_counter()
        school = Served(store, FakeLibrary(Path("/nowhere")), open_, lambda: datetime.now(UTC))  # type: ignore[arg-type]  # the real clock
        yield at_most("start of the server", 1000 * (time.perf_counter() - started), 5000, "ms")
        for name, pages in _pages(store).items():
            client = school.browser()
            sign_in(client, name)
            for what, address in pages.items():
                took_ms = _median_ms(partial(client.get, address))
                yield at_most(f"{name}: {what}", took_ms, MOST_MS, "ms")


def _median_ms(ask: Callable[[], Any]) -> float:
    took = []
    for _ in range(6):
        started = time.perf_counter()
        answer = ask()
        took.append(time.perf_counter() - started)
        assert answer.status_code == 200, answer.text
    return 1000 * median(took[1:])


def _pages(store: Store) -> dict[str, dict[str, str]]:
    """The pages of the teacher, and of the first learner."""
    account = store.accounts.by_sign_in(TEACHER)
    assert account is not None
    taught = Classes(store, account, lambda: datetime.now(UTC)).taught()
    work = store.assignments.of_class(taught[-1].id)[0]
    item = store.assignments.items(work)[0]
    return {
        TEACHER: {
            "classes": "/classes",
            "class": f"/classes/{taught[-1].uid}",
            "gradebook": f"/gradebook/{work.uid}",
            "gradebook by skills": f"/gradebook/{work.uid}/skills",
            "a song bar by bar": f"/gradebook/songs/{item.uid}",
            "scores as CSV": f"/gradebook/{work.uid}/scores.csv",
        },
        PUPIL: {
            "start": "/",
            "today": "/today",
            "work": "/assigned",
            "progress": "/progress",
            "progress, all time": "/progress?time=all",
            "numbers of progress": "/progress/numbers.json?time=all",
            "history": "/history",
        },
    }


def main() -> int:
    """Make the record and print the table; 1 if a page takes too long."""
    place: Path | str = sys.argv[1] if "://" in sys.argv[1] else Path(sys.argv[1])
    count, bars = (int(sys.argv[at]) if len(sys.argv) > at else usual
                   for at, usual in ((2, LEARNERS), (3, BARS)))  # fmt: skip
    print(f"{make(place, count, bars):,} graded bars", file=sys.stderr)
    rows = list(time_pages(place))
    print(table(rows))
    return 1 if any(row.ok is False for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
