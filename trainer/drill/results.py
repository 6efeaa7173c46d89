"""What attempts are for and what they count for; and reading stored attempts back.

An attempt is of a level or of another kind, and may be practice alone. Whether it passed its level
is decided once, when it is submitted, and stored with it: later rules change nothing that is on
record.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING

from trainer.errors import ResultHidden
from trainer.exercise import ASSIGNED, EXCERPT, Answer, Exercise, Level, load_course, read_answer
from trainer.practice import GradedBar, Verdict, disqualification, is_speed_test, judge
from trainer.store import AttemptDetail, AttemptRecord, ExerciseSource, Learner

if TYPE_CHECKING:
    from trainer.store import ExerciseRecord, LevelBest, Repositories, StoredReport

__all__ = [
    "BARS",
    "RECIPE",
    "SEEN_BEFORE",
    "SEEN_NOW",
    "SPEED_TEST",
    "Result",
    "attempt_kind",
    "exercise_kinds",
    "find_result",
    "is_practice",
    "level_of",
    "level_verdict",
    "passed_levels",
    "why_no_speed_test",
]

MOST_ID = 2**63
SPEED_TEST, RECIPE, BARS = "speed test", "recipe", "bars practised"
HIDDEN = "You've handed this in. You'll find the result here when your teacher shows it."
_PRACTICE = (
    "so this is practice: it is graded, but it doesn't count for the level, your ratings or the "
    "speed test."
)
# Before the song is written, and after.
SEEN_NOW = f"You have seen this song's chart, {_PRACTICE}"
SEEN_BEFORE = f"You had seen this song's chart, {_PRACTICE}"


def exercise_kinds(
    store: Repositories, learner: Learner, shown: Iterable[AttemptRecord] | None = None
) -> Mapping[str, str]:
    """The kinds of a learner's exercises that belong to no level, by the exercises' ids; with
    `shown`, of the exercises of these attempts only.

    Kinds are "song", "daily set", "finding your level", "speed test", "assignment",
    "bars practised" and "recipe".
    """
    wanted = None if shown is None else [one.id for one in shown if one.level_id is None]
    sources = store.sets.sources(learner, wanted) if wanted != [] else {}
    return {key: _kind(source) for key, source in sources.items()}


def attempt_kind(attempt: AttemptRecord, kinds: Mapping[str, str]) -> str:
    """What an attempt was for: "level 6", or the kind of its exercise in `kinds`.

    A level is named by its number today, with the one it had then where that was another.
    """
    if attempt.level_id is None:
        return kinds.get(attempt.exercise_id, RECIPE)
    today = _levels().get(attempt.level_id)
    if today is None:
        return f"level {attempt.level} of an earlier course"
    then = "" if today.number == attempt.level else f" (was {attempt.level})"
    return f"level {today.number}{then}"


def _kind(source: ExerciseSource) -> str:
    if source.origin == "song":
        return "song"
    if source.in_set:
        return "finding your level" if source.in_placement else "daily set"
    if EXCERPT in source.recipe:
        return BARS
    if ASSIGNED in source.recipe:
        return ASSIGNED
    return SPEED_TEST if is_speed_test(source.recipe) else RECIPE


def is_practice(
    store: Repositories, learner: Learner, record: ExerciseRecord, now: datetime
) -> bool:
    """Whether an attempt at an exercise would be practice that counts for nothing else: its chart,
    or the song that its bars are of, was shown to the learner before."""
    return EXCERPT in record.exercise.recipe or store.attempts.has_seen(learner, record.song, now)


@cache
def _levels() -> Mapping[str, Level]:
    return {level.id: level for level in load_course()}


def level_of(level_id: str | None) -> Level | None:
    """The level of the course with that id; None if there is none today."""
    return _levels().get(level_id) if level_id is not None else None


def level_verdict(
    exercise: Exercise, bars: Sequence[GradedBar], score: float, home_shift: str | None
) -> Verdict | None:
    """A graded attempt judged for the level of its exercise by today's rules; None if the
    exercise is of no level of the course.

    Parameters as those of `trainer.practice.judge`.
    """
    level = level_of(exercise.level_id)
    return judge(level, exercise, bars, score, home_shift) if level is not None else None


def passed_levels(best: Mapping[str, LevelBest]) -> frozenset[str]:
    """The ids of the levels that were passed, of what `best_by_level` gives."""
    return frozenset(level_id for level_id, level in best.items() if level.passed)


@dataclass(frozen=True, slots=True)
class Result:
    """An attempt with all that belongs to it; its answer is parsed from the stored text."""

    detail: AttemptDetail
    answer: Answer
    report: StoredReport

    @property
    def exercise(self) -> Exercise:
        """The exercise that was answered."""
        return self.detail.exercise.exercise

    @property
    def is_speed_test(self) -> bool:
        """Whether it was an attempt at the speed self-test."""
        return is_speed_test(self.exercise.recipe)

    @property
    def why_no_test(self) -> str:
        """Why it does not count as a speed self-test, in words; "" if it does."""
        return why_no_speed_test(self.detail.record)

    @property
    def passed(self) -> bool | None:
        """Whether it passed its level by the rules of its time; None if it is of no level, or does
        not count."""
        record = self.detail.record
        return record.passed if record.counts else None

    @property
    def verdict(self) -> Verdict | None:
        """The attempt judged for its level by today's rules; None if it belongs to no level."""
        record = self.detail.record
        return level_verdict(self.exercise, self.detail.bars, record.score, record.home_shift)


def why_no_speed_test(attempt: AttemptRecord) -> str:
    """Why an attempt at the speed self-test does not count as one, in words; "" if it does."""
    return disqualification(
        listens=attempt.listens,
        paused=attempt.paused,
        tempo_ratio=attempt.tempo_ratio,
        is_timed=attempt.lag_beats is not None,
        seen=attempt.seen,
    )


def find_result(
    store: Repositories, learner: Learner, attempt_id: int, now: datetime | None = None
) -> Result | None:
    """A learner's attempt of that id; None if there is none of theirs.

    Without `now`, a result that was hidden stays hidden until it counts (`let_results_count`).

    Raises
    ------
    ResultHidden
        If it is work for a class and its result is not shown yet.
    StoreBroken
        If what is stored of it cannot be read.
    """
    from trainer.store import read_report

    detail = store.attempts.get(attempt_id) if 0 < attempt_id < MOST_ID else None
    if detail is None or detail.record.learner_id != learner.id:
        return None
    record = detail.record
    if record.hidden_until is not None and (now is None or record.is_hidden(now)):
        raise ResultHidden(HIDDEN)
    report = read_report(detail.report, f"attempt {attempt_id}")
    return Result(detail, read_answer(detail.exercise.exercise, detail.answer_text), report)
