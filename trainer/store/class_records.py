"""Classes and assignments as the store takes and gives them: frozen values, free of SQL.

Times are aware and in UTC.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trainer.exercise import Exercise

__all__ = [
    "AcceptedChart",
    "Assigned",
    "AssignedAttempt",
    "Assignment",
    "AssignmentItem",
    "AttemptGrade",
    "ClassRecord",
    "EarlierGrade",
    "GradedAnswer",
    "ItemWithSong",
    "JoinCode",
    "Member",
    "Override",
]


@dataclass(frozen=True, slots=True)
class ClassRecord:
    """A class in a term. `made_by` is an account's number, None once that account is deleted;
    nobody joins a class that has `closed_at`, and nothing new is assigned in it."""

    id: int
    uid: str
    name: str
    term: str
    made_by: int | None
    made_at: datetime
    closed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Member:
    """Somebody in a class: the account with its uid, its learner and the name that pages show.

    `role` is "teacher" or "learner" in this class; `left_at` is when they left, None if they are
    there.
    """

    class_id: int
    account_id: int
    uid: str
    learner_id: int
    shown_name: str
    sign_in: str
    role: str
    joined_at: datetime
    left_at: datetime | None = None

    @property
    def is_teacher(self) -> bool:
        """Whether they teach the class."""
        return self.role == "teacher" and self.left_at is None


@dataclass(frozen=True, slots=True)
class JoinCode:
    """A code with which learners join a class until it expires or is ended."""

    id: int
    class_id: int
    code: str
    made_at: datetime
    expires_at: datetime
    ended_at: datetime | None = None

    def holds(self, now: datetime) -> bool:
        """Whether somebody can join with it."""
        return self.ended_at is None and now < self.expires_at


@dataclass(frozen=True, slots=True)
class Assignment:
    """What a class is to do. `id` and `class_id` are the store's own numbers.

    It is not open before `opens_at` (None: not yet decided) and is due at `closes_at` (None: no
    end). Work is taken late until `late_until` (None: not at all) and loses `late_cost` of its
    score (0 to 1). `scheme` is a table of weights as `trainer.grade.weights_from` takes it, None
    for the usual weights of what each exercise asks. `pass_mark` is a score. A learner has `tries`
    at each item, of which `counts` ("best", "last" or "first") is the one that counts. `results`
    says when learners see theirs: "at once", "closed" (when no more work is taken) or "teacher"
    (from `shown_at` on).
    """

    id: int
    uid: str
    class_id: int
    title: str
    opens_at: datetime | None
    closes_at: datetime | None
    late_until: datetime | None
    late_cost: float
    scheme: Mapping[str, Any] | None
    pass_mark: float
    tries: int
    counts: str
    results: str
    shown_at: datetime | None
    made_by: int | None
    made_at: datetime
    copied_from: str | None = None

    @property
    def ends_at(self) -> datetime | None:
        """When work is no longer taken at all; None for never."""
        if self.closes_at is None or self.late_until is None:
            return self.closes_at
        return max(self.closes_at, self.late_until)

    def has_opened(self, now: datetime) -> bool:
        """Whether learners may see it and work at it, or could."""
        return self.opens_at is not None and self.opens_at <= now

    def has_ended(self, now: datetime) -> bool:
        """Whether no more work is taken."""
        return self.ends_at is not None and self.ends_at <= now

    def is_late(self, now: datetime) -> bool:
        """Whether what is handed in now is late."""
        return self.closes_at is not None and self.closes_at < now

    def shows_results(self, now: datetime) -> bool:
        """Whether learners see the results of what they handed in."""
        if self.results == "at once" or (self.shown_at is not None and self.shown_at <= now):
            return True
        return self.results == "closed" and self.has_ended(now)


@dataclass(frozen=True, slots=True)
class AssignmentItem:
    """One thing to write in an assignment, without its song.

    `kind` is "level", "recipe", "skill" or "song", and `source` says which one, as plain values.
    With `same_song` everybody gets the same song; without, each learner gets another one as
    difficult. `listens` is how often it may be heard (0: without
    limit), `tempo` the speed of the band in per cent of the song's own, and `one_pass` whether it
    is heard once, at that speed, without going back. `points` is what it weighs in the
    assignment's score. `take` names how the band plays it. `expected` is the score (0 to 1) that
    the rating model predicts for a learner of whom nothing is known.
    """

    id: int
    uid: str
    assignment_id: int
    position: int
    kind: str
    title: str
    source: Mapping[str, Any]
    same_song: bool
    listens: int
    tempo: int
    one_pass: bool
    points: float
    take: str
    expected: float


@dataclass(frozen=True, slots=True)
class ItemWithSong(AssignmentItem):
    """An item with the song of all, or an example of its songs; a learner is never shown it."""

    exercise: Exercise


@dataclass(frozen=True, slots=True)
class Assigned:
    """An exercise handed out: to an account, for an item, as its try of that number (from 1).

    `exercise_id` is the number of the exercise in the store, `key` the exercise's own id, `song`
    the digest of its song.
    """

    id: int
    item_id: int
    account_id: int
    number: int
    exercise_id: int
    key: str
    song: str
    handed_at: datetime


@dataclass(frozen=True, slots=True)
class AttemptGrade:
    """The grade of an attempt in its assignment.

    `graded` is the report's score under the scheme and `score` what it comes to after overrides and
    lateness. `report` is the report as it was graded again, None where the attempt's own holds;
    `accepted_id` names the accepted chart it was graded against, None for the song's own.
    """

    graded: float
    score: float
    report: Mapping[str, Any] | None = None
    accepted_id: int | None = None


@dataclass(frozen=True, slots=True)
class AssignedAttempt:
    """An attempt in its place: what was handed out, and how the answer was graded.

    `counts` is False where the learner had seen the chart or had not listened. `listens`, `paused`
    and `tempo_ratio` are those of the attempt.
    """

    attempt_id: int
    item_id: int
    account_id: int
    number: int
    song: str
    handed_in_at: datetime
    late: bool
    counts: bool
    grade: AttemptGrade
    listens: int
    paused: bool
    tempo_ratio: float


@dataclass(frozen=True, slots=True)
class Override:
    """What a teacher changed or said about a bar of an attempt; bar 0 is the attempt as a whole.

    `credit` is the bar's new credit (0 to 1), or the new score for bar 0; None is a comment alone.
    """

    attempt_id: int
    bar: int
    credit: float | None
    comment: str
    made_by: int | None
    made_at: datetime


@dataclass(frozen=True, slots=True)
class AcceptedChart:
    """A second chart of a song that is right as well, for every answer to that song in an item."""

    id: int
    item_id: int
    song: str
    text: str
    comment: str
    made_by: int | None
    made_at: datetime
    withdrawn_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class EarlierGrade:
    """A grade as it was until something changed it; `reason` is "scheme", "chart" or "override"."""

    attempt_id: int
    until: datetime
    reason: str
    grade: AttemptGrade


@dataclass(frozen=True, slots=True)
class GradedAnswer:
    """One answer to a song: the attempt in its place, what was typed, the report that holds, and
    the attempt's own, which it was handed in with."""

    attempt: AssignedAttempt
    text: str
    report: Mapping[str, Any]
    own: Mapping[str, Any]
