"""Who is writing what right now: listens counted, when it began, what names the handing-in."""

from __future__ import annotations

import hashlib
import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import datetime

__all__ = ["FULL_SPEED", "SPEEDS", "Seat", "Sittings", "owner_mark"]

# How fast the band may play, in per cent of the song's own tempo.
SPEEDS = (100, 90, 80, 70, 60, 50)
FULL_SPEED = 100
MOST_SEATS = 500


def owner_mark(name: str) -> str:
    """What the tokens of a learner's pages begin with, so that they are never taken for another's.

    >>> owner_mark("me") == owner_mark("me") != owner_mark("you")
    True
    """
    return hashlib.sha256(name.encode()).hexdigest()[:8]


@dataclass(slots=True)
class Seat:
    """One exercise being written. `token` names its handing-in; `speeds` has one entry a listen,
    in per cent."""

    started_at: datetime
    token: str
    speeds: list[int] = field(default_factory=list)

    @property
    def listens(self) -> int:
        """Passes through the audio begun."""
        return len(self.speeds)

    def left(self, allowed: int) -> int | None:
        """Listens left of those allowed; None where there is no limit (0 allowed)."""
        return max(0, allowed - self.listens) if allowed else None


class Sittings:
    """The seats a learner has taken, by exercise; safe to use from several threads.

    `owner` is what their tokens begin with.
    """

    def __init__(self, owner: str) -> None:
        self._owner = owner
        self._lock = threading.Lock()
        self._seats: OrderedDict[str, Seat] = OrderedDict()
        self._done: OrderedDict[str, None] = OrderedDict()

    def take(self, exercise_id: str, now: datetime) -> Seat:
        """The seat at an exercise, taken now if it was free."""
        with self._lock:
            seat = self._seats.get(exercise_id)
            if seat is None:
                token = f"{self._owner}.{secrets.token_urlsafe(12)}"
                seat = self._seats[exercise_id] = Seat(now, token)
            self._seats.move_to_end(exercise_id)
            if len(self._seats) > MOST_SEATS:
                self._seats.popitem(last=False)
            return seat

    def listen(self, exercise_id: str, speed: int, allowed: int, now: datetime) -> bool:
        """Count a listen. False, and not counted, when none is left."""
        seat = self.take(exercise_id, now)
        with self._lock:
            if allowed and seat.listens >= allowed:
                return False
            seat.speeds.append(speed)
            return True

    def leave(self, exercise_id: str, token: str) -> None:
        """Give the seat back after handing in."""
        with self._lock:
            self._seats.pop(exercise_id, None)
            self._done[token] = None
            if len(self._done) > MOST_SEATS:
                self._done.popitem(last=False)

    def is_done(self, token: str) -> bool:
        """Whether this was handed in already."""
        with self._lock:
            return token in self._done
