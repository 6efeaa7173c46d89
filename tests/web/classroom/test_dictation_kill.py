"""A live dictation whose server is killed: nothing that it confirmed is lost, and all go on."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import httpx
import pytest

from tests.classroom.people import WORDS
from tests.patience import PATIENCE_S, until
from tests.web.dictation_server import begin, served
from trainer.store import DictationAnswer, Store

PEOPLE = ("wren", "zoe")
# Each learner has had as many texts confirmed when the server is killed.
TEXTS = 3
KILLS = 2


@dataclass
class Person:
    """Somebody with a browser, which stays signed in over the lives of the server."""

    name: str
    client: httpx.Client = field(
        default_factory=lambda: httpx.Client(trust_env=False, timeout=PATIENCE_S)
    )
    sent: list[str] = field(default_factory=list)
    confirmed: list[str] = field(default_factory=list)

    def send(self, method: str, address: str, place: str, **form: str) -> httpx.Response:
        """Send a form as a page of that server does."""
        headers = {"origin": address, "accept": "application/json"}
        return self.client.request(method, address + place, data=form, headers=headers)

    def sign_in(self, address: str) -> None:
        """Sign in once."""
        answer = self.send("POST", address, "/sign-in", name=self.name, password=WORDS)
        assert answer.status_code == 303, answer.text

    def type_on(self, address: str, uid: str) -> None:
        """Write one more bar again and again, until the server is gone."""
        while True:
            self.sent.append(" ".join(["1", "4", "5"] * (len(self.sent) + 1)))
            place = f"/assigned/dictations/{uid}/text"
            try:
                answer = self.send("PUT", address, place, text=self.sent[-1])
            except httpx.TransportError:
                return
            assert answer.status_code == 204, answer.text
            self.confirmed.append(self.sent[-1])

    def has(self, count: int) -> bool:
        """Whether so many texts have been confirmed."""
        return len(self.confirmed) >= count

    def may_be_kept(self) -> set[str]:
        """The text that was confirmed last, and the one that was on its way after it."""
        return {self.confirmed[-1], self.sent[-1]}


def kept(record: Path, uid: str) -> tuple[DictationAnswer, ...]:
    """What is stored of a dictation, the first learner's first."""
    with Store.open(record) as store:
        found = store.dictations.find(uid)
        assert found is not None
        return store.dictations.answers(found)


@pytest.mark.slow
def test_a_killed_server_loses_nothing_of_a_dictation(record: Path) -> None:
    """Killed while everybody types, it has kept what it confirmed; after a start everybody types on
    without signing in again; killed while it grades, ending again grades what is left, once."""
    uid = begin(record, PEOPLE).uid
    people, teacher = [Person(name) for name in PEOPLE], Person("ada")
    for life in range(KILLS):
        goals = [len(each.confirmed) + TEXTS for each in people]
        with served(record) as server:
            if not life:
                for each in (*people, teacher):
                    each.sign_in(server.address)
            playing = teacher.send("POST", server.address, f"/dictations/{uid}/play")
            assert playing.json() == {"phase": "playing"}
            typing = [
                threading.Thread(target=each.type_on, args=(server.address, uid)) for each in people
            ]
            for thread in typing:
                thread.start()
            for each, goal in zip(people, goals, strict=True):
                until(partial(each.has, goal), "everybody has had some texts confirmed")
        for thread in typing:
            thread.join()
        for each, answer in zip(people, kept(record, uid), strict=True):
            assert answer.text in each.may_be_kept()
    texts = [answer.text for answer in kept(record, uid)]
    with served(record) as server:
        ending = threading.Thread(target=end, args=(teacher, server.address, uid))
        ending.start()
        until(lambda: any(each.attempt_id for each in kept(record, uid)), "an answer is graded")
    ending.join()
    with served(record) as server:
        end(teacher, server.address, uid)
    answers = kept(record, uid)
    assert [answer.text for answer in answers] == texts
    assert len({answer.attempt_id for answer in answers} - {None}) == len(PEOPLE)
    with Store.open(record) as store:
        for name in PEOPLE:
            learner = store.learners.get(name)
            assert learner is not None
            assert len(store.attempts.history(learner)) == 1
    for each in (*people, teacher):
        each.client.close()


def end(teacher: Person, address: str, uid: str) -> None:
    """End the dictation; the server may go meanwhile."""
    try:
        answer = teacher.send("POST", address, f"/dictations/{uid}/end")
    except httpx.TransportError:
        return
    assert answer.status_code == 303, answer.text
