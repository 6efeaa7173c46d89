"""The bank of graded pairs judges the engine."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest

from tests.grade.bank_cases import BankCase, bank_cases
from tests.thorough import is_thorough
from trainer.chart import Bar, Chart, Chord, Event, Phrase
from trainer.chart.chords import pitch_classes
from trainer.grade import Report, grade

CASES = bank_cases()


def _each(cases: Iterable[BankCase]) -> pytest.MarkDecorator:
    listed = list(cases)
    return pytest.mark.parametrize("case", listed, ids=[case.name for case in listed])


EVERY = _each(CASES)
TOLERANCE = 1e-9
# How many bars of a chart are made wrong, left out and followed by a foreign bar.
TRIED = 1
# About how many bars lose their signs, one by one; in a thorough run all of them do.
MOST_SIGNS = 4


def said(report: Report) -> str:
    """Everything that is said of an answer, a line each."""
    return "\n".join(advice.text for advice in report.advice)


def graded(case: BankCase, written: Chart | None) -> Report:
    """The report on an answer to a case's song."""
    return grade(case.played, written, weights=case.weights)


@cache
def graded_as_written(case: BankCase) -> Report:
    """The report on a case's own answer."""
    return graded(case, case.written)


@EVERY
def test_the_grade_is_fair(case: BankCase) -> None:
    """The score lies within what a fair teacher would give."""
    report = graded_as_written(case)
    assert case.least - TOLERANCE <= report.score <= case.most + TOLERANCE, (
        f"{case.about} {report.score:.1%}, fair is {case.least:.1%} to {case.most:.1%}\n"
        + said(report)
    )


@_each(case for case in CASES if case.says)
def test_what_must_be_said_is_said(case: BankCase) -> None:
    """The advice holds each idea that it must."""
    text = said(graded_as_written(case))
    for pattern in case.says:
        assert pattern.search(text), f"{case.about} Not said: {pattern.pattern}\n{text}"


@_each(case for case in CASES if case.never)
def test_what_must_not_be_said_is_not(case: BankCase) -> None:
    """The advice claims nothing that the writer did not do."""
    text = said(graded_as_written(case))
    for pattern in case.never:
        found = pattern.search(text)
        assert found is None, f"{case.about} Said: {found[0]!r}\n{text}"


@_each(case for case in CASES if case.right)
def test_right_bars_have_full_credit(case: BankCase) -> None:
    """A bar that is written as it was played is graded so, whatever happened around it."""
    report = graded_as_written(case)
    full = {row.reference for row in report.bars if row.score >= 1 - TOLERANCE}
    assert set(case.right) <= full, f"{case.about} {sorted(set(case.right) - full)}"


@pytest.mark.many
@EVERY
def test_a_chart_agrees_with_itself(case: BankCase) -> None:
    """grade(x, x) is 1 for every chart of the bank."""
    for chart in (case.played, case.written):
        if chart is not None:
            assert grade(chart, chart, weights=case.weights).score == pytest.approx(1, abs=1e-12)


@pytest.mark.many
@pytest.mark.hypothesis
@_each(case for case in CASES if case.written is not None and case.may_add_errors)
def test_an_error_more_never_raises_the_grade(case: BankCase) -> None:
    """A right bar made wrong, lost, or followed by a foreign bar earns nothing."""
    before = graded_as_written(case)
    for what, chart in worse(case, before, random.Random(case.name)):
        after = graded(case, chart).score
        assert after <= before.score + TOLERANCE, (
            f"{what}: {before.score:.4%} becomes {after:.4%}\n" + said(before)
        )


def worse(case: BankCase, report: Report, rng: random.Random) -> Iterator[tuple[str, Chart]]:
    """Answers with one error more, each with what was done.

    A bar is taken only where it and both its neighbours are right and in their places, so that
    nothing around it can be put right by the change.
    """
    assert case.written is not None
    bars = case.written.bars()
    safe = [k for k in right_runs(report) if k < len(bars)]
    foreign = foreign_chords(case)
    lost = any(row.answer is None for row in report.bars)
    added = any(row.reference is None for row in report.bars)
    for k in rng.sample(safe, min(TRIED, len(safe))):
        for chord in foreign[:2]:
            wrong = with_chord(bars[k], chord)
            yield f"bar {k + 1} made {chord}", rebuilt(case.written, {k: (wrong,)})
        if not added:
            yield f"bar {k + 1} taken away", rebuilt(case.written, {k: ()})
        if foreign and not lost:
            inserted = (bars[k], replace(with_chord(bars[k], foreign[0]), key_change=0))
            yield f"{foreign[0]} after bar {k + 1}", rebuilt(case.written, {k: inserted})
    if case.asks != "everything":
        return
    for k in safe if is_thorough() else safe[:: 1 + len(safe) // MOST_SIGNS]:
        for what, bar in without_signs(bars[k]):
            yield f"{what} of bar {k + 1} taken away", rebuilt(case.written, {k: (bar,)})


def right_runs(report: Report) -> list[int]:
    """Bars of the answer, from 0, that are right between two right bars that follow on."""
    found = []
    for three in zip(report.bars, report.bars[1:], report.bars[2:], strict=False):
        places = [
            (row.reference, row.answer)
            for row in three
            if row.reference is not None and row.answer is not None and row.score >= 1 - TOLERANCE
        ]
        if len(places) == 3 and all(
            (after[0] - before[0], after[1] - before[1]) == (1, 1)
            for before, after in pairwise(places)
        ):
            found.append(places[1][1] - 1)
    return found


def foreign_chords(case: BankCase) -> list[Chord]:
    """Chords on roots that neither side has, with at most one note of any chord that was played."""
    played, written = chords_of(case.played), chords_of(case.written)
    roots = {chord.root.semitones for chord in played | written}
    candidates = [
        Chord(degree, alteration, quality)
        for alteration in (0, -1, 1)
        for degree in range(1, 8)
        for quality in ("", "-")
    ]

    def shared(chord: Chord) -> int:
        notes = pitch_classes(chord)
        return max((len(notes & pitch_classes(other)) for other in played), default=0)

    far = [one for one in candidates if one.root.semitones not in roots and shared(one) <= 1]
    return sorted(far, key=shared)


def chords_of(chart: Chart | None) -> set[Chord]:
    """Every chord of a chart."""
    bars = chart.bars() if chart is not None else ()
    return {event.chord for bar in bars for event in bar.events if event.chord is not None}


def with_chord(bar: Bar, chord: Chord) -> Bar:
    """The bar with one chord throughout; its meter and a change of key stay."""
    total = sum((event.beats for event in bar.events), start=0 * bar.events[0].beats)
    return replace(bar, events=(Event(chord, total),))


def without_signs(bar: Bar) -> Iterator[tuple[str, Bar]]:
    """The bar without one of its articulations, minus signs or slashes."""
    for k, event in enumerate(bar.events):
        chord = event.chord
        if chord is None:
            continue
        changes = []
        if event.articulation is not None:
            changes.append(("articulation", replace(event, articulation=None)))
        if chord.quality == "-" and not chord.extension:
            changes.append(("minus", replace(event, chord=replace(chord, quality=""))))
        if chord.bass is not None:
            changes.append(("bass", replace(event, chord=replace(chord, bass=None))))
        for what, new in changes:
            yield what, replace(bar, events=(*bar.events[:k], new, *bar.events[k + 1 :]))


def rebuilt(chart: Chart, changes: dict[int, tuple[Bar, ...]]) -> Chart:
    """The chart with some bars, counted from 0, replaced by others; empty phrases go."""
    at, sections = 0, []
    for section in chart.sections:
        phrases = []
        for phrase in section.phrases:
            bars = _changed(phrase.bars, at, changes)
            at += len(phrase.bars)
            if bars:
                phrases.append(Phrase(bars))
        if phrases:
            sections.append(replace(section, phrases=tuple(phrases)))
    return replace(chart, sections=tuple(sections))


def _changed(bars: Iterable[Bar], at: int, changes: dict[int, tuple[Bar, ...]]) -> tuple[Bar, ...]:
    return tuple(new for k, bar in enumerate(bars, start=at) for new in changes.get(k, (bar,)))
