"""Drills of one learner: begin or go on with one, listen, keep what was typed.

Everything is stored as it happens, so a drill continues from where it was left, even in another
window, on another device, after a restart or the next day. This module decides what a listen costs,
what a pause is and how long the learner worked, so these are the same on the page and in the
terminal.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo
from typing import TYPE_CHECKING, Any

from trainer.drill.playback import FULL_SPEED, check_speed
from trainer.drill.results import is_practice
from trainer.drill.stamps import MOST_STAMPS
from trainer.errors import DrillReplaced, InputError, NoListenLeft, SettingsError, TextTooLong
from trainer.exercise import Exercise
from trainer.store import ExerciseRecord, Learner, OpenDrill

if TYPE_CHECKING:
    from trainer.store import Repositories

__all__ = [
    "IDLE_S",
    "MOST_TYPED",
    "NOT_UNDER_WAY",
    "Drill",
    "Drills",
    "check_length",
    "worked_until",
]

# A pause in which nothing is heard or typed counts as work for at most this long; after that the
# learner is away.
IDLE_S = 300.0
# The longest text that `trainer.chart` reads, in characters.
MOST_TYPED = 20_000
LONGEST_S = 4 * 3600.0
NOT_UNDER_WAY = (
    "This page was opened for another learner, or the song was handed in or started again in "
    "another window. What you wrote here stays in the field. Copy it and load the page again."
)


@dataclass(frozen=True, slots=True)
class Drill:
    """An exercise that a learner is writing, as it stands.

    `seen` says that the learner was shown the song's chart before: the attempt will be practice.
    """

    record: ExerciseRecord
    progress: OpenDrill
    seen: bool = False

    @property
    def exercise(self) -> Exercise:
        """The exercise."""
        return self.record.exercise

    @property
    def token(self) -> str:
        """The name of the submission that will end the drill."""
        return self.progress.token

    @property
    def listens_left(self) -> int | None:
        """How many listens may still begin; None if there is no limit."""
        allowed = self.exercise.listens
        return max(0, allowed - self.progress.listens) if allowed else None

    @property
    def position_s(self) -> float | None:
        """Where the listen that was interrupted goes on, in seconds of its playback; None if none
        was."""
        return self.progress.position_s

    def elapsed_s(self, now: datetime) -> float | None:
        """Seconds since the first listen began, which stamps count from; None before, and where
        that is not known."""
        first = self.progress.first_listen_at
        return max(0.0, (now - first).total_seconds()) if first is not None else None

    @property
    def speed(self) -> int:
        """The speed of the last listen, in per cent of the song's tempo."""
        return self.progress.speeds[-1] if self.progress.speeds else FULL_SPEED


class Drills:
    """The drills of one learner.

    Parameters
    ----------
    store : where everything is kept.
    clock : gives the moment, aware and in UTC.
    zone : the learner's time zone, which says what day it is; None is this machine's.
    """

    def __init__(
        self,
        store: Repositories,
        learner: Learner,
        clock: Callable[[], datetime],
        zone: tzinfo | None = None,
    ) -> None:
        self.store, self.learner = store, learner
        self.clock, self.zone = clock, zone

    def within(self, store: Repositories) -> Drills:
        """The same drills over the repositories of a transaction."""
        return Drills(store, self.learner, self.clock, self.zone)

    @property
    def today(self) -> date:
        """The learner's own calendar day."""
        return self.clock().astimezone(self.zone).date()

    def begin(self, exercise: Exercise) -> Drill:
        """Begin an exercise, or go on with it where it was begun before."""
        return self.store.transact(
            lambda store: self._begun(store, store.exercises.keep(self.learner, exercise))
        )

    def begin_known(self, key: str) -> Drill | None:
        """Begin an exercise that the learner has, by its id, or go on with it; None if there is
        no such exercise."""
        record = self.store.exercises.get(self.learner, key)
        return self._begun(self.store, record) if record is not None else None

    def find(self, key: str) -> Drill | None:
        """The open drill at the exercise of that id; None if none is open. Nothing is stored."""
        record = self.store.exercises.get(self.learner, key)
        found = self.store.open_drills.find(self.learner, record) if record is not None else None
        if record is None or found is None:
            return None
        return self._drill(self.store, record, found)

    def latest(self) -> Drill | None:
        """The drill last typed at and not submitted, if there is one."""
        found = self.store.open_drills.latest(self.learner)
        return self._drill(self.store, *found) if found is not None else None

    def listen(self, key: str, speed: int = FULL_SPEED, token: str | None = None) -> Drill:
        """Count a listen that begins at `speed` per cent of the song's tempo.

        Raises
        ------
        NoListenLeft
            If none of those the exercise allows is left; nothing is counted.
        SettingsError
            If the band may not play at that speed.
        DrillReplaced
            If there is no such drill under way (any more).
        """
        check_speed(speed)

        def count(drill: Drill) -> dict[str, Any]:
            _check_pass(drill, speed)
            if drill.listens_left == 0:
                raise NoListenLeft("That was your last listen. Write what you remember.")
            first = drill.progress.first_listen_at
            return {
                "speeds": (*drill.progress.speeds, speed),
                "first_listen_at": first if drill.progress.listens else self.clock(),
                "position_s": 0.0,
            }

        return self._change(key, token, count)

    def listen_to_file(self, key: str, token: str | None = None) -> Drill:
        """Count that the song was written into a file, which the learner plays without the trainer.
        The first file counts as one listen, heard to its end at unknown times. If a listen was
        counted before, or another file was written, nothing more is counted.

        Raises
        ------
        DrillReplaced
            If there is no such drill under way (any more).
        """

        def count(drill: Drill) -> dict[str, Any]:
            return {} if drill.progress.listens else {"speeds": (FULL_SPEED,)}

        return self._change(key, token, count)

    def heard(
        self, key: str, position_s: float | None, *, paused: bool = False, token: str | None = None
    ) -> Drill:
        """Note how far the present listen has got, and whether the band was stopped on the way.

        A listen only goes forward: an earlier position than the one noted leaves it. `position_s`
        None is the end of the song.

        Raises
        ------
        InputError
            If the position is not a number of seconds that a song can have.
        DrillReplaced
            If there is no such drill under way (any more).
        """
        if position_s is not None and not 0 <= position_s <= LONGEST_S:
            raise InputError(
                f"position: found {position_s}, expected seconds from 0 to {LONGEST_S:g}"
            )

        def note(drill: Drill) -> dict[str, Any]:
            before, reached = drill.progress.position_s, position_s
            if reached is not None:
                # A late report does not reopen a listen that has ended.
                reached = None if before is None else max(before, reached)
            return {"position_s": reached, "paused": drill.progress.paused or paused}

        return self._change(key, token, note)

    def change_speed(self, key: str, speed: int, token: str | None = None) -> Drill:
        """Play on at another speed, in per cent of the song's tempo, while a listen is under way.

        The listen then counts as one at the slowest speed it was played at, and its position is
        from now on in seconds at that speed. It also counts as a listen with a pause, because its
        times no longer follow a single clock. Without a listen under way nothing changes.

        Raises
        ------
        SettingsError
            If the band may not play at that speed.
        DrillReplaced
            If there is no such drill under way (any more).
        """
        check_speed(speed)

        def change(drill: Drill) -> dict[str, Any]:
            _check_pass(drill, speed)
            before, reached = drill.speed, drill.progress.position_s
            if reached is None or speed == before:
                return {}
            slowest = min(before, speed)
            return {
                "speeds": (*drill.progress.speeds[:-1], slowest),
                "position_s": reached * before / slowest,
                "paused": True,
            }

        return self._change(key, token, change)

    def keep_text(
        self, key: str, text: str, *, stamps: str = "", token: str | None = None
    ) -> Drill | None:
        """Store what was typed, replacing what was stored before.

        `stamps` says when it was typed (`trainer.drill.stamps`). None, and nothing is kept, if the
        drill with that token was submitted already.

        Raises
        ------
        TextTooLong
            If the text is longer than any chart.
        DrillReplaced
            If the token is of no drill of this learner at this exercise.
        """
        check_length(text)
        stamps = stamps if len(stamps) <= MOST_STAMPS else ""
        changes = {"text": text, "text_at": self.clock(), "stamps": stamps}
        try:
            return self._change(key, token, lambda _: changes)
        except DrillReplaced:
            if token is not None and self.is_submitted(token):
                return None
            raise

    def is_submitted(self, token: str) -> bool:
        """Whether the drill with that token has ended with an attempt on record."""
        return self.store.attempts.find_token(self.learner, token) is not None

    def _change(
        self, key: str, token: str | None, change: Callable[[Drill], dict[str, Any]]
    ) -> Drill:
        """Change the open drill, kept from other pages meanwhile, and note that the learner is at
        work. `change` gives the fields of `OpenDrill` to change; what it raises changes nothing."""

        def work(store: Repositories) -> Drill:
            record = store.exercises.get(self.learner, key)
            found = None
            if record is not None:
                found = store.open_drills.find(self.learner, record, lock=True)
            if record is None or found is None or token not in (None, found.token):
                raise DrillReplaced(NOT_UNDER_WAY)
            drill = self._drill(store, record, found)
            changes = change(drill)
            now = self.clock()
            worked_s = worked_until(found, now)
            progress = replace(found, worked_s=worked_s, seen_at=now, **changes)
            store.open_drills.change(self.learner, record, progress)
            return replace(drill, progress=progress)

        return self.store.transact(work)

    def _begun(self, store: Repositories, record: ExerciseRecord) -> Drill:
        now = self.clock()
        fresh = OpenDrill(token=secrets.token_urlsafe(18), started_at=now, seen_at=now)
        return self._drill(store, record, store.open_drills.begin(self.learner, record, fresh))

    def _drill(self, store: Repositories, record: ExerciseRecord, found: OpenDrill) -> Drill:
        return Drill(record, found, is_practice(store, self.learner, record, self.clock()))


def _check_pass(drill: Drill, speed: int) -> None:
    """Raise SettingsError for another speed than the song's own if a class agreed on one pass."""
    if drill.exercise.is_one_pass and speed != FULL_SPEED:
        raise SettingsError("speed", f"{speed}%", f"{FULL_SPEED}%: your class hears this song once")


def check_length(text: str) -> None:
    """Raise TextTooLong for a text that is longer than any chart."""
    if len(text) > MOST_TYPED:
        raise TextTooLong(MOST_TYPED)


def worked_until(drill: OpenDrill, now: datetime) -> float:
    """Seconds worked until now. Time away does not count, nor does time lost when the clock is set
    back.
    """
    since = (now - drill.seen_at).total_seconds()
    return drill.worked_s + min(max(0.0, since), IDLE_S)
