"""A graded attempt as it is drawn: both charts bar under bar, the score by part, advice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from statistics import median
from typing import TYPE_CHECKING

from trainer.chart import Chart, ParseResult, PlacedBar
from trainer.drill import bar_difference
from trainer.grade import WeightRow, Weights, weights_table
from trainer.web.views.plots import Plot, Point, bars, scale_for
from trainer.web.views.sheet import BarDrawing, bar_drawings

if TYPE_CHECKING:
    from trainer.store import StoredBar, StoredReport, StoredSpeed

__all__ = [
    "Advice",
    "BarPair",
    "BarRange",
    "PartScore",
    "ResultView",
    "SectionRow",
    "lag_plot",
    "result_view",
    "weight_rows",
]

# Of the advice, the costliest pieces are shown.
MOST_ADVICE = 3
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
class BarRange:
    """Bars of one chart to hear: the numbers of the first and the last."""

    first: int
    last: int


@dataclass(frozen=True, slots=True)
class BarPair:
    """A bar that was played over the one that was written for it; `difference` says in a word what
    differs, "" where it is right.

    `played` and `written` are what to hear: the bar after the one before it.
    """

    reference: BarDrawing | None
    answer: BarDrawing | None
    difference: str
    place: str
    played: BarRange | None
    written: BarRange | None

    @property
    def spoken(self) -> str:
        """The pair as a sentence to be read aloud."""
        if self.reference is None:
            return f"{self.place}: you wrote {self.answer.spoken}, extra" if self.answer else ""
        if self.answer is None:
            return f"{self.place}: {self.reference.spoken}, missed"
        if not self.difference:
            return f"{self.place}: {self.reference.spoken}, right"
        return (
            f"{self.place}: played {self.reference.spoken}; "
            f"you wrote {self.answer.spoken}: {self.difference}"
        )


@dataclass(frozen=True, slots=True)
class SectionRow:
    """A section that was played, by phrases, with what was written for them."""

    label: str
    phrases: tuple[tuple[BarPair, ...], ...]


@dataclass(frozen=True, slots=True)
class PartScore:
    """One part of the score; `share` None where the song has nothing of it."""

    name: str
    about: str
    share: float | None


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to say, and the bars of both charts to compare by ear."""

    text: str
    played: BarRange | None
    written: BarRange | None


@dataclass(frozen=True, slots=True)
class ResultView:
    """All of a result page but the song's own data. `added` bars were written and not played."""

    score: float
    rows: tuple[SectionRow, ...]
    parts: tuple[PartScore, ...]
    advice: tuple[Advice, ...]
    mistakes: int
    added: int = 0

    @property
    def verdict(self) -> str:
        """How many places differ, in words."""
        if not self.mistakes:
            return "Every bar is right." if self.score >= 1 else "Every bar is right by itself."
        text = f"{self.mistakes} place{'s' * (self.mistakes != 1)} to look at."
        if not self.added:
            return text
        bars = "One bar was" if self.added == 1 else f"{self.added} bars were"
        return f"{text} {bars} not played: each costs as much as a bar left out."


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
        mistakes=sum(bool(pair.difference) for pair in pairs),
        added=sum(graded.reference is None for graded in report.bars),
    )


def _rows(report: StoredReport, reference: Chart, answer: ParseResult) -> Iterator[SectionRow]:
    """The graded bars by section and phrase played; added bars stay where they stand."""
    played = {place.number: place for place in reference.placed_bars()}
    played_bars = bar_drawings(reference)
    written_bars = bar_drawings(answer.chart, answer.invalid_bars) if answer.chart else {}
    groups: list[tuple[PlacedBar | None, list[BarPair]]] = []
    for graded in report.bars:
        place = played.get(graded.reference or 0)
        if not groups or (place and not _same_phrase(groups[-1][0], place)):
            groups.append((place, []))
        elif groups[-1][0] is None and place:
            groups[-1] = (place, groups[-1][1])
        groups[-1][1].append(_pair(graded, report.weights, played_bars, written_bars))
    for section, inside in groupby(groups, key=lambda group: group[0].section if group[0] else 0):
        phrases = tuple(tuple(pairs) for _, pairs in inside)
        yield SectionRow(reference.sections[section].name, phrases)


def _same_phrase(one: PlacedBar | None, other: PlacedBar) -> bool:
    return one is None or (one.section, one.phrase) == (other.section, other.phrase)


def _pair(
    graded: StoredBar,
    weights: Weights,
    played_bars: Mapping[int, BarDrawing],
    written_bars: Mapping[int, BarDrawing],
) -> BarPair:
    bar, written = graded.reference, graded.answer
    return BarPair(
        played_bars.get(bar) if bar else None,
        written_bars.get(written) if written else None,
        bar_difference(graded, weights),
        f"Bar {bar}" if bar else f"Your bar {written}",
        _with_the_bar_before(bar),
        _with_the_bar_before(written),
    )


def _with_the_bar_before(bar: int | None) -> BarRange | None:
    return BarRange(max(1, bar - 1), bar) if bar else None


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
    for one in report.advice_details[:MOST_ADVICE]:
        if one.listen is None:
            yield Advice(one.text, None, None)
            continue
        first, last = one.listen
        written = one.listen_answer or [
            graded.answer
            for graded in report.bars
            if graded.answer and graded.reference and first <= graded.reference <= last
        ]
        heard = BarRange(min(written), max(written)) if written else None
        yield Advice(one.text, BarRange(first, last), heard)


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
        highlighted=None if behind is None else behind - 1,
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
