"""What the store takes and gives: frozen values, free of SQL. Times are aware and in UTC."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

__all__ = [
    "AttemptDetail",
    "AttemptRecord",
    "BarResult",
    "Confusion",
    "DayRecord",
    "Draft",
    "ExerciseRecord",
    "Imported",
    "Learner",
    "LevelBest",
    "RatingDay",
    "Seat",
    "SetItem",
    "Sitting",
    "SkillDay",
    "as_utc",
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


@dataclass(frozen=True, slots=True)
class Learner:
    """A person who practises; `name` is unique in the store."""

    id: int
    name: str
    created_at: datetime


@dataclass(frozen=True, slots=True)
class ExerciseRecord:
    """An exercise as it was when first kept; `data` is its whole JSON, chart included.

    `origin` is "generated" or "song".
    """

    id: str
    level: int | None
    origin: str
    title: str
    data: Json

    @property
    def chart(self) -> Json:
        """The reference chart, in the CHART shape."""
        chart: Json = self.data["chart"]
        return chart


@dataclass(frozen=True, slots=True)
class Sitting:
    """How an attempt was made.

    `listens` counts passes through the audio begun; `tempo_ratio` is the speed played over the
    written one; `lag_beats` holds, per reference bar from the first, how long after it sounded it
    was written, None where unknown (needed only if the report does not say it bar by bar); `day`
    is the learner's own calendar day (None: that of UTC); `worked_s` how long it took (None: from
    the start to now).
    """

    started_at: datetime
    listens: int = 1
    paused: bool = False
    tempo_ratio: float = 1.0
    first_pass: bool = False
    lag_beats: tuple[float | None, ...] = ()
    day: date | None = None
    worked_s: float | None = None


# So long may nothing be heard or typed before the learner counts as away.
IDLE_S = 300.0


@dataclass(frozen=True, slots=True)
class Seat:
    """An exercise being written. `token` names its handing-in; `speeds` has one entry a listen
    begun, in per cent of the tempo; `worked_s` seconds were worked until `seen_at`.
    """

    started_at: datetime
    token: str
    speeds: tuple[int, ...]
    worked_s: float
    seen_at: datetime

    @property
    def listens(self) -> int:
        """Passes through the audio begun."""
        return len(self.speeds)

    def left(self, allowed: int) -> int | None:
        """Listens left of those allowed; None where there is no limit (0 allowed)."""
        return max(0, allowed - self.listens) if allowed else None

    def worked_until(self, now: datetime) -> float:
        """Seconds worked until now; who was away, or has set the clock back, did not work."""
        since = (now - self.seen_at).total_seconds()
        return self.worked_s + min(max(0.0, since), IDLE_S)


@dataclass(frozen=True, slots=True)
class BarResult:
    """One line of a report with what it teaches. Bars count from 1; scores are 0 to 1.

    `reference` None is a bar added by the learner, `answer` None one left out. `played` and
    `written` are the chords of the bar joined by "_", "" where there is no bar; `mixed` are the
    chords written for another, each (played, written). None in a score is "not comparable".
    `phrase_end` and `section_start` are 1 where the answer has such a limit where the reference has
    one, 0 where it has not, None where the reference has none.
    """

    position: int
    reference: int | None
    answer: int | None
    score: float | None
    root: float | None
    quality: float | None
    bass: float | None
    placement: float | None
    articulation: float | None
    meter: float | None
    key_change: float | None
    strict: float | None
    lag_beats: float | None
    played: str
    written: str
    mixed: tuple[tuple[str, str], ...]
    skills: tuple[str, ...]
    phrase_end: float | None = None
    section_start: float | None = None


@dataclass(frozen=True, slots=True)
class AttemptRecord:
    """One attempt, without its papers. `lag_beats` is the mean over the bars that have one, those
    written ahead of the sound as 0; `home_shift` the kind of the report's, None without one.
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


@dataclass(frozen=True, slots=True)
class AttemptDetail:
    """An attempt with all that belongs to it; `report` is what was stored, whole."""

    record: AttemptRecord
    exercise: ExerciseRecord
    answer_text: str
    report: Json
    bars: tuple[BarResult, ...]


@dataclass(frozen=True, slots=True)
class LevelBest:
    """The best score on a level of the course, and how often and when last it was tried."""

    level: int
    score: float
    attempts: int
    last_at: datetime


@dataclass(frozen=True, slots=True)
class Draft:
    """What was typed so far and not yet handed in."""

    text: str
    updated_at: datetime


@dataclass(frozen=True, slots=True)
class SkillDay:
    """A day's evidence for a skill: bars met, sum of their credits in what the skill is about, and
    in how many that was wholly right."""

    day: date
    skill: str
    bars: int
    score_sum: float
    right: int


@dataclass(frozen=True, slots=True)
class Confusion:
    """How many chords were played as one thing and written as another (or the same).

    `written` "" is what was left out, `played` "" what was added.
    """

    played: str
    written: str
    chords: int


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
class Imported:
    """What an import did: attempts added, and those that were there already."""

    learner: Learner
    added: int
    known: int


@dataclass(frozen=True, slots=True)
class RatingDay:
    """A skill's rating after a day's last attempt that showed it: mean and variance, in logits."""

    day: date
    skill: str
    mean: float
    variance: float


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
