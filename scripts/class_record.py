"""The record that the pictures of the class pages show: the demo class, always the same.

An owner of the server is there too, and links that wait to be opened. Everybody has the same
password, which no real server has: the record is deleted when the pictures are made.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from itertools import count

from scripts.picture_record import NOW
from tests.classroom.people import CHEAP, WORDS
from trainer.classroom import Accounts, NewPerson, Passwords
from trainer.classroom.classes import Classes
from trainer.classroom.demo import make_demo_class
from trainer.store import Role, Store

__all__ = ["LEARNER", "NOBODY", "OWNER", "TEACHER", "fill_class"]

# The sign-in names of those who open the pages.
NOBODY, LEARNER, TEACHER, OWNER = "", "wren", "maud", "agnes"
CODE = "WEYRHERN22"


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
        **{sign_in: account.uid for sign_in, account in people.items()},
    }
