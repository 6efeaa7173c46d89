"""The record that the pictures of the class pages show: the demo class, always the same.

An owner of the server is there too, and links that wait to be opened. Everybody has the same
password, which no real server has: the record is deleted when the pictures are made.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from datetime import timedelta
from itertools import count

from scripts.picture_record import NOW
from tests.classroom.people import CHEAP, WORDS
from trainer.chart import excerpt
from trainer.classroom import Accounts, NewPerson, Passwords
from trainer.classroom.classes import Classes
from trainer.classroom.demo import DemoClass, make_demo_class
from trainer.classroom.demo_answers import with_mistakes
from trainer.classroom.dictation import DictationDesk
from trainer.classroom.dictation_answers import item_of
from trainer.classroom.items import ItemPlan
from trainer.store import Dictation, Role, Store

__all__ = ["LEARNER", "NOBODY", "OWNER", "TEACHER", "fill_class"]

# The sign-in names of those who open the pages.
NOBODY, LEARNER, TEACHER, OWNER = "", "wren", "maud", "agnes"
CODE = "WEYRHERN22"
# The dictation that is under way: its seed, how long the band has played, and the names of those
# who are not here.
SEED, PLAYED_S, AWAY = 7040, 33, ("rufus", "milo")


def fill_class(store: Store) -> Mapping[str, object]:
    """Put the demo class on record.

    Returns what the addresses of the pictures name: uids of the class, of assignments, of a song
    and of people, the id of an attempt whose result is hidden, and the tokens of links.
    """
    made = make_demo_class(store, lambda: NOW, Passwords(CHEAP), lambda: WORDS)
    numbers = count(1)
    accounts = Accounts(
        store,
        lambda: NOW - timedelta(hours=1),
        Passwords(CHEAP),
        lambda: f"ferry-bell-{next(numbers)}",
    )
    owner = accounts.sign_up(NewPerson(OWNER, "Agnes Tollhouse", WORDS), Role.OWNER)
    for learner in store.learners.all():
        store.learners.caution_shown(learner, NOW)
    teacher = made.teacher.account
    Classes(store, teacher, lambda: NOW, code=lambda: CODE).renew_code(made.school_class.uid)
    people = {each.account.sign_in: each.account for each in made.learners}
    songs = store.assignments.items(made.finished)
    begun = store.assignments.items(made.open)
    (handed_in, *_) = store.assigned.attempts_of([each.id for each in begun], people[LEARNER].id)
    return {
        "class": made.school_class.uid,
        "finished": made.finished.uid,
        "open": made.open.uid,
        "to_come": made.to_come.uid,
        "song": songs[0].uid,
        "handed_in": handed_in.attempt_id,
        "invitation": accounts.invite_teacher(owner),
        "reset": accounts.reset_link(people["rufus"], teacher),
        "dictation": dictate(store, made).uid,
        **{sign_in: account.uid for sign_in, account in people.items()},
    }


def dictate(store: Store, made: DemoClass) -> Dictation:
    """A dictation at which the class is writing; each has written a bar more or less than sounds,
    and each mistakes more than the one before."""
    teacher = made.teacher.account
    learner = store.learners.by_id(teacher.learner_id)
    assert learner is not None
    desk = DictationDesk(
        store, teacher, learner, lambda: NOW - timedelta(seconds=PLAYED_S), lambda: SEED
    )
    plan = ItemPlan("level", "six-minor")
    found = desk.start(made.school_class.uid, plan, "Friday's song")
    chart = item_of(found, store.dictations.song(found)).exercise.chart
    rng = random.Random(SEED)
    for place, person in enumerate(made.learners):
        if person.account.sign_in not in AWAY:
            written = excerpt(chart, 1, 6 + place % 4)
            text = with_mistakes(written, 0.05 * place, rng).partition("\n\n")[2]
            store.dictations.keep(found.id, person.account.id, text, NOW)
    return desk.play(found.uid)
