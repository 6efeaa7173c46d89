"""The page as a way to a drill: its requests as its scripts send them, without a browser."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import timedelta
from html import unescape
from pathlib import Path

from fastapi.testclient import TestClient

from tests.drill.evening import Clock
from tests.drill.interfaces import LENGTH_S, Action, Pause, Play, Submit, Visit, Wait, Write
from tests.web.fakes import FakeLibrary
from trainer.drill import write_stamps
from trainer.exercise import Exercise
from trainer.store import AttemptRecord, Learner, Store
from trainer.web import create_app

__all__ = ["PageWay"]

SEEN = "You have seen this song's chart"
DATA = re.compile(r'data-([a-z]+)="([^"]*)"')
TEXT = re.compile(r'<textarea id="text"[^>]*>(.*?)</textarea>', re.DOTALL)


class PageWay:
    """The page of one learner, served in this process."""

    def __init__(self, store: Store, learner: Learner, clock: Clock, folder: Path) -> None:
        self.store, self.clock = store, clock
        self.learner = store.learners.caution_shown(learner, clock.now)
        self._folder = folder
        self.start_again()

    def start_again(self) -> None:
        """Serve the store by a new application."""
        app = create_app(
            self.store, FakeLibrary(self._folder), now=self.clock, learner=self.learner.name
        )
        self.client = TestClient(app, headers={"accept": "text/html"})

    def visit(self, exercise: Exercise, actions: Sequence[Action]) -> Visit:
        """Open the page of an exercise and do what its scripts do."""
        self.store.exercises.keep(self.learner, exercise)
        begun = self.client.post(f"/write/{exercise.id}/begin", follow_redirects=True)
        assert begun.status_code == 200, begun.text
        visit = _PageVisit(self, exercise, begun.text)
        text = visit.text
        for action in actions:
            visit.do(action)
        return Visit(SEEN in begun.text, text, visit.refused, visit.attempt)


class _PageVisit:
    """A page that is open."""

    def __init__(self, way: PageWay, exercise: Exercise, html: str) -> None:
        self.way, self.place = way, f"/write/{exercise.id}"
        data = dict(DATA.findall(html))
        self.token: str = data["token"]
        self.goes_on_at = float(data["position"]) if data["position"] else None
        elapsed = timedelta(seconds=float(data["elapsed"])) if data["elapsed"] else None
        self.began = way.clock.now - elapsed if elapsed is not None else None
        found = TEXT.search(html)
        assert found is not None
        self.lines = unescape(found[1]).splitlines()
        self.times: list[float | None] = [None] * len(self.lines)
        self.at_s, self.refused, self.paused = 0.0, 0, False
        self.attempt: AttemptRecord | None = None

    @property
    def text(self) -> str:
        """What stands in the field."""
        return "".join(f"{line}\n" for line in self.lines)

    @property
    def fields(self) -> dict[str, str]:
        """What is sent of it."""
        stamps = write_stamps(list(zip(self.lines, self.times, strict=True)))
        return {"text": self.text, "token": self.token, "stamps": stamps}

    def do(self, action: Action) -> None:
        """Do one thing."""
        match action:
            case Play(seconds):
                self.play(seconds)
            case Wait(seconds):
                self.hear(seconds)
            case Pause(seconds):
                self.report(paused=True)
                self.paused = True
                self.way.clock.pass_(seconds=seconds)
                self.hear(seconds)
            case Write(line):
                self.write(line)
            case Submit():
                self.submit()

    def play(self, seconds: float | None) -> None:
        """Press Play: a new listen, or the interrupted one goes on."""
        if self.goes_on_at is not None:
            self.at_s, self.goes_on_at = self.goes_on_at, None
            self.report(paused=True)
        elif self.listen():
            self.at_s = 0.0
        else:
            self.refused += 1
            return
        self.hear(seconds)

    def listen(self) -> bool:
        """Ask for a listen; whether one was left."""
        if self.began is None:
            self.began = self.way.clock.now
        query = {"token": self.token, "speed": "100"}
        answer = self.way.client.post(f"{self.place}/listen", params=query)
        assert answer.status_code == 200 or answer.json()["listens_left"] == 0, answer.text
        return answer.status_code == 200

    def hear(self, seconds: float | None) -> None:
        """Let the band play on."""
        end_s = LENGTH_S if seconds is None else self.at_s + seconds
        self.way.clock.pass_(seconds=end_s - self.at_s)
        self.at_s = end_s
        self.report()

    def report(self, *, paused: bool = False) -> None:
        """Tell how far the listen has got; at the end of the song there is no position."""
        query = {"token": self.token}
        if self.at_s < LENGTH_S:
            query |= {"position_s": f"{self.at_s:.2f}", "paused": str(paused).lower()}
        answer = self.way.client.post(f"{self.place}/heard", params=query)
        assert answer.status_code == 204, answer.text

    def write(self, line: str) -> None:
        """Write a line; it is kept a moment later."""
        now = self.way.clock.now
        self.lines.append(line)
        self.times.append(None if self.began is None else (now - self.began).total_seconds())
        answer = self.way.client.put(f"{self.place}/draft", data=self.fields)
        assert answer.status_code == 204, answer.text

    def submit(self) -> None:
        """Hand in."""
        form = self.fields | {"paused": str(self.paused).lower()}
        answer = self.way.client.post(self.place, data=form, follow_redirects=False)
        assert answer.status_code == 303, answer.text
        number = int(answer.headers["location"].rpartition("/")[2])
        detail = self.way.store.attempts.get(number)
        assert detail is not None
        self.attempt = detail.record
