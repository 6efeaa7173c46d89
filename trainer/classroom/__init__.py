"""The class: accounts, sessions and what a teacher does with a class. No HTTP here.

The store, the clock and the source of random tokens are arguments everywhere.
"""

from __future__ import annotations

from trainer.classroom.accounts import Accounts, NewPerson
from trainer.classroom.courses import Courses, Entered, Launch
from trainer.classroom.identities import Ticket, Vouched, VouchedPeople
from trainer.classroom.passwords import HashCost, Passwords
from trainer.classroom.sessions import Browser, NewSession, Sessions

__all__ = [
    "Accounts",
    "Browser",
    "Courses",
    "Entered",
    "HashCost",
    "Launch",
    "NewPerson",
    "NewSession",
    "Passwords",
    "Sessions",
    "Ticket",
    "Vouched",
    "VouchedPeople",
]
