"""Result: what was written against what was played, to see and to hear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, HTTPException, Query
from fastapi.responses import HTMLResponse, RedirectResponse

from trainer.chart import Chart, ParseResult, format_chart, parse_tolerant
from trainer.errors import InputError
from trainer.exercise import Exercise, exercise_from_json
from trainer.practice import disqualification, is_speed_test
from trainer.web.playing import few_bars, header_of, whole_song
from trainer.web.site import Here, Site
from trainer.web.today import item_of, set_so_far
from trainer.web.views.result import lag_plot, result_view, weight_rows
from trainer.web.views.sheet import Sheet, draft_sheet, sheet_of

if TYPE_CHECKING:
    from trainer.store import AttemptDetail

__all__ = ["router"]

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Attempt:
    """An attempt read back: the record, its exercise, and the text as it is read."""

    detail: AttemptDetail
    exercise: Exercise
    draft: ParseResult

    def chart(self, side: str) -> Chart:
        """The chart played, or the one written. Raises HTTPException 404, InputError."""
        if side == "played":
            return self.exercise.chart
        if side != "written":
            raise HTTPException(404, f"There is {side[:40]!r} of no attempt, only played, written.")
        if self.draft.chart is None:
            raise InputError("There is no bar in what was written.")
        return self.draft.chart

    def sheet(self, side: str) -> Sheet:
        """The sheet of a side."""
        return sheet_of(self.chart(side)) if side == "played" else draft_sheet(self.draft)


def find_attempt(site: Site, attempt_id: int) -> Attempt:
    """An attempt of this learner. Raises HTTPException 404."""
    learner = site.known
    detail = site.store.attempts.get(attempt_id) if 0 < attempt_id < 2**63 else None
    if detail is None or learner is None or detail.record.learner_id != learner.id:
        raise HTTPException(404, "There is no such result here. All there are stand in History.")
    exercise = exercise_from_json(detail.exercise.data)
    return Attempt(detail, exercise, parse_tolerant(detail.answer_text, header_of(exercise.chart)))


@router.get("/result/{attempt_id}")
def result(site: Here, attempt_id: int) -> HTMLResponse:
    """The graded chart."""
    attempt = find_attempt(site, attempt_id)
    exercise, record = attempt.exercise, attempt.detail.record
    level = site.level(exercise.level)
    counts = level if record.listens else None
    view = result_view(attempt.detail.report, exercise.chart, attempt.draft, counts)
    following = site.level(exercise.level + 1) if exercise.level else None
    return site.page(
        "result.html",
        {
            "attempt": record,
            "exercise": exercise,
            "view": view,
            "level": level,
            "following": following,
            "speed": attempt.detail.report.get("speed"),
            "played_text": format_chart(exercise.chart),
            "written_text": attempt.detail.answer_text,
            "given": item_of(site, record.exercise_id),
            "today": set_so_far(site),
            "test": _as_test(attempt) if is_speed_test(exercise.recipe) else None,
            "lag": lag_plot(attempt.detail.report),
            "weights": weight_rows(attempt.detail.report),
            "has_written": attempt.draft.chart is not None,
        },
    )


def _as_test(attempt: Attempt) -> str:
    """What an attempt is worth as a self-test, in words."""
    record = attempt.detail.record
    is_timed = record.lag_beats is not None
    against = disqualification(record.listens, record.paused, record.tempo_ratio, is_timed)
    return f"It does not count as a test: {against}." if against else "It counts as a test."


@router.get("/result/{attempt_id}/song.{kind}")
def song(site: Here, attempt_id: int, kind: str) -> RedirectResponse:
    """The whole song as a file to keep, wav or flac."""
    attempt = find_attempt(site, attempt_id)
    if kind not in ("wav", "flac"):
        raise HTTPException(404, f"There is no {kind[:20]!r} of a song, only wav and flac.")
    key = site.audio.register(whole_song(attempt.exercise, attempt.exercise.chart))
    return RedirectResponse(f"/audio/{key}.{kind}", 303)


@router.get("/result/{attempt_id}/sound")
def sound(
    site: Here,
    attempt_id: int,
    side: str,
    first: Annotated[int | None, Query()] = None,
    last: Annotated[int | None, Query()] = None,
    like: Annotated[int | None, Query()] = None,
) -> Any:
    """A side of an attempt as sound: bars `first` to `last` of its chart, or all of it.

    `like` is the bar of the song whose section both sides are heard in.
    """
    attempt = find_attempt(site, attempt_id)
    chart = attempt.chart(side)
    if first is None or last is None:
        return site.sound(whole_song(attempt.exercise, chart))
    return site.sound(few_bars(attempt.exercise, chart, first, last, like))
