"""Result: the chart played and the chart written, to see, to hear and to print."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, HTTPException, Query
from fastapi.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response

from trainer.band import playing_time_s
from trainer.chart import Chart, format_chart
from trainer.classroom.results import class_result, handed_in
from trainer.drill import (
    Result,
    find_result,
    level_of,
    play_answer,
    play_bars,
    play_song,
    stretches_to_practise,
)
from trainer.errors import InputError, ResultHidden
from trainer.exercise import EXCERPT, Lesson
from trainer.export import Names, SheetSettings, write_sheet
from trainer.practice import (
    describe_skill,
    describe_verdict,
    lesson_for_advice,
    lesson_for_skill,
)
from trainer.sound import check_playing_time
from trainer.store import StoredReport
from trainer.web.context import Context, LearnerContext
from trainer.web.downloads import show_file
from trainer.web.today import set_place, today_so_far
from trainer.web.views.result import lag_plot, result_view, weight_rows, wrote_along
from trainer.web.views.sheet import sheet_of_chart, sheet_of_text

__all__ = ["router"]

router = APIRouter()
SEE_OTHER, NOT_FOUND = 303, 404


def result_of(context: LearnerContext, attempt_id: int) -> Result:
    """An attempt of this learner. Raises HTTPException 404."""
    found = find_result(context.store, context.learner, attempt_id, context.clock())
    if found is None:
        raise HTTPException(
            NOT_FOUND, "There is no such result here. You can find all your results in History."
        )
    return found


def chart_of(result: Result, side: str) -> Chart:
    """The chart played, or the one written. Raises HTTPException 404, InputError."""
    if side == "played":
        return result.exercise.chart
    if side != "written":
        raise HTTPException(NOT_FOUND, f"Found the side {side[:40]!r}, expected played or written.")
    if result.answer.chart is None:
        raise InputError("You wrote no bars, so there is nothing to show or play.")
    return result.answer.chart


@router.get("/result/{attempt_id}")
def result(context: Context, attempt_id: int) -> HTMLResponse:
    """The graded chart; for work whose result is not shown yet, a page that says when it is."""
    try:
        found = result_of(context, attempt_id)
    except ResultHidden:
        work = handed_in(context.store, attempt_id, context.clock())
        return context.page("handed_in.html", {"work": work})
    in_class = class_result(context.store, found, context.clock())
    exercise, record = found.exercise, found.detail.record
    report = found.report if in_class is None else in_class.report
    reference = exercise.chart if in_class is None else in_class.reference
    level, missing = level_of(exercise.level_id), _missing(found)
    along = found.is_speed_test or wrote_along(record, report.speed)
    pace = report.speed if along else None
    return context.page(
        "result.html",
        {
            "attempt": record,
            "exercise": exercise,
            "view": result_view(report, reference, found.answer.parsed),
            "in_class": in_class,
            "level": level,
            "following": context.level(level.number + 1) if level is not None else None,
            "passed": found.passed,
            "missing": missing,
            "reached": found.verdict is not None and found.verdict.reached,
            "speed": pace,
            "played_text": format_chart(exercise.chart),
            "written_text": found.detail.answer_text,
            "set_place": set_place(context, record.exercise_id),
            "today": today_so_far(context),
            "test_verdict": _test_verdict(found) if found.is_speed_test else None,
            "lag": lag_plot(pace),
            "weights": weight_rows(report.weights),
            "has_written": found.answer.chart is not None,
            "missed": bool(stretches_to_practise(report, exercise.chart)),
            "practised": EXCERPT in exercise.recipe,
            "lessons": _advised_lessons(context, found, report),
            "lesson_of": {skill: lesson_for_skill(context.lessons, skill) for skill, *_ in missing},
        },
    )


def _advised_lessons(
    context: LearnerContext, found: Result, report: StoredReport
) -> list[Lesson | None]:
    """The lesson that helps with each piece of a report's advice, None if none does."""
    skills = {bar.reference: bar.skills for bar in found.detail.bars}
    return [
        lesson_for_advice(
            context.lessons,
            advice.kind,
            [(case.played, case.written) for case in advice.cases],
            {skill for case in advice.cases for skill in skills.get(case.reference, ())},
        )
        for advice in report.advice_details
    ]


def _missing(found: Result) -> tuple[tuple[str, str, str], ...]:
    """The skills that an attempt which did not pass still lacks: each skill, its name, and what is
    said of it."""
    verdict = found.verdict if found.passed is False else None
    if verdict is None:
        return ()
    skills = (each.skill for each in verdict.missing)
    sentences = describe_verdict(verdict)
    return tuple(
        (skill, describe_skill(skill), text) for skill, text in zip(skills, sentences, strict=True)
    )


def _test_verdict(found: Result) -> str:
    """What an attempt is worth as a self-test, in words."""
    why = found.why_no_test
    return f"This doesn't count as a speed test: {why}." if why else "This counts as a speed test."


@router.get("/result/{attempt_id}/song.{kind}")
def song(context: Context, attempt_id: int, kind: str) -> RedirectResponse:
    """The whole song as a file to keep, wav or flac."""
    found = result_of(context, attempt_id)
    if kind not in ("wav", "flac"):
        raise HTTPException(NOT_FOUND, f"Found the file type {kind[:20]!r}, expected wav or flac.")
    return RedirectResponse(context.sound_file(play_song(found.exercise), kind), SEE_OTHER)


@router.get("/result/{attempt_id}/sound")
def sound(
    context: Context,
    attempt_id: int,
    side: str,
    first: Annotated[int | None, Query()] = None,
    last: Annotated[int | None, Query()] = None,
    like: Annotated[int | None, Query()] = None,
) -> Any:
    """A side of an attempt as sound: bars `first` to `last` of its chart, or all of it.

    `like` is the bar of the song whose section both sides are heard in.
    """
    found = result_of(context, attempt_id)
    chart = chart_of(found, side)
    if first is not None and last is not None:
        return context.sound(play_bars(found.exercise, chart, first, last, like))
    if side == "played":
        return context.sound(play_song(found.exercise))
    check_playing_time(playing_time_s(chart))
    whole = play_answer(found.exercise, found.answer)
    assert whole is not None
    return context.sound(whole)


@router.get("/handout/{attempt_id}/{side}")
def handout(context: Context, attempt_id: int, side: str) -> HTMLResponse:
    """A chart of a graded attempt, played or written, as it is handed to the band."""
    found = result_of(context, attempt_id)
    chart = chart_of(found, side)
    sheet = sheet_of_chart(chart) if side == "played" else sheet_of_text(found.answer.parsed)
    return context.page(
        "handout.html",
        {
            "attempt": found.detail.record,
            "chart": chart,
            "side": side,
            "sheet": sheet,
        },
    )


@router.get("/handout/{attempt_id}/{side}/sheet.{kind}")
def handout_sheet(
    context: Context,
    attempt_id: int,
    side: str,
    kind: str,
    paper: Annotated[str, Query(max_length=10)] = "a4",
    names: Annotated[Names, Query()] = Names.NUMBERS,
) -> Response:
    """The chart as a sheet of paper, pdf or svg, to be shown and printed by the browser."""
    if kind not in ("pdf", "svg"):
        raise HTTPException(NOT_FOUND, f"Found the file type {kind[:20]!r}, expected pdf or svg.")
    chart = chart_of(result_of(context, attempt_id), side)
    settings = SheetSettings(paper, names=names)
    name = f"{chart.title or 'Chart'}.{kind}"
    if kind == "svg":
        return show_file(write_sheet(chart, settings, "svg"), name, "image/svg+xml")
    return show_file(write_sheet(chart, settings), name, "application/pdf")


@router.get("/handout/{attempt_id}/{side}/text")
def handout_text(context: Context, attempt_id: int, side: str) -> PlainTextResponse:
    """The chart's text."""
    return PlainTextResponse(format_chart(chart_of(result_of(context, attempt_id), side)))
