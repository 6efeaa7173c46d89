"""A class on a class server: its teacher makes it on the pages, its learners join and write."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from fastapi.testclient import TestClient

from tests.web.classroom.school import School
from tests.web.helpers import token_of
from trainer.chart import format_chart
from trainer.classroom.classes import join_class
from trainer.store import Account, ItemWithSong, Role
from trainer.web.classroom.forms import form_moment

MAIN = re.compile(r"<main.*?</main>", re.DOTALL)


@dataclass
class Lockside:
    """A class with a teacher and two learners, each in a browser."""

    school: School
    teacher: TestClient = field(init=False)
    learners: dict[str, TestClient] = field(init=False)
    class_uid: str = field(init=False)

    def __post_init__(self) -> None:
        self.teacher = self.school.signed_in("ada", Role.TEACHER)
        made = self.teacher.post(
            "/classes/new", data={"name": "Lock-side band", "term": "Spring"},
            follow_redirects=False,
        )  # fmt: skip
        self.class_uid = made.headers["location"].rpartition("/")[2]
        self.learners = {name: self.join(name) for name in ("wren", "zoe")}

    def account(self, name: str) -> Account:
        """The account of that sign-in name."""
        found = self.school.store.accounts.by_sign_in(name)
        assert found is not None
        return found

    def join(self, name: str) -> TestClient:
        """A new learner who joins by the code that the class's page shows."""
        page = self.teacher.get(f"/classes/{self.class_uid}").text
        code = page.partition('join-code">')[2].partition("<")[0]
        client = self.school.signed_in(name)
        join_class(self.school.store, self.account(name), code, self.school.clock())
        return client

    def assign(self, what: str = "level:home-four-five", **form: str) -> str:
        """Make an assignment with one song on the pages and open it; its uid."""
        due = self.school.clock() + timedelta(days=7)
        settings = {
            "title": "Week 3", "closes_at": form_moment(due), "pass_mark": "80", "tries": "1",
            "counts": "best", "results": "at once", "scheme": "",
        }  # fmt: skip
        place = f"/classes/{self.class_uid}/assignments/new"
        made = self.teacher.post(place, data=settings | form, follow_redirects=False)
        assert made.status_code == 303, made.text
        uid = made.headers["location"].rpartition("/")[2]
        self.post(f"/assignments/{uid}/items", what=what, songs="same", listens="")
        self.post(f"/assignments/{uid}/open")
        return str(uid)

    def dictate(self, what: str = "level:home-four-five") -> str:
        """Begin a live dictation on the pages; its uid."""
        made = self.post(f"/classes/{self.class_uid}/dictations", what=what)
        return str(made.headers["location"].rpartition("/")[2])

    def post(self, place: str, /, **form: str) -> Any:
        """The teacher presses a button that leads on."""
        answer = self.teacher.post(place, data=form, follow_redirects=False)
        assert answer.status_code == 303, answer.text
        return answer

    def items(self, uid: str) -> tuple[ItemWithSong, ...]:
        """The items of an assignment."""
        assignment = self.school.store.assignments.find(uid)
        assert assignment is not None
        return self.school.store.assignments.items_with_songs(assignment)

    def begin(self, name: str, uid: str) -> str:
        """A learner begins the first song; the id of the exercise."""
        item = self.items(uid)[0]
        answer = self.learners[name].post(
            f"/assigned/items/{item.uid}/begin", follow_redirects=False
        )
        assert answer.status_code == 303, answer.text
        return str(answer.headers["location"].removeprefix("/write/"))

    def write(self, name: str, uid: str, text: str | None = None) -> str:
        """A learner hears the first song, writes it and hands in; the address of the result."""
        client, key = self.learners[name], self.begin(name, uid)
        assert client.post(f"/write/{key}/listen").status_code == 200
        written = format_chart(self.items(uid)[0].exercise.chart) if text is None else text
        form = {"token": token_of(client, key), "text": written}
        answer = client.post(f"/write/{key}", data=form, follow_redirects=False)
        assert answer.status_code == 303, answer.text
        return str(answer.headers["location"])


def said(client: TestClient, place: str) -> str:
    """What a page says, without its tags."""
    answer = client.get(place)
    assert answer.status_code == 200, answer.text
    found = MAIN.search(answer.text)
    assert found is not None
    return " ".join(re.sub(r"<[^>]*>", " ", found[0]).split())
