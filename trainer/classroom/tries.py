"""How often somebody may try a password, or a code: an attacker is slowed, nobody is locked out.

Failures are counted in an hour, in two ways: at one name from one source, and from one source at
all names. After a few that are free, each further try has to wait after the last failure, longer
each time, but never longer than a minute. So whoever attacks an account makes no more than about 60
tries an hour from an address, and its owner, who comes from another address, waits for nothing.

The owner may share the address with the attacker, as everybody at a school does. Therefore a
browser that signed in before is a source of its own ("device cookies", OWASP, Slow Down Online
Guessing Attacks with Device Cookies): it keeps a mark that only the server can make, which holds
for one account until its password changes. What others try from the same address does not make
this browser wait.

A try is stored before the password is looked at, and taken away if it was right, so that many tries
sent at once count each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv6Address, ip_address
from math import ceil
from typing import TYPE_CHECKING

from trainer.classroom.tokens import digest_of
from trainer.errors import TooManyTries

if TYPE_CHECKING:
    from trainer.store import Failures, Repositories

__all__ = [
    "FREE_AT_CODES",
    "FREE_AT_NAME",
    "FREE_FROM_SOURCE",
    "LONGEST_WAIT_S",
    "Tries",
    "Try",
    "source_of",
]

SPAN = timedelta(hours=1)
# A class of thirty mistypes now and then, so that an address has many free failures.
FREE_AT_NAME, FREE_FROM_SOURCE = 5, 100
# A class copies one code from the board; it has about 50 bits, so that guessing it is hopeless.
FREE_AT_CODES = 60
LONGEST_WAIT_S = 60


@dataclass(frozen=True, slots=True)
class Try:
    """A try that is going on: its number, the digest of the name, and where it comes from."""

    number: int
    name_hash: str
    source: str


def source_of(address: str) -> str:
    """What tries from a network address are counted under.

    In IPv6 that is the network of 64 bits, of which whoever has one has all addresses.
    """
    try:
        found = ip_address(address)
    except ValueError:
        return "address unknown"
    if not isinstance(found, IPv6Address):
        return f"address {found}"
    if found.ipv4_mapped is not None:
        return f"address {found.ipv4_mapped}"
    return f"address {IPv6Address(int(found) >> 64 << 64)}/64"


class Tries:
    """The tries of a store."""

    def __init__(self, store: Repositories) -> None:
        self._store = store

    def begin(self, name: str, source: str, now: datetime, *, free: int = FREE_AT_NAME) -> Try:
        """Store a try at a name, which is a failure until it succeeds; so many are `free`.

        Raises
        ------
        TooManyTries
            If it has to wait; it then does not count.
        """
        failures = self._store.sign_in_failures
        name_hash = digest_of(name)
        this = Try(failures.add(name_hash, source, now), name_hash, source)
        wait_s = max(
            _wait_s(self._before(this, now, name_hash), free, now),
            _wait_s(self._before(this, now), FREE_FROM_SOURCE, now),
        )
        if wait_s > 0:
            failures.forget(this.number)
            raise TooManyTries(wait_s)
        return this

    def _before(self, this: Try, now: datetime, name_hash: str | None = None) -> Failures:
        return self._store.sign_in_failures.before(
            this.number, this.source, since=now - SPAN, until=now, name_hash=name_hash
        )

    def succeed(self, this: Try) -> None:
        """Take a try away that was right, with the failures at this name from this source."""
        self._store.sign_in_failures.forget(this.number)
        self._store.sign_in_failures.forget_all(this.name_hash, this.source)

    def undo(self, this: Try) -> None:
        """Take a try away that was none after all."""
        self._store.sign_in_failures.forget(this.number)

    def tidy(self, now: datetime) -> None:
        """Take away what no longer counts."""
        self._store.sign_in_failures.delete_before(now - SPAN)


def _wait_s(failures: Failures, free: int, now: datetime) -> int:
    """How many seconds the next try has to wait: 1, 2, 4... after the last failure."""
    if failures.last_at is None or failures.count < free:
        return 0
    # From 2**6 on it is the longest wait anyway.
    longest = min(1 << min(failures.count - free, 6), LONGEST_WAIT_S)
    return ceil(longest - (now - failures.last_at).total_seconds())
