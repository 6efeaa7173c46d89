"""A class server in a process of its own, on a record with a live dictation."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import httpx

from tests.classroom.lockside import FIRST_LEVEL
from tests.classroom.people import CHEAP, WORDS
from tests.patience import PATIENCE_S, waiting
from tests.web.classroom.running import free_port
from trainer.classroom import Accounts, NewPerson, Passwords
from trainer.classroom.classes import Classes
from trainer.classroom.dictation import DictationDesk
from trainer.store import Dictation, Role, Store

ROOT = Path(__file__).parents[2]
MAIN = "from trainer.cli.main import main; main()"


def now() -> datetime:
    """The moment."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Served:
    """A server that answers."""

    address: str
    pid: int

    def processor_s(self) -> float:
        """The processor time it has used, in seconds; on Linux."""
        fields = Path(f"/proc/{self.pid}/stat").read_text("ascii").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@contextmanager
def served(record: Path) -> Iterator[Served]:
    """A class server on a record, killed at the end."""
    port = free_port()
    line = ["serve", "--data", str(record), "--port", str(port)]
    process = subprocess.Popen(
        [sys.executable, "-c", MAIN, *line], cwd=ROOT, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in waiting("the class is up"):
            try:
                httpx.get(f"{address}/alive", trust_env=False, timeout=PATIENCE_S)
                break
            except httpx.TransportError:
                assert process.poll() is None
        yield Served(address, process.pid)
    finally:
        process.kill()
        process.wait()


def begin(record: Path, names: Sequence[str]) -> Dictation:
    """A dictation in a class with a teacher, ada, and learners of these names."""
    with Store.open(record) as store:
        accounts = Accounts(store, now, Passwords(CHEAP))
        teacher = accounts.sign_up(NewPerson("ada", "Ada", WORDS), Role.TEACHER)
        made = Classes(store, teacher, now).make("Lock-side band", "Spring")
        for name in names:
            account = accounts.sign_up(NewPerson(name, name.title(), WORDS), Role.LEARNER)
            store.classes.join(made.id, account.id, "learner", now())
        for each in store.learners.all():
            store.learners.caution_shown(each, now())
        learner = store.learners.get("ada")
        assert learner is not None
        return DictationDesk(store, teacher, learner, now).start(made.uid, FIRST_LEVEL)
