"""People of the Millrace school who sign in, with hashes that cost little."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from tests.store.samples import NOW
from trainer.classroom import Accounts, Browser, HashCost, NewPerson, Passwords, Sessions
from trainer.store import Account, Role, Store

CHEAP = HashCost(memory_kib=8, passes=1, lanes=1)
WORDS = "lock gate by the mill"
OTHER_WORDS = "nine herons on a weir"
HOME = Browser("192.0.2.7", "Firefox on Linux")


@dataclass
class Clock:
    """A clock that is set by hand."""

    now: datetime = NOW

    def __call__(self) -> datetime:
        return self.now

    def passes(self, **span: float) -> None:
        """Let time pass."""
        self.now += timedelta(**span)


@dataclass
class School:
    """A store with what signs people up and in."""

    store: Store
    clock: Clock = field(default_factory=Clock)
    passwords: Passwords = field(default_factory=lambda: Passwords(CHEAP))

    @property
    def accounts(self) -> Accounts:
        """What makes accounts."""
        return Accounts(self.store, self.clock, self.passwords)

    @property
    def sessions(self) -> Sessions:
        """What signs in and out."""
        return Sessions(self.store, self.clock, self.passwords)

    def sign_up(self, name: str = "wren", role: Role = Role.LEARNER) -> Account:
        """An account whose password is `WORDS`."""
        return self.accounts.sign_up(NewPerson(name, f"{name.title()} H.", WORDS), role)

    def again(self, account: Account) -> Account:
        """The account as it is stored now."""
        found = self.store.accounts.by_id(account.id)
        assert found is not None
        return found
