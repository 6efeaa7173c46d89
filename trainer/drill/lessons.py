"""Lessons: two or three sounds by name, then five quick questions "which did you hear?".

A run is one go at the five questions. It is stored when it begins and after each answer, so that a
learner who closes the page can carry on later. It is practice: it counts in what the learner has
done and for no level, rating or set (`trainer.practice.lessons` says why).
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer import __version__
from trainer.band import Arrangement, arrange
from trainer.drill.drills import Drills
from trainer.errors import SettingsError
from trainer.exercise import QUESTIONS, Lesson, Level, Question, SignExample, make_questions
from trainer.practice import level_lessons
from trainer.store import LessonRun, NewLessonRun

if TYPE_CHECKING:
    from trainer.store import Learner, Repositories

__all__ = [
    "LessonRecord",
    "answer_question",
    "begin_questions",
    "find_run",
    "is_finished",
    "lesson_records",
    "next_question",
    "offered_lessons",
    "play_example",
    "play_question",
    "play_sign",
    "run_questions",
]


@dataclass(frozen=True, slots=True)
class LessonRecord:
    """What a learner did in a lesson: questions answered and right in all, how many of five were
    right in the best run that was finished (None: none was), and when it was last."""

    lesson: str
    answered: int
    right: int
    best: int | None
    last_at: datetime

    @property
    def is_done(self) -> bool:
        """Whether all its questions were ever answered."""
        return self.best is not None


def begin_questions(drills: Drills, lesson: Lesson, seed: int) -> LessonRun:
    """Begin a run with the questions of a seed, or go on with one of today that is not finished."""

    def work(store: Repositories) -> LessonRun:
        learner, now = drills.learner, drills.clock()
        store.learners.lock(learner)
        newest = store.lesson_runs.newest(learner, lesson.id)
        if newest is not None and newest.day == drills.today and not is_finished(newest):
            return newest
        fresh = NewLessonRun(lesson.id, seed, drills.today, now, __version__)
        return store.lesson_runs.add(learner, fresh)

    return drills.store.transact(work)


def find_run(drills: Drills, run_id: int) -> LessonRun | None:
    """A run of the learner; None if there is no such run. Nothing is stored."""
    return drills.store.lesson_runs.find(drills.learner, run_id)


def is_finished(run: NewLessonRun) -> bool:
    """Whether all questions of a run are answered."""
    return len(run.answers) >= QUESTIONS


def run_questions(lesson: Lesson, run: NewLessonRun) -> tuple[Question, ...]:
    """The questions of a run."""
    return make_questions(lesson, run.seed)


def next_question(lesson: Lesson, run: NewLessonRun) -> Question | None:
    """The question that a run is at; None when all are answered."""
    return None if is_finished(run) else run_questions(lesson, run)[len(run.answers)]


def answer_question(
    drills: Drills, lesson: Lesson, run: LessonRun, number: int, choice: int
) -> LessonRun:
    """Store the answer to a question of a run; the first answer to a question stays.

    `number` counts questions from 1, `choice` the lesson's choices from 0. Raises SettingsError for
    a question or a choice that doesn't exist, or a question whose turn has not come.
    """
    if not 0 <= choice < len(lesson.choices):
        names = ", ".join(each.name for each in lesson.choices)
        raise SettingsError("answer", str(choice), f"one of the choices {names}")

    def work(store: Repositories) -> LessonRun:
        found = store.lesson_runs.find(drills.learner, run.id, lock=True)
        if found is None:
            raise SettingsError("lesson", f"run {run.id}", "a run of this learner")
        if 1 <= number <= len(found.answers):
            return found
        question = next_question(lesson, found)
        if question is None or number != question.number:
            raise SettingsError("question", str(number), f"question {len(found.answers) + 1} next")
        played, chosen = (lesson.choices[each].name for each in (question.right, choice))
        return store.lesson_runs.answer(found, played, chosen, drills.clock())

    return drills.store.transact(work)


def lesson_records(store: Repositories, learner: Learner) -> Mapping[str, LessonRecord]:
    """What a learner did in each lesson that they answered anything in, by the lesson's id."""
    runs: dict[str, list[LessonRun]] = {}
    for run in store.lesson_runs.all(learner):
        if run.answers:
            runs.setdefault(run.lesson, []).append(run)
    return {lesson: _record(lesson, inside) for lesson, inside in runs.items()}


def _record(lesson: str, runs: Sequence[LessonRun]) -> LessonRecord:
    return LessonRecord(
        lesson,
        answered=sum(len(run.answers) for run in runs),
        right=sum(run.right for run in runs),
        best=max((run.right for run in runs if is_finished(run)), default=None),
        last_at=max(run.answered_at or run.started_at for run in runs),
    )


def offered_lessons(
    store: Repositories, learner: Learner, lessons: Sequence[Lesson], levels: Iterable[Level]
) -> tuple[Lesson, ...]:
    """The lessons that levels open with and that the learner has not done yet, each once."""
    records = lesson_records(store, learner)
    found = [
        lesson
        for level in levels
        for lesson in level_lessons(lessons, level)
        if lesson.id not in records or not records[lesson.id].is_done
    ]
    return tuple(dict.fromkeys(found))


def play_example(lesson: Lesson, choice: int) -> Arrangement:
    """The example of a choice, played by the lesson's band."""
    return arrange(lesson.example(choice), rng=lesson.example_rng(), band=lesson.band)


def play_question(question: Question, choice: int | None = None) -> Arrangement:
    """What a question plays, or how it would sound if another choice were played."""
    chart = question.chart(question.right if choice is None else choice)
    return arrange(chart, rng=question.band_rng(), band=question.lesson.band)


def play_sign(sign: SignExample) -> Arrangement:
    """The chart in which a sign is heard, played by a small band."""
    return arrange(sign.chart, rng=random.Random(sign.id), band="small")
