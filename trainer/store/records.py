"""What the store takes and gives: frozen values, free of SQL. Times are aware and in UTC."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from trainer.exercise import Exercise
from trainer.grade import Report
from trainer.practice import GradedBar, LearnerState, Rating, SpeedResult

__all__ = [
    "AttemptDetail",
    "AttemptRecord",
    "ConfusionCount",
    "DayRecord",
    "ExerciseRecord",
    "ExerciseSource",
    "Imported",
    "Learner",
    "LessonRun",
    "LevelBest",
    "NewAttempt",
    "NewLessonRun",
    "OpenDrill",
    "RatingDay",
    "RatingUpdate",
    "SetItem",
    "SkillDay",
    "StoredAttempt",
    "as_utc",
    "storable",
]

Json = Mapping[str, Any]


def as_utc(moment: datetime, what: str) -> datetime:
    """The same moment in UTC.

    Raises
    ------
    ValueError
        If `moment` is naive: what it means would depend on the machine.
    """
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise ValueError(
            f"{what}: found {moment.isoformat()} without a time zone, expected an aware time (UTC)"
        )
    return moment.astimezone(UTC)


# PostgreSQL holds no NUL, and no database holds halves of characters (UTF-16's surrogates).
_NOT_STORABLE = re.compile("[\x00\ud800-\udfff]")
_REPLACEMENT = "\N{REPLACEMENT CHARACTER}"


def storable(text: str) -> str:
    """A text as a database can hold it: what it cannot hold becomes U+FFFD."""
    return _NOT_STORABLE.sub(_REPLACEMENT, text)


@dataclass(frozen=True, slots=True)
class Learner:
    """A person who practises.

    `id` is the store's own number, `uid` a text that stays the same wherever the record is taken;
    `name` is unique in the store. `caution_at` is when the hearing caution was first shown, None
    before.
    """

    id: int
    uid: str
    name: str
    created_at: datetime
    caution_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class ExerciseRecord:
    """An exercise as it was when its owner was first given it.

    `id` is the store's own number; `owner_id` is the learner it was made for; `origin` is
    "generated" or "song"; `song` is `trainer.exercise.song_digest`.
    """

    id: int
    owner_id: int
    origin: str
    song: str
    exercise: Exercise

    @property
    def key(self) -> str:
        """The exercise's own id, unique among those of its owner."""
        return self.exercise.id


@dataclass(frozen=True, slots=True)
class OpenDrill:
    """An exercise being written: what was heard and typed so far.

    `token` names the submission that will end it. `first_listen_at` is when the first listen began,
    None before and if that is not known. `speeds` has one entry for each listen begun, in
    per cent of the song's tempo; `position_s` is how far the last listen got, in seconds of that
    playback, None when it was heard to its end or none was begun. `paused` says whether the band
    was ever stopped on the way. `worked_s` seconds were worked until `seen_at`. `text` is what was
    typed, last changed at `text_at` (None: nothing yet), `stamps` when it was typed
    (`trainer.drill.stamps`), "" if that is not known.
    """

    token: str
    started_at: datetime
    seen_at: datetime
    first_listen_at: datetime | None = None
    speeds: tuple[int, ...] = ()
    position_s: float | None = None
    paused: bool = False
    worked_s: float = 0.0
    text: str = ""
    text_at: datetime | None = None
    stamps: str = ""

    @property
    def listens(self) -> int:
        """Passes through the audio that were begun."""
        return len(self.speeds)


@dataclass(frozen=True, slots=True)
class NewAttempt:
    """A graded answer on its way into the store.

    `report` is the typed report, or the JSON of one when it comes from an export. `worked_s` is how
    long the work took in seconds; `day` the learner's own calendar day. The other fields are as in
    `AttemptRecord`.
    """

    answer_text: str
    report: Report | Json
    bars: tuple[GradedBar, ...]
    score: float
    started_at: datetime
    finished_at: datetime
    day: date
    worked_s: float
    listens: int
    paused: bool
    tempo_ratio: float
    first_pass: bool
    lag_beats: float | None
    seen: bool
    token: str | None
    home_shift: str | None
    app_version: str
    passed: bool | None = None
    hidden_until: datetime | None = None


@dataclass(frozen=True, slots=True)
class AttemptRecord:
    """One attempt, without its report. `lag_beats` is the mean over the bars that have one, those
    written ahead of the sound as 0; `home_shift` the kind of the report's, None without one;
    `seen` says whether the song's chart had been shown to the learner before, so that the attempt
    is practice and counts for neither level, rating nor speed test. `passed` says whether it passed
    its level by the rules of its time, None for an exercise of no level. `level` is the number that
    the level had then and `level_id` its lasting id. `exercise_id` is the exercise's own id
    (`ExerciseRecord.key`). `hidden_until` is when the learner may see the result of work for a
    class, None for all other work and once the attempt counts for ratings and sums.
    """

    id: int
    learner_id: int
    exercise_id: str
    level: int | None
    title: str
    origin: str
    started_at: datetime
    finished_at: datetime
    day: date
    duration_s: float
    score: float
    bars: int
    listens: int
    paused: bool
    tempo_ratio: float
    first_pass: bool
    lag_beats: float | None
    app_version: str
    token: str | None
    home_shift: str | None = None
    seen: bool = False
    passed: bool | None = None
    level_id: str | None = None
    hidden_until: datetime | None = None

    def is_hidden(self, now: datetime) -> bool:
        """Whether the learner may not see the result yet."""
        return self.hidden_until is not None and now < self.hidden_until

    @property
    def counts(self) -> bool:
        """Whether the attempt says anything about what the learner hears."""
        return self.listens > 0 and not self.seen


@dataclass(frozen=True, slots=True)
class AttemptDetail:
    """An attempt with all that belongs to it; `report` is what was stored, whole."""

    record: AttemptRecord
    exercise: ExerciseRecord
    answer_text: str
    report: Json
    bars: tuple[GradedBar, ...]


@dataclass(frozen=True, slots=True)
class StoredAttempt:
    """An attempt with its exercise and its bars: what ratings and sums are made from."""

    record: AttemptRecord
    exercise: ExerciseRecord
    bars: tuple[GradedBar, ...]


@dataclass(frozen=True, slots=True)
class LevelBest:
    """The best score on a level of the course, how often and when last it was tried, and whether
    any attempt passed it. `level` is its lasting id."""

    level: str
    score: float
    attempts: int
    last_at: datetime
    passed: bool = False


@dataclass(frozen=True, slots=True)
class SkillDay:
    """A day's evidence for a skill: the bars it was in, the sum of their credits in what the skill
    is about, and in how many of them it was entirely right."""

    day: date
    skill: str
    bars: int
    score_sum: float
    right: int


@dataclass(frozen=True, slots=True)
class ConfusionCount:
    """How many chords were played as one thing and written as another (or the same).

    `written` "" is what was left out, `played` "" what was added.
    """

    played: str
    written: str
    chords: int

    @property
    def is_wrong(self) -> bool:
        """Whether they were written as something else, left out or added."""
        return self.played != self.written


@dataclass(frozen=True, slots=True)
class DayRecord:
    """A day's practice. `lag_beats` is the mean over attempts that have one, else None."""

    day: date
    attempts: int
    minutes: float
    score: float
    first_passes: int
    lag_beats: float | None


@dataclass(frozen=True, slots=True)
class NewLessonRun:
    """One go at the quick questions of a lesson, as it begins or comes from an export.

    `lesson` is the lesson's id and `seed` draws its questions. `answers` has a pair for each
    question answered: what was played and what the learner chose, by the names of the choices.
    `answered_at` is when the last of them was given, None before the first.
    """

    lesson: str
    seed: int
    day: date
    started_at: datetime
    app_version: str
    answered_at: datetime | None = None
    answers: tuple[tuple[str, str], ...] = ()

    @property
    def right(self) -> int:
        """How many answers were right."""
        return sum(played == chosen for played, chosen in self.answers)


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonRun(NewLessonRun):
    """One go at the quick questions of a lesson, as the store has it under its number `id`."""

    id: int


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did: attempts added, and those that were there already; goes at the quick
    questions of lessons, and songs of the songbook, that were added."""

    learner: Learner
    added: int
    known: int
    lessons: int = 0
    songs: int = 0


@dataclass(frozen=True, slots=True)
class RatingDay:
    """A skill's rating after a day's last attempt that showed it: mean and variance, in logits."""

    day: date
    skill: str
    mean: float
    variance: float


@dataclass(frozen=True, slots=True)
class RatingUpdate:
    """What attempts changed: the state after them, which skills they showed, the ratings that each
    of their days ended with, and the results of speed tests by the id of the attempt."""

    state: LearnerState
    skills: frozenset[str]
    days: Mapping[tuple[date, str], Rating]
    speeds: Sequence[tuple[int, SpeedResult]]


@dataclass(frozen=True, slots=True)
class ExerciseSource:
    """Where an exercise of no level came from.

    `origin` is as in `ExerciseRecord`; `in_set` says whether it was made for an item of a daily
    set, `in_placement` whether for one that finds the level. `recipe` is that of an exercise which
    was generated for no set, empty for any other.
    """

    origin: str
    in_set: bool
    in_placement: bool
    recipe: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class SetItem:
    """One item of a daily set.

    `number` counts the sets of a day, `position` the items of a set, both from 1. `kind` is "due",
    "weak", "new", "mixed" or "placement"; `status` "open", "done" or "skipped". The exercise is
    made when the item's turn comes; until then it, `expected` (how much should come out right) and
    `minutes` are None.
    """

    id: int
    learner_id: int
    day: date
    number: int
    position: int
    kind: str
    skills: tuple[str, ...]
    reason: str
    status: str
    exercise_id: str | None
    expected: float | None
    minutes: float | None
    changed_at: datetime
