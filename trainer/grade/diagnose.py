"""Choose what is worth saying: at most three things, the dearest first."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.grade.findings import CHORD_KINDS, Finding, find_all
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
from trainer.grade.tones import note_name
from trainer.grade.weights import Weights
from trainer.grade.words import bars_text, interval_text, listing

__all__ = ["MOST_ADVICE", "diagnose", "empty_advice"]

MOST_ADVICE = 3
FAR_OFF_BARS, FAR_OFF_SHARE = 4, 0.3
ALL_RIGHT = "Every bar agrees with what was played."
# What names chords or key moves as written says nothing where all of them are counted from
# elsewhere.
NAMING = CHORD_KINDS | {"split added", "split missed", "split misplaced", "split otherwise"}
NAMING |= {"key change"}


def diagnose(
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

    `view` is the alignment as meant where a shift of home was found, `score` the bars' score as
    written, `shares` what bars, phrases and form make up of the grade.
    """
    findings = find_all(view, tuple(happenings), weights)
    found: list[Advice] = [] if meant is not None else _far_off(view, (1.0 - score) * shares[0])
    if found:
        return tuple(found)
    if meant is not None:
        findings = [finding for finding in findings if finding.kind not in NAMING]
        cost = (meant.shift.score_as_meant - score) * shares[0]
        found.append(_home(meant.shift, view, cost))
    cost_of_bar = shares[0] / len(view.reference)
    # Shares of a bar are sums of fractions: what rounds to nothing is nothing.
    findings = [finding for finding in findings if finding.lost * cost_of_bar > 1e-9]
    findings.sort(key=lambda finding: (-finding.lost, finding.bars, finding.kind))
    found += [_advice(finding, view, cost_of_bar) for finding in findings[:MOST_ADVICE]]
    found += _phrases(view, phrases, shares[1], happenings)
    found += _form(form, shares[2], happenings)
    found = [advice for advice in found if advice.cost > 1e-9]
    found.sort(key=lambda advice: (-advice.cost, advice.listen or (0, 0), advice.kind))
    if len(found) < MOST_ADVICE and speed is not None and speed.fell_behind is not None:
        found.append(_speed(speed))
    return tuple(found[:MOST_ADVICE]) or (Advice("all right", ALL_RIGHT, 0.0),)


def empty_advice(bars: int) -> tuple[Advice, ...]:
    """What to say about an empty answer to a song of so many bars."""
    number = "the bar is" if bars == 1 else f"all {bars} bars are"
    text = (
        f"Nothing is written; {number} still to come. Count the bars of the first phrase, and "
        "start with those where the bass sits on 1."
    )
    return (Advice("empty", text, 1.0, (), (1, min(bars, 4))),)


def _far_off(view: Scored, cost: float) -> list[Advice]:
    """One word to start again with, where too little agrees to say what went wrong."""
    compared = [
        row
        for row, comparison in zip(view.rows, view.comparisons, strict=True)
        if comparison is not None
    ]
    right = sum(row.root == 1.0 for row in compared)
    if len(compared) < FAR_OFF_BARS or right >= FAR_OFF_SHARE * len(compared):
        return []
    text = (
        f"Of the {len(view.answer)} bars written, {right or 'none'} "
        f"{'has' if right == 1 else 'have'} the right root. Start again with one phrase: count its "
        "bars, find the 1, then follow the bass alone."
    )
    phrase = view.reference.limits[1]
    return [Advice("far off", text, cost, (), (1, phrase))]


def _advice(finding: Finding, view: Scored, cost_of_bar: float) -> Advice:
    return Advice(
        finding.kind,
        say(finding, view),
        finding.lost * cost_of_bar,
        finding.cases,
        _stretch(finding, view),
    )


def _stretch(finding: Finding, view: Scored) -> tuple[int, int] | None:
    """The bars to hear again: the first place, with the bar before and after it."""
    bars = finding.bars
    if not bars:
        own = [case.answer for case in finding.cases if case.answer is not None]
        row = next(k for k, (_, other) in enumerate(view.pairs) if other == own[0] - 1)
        before = sum(one is not None for one, _ in view.pairs[:row])
        return max(1, before), min(len(view.reference), before + 1)
    last = bars[0]
    while last + 1 in bars and last < bars[0] + 3:
        last += 1
    return max(1, bars[0] - 1), min(len(view.reference), last + 1)


def _home(shift: HomeShift, view: Scored, cost: float) -> Advice:
    evidence = (
        f"{shift.bars_explained} of {shift.bars_compared} bars have the right root once that is "
        "undone."
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
    last = min(len(view.reference), shift.from_bar + 3)
    return Advice(f"home: {shift.kind}", text, cost, cases, (shift.from_bar, last))


def _phrases(
    view: Scored, phrases: PhraseGrade, share: float, happenings: Sequence[Happening]
) -> list[Advice]:
    """Phrase limits not written, or written where none is, unless bars around them say it."""
    if phrases.f == 1.0:
        return []
    ours, theirs = view.reference.limits[1:-1], view.answer.limits[1:-1]
    matched = match_limits(ours, limit_places(theirs, view.pairs), 0)
    found, right = {one for one, _ in matched}, {other for _, other in matched}
    gone = {bar for one in happenings for bar in one.reference}
    new = {bar for one in happenings for bar in one.answer}
    missed = [at for k, at in enumerate(ours) if k not in found and not gone & {at, at + 1}]
    extra = [at for k, at in enumerate(theirs) if k not in right and not new & {at, at + 1}]
    parts = []
    if missed:
        ends = "a phrase ends" if len(missed) == 1 else "phrases end"
        parts.append(f"{ends} after {bars_text(missed)} of the song, where no end is marked")
    if extra:
        mark = "an end is" if len(extra) == 1 else "ends are"
        parts.append(f"{mark} marked after your {bars_text(extra)}, where none was heard")
    if not parts:
        return []
    text = "; ".join(parts)
    text = f"{text[0].upper()}{text[1:]}. Listen for where the vocal starts over."
    cases = tuple(Case(limit, None, "", "") for limit in missed)
    cases += tuple(Case(None, limit, "", "") for limit in extra)
    listen = (missed[0], missed[0] + 1) if missed else None
    return [Advice("phrases", text, share * (1.0 - phrases.f), cases, listen)]


def _form(form: FormGrade, share: float, happenings: Sequence[Happening]) -> list[Advice]:
    """Sections missing, too many or called something else, unless the bars say it already."""
    if form.order == 1.0 or any(one.unit == "section" for one in happenings):
        return []
    missing = [pair.reference for pair in form.sections if pair.answer is None and pair.reference]
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
    return [Advice("form", text, share * (1.0 - form.order))]


def _speed(speed: SpeedGrade) -> Advice:
    text = (
        f"You fell behind at bar {speed.fell_behind}. When that happens let those bars go, stay "
        "with the song, and fill the gap afterwards."
    )
    case = Case(speed.fell_behind, None, "", "")
    assert speed.fell_behind is not None
    return Advice("speed", text, 0.0, (case,), (speed.fell_behind, speed.fell_behind))
