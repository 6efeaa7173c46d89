from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.web.helpers import begin, hand_in, keep_text, token_of
from trainer.drill import import_record
from trainer.store import Store
from trainer.store.learners import Learners
from trainer.web.learner_cookie import read_learner


def add(client: TestClient, name: str = "Ada Ferrier") -> None:
    """One more learner, who reads the caution and then practises."""
    answer = client.post("/learners/add", data={"name": name}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    client.post("/hearing")


def uid_of(store: Store, name: str = "me") -> str:
    """What a learner is called in addresses."""
    learner = store.learners.get(name)
    assert learner is not None
    return learner.uid


def test_a_learner_is_added_and_remembered(client: TestClient, store: Store) -> None:
    """The cookie is for this context's own requests alone and no script reads it; the caution comes
    first."""
    answer = client.post("/learners/add", data={"name": " Ada  Férrier"}, follow_redirects=False)
    assert answer.headers["location"].startswith("/hearing")
    cookie = answer.headers["set-cookie"].casefold()
    assert "samesite=strict" in cookie
    assert "httponly" in cookie
    assert store.learners.get("Ada Férrier") is not None
    assert "Learners: Ada Férrier" in client.get("/", follow_redirects=True).text


def test_data_are_apart(client: TestClient, store: Store) -> None:
    """One learner's exercises, results, drafts, listens and history are not another's."""
    exercise_id = begin(client, level="1", seed="1")
    keep_text(client, exercise_id, "1 4")
    client.post(f"/write/{exercise_id}/listen")
    place = hand_in(client, begin(client, level="1", seed="2"), "1 4 5 1")
    mine = token_of(client, exercise_id)
    add(client)
    assert client.get(place).status_code == 404
    assert client.get(f"/write/{exercise_id}").status_code == 404
    assert client.post(f"/write/{exercise_id}/begin").status_code == 404
    assert "haven't written anything yet" in client.get("/history").text
    assert "Pick up where you left off" not in client.get("/").text
    assert begin(client, level="1", seed="1") == exercise_id
    assert ">1 4</textarea>" not in client.get(f"/write/{exercise_id}").text
    assert token_of(client, exercise_id) != mine
    client.post("/learners/choose", data={"uid": uid_of(store)})
    assert client.get(place).status_code == 200
    assert token_of(client, exercise_id) == mine


def test_a_page_of_another_learner_is_refused(client: TestClient, store: Store) -> None:
    """What was opened for one learner is neither kept nor graded for the other who was chosen."""
    exercise_id = begin(client, level="1", seed="1")
    token = token_of(client, exercise_id)
    add(client)
    answer = client.put(f"/write/{exercise_id}/draft", data={"token": token, "text": "1"})
    assert answer.status_code == 409
    assert client.post(f"/write/{exercise_id}/listen?token={token}").status_code == 409
    answer = client.post(f"/write/{exercise_id}", data={"token": token, "text": "1 4"})
    assert answer.status_code == 409
    assert "opened for another learner" in answer.text
    ada = store.learners.get("Ada Ferrier")
    assert ada is not None
    assert store.attempts.count(ada) == 0


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "a\u0007b", "me"])
def test_a_wrong_name_is_told(client: TestClient, store: Store, name: str) -> None:
    """A name that is empty, too long, not printable or taken adds nobody."""
    answer = client.post("/learners/add", data={"name": name})
    assert answer.status_code == 422
    assert "expected" in answer.text
    assert len(store.learners.all()) == 1


def test_a_name_taken_meanwhile_is_told(
    client: TestClient, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name that another window took a moment ago is refused; nobody practises as its owner."""
    monkeypatch.setattr(Learners, "get", lambda *_: None)
    answer = client.post("/learners/add", data={"name": "me"}, follow_redirects=False)
    assert answer.status_code == 422
    assert "expected a name that isn" in answer.text
    assert "set-cookie" not in answer.headers
    assert len(store.learners.all()) == 1


def test_the_browser_is_told_what_to_forget(client: TestClient, store: Store) -> None:
    """After a deletion the page names the learner whose drafts go; never one who is there."""
    add(client)
    gone, here = uid_of(store, "Ada Ferrier"), uid_of(store)
    answer = client.post(f"/learners/{gone}/delete", follow_redirects=False)
    page = client.get(answer.headers["location"]).text
    assert f'data-deleted="{gone}"' in page
    assert "learners.js" in page
    for address in ("/learners", f"/learners?deleted={here}"):
        assert "data-deleted" not in client.get(address).text


def test_copies_are_spoken_of_before_a_deletion(client: TestClient, store: Store) -> None:
    """Who is asked whether to delete a record is told where it is still kept then."""
    page = client.get(f"/learners/{uid_of(store)}/delete").text
    assert "Earlier backups, exports and copies still contain this record" in page


def test_a_learner_is_renamed(client: TestClient, store: Store) -> None:
    """A new name takes everything along, also what is being written; also without the cookie."""
    exercise_id = begin(client, level="1", seed="2")
    token = token_of(client, exercise_id)
    place = f"/learners/{uid_of(store)}/rename"
    assert 'value="me"' in client.get(place).text
    page = client.post(place, data={"name": "Wren Halloway"})
    assert "Wren Halloway" in page.text
    assert [one.name for one in store.learners.all()] == ["Wren Halloway"]
    answer = client.post(f"/write/{exercise_id}", data={"token": token, "text": "1 4"})
    assert answer.status_code == 200
    client.cookies.clear()
    assert "1 exercise" in client.get("/learners").text


def test_a_name_that_is_taken_is_not_given(client: TestClient, store: Store) -> None:
    """Renaming to somebody else's name is refused, and nothing changes."""
    add(client)
    answer = client.post(f"/learners/{uid_of(store)}/rename", data={"name": "Ada Ferrier"})
    assert answer.status_code == 422
    assert "expected a name that isn" in answer.text
    assert [one.name for one in store.learners.all()] == ["Ada Ferrier", "me"]


def test_a_learner_is_deleted_after_asking(client: TestClient, store: Store) -> None:
    """Asking names what goes and deletes nothing; then it goes, and the choice with it."""
    add(client)
    place = hand_in(client, begin(client, level="1", seed="2"), "1 4 5 1")
    asking = f"/learners/{uid_of(store, 'Ada Ferrier')}/delete"
    page = client.get(asking).text
    assert "1 exercise and every bar written" in page
    assert client.get(place).status_code == 200
    client.post(asking)
    assert [one.name for one in store.learners.all()] == ["me"]
    assert client.get(place).status_code == 404
    assert "Ada" not in client.get("/learners").text
    assert client.get(asking).status_code == 404


def test_nothing_is_deleted_by_a_link(client: TestClient, store: Store) -> None:
    """Choosing, adding, backup and export answer to POST only."""
    for place in ("choose", "add", "backup", f"{uid_of(store)}/export"):
        assert client.get(f"/learners/{place}").status_code in {404, 405}
    assert len(store.learners.all()) == 1


def test_a_backup_is_the_record(client: TestClient, tmp_path: Path) -> None:
    """The file that is downloaded is a database that SQLite itself finds whole and restores."""
    hand_in(client, begin(client, level="1", seed="2"), "1 4 5 1")
    answer = client.post("/learners/backup")
    assert "attachment" in answer.headers["content-disposition"]
    path = tmp_path / "kept.db"
    path.write_bytes(answer.content)
    with closing(sqlite3.connect(path)) as found:
        assert found.execute("pragma integrity_check").fetchone() == ("ok",)
        assert found.execute("select count(*) from attempts").fetchone() == (1,)
    Store.restore(path, tmp_path / "elsewhere")
    with Store.open(tmp_path / "elsewhere") as store:
        assert store.learners.get("me") is not None


def test_an_export_is_taken_back(client: TestClient, store: Store, tmp_path: Path) -> None:
    """What is exported is what another store imports."""
    hand_in(client, begin(client, level="1", seed="2"), "1 4 5 1")
    data = json.loads(client.post(f"/learners/{uid_of(store)}/export").content)
    with Store.open(tmp_path / "elsewhere") as other:
        assert import_record(other, data).added == 1


@pytest.mark.parametrize(
    ("value", "uid"),
    [
        ("me:3f-9", "3f-9"), ("you:3f-9", None), ("me", None), ("me:", None),
        ("me:" + "x" * 101, None), ("", None),
    ],
)  # fmt: skip
def test_a_choice_is_read(value: str, uid: str | None) -> None:
    """A choice counts for the page of the same owner; what makes no sense chooses nobody."""
    assert read_learner(value, "me") == uid


def test_a_choice_of_nobody_falls_back(client: TestClient, store: Store) -> None:
    """A cookie with an id that has no record shows the page of its owner."""
    client.cookies.set("learner", "me:nobody")
    assert client.get("/").status_code == 200
    assert [one.name for one in store.learners.all()] == ["me"]
