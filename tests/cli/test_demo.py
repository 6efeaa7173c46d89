"""`accounts demo`: the demo class by one command."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.classroom.people import CHEAP
from tests.cli.conftest import Run
from trainer import classroom
from trainer.classroom import Passwords
from trainer.store import Role, Store


@pytest.fixture(autouse=True)
def cheap_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes that cost little."""
    monkeypatch.setattr(classroom, "Passwords", lambda: Passwords(CHEAP))


def test_the_demo_class_is_made_once(run: Run, tmp_path: Path) -> None:
    """The command says who can sign in with which password; a record with accounts stays as it
    is."""
    ran = run("accounts", "demo", "--data", tmp_path, "--json")
    assert ran.code == 0
    told = {each["sign_in"]: each for each in json.loads(ran.out)["accounts"]}
    with Store.open(tmp_path) as store:
        accounts = store.accounts.all()
    assert {each.sign_in for each in accounts} == set(told)
    assert [each.sign_in for each in accounts if each.role is not Role.LEARNER] == ["maud"]
    for each in accounts:
        assert Passwords(CHEAP).matches(each.password_hash, told[each.sign_in]["password"])
    again = run("accounts", "demo", "--data", tmp_path)
    assert (again.code, again.out) == (2, "")
    assert "people in it already" in again.err


def test_the_passwords_can_be_read(run: Run, tmp_path: Path) -> None:
    """Without --json there is a line for each person, with name and password."""
    ran = run("accounts", "demo", "--data", tmp_path)
    lines = [line.split() for line in ran.out.splitlines()]
    people = {line[0]: line[1] for line in lines if len(line) == 5}
    assert len(people) == 13
    with Store.open(tmp_path) as store:
        maud = store.accounts.by_sign_in("maud")
    assert maud is not None
    assert Passwords(CHEAP).matches(maud.password_hash, people["maud"])
