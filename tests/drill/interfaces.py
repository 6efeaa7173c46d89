"""One learner at one exercise, the same through every way in: what a visit is made of.

`Way` is what the page, the terminal and the room itself have in common. A visit to an exercise is a
list of actions; between them no time passes but that of the actions themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from tests.drill.evening import Clock
from trainer.drill import Drill, Drills, submit, write_stamps
from trainer.errors import NoListenLeft
from trainer.exercise import Exercise
from trainer.store import AttemptRecord, Learner, Store

__all__ = [
    "LENGTH_S",
    "Action",
    "Pause",
    "Play",
    "RoomWay",
    "Submit",
    "Visit",
    "Wait",
    "Way",
    "Write",
]

# How long a song is taken to last; nothing is rendered here.
LENGTH_S = 60.0


@dataclass(frozen=True, slots=True)
class Play:
    """Begin a listen, or go on with the one that was interrupted, and hear some seconds of it;
    None is to its end."""

    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Wait:
    """Let the band play on for so many seconds; None is to the end of the song."""

    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Pause:
    """Stop the band for so many seconds, then let it go on for as many."""

    seconds: float


@dataclass(frozen=True, slots=True)
class Write:
    """Write a line."""

    line: str


@dataclass(frozen=True, slots=True)
class Submit:
    """Hand in what is written."""


Action = Play | Wait | Pause | Write | Submit


@dataclass(frozen=True, slots=True)
class Visit:
    """What a learner has seen of an exercise at the end of a visit.

    `seen` says whether it was introduced as a song seen before, `text` what stood there at first;
    `refused` how often no listen was left; `attempt` is None unless it was handed in.
    """

    seen: bool
    text: str
    refused: int
    attempt: AttemptRecord | None


class Way(Protocol):
    """A way to a drill."""

    store: Store
    learner: Learner
    clock: Clock

    def visit(self, exercise: Exercise, actions: Sequence[Action]) -> Visit:
        """Open an exercise, do something, and leave."""

    def start_again(self) -> None:
        """End the program and start it on the same store."""


class RoomWay:
    """The drill room, used as both interfaces use it."""

    def __init__(self, store: Store, learner: Learner, clock: Clock) -> None:
        self.store, self.learner, self.clock = store, learner, clock

    def start_again(self) -> None:
        """Nothing is held between visits."""

    def visit(self, exercise: Exercise, actions: Sequence[Action]) -> Visit:
        """Do what is said with calls to the room."""
        drills = Drills(self.store, self.learner, self.clock)
        visit = _RoomVisit(drills, drills.begin(exercise), self.clock)
        drill = visit.drill
        for action in actions:
            visit.do(action)
        return Visit(drill.seen, drill.progress.text, visit.refused, visit.attempt)


class _RoomVisit:
    """A drill that is open, with what was typed of it and when."""

    def __init__(self, drills: Drills, drill: Drill, clock: Clock) -> None:
        self.drills, self.drill, self.clock = drills, drill, clock
        self.key, self.token = drill.record.key, drill.token
        self.lines = drill.progress.text.splitlines()
        self.times: list[float | None] = [None] * len(self.lines)
        self.began: datetime | None = None
        self.at_s = 0.0
        self.refused = 0
        self.attempt: AttemptRecord | None = None

    @property
    def text(self) -> str:
        """All that is typed."""
        return "".join(f"{line}\n" for line in self.lines)

    @property
    def stamps(self) -> str:
        """When it was typed."""
        return write_stamps(list(zip(self.lines, self.times, strict=True)))

    def do(self, action: Action) -> None:
        """Do one thing."""
        match action:
            case Play(seconds):
                self.play(seconds)
            case Wait(seconds):
                self.hear(seconds)
            case Pause(seconds):
                self.drills.heard(self.key, 0.0, paused=True, token=self.token)
                self.clock.pass_(seconds=seconds)
                self.hear(seconds)
            case Write(line):
                self.write(line)
            case Submit():
                done = submit(
                    self.drills, self.key, self.text, token=self.token, stamps=self.stamps
                )
                self.attempt = done.attempt

    def play(self, seconds: float | None) -> None:
        """Begin a listen, or go on with the one that was interrupted."""
        before = self.drills.find(self.key)
        assert before is not None
        start_s = before.position_s
        if start_s is not None:
            self.drills.heard(self.key, start_s, paused=True, token=self.token)
        else:
            try:
                self.drills.listen(self.key, token=self.token)
            except NoListenLeft:
                self.refused += 1
                return
            if not before.progress.listens:
                self.began = self.clock.now
        self.at_s = start_s or 0.0
        self.hear(seconds)

    def hear(self, seconds: float | None) -> None:
        """Let the band play; what was heard is told as it goes."""
        end_s = LENGTH_S if seconds is None else self.at_s + seconds
        self.clock.pass_(seconds=end_s - self.at_s)
        self.at_s = end_s
        self.drills.heard(self.key, end_s if end_s < LENGTH_S else None, token=self.token)

    def write(self, line: str) -> None:
        """Write a line below the others."""
        self.lines.append(line)
        since = None if self.began is None else (self.clock.now - self.began).total_seconds()
        self.times.append(since)
        self.drills.keep_text(self.key, self.text, stamps=self.stamps, token=self.token)
