"""The demo class of Millrace: a teacher, twelve learners and three assignments to look at.

One assignment is over, with all its answers in; one is open, with some answers in; one has not
opened. Songs, answers and scores are the same every time, and the days are counted from the moment
that the clock shows, so that what is open stays open for some days. Whoever knows this module knows
the songs: the demo class is for looking around, not for a test.
"""

from __future__ import annotations

import random
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from trainer.classroom.accounts import Accounts, NewPerson
from trainer.classroom.assignments import Assignments, AssignmentSettings
from trainer.classroom.classes import CODE_LETTERS, Classes, join_class
from trainer.classroom.demo_answers import from_another_home, with_mistakes, without_last_bar
from trainer.classroom.handing_out import ClassWork, place_of
from trainer.classroom.items import ItemPlan
from trainer.classroom.regrading import Regrading
from trainer.drill import Drills, Submitted, submit
from trainer.errors import SettingsError
from trainer.exercise import MOST_SEED
from trainer.songbook import Songbook
from trainer.store import Role

if TYPE_CHECKING:
    from trainer.chart import Chart
    from trainer.classroom.passwords import Passwords
    from trainer.store import Account, Assignment, ClassRecord, ItemWithSong, Learner, Store

__all__ = ["DemoClass", "DemoPerson", "make_demo_class", "new_password"]

SCHOOL, TERM = "Millrace music school: ear training", "Autumn"
TEACHER = ("maud", "Maud Weirside")
# Sign-in name, name, and the share of chords that this learner mistakes.
LEARNERS = (
    ("bram", "Bram Sluice", 0.24), ("hazel", "Hazel Towpath", 0.08),
    ("ines", "Ines Millpond", 0.18), ("jory", "Jory Lantern", 0.45),
    ("lark", "Lark Osierbed", 0.04), ("milo", "Milo Ferrybell", 0.30),
    ("nessa", "Nessa Ropewalk", 0.14), ("otis", "Otis Lockgate", 0.36),
    ("rufus", "Rufus Towline", 0.50), ("sorrel", "Sorrel Reedbank", 0.20),
    ("tamsin", "Tamsin Heronry", 0.0), ("wren", "Wren Alderway", 0.10),
)  # fmt: skip
# Who leaves the last bar of the first song out, and who writes it from another home.
FIRST_SONG = {"milo": without_last_bar, "jory": from_another_home}
# What the teacher says of a bar for which they give credit.
COMMENT = (
    "The keyboard is on the chord you wrote, so I count this bar. Listen to the bass once more."
)
# Who has handed in which of the two songs that are open, and who has begun the first.
DONE_SO_FAR = {"lark": 2, "tamsin": 2, "hazel": 2, "wren": 1, "nessa": 1, "bram": 1, "otis": 1}
BEGUN = "ines"
SONG = (
    "title: Ropewalk Morning\nkey: G\ntempo: 92\n\n"
    "Verse 1:\n1 5/7 6- 5 . 4 1/3 2- 5\n\nChorus:\n4 5 1 6- . 4 5 1 1\n"
)
GROUPS, GROUP = 4, 4
SEED = 28468


def new_password() -> str:
    """A password of about 79 random bits in groups that can be typed from a list."""
    letters = [secrets.choice(CODE_LETTERS.lower()) for _ in range(GROUPS * GROUP)]
    return "-".join("".join(letters[k : k + GROUP]) for k in range(0, len(letters), GROUP))


@dataclass(frozen=True, slots=True)
class DemoPerson:
    """Somebody of the demo class, with the password that is known only here."""

    account: Account
    password: str


@dataclass(frozen=True, slots=True)
class DemoClass:
    """What was made: the class, its people, and its assignments in the order of their days."""

    school_class: ClassRecord
    teacher: DemoPerson
    learners: tuple[DemoPerson, ...]
    finished: Assignment
    open: Assignment
    to_come: Assignment


def make_demo_class(
    store: Store,
    clock: Callable[[], datetime],
    passwords: Passwords,
    password: Callable[[], str] = new_password,
) -> DemoClass:
    """Make the demo class in an empty record.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC, at which the demo class is to be looked at.
    passwords : makes the hashes.
    password : makes a password for each person.

    Raises
    ------
    SettingsError
        If the record has accounts or learners already.
    """
    if store.accounts.count() or store.learners.all():
        raise SettingsError(
            "the record", "people in it already", "an empty one: choose a new folder with --data"
        )
    return _Story(store, clock(), passwords, password).tell()


@dataclass(slots=True)
class _Story:
    """Makes the class day by day on a clock of its own, which ends at `today`."""

    store: Store
    today: datetime
    passwords: Passwords
    password: Callable[[], str]
    now: datetime = field(init=False)
    teacher: Account = field(init=False)
    rng: random.Random = field(default_factory=lambda: random.Random(SEED))

    def tell(self) -> DemoClass:
        """Make all of it."""
        self._days_ago(40)
        teacher = self._sign_up(*TEACHER, Role.TEACHER)
        self.teacher = teacher.account
        classes = Classes(self.store, self.teacher, self.clock)
        made = classes.make(SCHOOL, TERM)
        learners = tuple(
            self._joining(classes, made, sign_in, name) for sign_in, name, _ in LEARNERS
        )
        accounts = {each.account.sign_in: each.account for each in learners}
        finished = self._finished(made, accounts)
        self._days_ago(3)
        classes.renew_code(made.uid)
        under_way = self._under_way(made, accounts)
        to_come = self._to_come(made)
        return DemoClass(made, teacher, learners, finished, under_way, to_come)

    def clock(self) -> datetime:
        """The moment of the story."""
        return self.now

    def _days_ago(self, days: float) -> None:
        self.now = self.today - timedelta(days=days)

    def _seed(self) -> int:
        return self.rng.randrange(MOST_SEED)

    def _sign_up(self, sign_in: str, name: str, role: Role) -> DemoPerson:
        password = self.password()
        accounts = Accounts(self.store, self.clock, self.passwords)
        return DemoPerson(accounts.sign_up(NewPerson(sign_in, name, password), role), password)

    def _joining(self, classes: Classes, made: ClassRecord, sign_in: str, name: str) -> DemoPerson:
        """A new learner, who joins by the code of the class."""
        person = self._sign_up(sign_in, name, Role.LEARNER)
        code = classes.code_of(made.uid)
        assert code is not None
        join_class(self.store, person.account, code.code, self.now)
        return person

    def _learner(self, account: Account) -> Learner:
        learner = self.store.learners.by_id(account.learner_id)
        assert learner is not None
        return learner

    def _assign(
        self, made: ClassRecord, settings: AssignmentSettings, *plans: ItemPlan
    ) -> tuple[Assignment, tuple[ItemWithSong, ...]]:
        teacher = self._learner(self.teacher)
        assignments = Assignments(self.store, self.teacher, teacher, self.clock, self._seed)
        assignment = assignments.make(made.uid, settings, plans)
        return assignment, assignments.items(assignment)

    def _finished(self, made: ClassRecord, learners: Mapping[str, Account]) -> Assignment:
        """Three songs that everybody has handed in, and a bar that the teacher has changed."""
        self._days_ago(14)
        book = Songbook(self.store, self._learner(self.teacher), self.clock)
        settings = AssignmentSettings(
            "Week 5: where is home?", self.now, self.now + timedelta(days=7)
        )
        assignment, items = self._assign(
            made,
            settings,
            ItemPlan("level", "home-four-five", listens=3),
            ItemPlan("level", "six-minor", listens=3),
            ItemPlan("song", book.new(SONG).uid, listens=4),
        )
        handed_in: dict[str, Submitted] = {}
        for place, (sign_in, _, share) in enumerate(LEARNERS):
            self._days_ago(13 - place / 2)
            first, *others = items
            account, hear = learners[sign_in], self._hearing(share)
            handed_in[sign_in] = self._write(account, first, FIRST_SONG.get(sign_in, hear))
            for item in others:
                self._write(account, item, hear)
        self._days_ago(6)
        teacher = self._learner(self.teacher)
        regrading = Regrading(self.store, self.teacher, teacher, self.clock)
        changed = next(each for each in handed_in.values() if each.report.score < 1)
        missed = min((each for each in changed.report.bars if each.reference is not None),
                     key=lambda bar: bar.score)  # fmt: skip
        assert missed.reference is not None
        regrading.override(changed.attempt.id, missed.reference, 1.0, COMMENT)
        return assignment

    def _under_way(self, made: ClassRecord, learners: Mapping[str, Account]) -> Assignment:
        """Two songs, another for each learner, which some have handed in."""
        settings = AssignmentSettings(
            "Week 6: minor chords",
            self.now,
            self.now + timedelta(days=7),
            late_until=self.now + timedelta(days=10),
            late_cost=0.1,
            tries=2,
        )
        assignment, items = self._assign(
            made,
            settings,
            ItemPlan("level", "two-minor", same_song=False),
            ItemPlan("level", "three-minor", same_song=False),
        )
        for sign_in, _, share in LEARNERS:
            self.now += timedelta(hours=5)
            for item in items[: DONE_SO_FAR.get(sign_in, 0)]:
                self._write(learners[sign_in], item, self._hearing(share))
        self._days_ago(0.1)
        self._work(learners[BEGUN]).begin(items[0].uid)
        return assignment

    def _hearing(self, share: float) -> Callable[[Chart], str]:
        """What somebody writes who mistakes that share of a song's chords."""
        return lambda chart: with_mistakes(chart, share, self.rng)

    def _work(self, account: Account) -> ClassWork:
        drills = Drills(self.store, self._learner(account), self.clock, self.now.tzinfo)
        return ClassWork(account, drills, seed=self._seed)

    def _write(
        self, account: Account, item: ItemWithSong, hear: Callable[[Chart], str]
    ) -> Submitted:
        """Hear a song once, write it and hand it in."""
        work = self._work(account)
        drills, drill = work.drills, work.begin(item.uid)
        key, token = drill.record.key, drill.token
        drills.listen(key, token=token)
        self.now += timedelta(minutes=1)
        drills.heard(key, None, token=token)
        self.now += timedelta(minutes=2)
        place = place_of(self.store, drill.record, self.now)
        return submit(drills, key, hear(drill.exercise.chart), token=token, place=place)

    def _to_come(self, made: ClassRecord) -> Assignment:
        """Ten songs for one skill, which open in some days."""
        opens = self.today + timedelta(days=4)
        settings = AssignmentSettings("Week 7: five over seven", opens, opens + timedelta(days=7))
        plan = ItemPlan("skill", "five-over-seven", skill="bass 5/7")
        return self._assign(made, settings, plan)[0]
