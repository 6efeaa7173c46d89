"""Scores on their way to the platforms that take them (LTI Assignment and Grade Services).

Whatever stores a grade marks it as due, in the same transaction (`trainer.store.lti`). What is sent
is the learner's score in the whole assignment as the gradebook has it at that moment. A score that
cannot be sent is tried again, later each time, however often the server starts again meanwhile; one
that the learner may not see yet waits until they may.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from trainer.classroom.gradebook import row_of
from trainer.errors import ScoreNotTaken, StoreError

if TYPE_CHECKING:
    from trainer.store import DueScore, Repositories

__all__ = ["BROKEN", "Passback", "Score"]

MOST_AT_ONCE = 50
# A server that takes a score and dies leaves it to be tried again after this time.
CLAIMED_FOR = timedelta(minutes=5)
FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=1), timedelta(hours=6)
# How long a score waits whose results were hidden while it was about to be sent.
HIDDEN_WAIT = timedelta(minutes=5)
BROKEN = "Something is wrong here. The log of the server says what."
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Score:
    """What a platform is told of a learner: the share of the assignment that is right, 0 to 1, and
    whether everything was handed in."""

    due: DueScore
    value: float
    is_complete: bool
    at: datetime


class Passback:
    """Sends scores that are due.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC.
    send : sends a score; raises ScoreNotTaken if the platform did not take it.
    """

    def __init__(
        self,
        store: Repositories,
        clock: Callable[[], datetime],
        send: Callable[[Score], None],
    ) -> None:
        self._store, self._clock, self._send = store, clock, send

    def run(self, is_stopped: Callable[[], bool] = lambda: False) -> int:
        """Send what is due, until it is stopped; how many scores were sent."""
        sent = 0
        for each in self._store.lti.due(self._clock(), MOST_AT_ONCE):
            if is_stopped():
                break
            sent += self._one(each)
        return sent

    def _one(self, due: DueScore) -> bool:
        """Send a score or put it off; whether it was sent. Raises StoreError."""
        now = self._clock()
        claimed = self._store.lti.claim(due, now + CLAIMED_FOR)
        if claimed is None:
            return False
        wait = min(LONGEST_WAIT, FIRST_WAIT * 2 ** min(due.tries, 12))
        try:
            return self._send_claimed(claimed, now)
        except StoreError:
            raise
        except ScoreNotTaken as error:
            _LOG.warning("a score was not sent, next try in %s: %s", wait, error)
            self._store.lti.later(claimed, now + wait, str(error))
        except Exception:  # noqa: BLE001 - logged; one score that cannot be sent keeps back no others
            _LOG.exception("a score was not sent, next try in %s", wait)
            self._store.lti.later(claimed, now + wait, BROKEN)
        return False

    def _send_claimed(self, claimed: DueScore, now: datetime) -> bool:
        assignment = self._store.assignments.get(claimed.assignment_id)
        if assignment is None:
            return False
        if not assignment.shows_results(now):
            self._store.lti.later(claimed, now + HIDDEN_WAIT)
            return False
        row = row_of(self._store, assignment, claimed.account_id)
        if row is None or row.so_far is None:
            # Nothing that was handed in counts.
            self._store.lti.sent(claimed, None, now)
            return False
        self._send(Score(claimed, row.score, row.done == len(row.cells), now))
        self._store.lti.sent(claimed, row.score, now)
        return True
