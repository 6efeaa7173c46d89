"""A class at the Millrace school: its teacher, its learners, and ways through an assignment."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any, Protocol

from tests.store.samples import NOW
from trainer.chart import Bar, Chart, Header, format_chart, parse
from trainer.classroom.assignments import Assignments, AssignmentSettings
from trainer.classroom.class_sheet import ClassSheets
from trainer.classroom.classes import Classes
from trainer.classroom.gradebook import Gradebook
from trainer.classroom.handing_out import ClassWork, place_of
from trainer.classroom.items import ItemPlan
from trainer.classroom.regrading import Regrading
from trainer.drill import Drills, Submitted, submit
from trainer.exercise import MOST_SEED
from trainer.songbook import Songbook
from trainer.store import Account, Assignment, ClassRecord, ItemWithSong, Learner, Role, Store

FIRST_LEVEL = ItemPlan("level", "home-four-five")
WEEK = timedelta(days=7)


class Place(Protocol):
    """Where a class is: a store and a clock."""

    @property
    def store(self) -> Store:
        """The store."""
        ...

    @property
    def clock(self) -> Any:
        """Gives the moment; a test's own lets time pass."""
        ...

    def sign_up(self, name: str = "wren", role: Role = Role.LEARNER) -> Account:
        """A new account."""
        ...


@dataclass
class Lockside:
    """A class with a teacher and some learners, of whom each is in the class."""

    school: Place
    teacher: Account
    school_class: ClassRecord
    pupils: list[Account] = field(default_factory=list)
    rng: random.Random = field(default_factory=lambda: random.Random(14))

    def seed(self) -> int:
        """The next seed: the same ones in every run."""
        return self.rng.randrange(MOST_SEED)

    @property
    def store(self) -> Store:
        """Where all of it is."""
        return self.school.store

    def learner(self, account: Account) -> Learner:
        """The learner of an account."""
        return next(each for each in self.store.learners.all() if each.id == account.learner_id)

    def drills(self, account: Account) -> Drills:
        """The drills of an account."""
        return Drills(self.store, self.learner(account), self.school.clock, NOW.tzinfo)

    def work(self, account: Account) -> ClassWork:
        """The work of an account for its classes."""
        return ClassWork(account, self.drills(account), seed=self.seed)

    @property
    def assignments(self) -> Assignments:
        """The teacher's assignments."""
        teacher = self.learner(self.teacher)
        return Assignments(self.store, self.teacher, teacher, self.school.clock, self.seed)

    @property
    def gradebook(self) -> Gradebook:
        """The teacher's gradebook."""
        return Gradebook(self.store, self.teacher, self.learner(self.teacher), self.school.clock)

    @property
    def regrading(self) -> Regrading:
        """What the teacher changes grades with."""
        return Regrading(self.store, self.teacher, self.learner(self.teacher), self.school.clock)

    @property
    def sheets(self) -> ClassSheets:
        """What the teacher reads a song of the class with."""
        return ClassSheets(self.store, self.teacher, self.learner(self.teacher), self.school.clock)

    @property
    def songbook(self) -> Songbook:
        """The teacher's songbook."""
        return Songbook(self.store, self.learner(self.teacher), self.school.clock)

    def add_pupil(self, name: str) -> Account:
        """A new learner in the class."""
        account = self.school.sign_up(name)
        self.store.classes.join(self.school_class.id, account.id, "learner", self.school.clock())
        self.pupils.append(account)
        return account

    def assign(
        self, plans: Sequence[ItemPlan] = (FIRST_LEVEL,), **settings: Any
    ) -> tuple[Assignment, tuple[ItemWithSong, ...]]:
        """An assignment that has opened and is due in a week, with its items."""
        now = self.school.clock()
        values = {"title": "Week 3", "opens_at": now, "closes_at": now + WEEK}
        chosen = AssignmentSettings(**{**values, "results": "at once", **settings})
        made = self.assignments.make(self.school_class.uid, chosen, plans)
        return made, self.store.assignments.items_with_songs(made)

    def write(
        self, account: Account, item: ItemWithSong, text: str | None = None, listens: int = 1
    ) -> Submitted:
        """Begin the item, listen, write and hand in; without a text, what was played."""
        drills = self.drills(account)
        drill = self.work(account).begin(item.uid)
        for _ in range(listens):
            drills.listen(drill.record.key, token=drill.token)
            drills.heard(drill.record.key, None, token=drill.token)
        written = format_chart(drill.exercise.chart) if text is None else text
        place = place_of(self.store, drill.record, self.school.clock())
        return submit(drills, drill.record.key, written, token=drill.token, place=place)


def found(school: Place, pupils: Sequence[str] = ("wren", "zoe")) -> Lockside:
    """Found a class with a teacher and learners of these names."""
    teacher = school.sign_up("ada", Role.TEACHER)
    made = Classes(school.store, teacher, school.clock).make("Lock-side band", "Spring")
    lockside = Lockside(school, teacher, made)
    for name in pupils:
        lockside.add_pupil(name)
    return lockside


def wrong_first_bar(chart: Chart, written: str = "") -> str:
    """A chart's text with another chord in its first bar: what is written, or its own made
    minor."""
    written = written or f"{chart.bars()[0].events[0].chord}-"
    (bar,) = parse(written, Header(meter=chart.meter)).bars()
    return format_chart(_with_phrase(chart, 0, 0, lambda bars: (bar, *bars[1:])))


def missing_bar(chart: Chart) -> str:
    """A chart's text without its last bar."""
    return format_chart(_with_phrase(chart, -1, -1, lambda bars: bars[:-1]))


def _with_phrase(
    chart: Chart, section: int, phrase: int, change: Callable[[tuple[Bar, ...]], tuple[Bar, ...]]
) -> Chart:
    sections = list(chart.sections)
    phrases = list(sections[section].phrases)
    phrases[phrase] = replace(phrases[phrase], bars=change(phrases[phrase].bars))
    sections[section] = replace(sections[section], phrases=tuple(phrases))
    return replace(chart, sections=tuple(sections))
