"""Choose the advice on an answer: at most three pieces, the costliest mistakes first.

Besides the mistakes in the bars, advice may be on the tonic (home), the phrases, the form and the
speed. Each piece says where to hear both charts again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate

from trainer.chart.model import Chart
from trainer.grade.bar_wording import bars_text, interval_text, join_words
from trainer.grade.content import ChartContent, note_name
from trainer.grade.excerpts import ExcerptFinder, bar_durations_s, excerpt_around
from trainer.grade.home import HomeReading
from trainer.grade.mistakes import CHORD_MISTAKES, Mistake, find_mistakes
from trainer.grade.report import (
    Advice,
    AlignmentEdit,
    Case,
    FormGrade,
    HomeShift,
    PhraseGrade,
    SpeedGrade,
)
from trainer.grade.scoring import AlignedCharts
from trainer.grade.weights import Weights
from trainer.grade.whole_chart import boundary_places, match_boundaries
from trainer.grade.wording import word_mistake

__all__ = ["MOST_ADVICE", "advice_on_empty", "choose_advice"]

MOST_ADVICE = 3
# An answer of so many bars or more is far off where less than so large a share has the right root.
FAR_OFF_BARS, FAR_OFF_SHARE = 4, 0.3
# A bar has the right root if it has it for so much of its time.
HALF = 0.5
ALL_RIGHT = "Every bar agrees with what was played."
RIGHT_AS_ASKED = "Everything that was asked for is right."
# Mistakes in chords or key changes as they are written mean nothing where all of them are counted
# from another tonic.
DEPEND_ON_TONIC = CHORD_MISTAKES | {
    "split added",
    "split missed",
    "split misplaced",
    "split otherwise",
}
DEPEND_ON_TONIC |= {"key change"}


def choose_advice(
    chart: Chart,
    aligned: AlignedCharts,
    edits: Sequence[AlignmentEdit],
    phrases: PhraseGrade,
    form: FormGrade,
    speed: SpeedGrade | None,
    reading: HomeReading | None,
    score: float,
    shares: tuple[float, float, float],
    weights: Weights,
) -> tuple[Advice, ...]:
    """Return the advice on an answer.

    Parameters: `chart` is the reference; `aligned` are the charts as they were compared, read from
    another tonic where that is the `reading`; `score` is the bars' score as written; `shares` is
    what bars, phrases and form make up of the score, adding up to 1.
    """
    mistakes = find_mistakes(aligned, edits, weights)
    found: list[Advice] = (
        [] if reading is not None else _on_far_off(aligned, (1.0 - score) * shares[0])
    )
    if found:
        return _with_excerpts(found, aligned, chart)
    if reading is not None:
        mistakes = [mistake for mistake in mistakes if mistake.kind not in DEPEND_ON_TONIC]
        cost = (reading.shift.score_as_meant - score) * shares[0]
        found.append(_on_home(reading.shift, cost))
    cost_of_bar = shares[0] / len(aligned.reference)
    # Shares of a bar are sums of fractions: what rounds to nothing is nothing.
    mistakes = [mistake for mistake in mistakes if mistake.lost_bars * cost_of_bar > 1e-9]
    for mistake in mistakes:
        if any(one.unit == "section" for one in mistake.edits):
            # Sections that are missing, made up or swapped are the reason for what form lost.
            mistake.lost_bars += shares[2] * (1.0 - form.order) / cost_of_bar
            break
    mistakes.sort(key=lambda mistake: (-mistake.lost_bars, mistake.bars, mistake.kind))
    found += [_on_mistake(mistake, aligned, cost_of_bar) for mistake in mistakes[:MOST_ADVICE]]
    found += _on_phrases(aligned, phrases, shares[1], edits)
    found += _on_form(form, shares[2], edits)
    found = [advice for advice in found if advice.cost > 1e-9]
    found.sort(key=lambda advice: (-advice.cost, _first_bar(advice), advice.kind))
    if len(found) < MOST_ADVICE and speed is not None and speed.fell_behind is not None:
        found.append(_on_speed(speed))
    if not found:
        whole = all(row.strict == row.placement == row.articulation == 1.0 for row in aligned.rows)
        return (Advice("all right", ALL_RIGHT if whole else RIGHT_AS_ASKED, 0.0),)
    return _with_excerpts(found[:MOST_ADVICE], aligned, chart)


def _first_bar(advice: Advice) -> int:
    return min((case.reference or case.answer or 0 for case in advice.cases), default=0)


def _with_excerpts(
    found: Sequence[Advice], aligned: AlignedCharts, chart: Chart
) -> tuple[Advice, ...]:
    """Return the advice, each with an excerpt of either chart to hear."""
    finder, advice = ExcerptFinder(aligned, chart), []
    for one in found:
        bars = sorted({case.reference for case in one.cases if case.reference is not None})
        own = sorted({case.answer for case in one.cases if case.answer is not None})
        played, written = finder.find(bars, own) if bars or own else finder.find([1])
        advice.append(replace(one, listen=played, listen_answer=written))
    return tuple(advice)


def advice_on_empty(content: ChartContent, chart: Chart) -> tuple[Advice, ...]:
    """Return the advice on an answer with nothing in it. `chart` is the reference."""
    bars = len(content)
    number = "the bar is" if bars == 1 else f"all {bars} bars are"
    text = (
        f"Nothing is written; {number} still to come. Count the bars of the first phrase, and "
        "start with those where the bass sits on 1."
    )
    listen = excerpt_around(bar_durations_s(content, chart), 1, content.phrase_boundaries[1])
    return (Advice("empty", text, 1.0, (), listen),)


def _on_far_off(aligned: AlignedCharts, cost: float) -> list[Advice]:
    """Advise to start again where too little agrees to say what went wrong."""
    two_to_one = {place for rows in aligned.two_to_one for place in rows}
    compared = [
        aligned.rows[place].root >= HALF or place in two_to_one
        for place, comparison in enumerate(aligned.comparisons)
        if comparison is not None
    ]
    right = sum(compared)
    if len(compared) < FAR_OFF_BARS or right >= FAR_OFF_SHARE * len(compared):
        return []
    text = (
        f"Of the {len(aligned.answer)} bars written, {right or 'none'} "
        f"{'has' if right == 1 else 'have'} the right root. Start again with one phrase: count its "
        "bars, find the 1, then follow the bass alone."
    )
    return [Advice("far off", text, cost)]


def _on_mistake(mistake: Mistake, aligned: AlignedCharts, cost_of_bar: float) -> Advice:
    return Advice(
        mistake.kind, word_mistake(mistake, aligned), mistake.lost_bars * cost_of_bar, mistake.cases
    )


def _on_home(shift: HomeShift, cost: float) -> Advice:
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


def _on_phrases(
    aligned: AlignedCharts, phrases: PhraseGrade, share: float, edits: Sequence[AlignmentEdit]
) -> list[Advice]:
    """Advise on phrase ends not marked, or marked where none is.

    Those beside bars that another advice is about are left out.
    """
    if phrases.f == 1.0:
        return []
    ours, theirs = aligned.reordered.phrase_boundaries[1:-1], aligned.answer.phrase_boundaries[1:-1]
    matched = match_boundaries(ours, boundary_places(theirs, aligned.reordered_pairs), 0)
    found, right = {one for one, _ in matched}, {other for _, other in matched}
    named = [one for one in edits if one.kind != "swapped" or one.unit == "bar"]
    gone = {bar for one in named for bar in one.reference}
    new = {bar for one in named for bar in one.answer}
    ends = [aligned.bar_order[at - 1] + 1 for k, at in enumerate(ours) if k not in found]
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
    cases = tuple(Case(bar, None, "", "") for bar in missed)
    cases += tuple(Case(None, bar, "", "") for bar in extra)
    return [Advice("phrases", text, share * (1.0 - phrases.f), cases)]


def _on_form(form: FormGrade, share: float, edits: Sequence[AlignmentEdit]) -> list[Advice]:
    """Advise on sections missing, too many or called something else.

    Nothing is said where an advice on whole sections says it.
    """
    if form.order == 1.0 or any(one.unit == "section" for one in edits):
        return []
    gone = {bar for one in edits if one.kind == "left out" for bar in one.reference}
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
        parts.append(f"{join_words(missing)} {was} no label")
    if extra:
        parts.append(
            f"{join_words(extra)} {'is' if len(extra) == 1 else 'are'} written instead"
            if missing
            else f"{join_words(extra)} was not played"
        )
    if not parts:
        return []
    text = f"Section labels: {'; '.join(parts)}."
    return [Advice("form", text, share * (1.0 - form.order), _first_bars(form))]


def _first_bars(form: FormGrade) -> tuple[Case, ...]:
    """Return the first bars of the sections that were not found."""
    starts = accumulate((pair.reference_bars for pair in form.sections), initial=1)
    return tuple(
        Case(start, None, pair.reference, "")
        for start, pair in zip(starts, form.sections, strict=False)
        if pair.answer is None and pair.reference
    )


def _on_speed(speed: SpeedGrade) -> Advice:
    text = (
        f"You fell behind at bar {speed.fell_behind}. When that happens let those bars go, stay "
        "with the song, and fill the gap afterwards."
    )
    return Advice("speed", text, 0.0, (Case(speed.fell_behind, None, "", ""),))
