"""Lessons: the learner hears each choice by name and then answers five quick questions."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, BackgroundTasks, Form, HTTPException, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from trainer.drill import (
    answer_question,
    begin_questions,
    find_run,
    is_finished,
    lesson_records,
    next_question,
    play_example,
    play_question,
    run_questions,
)
from trainer.exercise import QUESTIONS, Choice, Lesson, Question, new_seed
from trainer.practice import level_lessons
from trainer.store import LessonRun
from trainer.web.context import Context, LearnerContext, templates
from trainer.web.numbers import RowNumber
from trainer.web.views.sheet import Sheet, sheet_of_chart

__all__ = ["router"]

router = APIRouter(prefix="/lessons")
SEE_OTHER, NOT_FOUND = 303, 404
EXERCISE_ID = re.compile(r"[0-9a-zA-Z-]{1,200}")
GROUP_TITLES = {
    "signs": "Signs on the chart",
    "chords": "Chords that get mixed up",
    "form and time": "Form and time",
}


@dataclass(frozen=True, slots=True)
class ChoiceView:
    """A choice with its chart as drawn, and where its sound is asked for."""

    choice: Choice
    sheet: Sheet
    sound: str


@dataclass(frozen=True, slots=True)
class QuestionView:
    """A question of a run.

    `chosen` is the choice that the learner made, None before; `choices` are empty until then, for
    their charts would tell the answer. `sound` is where what is played is asked for.
    """

    question: Question
    chosen: int | None
    sound: str
    choices: tuple[ChoiceView, ...]

    @property
    def is_right(self) -> bool:
        """Whether the learner chose what was played."""
        return self.chosen == self.question.right


@router.get("")
def lessons(context: Context) -> HTMLResponse:
    """All lessons by group, with what was done in each."""
    groups = [
        (GROUP_TITLES[group], list(inside))
        for group, inside in groupby(context.lessons, key=lambda lesson: lesson.group)
    ]
    records = lesson_records(context.store, context.learner)
    return context.page("lessons.html", {"groups": groups, "records": records, "total": QUESTIONS})


@router.get("/{lesson_id}")
def lesson(
    context: Context, after: BackgroundTasks, lesson_id: str, then: str = ""
) -> HTMLResponse:
    """What a lesson teaches, and each of its choices to hear by name; once the page is sent, the
    sound of the first choice is begun.

    `then` is, here and below, the exercise to go back to.
    """
    found = _lesson(context, lesson_id)
    after.add_task(_begin_example, context, found, 0)
    choices = tuple(
        ChoiceView(
            choice,
            sheet_of_chart(found.example(number)),
            f"/lessons/{found.id}/sound?choice={number}",
        )
        for number, choice in enumerate(found.choices)
    )
    return context.page(
        "lesson.html",
        {
            "lesson": found,
            "choices": choices,
            "record": lesson_records(context.store, context.learner).get(found.id),
            "levels": _levels(context, found),
            "then": _exercise(then),
        },
    )


@router.get("/{lesson_id}/sound")
def example_sound(
    context: Context,
    after: BackgroundTasks,
    lesson_id: str,
    choice: Annotated[int, Query(ge=0)],
) -> Any:
    """The example of a choice as sound; the next choice is begun afterwards."""
    found = _lesson(context, lesson_id)
    if choice >= len(found.choices):
        raise HTTPException(NOT_FOUND, "This lesson has no such sound.")
    after.add_task(_begin_example, context, found, (choice + 1) % len(found.choices))
    return context.sound(play_example(found, choice))


@router.post("/{lesson_id}/begin")
def begin(context: Context, lesson_id: str, then: Annotated[str, Form()] = "") -> RedirectResponse:
    """Begin the five questions, or go on with those that were left today."""
    run = begin_questions(context.drills, _lesson(context, lesson_id), new_seed())
    query = f"?then={_exercise(then)}" if _exercise(then) else ""
    return RedirectResponse(f"/lessons/{lesson_id}/{run.id}{query}", SEE_OTHER)


@router.get("/{lesson_id}/{run_id}")
def questions(
    context: Context,
    after: BackgroundTasks,
    lesson_id: str,
    run_id: RowNumber,
    told: Annotated[int | None, Query()] = None,
    then: str = "",
) -> HTMLResponse:
    """The question that a run is at; the answer to question `told`; at the end, how it went.

    Once the page is sent, the sound of the question is begun.
    """
    found = _lesson(context, lesson_id)
    run = _run(context, found, run_id)
    asked = next_question(found, run)
    if asked is not None:
        after.add_task(_begin_question, context, asked)
    return context.page("questions.html", _values(context, found, run, told, then))


@router.post("/{lesson_id}/{run_id}")
def answer(
    context: Context,
    request: Request,
    lesson_id: str,
    run_id: RowNumber,
    number: Annotated[int, Form()],
    choice: Annotated[int, Form()],
    then: Annotated[str, Query()] = "",
) -> Response:
    """Store an answer and tell whether it was right."""
    found = _lesson(context, lesson_id)
    run = answer_question(context.drills, found, _run(context, found, run_id), number, choice)
    if "application/json" not in request.headers.get("accept", ""):
        query = f"&then={_exercise(then)}" if _exercise(then) else ""
        return RedirectResponse(f"/lessons/{lesson_id}/{run_id}?told={number}{query}", SEE_OTHER)
    values = _values(context, found, run, number, then)
    return JSONResponse({"html": templates().get_template("_question.html").render(values)})


@router.get("/{lesson_id}/{run_id}/sound")
def question_sound(
    context: Context,
    after: BackgroundTasks,
    lesson_id: str,
    run_id: RowNumber,
    number: Annotated[int, Query(ge=1, le=QUESTIONS)],
    choice: Annotated[int | None, Query(ge=0)] = None,
) -> Any:
    """What a question plays; once it is answered, also how any other choice would sound."""
    found = _lesson(context, lesson_id)
    run = _run(context, found, run_id)
    is_answered = number <= len(run.answers)
    if number > len(run.answers) + 1 or (choice is not None and not is_answered):
        raise HTTPException(NOT_FOUND, "Answer the question first: then you can hear both.")
    if choice is not None and choice >= len(found.choices):
        raise HTTPException(NOT_FOUND, "This lesson has no such sound.")
    every = run_questions(found, run)
    if is_answered and number < len(every):
        after.add_task(_begin_question, context, every[number])
    return context.sound(play_question(every[number - 1], choice))


def _begin_example(context: LearnerContext, lesson: Lesson, choice: int) -> None:
    """Begin to render the example of a choice."""
    context.sound(play_example(lesson, choice), soon=True)


def _begin_question(context: LearnerContext, question: Question) -> None:
    """Begin to render what a question plays."""
    context.sound(play_question(question), soon=True)


def _lesson(context: LearnerContext, lesson_id: str) -> Lesson:
    """The lesson of that id. Raises HTTPException 404."""
    for found in context.lessons:
        if found.id == lesson_id:
            return found
    raise HTTPException(NOT_FOUND, "There is no such lesson here. Choose one in Lessons.")


def _exercise(then: str) -> str:
    """The id of an exercise to go back to; "" for what cannot be one."""
    return then if EXERCISE_ID.fullmatch(then) else ""


def _run(context: LearnerContext, lesson: Lesson, run_id: int) -> LessonRun:
    """The learner's run at a lesson. Raises HTTPException 404."""
    run = find_run(context.drills, run_id)
    if run is None or run.lesson != lesson.id:
        raise HTTPException(NOT_FOUND, "These questions are no longer here. Start them again.")
    return run


def _values(
    context: LearnerContext, lesson: Lesson, run: LessonRun, told: int | None, then: str
) -> dict[str, Any]:
    """What the page and the fragment of a run's question are drawn from."""
    every = tuple(_question(lesson, run, question) for question in run_questions(lesson, run))
    count = len(run.answers)
    number = told if told is not None and 1 <= told <= count else None
    shown = None
    if number is not None:
        shown = every[number - 1]
    elif not is_finished(run):
        shown = every[count]
    return {
        "lesson": lesson,
        "run": run,
        "questions": every,
        "shown": shown,
        "total": QUESTIONS,
        "levels": _levels(context, lesson),
        "then": _exercise(then),
    }


def _question(lesson: Lesson, run: LessonRun, question: Question) -> QuestionView:
    place = f"/lessons/{lesson.id}/{run.id}/sound?number={question.number}"
    if question.number > len(run.answers):
        return QuestionView(question, None, place, ())
    names = [choice.name for choice in lesson.choices]
    name = run.answers[question.number - 1][1]
    choices = tuple(
        ChoiceView(choice, sheet_of_chart(question.chart(number)), f"{place}&choice={number}")
        for number, choice in enumerate(lesson.choices)
    )
    return QuestionView(question, names.index(name) if name in names else -1, place, choices)


def _levels(context: LearnerContext, lesson: Lesson) -> tuple[Any, ...]:
    """The levels that open with a lesson."""
    return tuple(level for level in context.course if lesson in level_lessons((lesson,), level))
