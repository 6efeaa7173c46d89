"""Importing a learner's record from an export, with the ratings and sums that follow from it."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from trainer.drill.importing_songs import add_songs
from trainer.drill.ratings import rebuild
from trainer.errors import FileError
from trainer.practice import mean_lag
from trainer.store import AttemptRecord, ExerciseRecord, Imported, Learner, NewAttempt, OpenDrill

if TYPE_CHECKING:
    from trainer.store import AttemptEntry, LearnerExport, Repositories

__all__ = ["import_record"]

# The marks of the course when a score alone passed a level (as in the migration 0006),
# for exports that do not say whether an attempt passed.
LAST_LEVEL = 31
USUAL_MARK, LOWER_MARK = 0.85, 0.8
LOWER_LEVELS = frozenset((13, 17, 26, 29))


def import_record(
    store: Repositories, data: Mapping[str, Any], name: str | None = None
) -> Imported:
    """Add an export to the learner of that name (or of the one in it): all of it or nothing.

    What is there already stays as it is, so importing twice adds nothing. A learner who is new here
    has not been shown the hearing caution yet.

    Raises
    ------
    FileError
        If the data is not such an export; says where, what was found and what was expected.
    StoreError
        If an exercise is kept here with another chart under the same id.
    """
    from trainer.store import read_export

    export = read_export(data)

    def work(within: Repositories) -> Imported:
        learner = _learner(within, export, name)
        within.learners.lock(learner)
        kept = {each.id: within.exercises.keep(learner, each) for each in export.exercises}
        added = _add_attempts(within, learner, export, kept)
        _add_drafts(within, learner, export)
        lessons = _add_lessons(within, learner, export)
        songs = add_songs(within, learner, export)
        if added:
            rebuild(within, learner)
        return Imported(learner, added, len(export.attempts) - added, lessons, songs)

    return store.transact(work)


def _learner(store: Repositories, export: LearnerExport, name: str | None) -> Learner:
    said = export.learner
    known = store.learners.get(name or said.name)
    if known is not None:
        return known
    # Two learners of one store never share an id, whatever name the second is given.
    free = said.uid is not None and store.learners.by_uid(said.uid) is None
    return store.learners.add(name or said.name, said.created_at, said.uid if free else None)


def _add_attempts(
    store: Repositories,
    learner: Learner,
    export: LearnerExport,
    kept: Mapping[str, ExerciseRecord],
) -> int:
    there = {_identity(each.record) for each in store.attempts.log(learner)}
    added = 0
    for number, entry in enumerate(export.attempts):
        exercise = kept.get(entry.exercise_id)
        if exercise is None:
            raise FileError(
                f"import, attempts[{number}]: found the exercise {entry.exercise_id!r}, expected "
                "one that the export holds"
            )
        if _identity(entry) in there:
            continue
        store.attempts.add(learner, exercise, _new_attempt(entry, exercise))
        added += 1
    return added


def _identity(attempt: AttemptEntry | AttemptRecord) -> tuple[object, ...]:
    return attempt.exercise_id, attempt.started_at, attempt.finished_at


def _new_attempt(entry: AttemptEntry, exercise: ExerciseRecord) -> NewAttempt:
    bars = entry.graded_bars()
    return NewAttempt(
        answer_text=entry.answer_text,
        report=entry.report,
        bars=bars,
        score=entry.score,
        started_at=entry.started_at,
        finished_at=entry.finished_at,
        day=entry.day,
        worked_s=entry.duration_s,
        listens=entry.listens,
        paused=entry.paused,
        tempo_ratio=entry.tempo_ratio,
        first_pass=entry.first_pass,
        lag_beats=mean_lag(bars),
        seen=entry.seen,
        token=entry.token,
        home_shift=entry.home_shift,
        app_version=entry.app_version,
        passed=_has_passed(entry, exercise),
    )


def _has_passed(entry: AttemptEntry, exercise: ExerciseRecord) -> bool | None:
    """Whether an attempt passed its level: as the export says, or as it was when those were
    written that do not say it."""
    if entry.passed is not None:
        return entry.passed
    level = exercise.exercise.level
    return _passed_by_score(level, entry.score, entry.listens, seen=entry.seen)


def _passed_by_score(level: int | None, score: float, listens: int, *, seen: bool) -> bool | None:
    """Whether an attempt passed its level when a score at the mark was enough; None if it was at
    no level of that course."""
    if level is None or not 1 <= level <= LAST_LEVEL:
        return None
    mark = LOWER_MARK if level in LOWER_LEVELS else USUAL_MARK
    return listens > 0 and not seen and score >= mark


def _add_drafts(store: Repositories, learner: Learner, export: LearnerExport) -> None:
    """Store the text typed for exercises that the learner has here, unless they already have text
    here.
    """
    for entry in export.drafts:
        exercise = store.exercises.get(learner, entry.exercise_id)
        if exercise is None:
            continue
        fresh = OpenDrill(
            token=secrets.token_urlsafe(18),
            started_at=entry.updated_at,
            seen_at=entry.updated_at,
            text=entry.text,
            text_at=entry.updated_at,
        )
        store.open_drills.begin(learner, exercise, fresh)


def _add_lessons(store: Repositories, learner: Learner, export: LearnerExport) -> int:
    """Store the answers in lessons, unless they are here already. Returns how many runs are new."""
    there = {(run.lesson, run.started_at) for run in store.lesson_runs.all(learner)}
    added = [each for each in export.lessons if (each.lesson, each.started_at) not in there]
    for entry in added:
        store.lesson_runs.add(learner, entry.run())
    return len(added)
