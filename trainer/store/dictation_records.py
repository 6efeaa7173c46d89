"""What is remembered of live dictations."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

__all__ = ["Dictation", "DictationAnswer", "DictationState"]


@dataclass(frozen=True, slots=True)
class Dictation:
    """A song that a teacher plays to a class, without the song itself.

    `bars` is how many it has. `phase` is "waiting", "playing", "stopped" or "over", and `revision`
    is counted up whenever it changes. The band plays, or played last, from `first_bar` to
    `last_bar`, and began at `began_at`. `heard` is the last bar that has sounded so far, and
    `plays` how often the band began from the first bar. `assignment_id` is where the answers are
    from the end on.
    """

    id: int
    uid: str
    class_id: int
    title: str
    bars: int
    phase: str
    revision: int
    first_bar: int
    last_bar: int
    began_at: datetime | None
    heard: int
    plays: int
    made_by: int | None
    made_at: datetime
    ended_at: datetime | None
    assignment_id: int | None

    @property
    def is_over(self) -> bool:
        """Whether nobody can write any more."""
        return self.phase == "over"


@dataclass(frozen=True, slots=True)
class DictationAnswer:
    """What an account has written in a dictation; `seen_at` is when its page was last heard of."""

    account_id: int
    text: str
    seen_at: datetime
    handed_in_at: datetime | None
    attempt_id: int | None


@dataclass(frozen=True, slots=True)
class DictationState:
    """What a learner may know of a dictation: its phase and revision, and what is their own."""

    uid: str
    class_uid: str
    class_name: str
    phase: str
    revision: int
    text: str
    handed_in_at: datetime | None

    @property
    def can_write(self) -> bool:
        """Whether what the learner writes is still taken."""
        return self.phase != "over" and self.handed_in_at is None


def read_state(row: Mapping[str, Any]) -> DictationState:
    """The state in a row; somebody who has no answer yet has written nothing."""
    return DictationState(**{**row, "text": row["text"] or ""})
