"""Who is writing what right now: kept in the store, where a new start loses nothing."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime

from trainer.store import ExerciseRecord, Learner, Seat, Store

__all__ = ["FULL_SPEED", "SPEEDS", "Sittings", "owner_mark"]

# How fast the band may play, in per cent of the song's own tempo.
SPEEDS = (100, 90, 80, 70, 60, 50)
FULL_SPEED = 100


def owner_mark(learner: Learner) -> str:
    """What the tokens of a learner's pages begin with, so that they are never taken for another's;
    the same under another name."""
    return hashlib.sha256(f"{learner.id} {learner.created_at}".encode()).hexdigest()[:8]


@dataclass(frozen=True, slots=True)
class Sittings:
    """The seats a learner has taken, by exercise."""

    store: Store
    learner: Learner

    def take(self, exercise: ExerciseRecord, now: datetime) -> Seat:
        """The seat at an exercise, taken now if it was free."""
        return self.store.seats.take(self.learner, exercise, self._token(), now)

    def listen(
        self, exercise: ExerciseRecord, speed: int, allowed: int, now: datetime
    ) -> Seat | None:
        """Count a listen. None, and not counted, when none is left."""
        return self.store.seats.listen(self.learner, exercise, speed, allowed, self._token(), now)

    def is_done(self, token: str) -> bool:
        """Whether this was handed in already."""
        return self.store.attempts.find_token(self.learner, token) is not None

    def _token(self) -> str:
        return f"{owner_mark(self.learner)}.{secrets.token_urlsafe(12)}"
