"""Choose what is worth saying: at most three things, the dearest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate

from trainer.chart.model import Chart
from trainer.grade.findings import CHORD_KINDS, Finding, find_all
from trainer.grade.hearing import Hearing, bar_seconds, stretch
from trainer.grade.home import Meant
from trainer.grade.phrases import limit_places, match_limits
from trainer.grade.report import (
    Advice,
    Case,
    FormGrade,
    Happening,
    HomeShift,
    PhraseGrade,
    SpeedGrade,
)
from trainer.grade.sayings import say
from trainer.grade.scoring import Scored
from trainer.grade.sheet import Sheet
from trainer.grade.tones import note_name
from trainer.grade.weights import Weights
from trainer.grade.words import bars_text, interval_text, listing

__all__ = ["MOST_ADVICE", "diagnose", "empty_advice"]

MOST_ADVICE = 3
FAR_OFF_BARS, FAR_OFF_SHARE = 4, 0.3
# A bar has the right root if it has it for so much of its time.
HALF = 0.5
ALL_RIGHT = "Every bar agrees with what was played."
RIGHT_AS_ASKED = "Everything that was asked for is right."
# What names chords or key moves as written says nothing where all of them are counted from
# elsewhere.
NAMING = CHORD_KINDS | {"split added", "split missed", "split misplaced", "split otherwise"}
NAMING |= {"key change"}


def diagnose(
    chart: Chart,
    view: Scored,
    happenings: Sequence[Happening],
    phrases: PhraseGrade,
    form: FormGrade,
    speed: SpeedGrade | None,
    meant: Meant | None,
    score: float,
    shares: tuple[float, float, float],
    weights: Weights,
) -> tuple[Advice, ...]:
    """The advice for an answer.

    `chart` is the reference, `view` the alignment, as meant where a shift of home was found,
    `score` the bars' score as written, `shares` what bars, phrases and form make up of the grade.
    """
    findings = find_all(view, tuple(happenings), weights)
    found: list[Advice] = [] if meant is not None else _far_off(view, (1.0 - score) * shares[0])
    if found:
        return _with_stretches(found, view, chart)
    if meant is not None:
        findings = [finding for finding in findings if finding.kind not in NAMING]
        cost = (meant.shift.score_as_meant - score) * shares[0]
        found.append(_home(meant.shift, cost))
    cost_of_bar = shares[0] / len(view.reference)
    # Shares of a bar are sums of fractions: what rounds to nothing is nothing.
    findings = [finding for finding in findings if finding.lost * cost_of_bar > 1e-9]
    for finding in findings:
        if any(one.unit == "section" for one in finding.happenings):
            # Sections that are missing, made up or swapped are the reason for what form lost.
            finding.lost += shares[2] * (1.0 - form.order) / cost_of_bar
            break
    findings.sort(key=lambda finding: (-finding.lost, finding.bars, finding.kind))
    found += [_advice(finding, view, cost_of_bar) for finding in findings[:MOST_ADVICE]]
    found += _phrases(view, phrases, shares[1], happenings)
    found += _form(form, shares[2], happenings)
    found = [advice for advice in found if advice.cost > 1e-9]
    found.sort(key=lambda advice: (-advice.cost, _first_bar(advice), advice.kind))
    if len(found) < MOST_ADVICE and speed is not None and speed.fell_behind is not None:
        found.append(_speed(speed))
    if not found:
        whole = all(row.strict == row.placement == row.articulation == 1.0 for row in view.rows)
        return (Advice("all right", ALL_RIGHT if whole else RIGHT_AS_ASKED, 0.0),)
    return _with_stretches(found[:MOST_ADVICE], view, chart)


def _first_bar(advice: Advice) -> int:
    return min((case.reference or case.answer or 0 for case in advice.cases), default=0)


def _with_stretches(found: Sequence[Advice], view: Scored, chart: Chart) -> tuple[Advice, ...]:
    """The advice, each with what to hear of either chart."""
    hearing, advice = Hearing(view, chart), []
    for one in found:
        bars = sorted({case.reference for case in one.cases if case.reference is not None})
        own = sorted({case.answer for case in one.cases if case.answer is not None})
        played, written = hearing.of(bars, own) if bars or own else hearing.of([1])
        advice.append(replace(one, listen=played, listen_answer=written))
    return tuple(advice)


def empty_advice(sheet: Sheet, chart: Chart) -> tuple[Advice, ...]:
    """What to say about an empty answer."""
    bars = len(sheet)
    number = "the bar is" if bars == 1 else f"all {bars} bars are"
    text = (
        f"Nothing is written; {number} still to come. Count the bars of the first phrase, and "
        "start with those where the bass sits on 1."
    )
    listen = stretch(bar_seconds(sheet, chart), 1, sheet.limits[1])
    return (Advice("empty", text, 1.0, (), listen),)


def _far_off(view: Scored, cost: float) -> list[Advice]:
    """One word to start again with, where too little agrees to say what went wrong."""
    joined = {place for rows in view.joins for place in rows}
    compared = [
        view.rows[place].root >= HALF or place in joined
        for place, comparison in enumerate(view.comparisons)
        if comparison is not None
    ]
    right = sum(compared)
    if len(compared) < FAR_OFF_BARS or right >= FAR_OFF_SHARE * len(compared):
        return []
    text = (
        f"Of the {len(view.answer)} bars written, {right or 'none'} "
        f"{'has' if right == 1 else 'have'} the right root. Start again with one phrase: count its "
        "bars, find the 1, then follow the bass alone."
    )
    return [Advice("far off", text, cost)]


def _advice(finding: Finding, view: Scored, cost_of_bar: float) -> Advice:
    return Advice(finding.kind, say(finding, view), finding.lost * cost_of_bar, finding.cases)


def _home(shift: HomeShift, cost: float) -> Advice:
    evidence = (
        f"{shift.bars_explained} of {shift.bars_compared} bars have the right root once that is "
        f"undone; counted so, the bars score {shift.score_as_meant:.0%}."
    )
    if shift.kind == "key change not written":
        text = (
            f"From bar {shift.from_bar} on the numbers are counted in the old key: they stand "
            f"{interval_text(shift.semitones)} above those of the new one. {evidence} Write the "
            "key change where it happens and start counting from the new 1."
        )
    elif shift.kind.startswith("key change"):
        text = (
            f"From bar {shift.from_bar} on the numbers fit another key than the one they are "
            f"written in. {evidence} Find the note that feels like home, and mark a change of key "
            "only where home moves."
        )
    elif shift.kind == "relative major":
        text = (
            "This minor song is counted from its relative major: the minor home is written as 6-, "
            f"the chart calls it 1-. {evidence} Both ways are in use; agree on one with the band."
        )
    elif shift.kind == "own minor 1":
        text = (
            "The numbers are counted from the minor home as 1-, the chart counts from its relative "
            f"major and calls it 6-. {evidence} Both ways are in use; agree on one with the band."
        )
    else:
        up = interval_text(shift.semitones)
        text = (
            f"The chart is counted from another home: every number stands {up} above what was "
            f"played, {note_name(shift.semitones)} for 1. {evidence} Before you write, find the "
            "note where the song comes to rest: that is 1."
        )
    cases = tuple(
        Case(row.reference, row.answer, "", "")
        for row in shift.bars
        if row.reference is not None and row.answer is not None and row.root == 1.0
    )
    cases = tuple(case for case in cases if (case.reference or 0) >= shift.from_bar)
    return Advice(f"home: {shift.kind}", text, cost, cases)


def _phrases(
    view: Scored, phrases: PhraseGrade, share: float, happenings: Sequence[Happening]
) -> list[Advice]:
    """Phrase limits not written, or written where none is, unless bars around them say it."""
    if phrases.f == 1.0:
        return []
    ours, theirs = view.ordered.limits[1:-1], view.answer.limits[1:-1]
    matched = match_limits(ours, limit_places(theirs, view.places), 0)
    found, right = {one for one, _ in matched}, {other for _, other in matched}
    named = [one for one in happenings if one.kind != "swapped" or one.unit == "bar"]
    gone = {bar for one in named for bar in one.reference}
    new = {bar for one in named for bar in one.answer}
    ends = [view.order[at - 1] + 1 for k, at in enumerate(ours) if k not in found]
    missed = [at for at in ends if not gone & {at, at + 1}]
    extra = [at for k, at in enumerate(theirs) if k not in right and not new & {at, at + 1}]
    parts = []
    if missed:
        end = "a phrase ends" if len(missed) == 1 else "phrases end"
        parts.append(f"{end} after {bars_text(missed)} of the song, where no end is marked")
    if extra:
        mark = "an end is" if len(extra) == 1 else "ends are"
        parts.append(f"{mark} marked after your {bars_text(extra)}, where none was heard")
    if not parts:
        return []
    text = "; ".join(parts)
    text = f"{text[0].upper()}{text[1:]}. Listen for where the vocal starts over."
    cases = tuple(Case(limit, None, "", "") for limit in missed)
    cases += tuple(Case(None, limit, "", "") for limit in extra)
    return [Advice("phrases", text, share * (1.0 - phrases.f), cases)]


def _form(form: FormGrade, share: float, happenings: Sequence[Happening]) -> list[Advice]:
    """Sections missing, too many or called something else, unless the bars say it already."""
    if form.order == 1.0 or any(one.unit == "section" for one in happenings):
        return []
    gone = {bar for one in happenings if one.kind == "left out" for bar in one.reference}
    missing, start = [], 1
    for pair in form.sections:
        bars = range(start, start := start + pair.reference_bars)
        # A label that is missing with its whole section needs no word of its own.
        if pair.answer is None and pair.reference and not gone.issuperset(bars):
            missing.append(pair.reference)
    extra = [pair.answer for pair in form.sections if pair.reference is None and pair.answer]
    parts = []
    if missing:
        was = "was played and has" if len(missing) == 1 else "were played and have"
        parts.append(f"{listing(missing)} {was} no label")
    if extra:
        parts.append(
            f"{listing(extra)} {'is' if len(extra) == 1 else 'are'} written instead"
            if missing
            else f"{listing(extra)} was not played"
        )
    if not parts:
        return []
    text = f"Section labels: {'; '.join(parts)}."
    return [Advice("form", text, share * (1.0 - form.order), _first_bars(form))]


def _first_bars(form: FormGrade) -> tuple[Case, ...]:
    """Where the sections begin that were not found."""
    starts = accumulate((pair.reference_bars for pair in form.sections), initial=1)
    return tuple(
        Case(start, None, pair.reference, "")
        for start, pair in zip(starts, form.sections, strict=False)
        if pair.answer is None and pair.reference
    )


def _speed(speed: SpeedGrade) -> Advice:
    text = (
        f"You fell behind at bar {speed.fell_behind}. When that happens let those bars go, stay "
        "with the song, and fill the gap afterwards."
    )
    return Advice("speed", text, 0.0, (Case(speed.fell_behind, None, "", ""),))
