"""A graded attempt as it is drawn: both charts bar under bar, the score by part, advice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from statistics import median
from typing import TYPE_CHECKING

from trainer.chart import Chart, ParseResult, PlacedBar
from trainer.grade import WeightRow, Weights, weights_table
from trainer.web.views.plots import Plot, Point, bars, scale_for
from trainer.web.views.sheet import Cell, cells

if TYPE_CHECKING:
    from trainer.store.reports import StoredBar, StoredReport, StoredSpeed

__all__ = [
    "Advice",
    "Pair",
    "PartScore",
    "ResultView",
    "Row",
    "Stretch",
    "lag_plot",
    "result_view",
    "weight_rows",
]

# What stands under a bar, the first part that is not whole first.
MARKS = (
    ("root", "chord"),
    ("quality", "kind"),
    ("bass", "bass"),
    ("placement", "beat"),
    ("articulation", "touch"),
)
PARTS = (
    ("root", "Root", "which number"),
    ("quality", "Quality", "minor, diminished, sevenths …"),
    ("bass", "Bass", "the number under the slash"),
    ("placement", "Placement", "where in the bar the chord changes"),
    ("articulation", "Articulation", "holds, pushes, stops"),
    ("meter", "Meter", "bars of another length"),
    ("key_change", "Key change", "where the 1 moves"),
)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Bars to hear, first and last, of one chart."""

    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Pair:
    """A bar that was played over the one that was written for it. `word` "" is right.

    `played` and `written` are what to hear: the bar after the one before it.
    """

    reference: Cell | None
    answer: Cell | None
    word: str
    place: str
    played: Stretch | None
    written: Stretch | None

    @property
    def said(self) -> str:
        """The pair as one sentence."""
        if self.reference is None:
            return f"{self.place}: you wrote {self.answer.said}, extra" if self.answer else ""
        if self.answer is None:
            return f"{self.place}: {self.reference.said}, missed"
        if not self.word:
            return f"{self.place}: {self.reference.said}, right"
        return (
            f"{self.place}: played {self.reference.said}; you wrote {self.answer.said}: {self.word}"
        )


@dataclass(frozen=True, slots=True)
class Row:
    """A section that was played, by phrases, with what was written for them."""

    label: str
    phrases: tuple[tuple[Pair, ...], ...]


@dataclass(frozen=True, slots=True)
class PartScore:
    """One part of the score; `share` None where the song has nothing of it."""

    name: str
    about: str
    share: float | None


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to say, and the stretches to compare by ear."""

    text: str
    played: Stretch | None
    written: Stretch | None


@dataclass(frozen=True, slots=True)
class ResultView:
    """All of a result page but the song's own data."""

    score: float
    rows: tuple[Row, ...]
    parts: tuple[PartScore, ...]
    advice: tuple[Advice, ...]
    mistakes: int
    too_many: int = 0

    @property
    def verdict(self) -> str:
        """How many places differ, in words."""
        if not self.mistakes:
            return "Every bar is right." if self.score >= 1 else "Every bar is right by itself."
        said = f"{self.mistakes} place{'s' * (self.mistakes != 1)} to look at."
        if not self.too_many:
            return said
        bars = "One bar was" if self.too_many == 1 else f"{self.too_many} bars were"
        return f"{said} {bars} not played: each costs as much as a bar left out."


def result_view(report: StoredReport, reference: Chart, answer: ParseResult) -> ResultView:
    """A stored report with the charts it is about.

    Bars that a chart does not have (any more) are drawn as missing.
    """
    rows = tuple(_rows(report, reference, answer))
    pairs = [pair for row in rows for phrase in row.phrases for pair in phrase]
    return ResultView(
        score=report.score,
        rows=rows,
        parts=tuple(_parts(report)),
        advice=tuple(_advice(report)),
        mistakes=sum(bool(pair.word) for pair in pairs),
        too_many=sum(graded.reference is None for graded in report.bars),
    )


def _rows(report: StoredReport, reference: Chart, answer: ParseResult) -> Iterator[Row]:
    """The graded bars by section and phrase played; added bars stay where they stand."""
    played = {place.number: place for place in reference.placed_bars()}
    ours = cells(reference)
    theirs = cells(answer.chart, answer.invalid_bars) if answer.chart else {}
    groups: list[tuple[PlacedBar | None, list[Pair]]] = []
    for graded in report.bars:
        place = played.get(graded.reference or 0)
        if not groups or (place and not _same_phrase(groups[-1][0], place)):
            groups.append((place, []))
        elif groups[-1][0] is None and place:
            groups[-1] = (place, groups[-1][1])
        groups[-1][1].append(_pair(graded, report.weights, ours, theirs))
    for section, inside in groupby(groups, key=lambda group: group[0].section if group[0] else 0):
        yield Row(reference.sections[section].name, tuple(tuple(pairs) for _, pairs in inside))


def _same_phrase(one: PlacedBar | None, other: PlacedBar) -> bool:
    return one is None or (one.section, one.phrase) == (other.section, other.phrase)


def _pair(
    graded: StoredBar, weights: Weights, ours: Mapping[int, Cell], theirs: Mapping[int, Cell]
) -> Pair:
    bar, written = graded.reference, graded.answer
    return Pair(
        ours.get(bar) if bar else None,
        theirs.get(written) if written else None,
        _word(graded, weights),
        f"Bar {bar}" if bar else f"Your bar {written}",
        _after_one(bar),
        _after_one(written),
    )


def _after_one(bar: int | None) -> Stretch | None:
    return Stretch(max(1, bar - 1), bar) if bar else None


def _word(graded: StoredBar, weights: Weights) -> str:
    """What is wrong with a bar in a word, "" for nothing; of parts not asked for only the root."""
    if graded.reference is None:
        return "extra"
    if graded.answer is None:
        return "missed"
    if graded.score >= 1:
        return ""
    asked = (pair for pair in MARKS if pair[0] == "root" or getattr(weights, pair[0]) > 0)
    wrong = (word for part, word in asked if (getattr(graded, part) or 0) < 1)
    moved = graded.key_change
    return next(wrong, "meter" if moved is None or moved >= 1 else "key")


def _parts(report: StoredReport) -> Iterator[PartScore]:
    """The parts that the exercise asked for."""
    for key, name, about in PARTS:
        if getattr(report.weights, key):
            share = report.parts.get(key)
            if share is not None or key not in ("meter", "key_change"):
                yield PartScore(name, about, share)
    if report.weights.phrases:
        yield PartScore("Phrases", "where each line starts over", report.phrases.f)
    if report.weights.form:
        yield PartScore("Form", "the order of the sections", report.form.score)


def _advice(report: StoredReport) -> Iterator[Advice]:
    for one in report.advice_details:
        if one.listen is None:
            yield Advice(one.text, None, None)
            continue
        first, last = one.listen
        written = one.listen_answer or [
            graded.answer
            for graded in report.bars
            if graded.answer and graded.reference and first <= graded.reference <= last
        ]
        heard = Stretch(min(written), max(written)) if written else None
        yield Advice(one.text, Stretch(first, last), heard)


def weight_rows(weights: Weights) -> tuple[WeightRow, ...]:
    """What counted how much, the parts as the page names them."""
    return tuple(row._replace(part=row.part.replace("_", " ")) for row in weights_table(weights))


def lag_plot(speed: StoredSpeed | None) -> Plot | None:
    """How far behind each bar was written; None where none was, or where that is not known."""
    lags = speed.lag_beats if speed is not None else ()
    known = [lag for lag in lags if lag is not None]
    if speed is None or max(known, default=0.0) <= 0:
        return None
    behind, usual = speed.fell_behind, speed.median_lag_beats
    summary = _pace(median(known) if usual is None else usual, max(known))
    if behind is not None:
        summary += f" You fell behind at bar {behind}."
    return bars(
        "lag",
        "Beats behind, bar by bar",
        summary,
        [Point(str(bar), lag and max(0.0, lag)) for bar, lag in enumerate(lags, 1)],
        scale_for([max(0.0, lag) for lag in known], lambda value: f"{value:g}"),
        ("Bar", "Beats behind"),
        [(str(bar), _lag(lag)) for bar, lag in enumerate(lags, 1)],
        chosen=None if behind is None else behind - 1,
        is_long=True,
    )


def _pace(usual: float, most: float) -> str:
    if usual <= 0:
        return f"Mostly written before it was played, at most {_beats(most)} behind."
    return f"About {_beats(usual)} behind, at most {_beats(most)}."


def _lag(lag: float | None) -> str:
    if lag is None:
        return "–"
    return f"{lag:.1f}" if lag >= 0 else f"{-lag:.1f} ahead"


def _beats(value: float) -> str:
    return f"{value:.1f} beat{'s' * (f'{value:.1f}' != '1.0')}"
