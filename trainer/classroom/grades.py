"""The grade of an attempt in its assignment.

It begins with a report: the attempt's own, or one made again under another scheme or against an
accepted chart, whichever gives most. Then come the teacher's overrides: a bar's new credit moves
the score by what one bar of the song makes up of it. Lateness comes last.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from trainer.chart import Chart, parse_tolerant
from trainer.exercise import Exercise, header_for, read_answer
from trainer.grade import Weights, grade, report_to_json, score_shares
from trainer.store import AcceptedChart, AttemptGrade, Override, read_report

__all__ = ["WHOLE", "best_grade", "final_score", "reference_of", "regrade_answer"]

# The number under which a teacher changes or comments on an attempt as a whole.
WHOLE = 0
# Scores that differ by less are sums of the same fractions.
ROUNDING = 1e-9


def reference_of(exercise: Exercise, accepted: AcceptedChart | None) -> Chart:
    """The chart that an answer was graded against: the song's, or an accepted one."""
    if accepted is None:
        return exercise.chart
    chart = parse_tolerant(accepted.text, header_for(exercise)).chart
    # A text without bars is not accepted (`trainer.classroom.regrading`).
    assert chart is not None
    return chart


def best_grade(
    exercise: Exercise,
    text: str,
    own_score: float,
    weights: Weights,
    accepted: Sequence[AcceptedChart] = (),
) -> AttemptGrade:
    """The grade of an answer whose own report has `own_score`: that, or the better one against an
    accepted chart."""
    best = AttemptGrade(own_score, own_score)
    answer = read_answer(exercise, text).chart
    for chart in accepted:
        report = grade(reference_of(exercise, chart), answer, weights=weights)
        if report.score > best.graded + ROUNDING:
            plain = report_to_json(report)
            best = AttemptGrade(report.score, report.score, plain, chart.id)
    return best


def regrade_answer(
    exercise: Exercise,
    text: str,
    own: Mapping[str, Any],
    weights: Weights,
    accepted: Sequence[AcceptedChart] = (),
) -> AttemptGrade:
    """The grade of an answer under some weights, not yet with overrides and lateness.

    `own` is the report that the attempt was handed in with. It stands where it has these weights,
    so that going back to them gives back every grade exactly: it knew when each bar was typed,
    which a report made again does not.
    """
    if own.get("weights") == asdict(weights):
        return best_grade(exercise, text, own["score"], weights, accepted)
    report = grade(exercise.chart, read_answer(exercise, text).chart, weights=weights)
    best = best_grade(exercise, text, report.score, weights, accepted)
    if best.accepted_id is not None:
        return best
    return AttemptGrade(report.score, report.score, report_to_json(report))


def final_score(
    graded: AttemptGrade,
    report: Mapping[str, Any],
    reference: Chart,
    answer: Chart | None,
    overrides: Sequence[Override],
    late_cost: float = 0.0,
) -> AttemptGrade:
    """A grade with the overrides and what lateness takes away.

    Parameters: `report` is the report that holds, `reference` the chart that it was graded against,
    and `answer` the chart that was written; `late_cost` is 0 for work that was in time.
    """
    score = graded.graded
    changed = {each.bar: each.credit for each in overrides if each.credit is not None}
    whole = changed.pop(WHOLE, None)
    if changed:
        score = _with_bars(score, report, reference, answer, changed)
    if whole is not None:
        score = whole
    return AttemptGrade(graded.graded, score * (1 - late_cost), graded.report, graded.accepted_id)


def _with_bars(
    score: float,
    report: Mapping[str, Any],
    reference: Chart,
    answer: Chart | None,
    changed: Mapping[int, float],
) -> float:
    """A score in which some bars of the song have other credits."""
    read = read_report(report, "report")
    bars, phrases, form = score_shares(reference, answer, read.weights)
    beside = phrases * (1 - read.phrases.f) + form * (1 - read.form.score)
    credit = 1 - (1 - score - beside) / bars
    count = len(reference.bars())
    for row in read.bars:
        if row.reference is not None and row.reference in changed:
            credit += (changed[row.reference] - row.score) / count
    return max(0.0, 1 - beside - bars * (1 - min(1.0, max(0.0, credit))))
