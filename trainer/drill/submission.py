"""Submitting an answer: grade it, store it with all that follows from it, once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Protocol

from trainer import __version__
from trainer.drill.drills import NOT_UNDER_WAY, Drill, Drills, check_length, worked_until
from trainer.drill.playback import FULL_SPEED, timing_of
from trainer.drill.ratings import add_attempt, let_results_count
from trainer.drill.results import is_practice, level_verdict
from trainer.drill.stamps import bars_done_s, read_stamps
from trainer.errors import DrillReplaced, NothingWritten
from trainer.exercise import Answer, read_answer
from trainer.grade import Report, Timing, Weights, grade, weights_for
from trainer.practice import Verdict, graded_bars, mean_lag
from trainer.store import (
    AttemptRecord,
    ExerciseRecord,
    NewAttempt,
    OpenDrill,
    StoredAttempt,
    storable,
)

if TYPE_CHECKING:
    from trainer.store import Repositories

__all__ = ["Place", "Submitted", "submit"]

REPLACED = (
    "This song was handed in from another window, and its result is in History. What you wrote "
    "here stays in the field. To hand it in too, copy it and load the page again."
)


class Place(Protocol):
    """Where an attempt belongs in work for a class."""

    @property
    def weights(self) -> Weights:
        """What counts how much in its grade."""
        ...

    def admit(self, store: Repositories, now: datetime) -> datetime | None:
        """Until when the learner may not see the result; None for not at all.

        Within the transaction that stores the attempt. Raises InputError if the attempt does not
        belong there any more; then nothing is stored.
        """
        ...

    def keep(self, store: Repositories, attempt: AttemptRecord, text: str) -> None:
        """Store the attempt at a text in its place, within the same transaction."""
        ...


@dataclass(frozen=True, slots=True)
class Submitted:
    """A graded answer: the attempt on record, what it answers, the report, and the verdict on the
    level of its exercise, None if it has none.
    """

    attempt: AttemptRecord
    exercise: ExerciseRecord
    answer: Answer
    report: Report
    verdict: Verdict | None


def submit(
    drills: Drills,
    key: str,
    text: str,
    *,
    token: str,
    stamps: str = "",
    paused: bool = False,
    place: Place | None = None,
) -> Submitted:
    """Grade an answer and store the attempt with its ratings, sums and set: all of it or nothing.

    Submitting again with the same token returns the attempt that was stored first.

    Parameters
    ----------
    drills : of the learner who submits.
    key : the exercise's id.
    token : the open drill's.
    stamps : when the text was typed (`trainer.drill.stamps`); "" if that is not known.
    paused : whether the band was stopped on the way, if that was not noted before.
    place : where the attempt belongs in work for a class; None for all other work.

    Raises
    ------
    NothingWritten, TextTooLong
        If there is no text, or it is longer than any chart.
    DrillReplaced
        If another text was submitted under this token, or the token is of no drill here.
    StoreError
        If it cannot be stored; the drill with what was typed is then still there.
    """
    check_length(text)
    text = storable(text)
    if not text.strip():
        raise NothingWritten(
            "You haven't written anything yet. Write what you heard; a guess can score too."
        )
    record = drills.store.exercises.get(drills.learner, key)
    if record is None:
        raise DrillReplaced(NOT_UNDER_WAY)
    open_drill = drills.store.open_drills.find(drills.learner, record)
    answer = read_answer(record.exercise, text)
    now = drills.clock()
    if open_drill is not None:
        open_drill = replace(open_drill, paused=open_drill.paused or paused)
    # The grading comes before the lock, so that others wait only while the attempt is stored.
    weights = weights_for(record.exercise.ask) if place is None else place.weights
    report = _graded(record, answer, open_drill, stamps, weights)

    def work(store: Repositories) -> Submitted:
        store.learners.lock(drills.learner)
        known = store.attempts.find_token(drills.learner, token)
        if known is not None:
            return _submitted_before(store, known, key, answer, report)
        found = store.open_drills.find(drills.learner, record, lock=True)
        if found is None or found.token != token:
            raise DrillReplaced(REPLACED)
        present = replace(found, paused=found.paused or paused)
        # Another page may have begun a listen, or stopped the band, since the grading.
        final = report
        if open_drill is None or _heard(present) != _heard(open_drill):
            final = _graded(record, answer, present, stamps, weights)
        new = _new_attempt(drills, Drill(record, present), answer, final, now)
        seen = is_practice(store, drills.learner, record, now)
        verdict = level_verdict(record.exercise, new.bars, new.score, new.home_shift)
        passed = None
        if verdict is not None:
            passed = verdict.passed and new.listens > 0 and not seen
        hidden_until = None if place is None else place.admit(store, now)
        new = replace(new, seen=seen, passed=passed, hidden_until=hidden_until)
        attempt = _store(drills, store, record, new)
        if place is not None:
            place.keep(store, attempt, answer.text)
        return Submitted(attempt, record, answer, final, verdict)

    return drills.store.transact(work)


def _submitted_before(
    store: Repositories, attempt_id: int, key: str, answer: Answer, report: Report
) -> Submitted:
    """The attempt that was stored under the same token. Raises DrillReplaced if it is another."""
    detail = store.attempts.get(attempt_id)
    assert detail is not None
    if detail.answer_text != answer.text or detail.exercise.key != key:
        raise DrillReplaced(REPLACED)
    stored = detail.record
    verdict = level_verdict(detail.exercise.exercise, detail.bars, stored.score, stored.home_shift)
    return Submitted(stored, detail.exercise, answer, report, verdict)


def _heard(drill: OpenDrill) -> tuple[tuple[int, ...], bool]:
    """What the grade depends on in a drill: the listens and whether the band was stopped."""
    return drill.speeds, drill.paused


def _graded(
    record: ExerciseRecord,
    answer: Answer,
    drill: OpenDrill | None,
    stamps: str,
    weights: Weights,
) -> Report:
    timing = _timing(record, answer, drill, stamps) if drill is not None else None
    return grade(record.exercise.chart, answer.chart, weights=weights, timing=timing)


def _timing(record: ExerciseRecord, answer: Answer, drill: OpenDrill, stamps: str) -> Timing | None:
    """When the bars were written; None unless something was heard and the stamps are whole."""
    runs = read_stamps(stamps)
    if runs is None or not drill.listens or answer.chart is None:
        return None
    return timing_of(
        record.exercise,
        bars_done_s(answer.text, answer.parsed.bar_spans, runs),
        speed=drill.speeds[0],
        listens=drill.listens,
        paused=drill.paused,
    )


def _new_attempt(
    drills: Drills, drill: Drill, answer: Answer, report: Report, now: datetime
) -> NewAttempt:
    progress, bars = drill.progress, graded_bars(report, drill.exercise, answer)
    return NewAttempt(
        answer_text=answer.text,
        report=report,
        bars=bars,
        score=report.score,
        # A clock that was set back must not let it end before it began.
        started_at=min(progress.started_at, now),
        finished_at=now,
        day=now.astimezone(drills.zone).date(),
        worked_s=worked_until(progress, now),
        listens=progress.listens,
        paused=progress.paused,
        tempo_ratio=min(progress.speeds, default=FULL_SPEED) / FULL_SPEED,
        first_pass=report.speed.first_pass if report.speed is not None else False,
        lag_beats=mean_lag(bars),
        seen=False,
        token=progress.token,
        home_shift=report.home_shift.kind if report.home_shift is not None else None,
        app_version=__version__,
    )


def _store(
    drills: Drills, store: Repositories, record: ExerciseRecord, new: NewAttempt
) -> AttemptRecord:
    """Store the attempt and what follows from it, within a transaction."""
    learner = drills.learner
    let_results_count(store, learner, new.finished_at)
    attempt = store.attempts.add(learner, record, new)
    if attempt.hidden_until is None:
        add_attempt(store, learner, StoredAttempt(attempt, record, new.bars))
    store.sets.finish(learner, record, new.finished_at)
    store.open_drills.close(learner, record)
    return attempt
