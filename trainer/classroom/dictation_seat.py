"""Live dictation as a learner of the class has it: the phase, and what they write.

Nothing here gives anything of the song away but its meter.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.classroom.dictation import IS_OVER, NOT_HERE
from trainer.classroom.dictation_answers import item_of
from trainer.drill import check_length
from trainer.errors import AssignmentError, ClassNotFound
from trainer.store import DictationState

if TYPE_CHECKING:
    from trainer.chart import Meter
    from trainer.store import Account, Repositories

__all__ = ["DictationSeat"]


class DictationSeat:
    """The dictations of the classes in which one account learns."""

    def __init__(
        self, store: Repositories, account: Account, clock: Callable[[], datetime]
    ) -> None:
        self.store, self.account, self.clock = store, account, clock

    def open(self) -> tuple[DictationState, ...]:
        """The dictations that are not over, newest first, one of each class: a room hears one."""
        newest: dict[str, DictationState] = {}
        for each in self.store.dictations.open_to(self.account.id):
            newest.setdefault(each.class_uid, each)
        return tuple(newest.values())

    def state(self, uid: str) -> DictationState:
        """What the learner may know of a dictation, in one read. Raises ClassNotFound."""
        found = self.store.dictations.state(uid, self.account.id)
        if found is None:
            raise ClassNotFound(NOT_HERE)
        return found

    def keep(self, uid: str, text: str | None) -> DictationState:
        """Keep what the learner has written, None if it is as before, and that they are here.
        Raises ClassNotFound, TextTooLong, AssignmentError if nothing is taken any more."""
        if text is not None:
            check_length(text)
        self._write(
            uid,
            lambda store, number, now: store.dictations.keep(number, self.account.id, text, now),
        )
        return self.state(uid)

    def hand_in(self, uid: str, text: str) -> DictationState:
        """Keep what the learner has written and hand it in. Raises as `keep`."""
        check_length(text)

        def work(store: Repositories, number: int, now: datetime) -> None:
            store.dictations.keep(number, self.account.id, text, now)
            store.dictations.hand_in(number, self.account.id, now)

        self._write(uid, work)
        return self.state(uid)

    def meter(self, uid: str) -> Meter:
        """The meter of the song, in which a learner's bars are drawn. Raises ClassNotFound."""
        self.state(uid)
        found = self.store.dictations.find(uid)
        if found is None:
            raise ClassNotFound(NOT_HERE)
        return item_of(found, self.store.dictations.song(found)).exercise.chart.meter

    def _write(self, uid: str, work: Callable[[Repositories, int, datetime], None]) -> None:
        state, now = self.state(uid), self.clock()

        def locked(store: Repositories) -> None:
            # Whoever ends the dictation waits for this, and the other way round.
            found = store.dictations.find(uid, lock="stay")
            if found is None or found.is_over or not state.can_write:
                raise AssignmentError(f"{IS_OVER} What you wrote here stays in the field.")
            work(store, found.id, now)

        self.store.transact(locked)
