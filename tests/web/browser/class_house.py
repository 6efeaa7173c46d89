"""A server of a class for the browser."""

from __future__ import annotations

from dataclasses import dataclass

from tests.classroom.people import WORDS
from tests.web.browser.house import House
from tests.web.classroom.school import make_class_server
from trainer.classroom import NewPerson
from trainer.classroom.classes import Classes
from trainer.store import Account, Role
from trainer.web.app import create_app
from trainer.web.classroom.access import ClassServer
from trainer.web.guard import Guard
from trainer.web.school.settings import NO_SCHOOL, SchoolSettings


@dataclass
class ClassHouse(House):
    """A server to which people sign in; passwords are `WORDS`."""

    server: ClassServer | None = None
    systems: SchoolSettings = NO_SCHOOL

    def make_app(self) -> Guard:
        """The application of a class, guarded."""
        origin = self.url.rstrip("/")
        self.server = make_class_server(self.store, self.clock, origin, self.systems)
        app = create_app(self.store, self.audio, now=self.clock, class_server=self.server)
        return Guard(app, origin=origin)

    def account(self, name: str, shown: str, role: Role = Role.LEARNER) -> Account:
        """An account whose person was shown the hearing caution."""
        assert self.server is not None
        made = self.server.accounts.sign_up(NewPerson(name, shown, WORDS), role)
        learner = self.store.learners.get(name)
        assert learner is not None
        self.store.learners.caution_shown(learner, self.clock())
        return made

    def code(self, teacher: Account) -> str:
        """The code of a new class that somebody teaches."""
        classes = Classes(self.store, teacher, self.clock)
        found = classes.code_of(classes.make("Ear training", "Spring").uid)
        assert found is not None
        return found.code
