"""Graded bars: one line of a report with what was played, what was written and what it teaches."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from trainer.exercise import Answer, ChartOutline, Exercise, bar_skills, chart_outline
from trainer.grade import BarGrade, Report
from trainer.grade.advice import MOST_LAG_BEATS

__all__ = ["MOST_LAG_BEATS", "GradedBar", "graded_bars", "mean_lag"]


@dataclass(frozen=True, slots=True)
class GradedBar:
    """One line of a graded attempt. Bars count from 1; scores are 0 to 1.

    `reference` None is a bar that the learner added, `answer` None one that stands beside no bar of
    the answer: it is missing, or the second of two that were written as one. `played`
    and `written` are the names of the bar's chords in order, empty if there is no bar;
    `confusions` are the chords that were written for another, each (played, written). A score of
    None means "not comparable". `lag_beats` is how long after the bar began to sound it was
    written, None if that is not known. `skills` are those the bar is evidence for
    (`trainer.exercise.skills`). `phrase_end` and `section_start` are 1 where the answer has such a
    boundary where the reference has one, 0 where it has not, None if the reference has none.
    """

    position: int
    reference: int | None
    answer: int | None
    score: float | None
    root: float | None
    quality: float | None
    bass: float | None
    placement: float | None
    articulation: float | None
    meter: float | None
    key_change: float | None
    strict: float | None
    lag_beats: float | None
    played: tuple[str, ...]
    written: tuple[str, ...]
    confusions: tuple[tuple[str, str], ...]
    skills: tuple[str, ...]
    phrase_end: float | None = None
    section_start: float | None = None

    @property
    def is_missing(self) -> bool:
        """Whether the answer has nothing for it: the second of two bars written as one has."""
        return self.answer is None and not self.score


def graded_bars(report: Report, exercise: Exercise, answer: Answer) -> tuple[GradedBar, ...]:
    """The bars of a report in the order of its alignment."""
    played, written = chart_outline(exercise.chart), chart_outline(answer.chart)
    skills = bar_skills(exercise.chart)
    confusions = _confusions(report)
    lags = report.speed.lag_beats if report.speed is not None else ()
    return tuple(
        _graded_bar(position, grade, played, written, skills, confusions, lags)
        for position, grade in enumerate(report.bars, 1)
    )


def mean_lag(bars: Iterable[GradedBar]) -> float | None:
    """The mean lag in beats of the bars that have one, None if none has.

    A bar that was written ahead of the sound has no lag: it counts as 0.
    """
    lags = [max(0.0, bar.lag_beats) for bar in bars if bar.lag_beats is not None]
    return sum(lags) / len(lags) if lags else None


def _graded_bar(
    position: int,
    grade: BarGrade,
    played: ChartOutline,
    written: ChartOutline,
    skills: tuple[frozenset[str], ...],
    confusions: Mapping[int, list[tuple[str, str]]],
    lags: tuple[float | None, ...],
) -> GradedBar:
    one, other = grade.reference, grade.answer
    lag = grade.lag_beats
    if lag is None and one is not None and one <= len(lags):
        lag = lags[one - 1]
    return GradedBar(
        position=position,
        reference=one,
        answer=other,
        score=grade.score,
        root=grade.root,
        quality=grade.quality,
        bass=grade.bass,
        placement=grade.placement,
        articulation=grade.articulation,
        meter=grade.meter,
        key_change=grade.key_change,
        strict=grade.strict,
        lag_beats=lag,
        played=played.chords[one - 1] if one is not None else (),
        written=written.chords[other - 1] if other is not None else (),
        confusions=tuple(confusions.get(one, ())) if one is not None else (),
        skills=tuple(sorted(skills[one - 1])) if one is not None else (),
        phrase_end=_matched(played.phrase_ends, written.phrase_ends, one, other),
        section_start=_matched(played.section_starts, written.section_starts, one, other),
    )


def _matched(
    ours: frozenset[int], theirs: frozenset[int], one: int | None, other: int | None
) -> float | None:
    """Whether the answer has a boundary where the reference has one; None if it has none."""
    return None if one not in ours else float(other in theirs)


def _confusions(report: Report) -> Mapping[int, list[tuple[str, str]]]:
    """The chords written for another, by bar of the reference."""
    found: defaultdict[int, list[tuple[str, str]]] = defaultdict(list)
    for confusion in report.confusions:
        found[confusion.bar].append((confusion.played, confusion.written))
    return found
