"""Handing in: from the text on the page to an attempt on record."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from fastapi import HTTPException

from trainer.chart import ParseResult, chart_to_json, parse_tolerant
from trainer.exercise import Exercise, bar_skills
from trainer.grade import Report, Timing, grade, report_to_json, weights_for
from trainer.store import Sitting
from trainer.web.playing import bar_times_s, header_of, whole_song
from trainer.web.sittings import FULL_SPEED
from trainer.web.stamps import bars_done_s, read_stamps

if TYPE_CHECKING:
    from trainer.store import AttemptRecord, ExerciseRecord, Seat
    from trainer.web.site import Site

__all__ = ["hand_in"]

HANDED_IN = 409


def hand_in(
    site: Site,
    kept: ExerciseRecord,
    exercise: Exercise,
    text: str,
    token: str,
    stamps: str = "",
    paused: bool = False,
) -> AttemptRecord:
    """Grade a text and put the attempt on record; the same token gives the attempt made first.

    `stamps` is the page's record of when what was typed (`trainer.web.stamps`). Raises InputError
    for an answer that cannot be graded and StoreError; the draft then stays. HTTPException 409 if
    another text was handed in under the same token.
    """
    now = site.now()
    _refuse_another(site, token, text)
    seat = site.sittings.take(kept, now)
    draft = parse_tolerant(text, header_of(exercise.chart))
    timing = _timing(exercise, draft, text, stamps, seat, paused)
    report = grade(exercise.chart, draft.chart, weights=weights_for(exercise.ask), timing=timing)
    return site.store.attempts.record(
        site.learner,
        kept,
        text,
        report_to_json(report),
        _sitting(seat, report, paused, now),
        now,
        answer_chart=chart_to_json(draft.chart) if draft.chart is not None else None,
        bar_skills=bar_skills(exercise.chart),
        token=token,
    )


def _refuse_another(site: Site, token: str, text: str) -> None:
    """A text that differs from what was handed in under its name came from a second window."""
    number = site.store.attempts.find_token(site.learner, token)
    detail = None if number is None else site.store.attempts.get(number)
    if detail is not None and detail.answer_text != text:
        raise HTTPException(
            HANDED_IN,
            "This song was handed in from another window meanwhile; its result stands in History. "
            "What you wrote here stays in the field: copy it, load the page again, and hand it in.",
        )


def _timing(
    exercise: Exercise, draft: ParseResult, text: str, stamps: str, seat: Seat, paused: bool
) -> Timing | None:
    """When the bars were written; None unless something was heard and the record is whole."""
    runs = read_stamps(stamps)
    if runs is None or not seat.listens or draft.chart is None:
        return None
    arrangement = whole_song(exercise, exercise.chart, seat.speeds[0])
    return Timing(
        bar_done_s=bars_done_s(text, draft.bar_spans, runs),
        bar_times_s=bar_times_s(arrangement),
        seconds_per_beat=arrangement.tempo_map.seconds(4 / exercise.chart.meter.unit),
        listens=seat.listens,
        paused=paused,
    )


def _sitting(seat: Seat, report: Report, paused: bool, now: datetime) -> Sitting:
    return Sitting(
        started_at=min(seat.started_at, now),
        listens=seat.listens,
        paused=paused,
        tempo_ratio=min(seat.speeds, default=FULL_SPEED) / FULL_SPEED,
        first_pass=report.speed.first_pass if report.speed else False,
        lag_beats=report.speed.lag_beats if report.speed else (),
        day=now.astimezone().date(),
        worked_s=seat.worked_until(now),
    )
