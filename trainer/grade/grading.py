"""Grade an answer against the chart that was played."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from trainer.chart.model import Chart
from trainer.grade.compare import differences
from trainer.grade.diagnose import diagnose, empty_advice
from trainer.grade.events import find_happenings
from trainer.grade.form import grade_form
from trainer.grade.home import find_home_shift
from trainer.grade.phrases import grade_phrases
from trainer.grade.report import (
    BarGrade,
    Confusion,
    FormGrade,
    Parts,
    PhraseGrade,
    Report,
    SectionPair,
    SpeedGrade,
)
from trainer.grade.scoring import Scored, bars_score, in_song_order, score_sheets
from trainer.grade.sheet import Sheet, lay_out, lay_out_again
from trainer.grade.speed import Timing, bar_lags, check_timing, grade_speed
from trainer.grade.weights import Weights

__all__ = ["grade"]

STANDARD = Weights()


def grade(
    reference: Chart,
    answer: Chart | None,
    *,
    weights: Weights = STANDARD,
    timing: Timing | None = None,
) -> Report:
    """Grade an answer.

    Numbers are compared, not sounding keys: the charts' own keys, titles, tempos and feels do not
    matter to the score, and after a key change each side's numbers are counted in the new key.

    The score is the mean of the bars' credit, the phrases' F-measure and the order of sections,
    weighted by `weights.bars`, `phrases` and `form`; phrases and form count only where either side
    has more than one. The bars' credit is the sum over the reference's bars, less `weights.added`
    for each bar too many and `weights.swapped` for each two phrases or sections in the other order,
    over the number of the reference's bars, at least 0. The alignment makes it as high as it can
    be, so one bar left out of n costs just that bar, and whatever happened costs once. A chart
    that stops early is laid out from its start where that is nearly as good, and graded the same.

    Parameters: `answer` None is an empty answer. `timing` must have one time a bar for each side.
    Raises InputError for a timing that does not fit.
    """
    ours = lay_out_again(reference)
    if answer is None:
        return _empty(reference, ours, weights, timing)
    theirs = lay_out(answer)
    if timing is not None:
        check_timing(timing, len(ours), len(theirs))
    scored = score_sheets(ours, theirs, weights)
    form = grade_form(ours, theirs)
    meant = find_home_shift(reference, scored, weights)
    view = scored if meant is None else meant.scored
    phrases = grade_phrases(view.ordered, theirs, view.places)
    happenings = find_happenings(view)
    speed = None if timing is None else grade_speed(timing, scored.pairs, _moved(scored))
    shares = _shares(ours, theirs, weights)
    score = bars_score(scored, weights)
    root, strict = _over_time(ours, scored.rows)
    return Report(
        _total(shares, (score, phrases.f, form.score)),
        root,
        strict,
        _parts(scored),
        _with_lags(scored, timing),
        phrases,
        form,
        None if meant is None else meant.shift,
        happenings,
        _confusions(scored, weights),
        speed,
        diagnose(reference, view, happenings, phrases, form, speed, meant, score, shares, weights),
        weights,
    )


def _shares(ours: Sheet, theirs: Sheet, weights: Weights) -> tuple[float, float, float]:
    """What bars, phrases and form make up of the score, adding up to 1."""
    phrases = weights.phrases if len(ours.limits) > 2 or len(theirs.limits) > 2 else 0.0
    form = weights.form if len(ours.parts) > 1 or len(theirs.parts) > 1 else 0.0
    total = weights.bars + phrases + form
    phrases, form = phrases / total, form / total
    return 1.0 - phrases - form, phrases, form


def _total(shares: tuple[float, ...], parts: tuple[float, ...]) -> float:
    """The weighted mean; taken from 1 so that a perfect answer is 1 exactly."""
    lost = sum(share * (1.0 - part) for share, part in zip(shares, parts, strict=True))
    return max(0.0, 1.0 - lost)


def _parts(scored: Scored) -> Parts:
    """The components over the song."""
    lines = [
        (row, comparison, scored.reference.shapes[row.reference - 1])
        for row, comparison in zip(scored.rows, scored.comparisons, strict=True)
        if row.reference is not None
    ]
    return Parts(
        _mean([row.root for row, _, _ in lines]) or 0.0,
        _mean([row.quality for row, _, _ in lines]) or 0.0,
        _mean([row.bass for row, _, _ in lines]) or 0.0,
        _mean([r.placement for r, c, s in lines if (c.counts_placement if c else s.changes)]),
        _mean([r.articulation for r, c, s in lines if (c.counts_articulation if c else s.marks)]),
        _mean([row.meter for row, comparison, _ in lines if comparison and not row.meter]),
        _mean([r.key_change for r, c, s in lines if (c.counts_key_change if c else s.key_change)]),
    )


def _mean(values: list[float]) -> float | None:
    return sum(values) / len(values) if values else None


def _over_time(sheet: Sheet, rows: Sequence[BarGrade]) -> tuple[float, float]:
    """Root and strict agreement over the reference's time, in quarter notes."""
    whole = root = strict = 0.0
    for row in rows:
        if row.reference is not None:
            meter = sheet.bars[row.reference - 1].meter
            length = meter.beats / meter.unit
            whole += length
            root += length * row.root
            strict += length * row.strict
    return root / whole, strict / whole


def _with_lags(scored: Scored, timing: Timing | None) -> tuple[BarGrade, ...]:
    if timing is None:
        return in_song_order(scored.rows)
    lags = bar_lags(timing, scored.pairs)
    return in_song_order(
        [replace(row, lag_beats=lag) for row, lag in zip(scored.rows, lags, strict=True)]
    )


def _moved(scored: Scored) -> set[int]:
    """Bars of phrases and sections that are written in the other order."""
    stretches = [part for swap in scored.swaps for part in (swap.first, swap.second)]
    return {bar for start, end in stretches for bar in range(start, end)}


def _confusions(scored: Scored, weights: Weights) -> tuple[Confusion, ...]:
    """Every chord written for another, bar by bar."""
    found = []
    for (one, other), comparison in zip(scored.pairs, scored.comparisons, strict=True):
        if one is None or other is None or comparison is None or comparison.same == 1.0:
            continue
        ours, theirs = scored.reference.shapes[one], scored.answer.shapes[other]
        found += [
            Confusion(one + 1, str(part.played), str(part.written), part.share)
            for part in differences(ours, theirs, weights.plain_minor)
        ]
    return tuple(found)


def _empty(chart: Chart, sheet: Sheet, weights: Weights, timing: Timing | None) -> Report:
    """The report on an answer with nothing in it."""
    if timing is not None:
        check_timing(timing, len(sheet), 0)
    speed = None
    if timing is not None:
        speed = SpeedGrade(
            False, timing.listens, timing.paused, None, None, None, None, (None,) * len(sheet)
        )
    limits = sheet.section_limits
    sections = tuple(
        SectionPair(part.name, None, limits[k + 1] - limits[k], 0)
        for k, part in enumerate(sheet.parts)
    )
    return Report(
        0.0,
        0.0,
        0.0,
        Parts(0.0, 0.0, 0.0, None, None, None, None),
        tuple(BarGrade(bar + 1, None) for bar in range(len(sheet))),
        PhraseGrade(0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        FormGrade(0.0, 0.0, 0.0, sections),
        None,
        (),
        (),
        speed,
        empty_advice(sheet, chart),
        weights,
    )
