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
from trainer.errors import ScoreNotTaken

if TYPE_CHECKING:
    from trainer.store import DueScore, Repositories

__all__ = ["Passback", "Score"]

MOST_AT_ONCE = 50
# A server that takes a score and dies leaves it to be tried again after this time.
CLAIMED_FOR = timedelta(minutes=5)
FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=1), timedelta(hours=6)
# How often it is looked whether results that are hidden are shown.
HIDDEN_WAIT = timedelta(minutes=5)
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

    def run(self) -> int:
        """Send what is due; how many scores were sent."""
        due = self._store.lti.due(self._clock(), MOST_AT_ONCE)
        return sum(self._one(each) for each in due)

    def _one(self, due: DueScore) -> bool:
        now = self._clock()
        claimed = self._store.lti.claim(due, now + CLAIMED_FOR)
        if claimed is None:
            return False
        assignment = self._store.assignments.get(due.assignment_id)
        if assignment is None:
            return False
        if not assignment.shows_results(now):
            self._store.lti.later(claimed, now + HIDDEN_WAIT)
            return False
        row = row_of(self._store, assignment, due.account_id)
        if row is None or row.so_far is None:
            # Nothing that was handed in counts.
            self._store.lti.sent(claimed, None, now)
            return False
        score = Score(claimed, row.score, row.done == len(row.cells), now)
        try:
            self._send(score)
        except ScoreNotTaken as error:
            wait = min(LONGEST_WAIT, FIRST_WAIT * 2 ** min(due.tries, 12))
            _LOG.warning("a score was not sent, next try in %s: %s", wait, error)
            self._store.lti.later(claimed, now + wait, str(error))
            return False
        self._store.lti.sent(claimed, row.score, now)
        return True
