"""A graded attempt as it is drawn: both charts bar under bar, the score by part, advice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from statistics import median
from typing import TYPE_CHECKING

from trainer.chart import Chart, ParseResult, PlacedBar
from trainer.drill import ComparedBars, State, compare_bars
from trainer.grade import WeightRow, Weights, weights_table
from trainer.practice import MOST_LAG_BEATS
from trainer.web.views.plots import Plot, Point, bars, scale_for
from trainer.web.views.sheet import BarDrawing, bar_drawings

if TYPE_CHECKING:
    from trainer.store import AttemptRecord, StoredAdvice, StoredReport, StoredSpeed

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
    "wrote_along",
]

# So many beats and more are told without tenths.
TELLS_TENTHS = 10.0
PARTS = (
    ("root", "Root", "which number"),
    ("quality", "Quality", "minor, diminished, sevenths …"),
    ("bass", "Bass", "the lowest note, written after the slash"),
    ("placement", "Placement", "where in the bar the chord changes"),
    ("articulation", "Articulation", "holds, pushes, chokes"),
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
    """Bars that were played over those that were written for them: mostly one each, none where a
    side has none, two where one bar was written as two or two as one.

    `word` says what differs, "" if nothing does; `advice` are the numbers (from 0) of the pieces
    of advice that cite the place; `played` and `written` are what to hear: the bars after the one
    before them.
    """

    references: tuple[BarDrawing, ...]
    answers: tuple[BarDrawing, ...]
    state: State
    word: str
    place: str
    played: BarRange | None
    written: BarRange | None
    advice: tuple[int, ...] = ()

    @property
    def is_mistake(self) -> bool:
        """Whether it is a place to look at."""
        return self.state in (State.WRONG, State.OTHERWISE)

    @property
    def spoken(self) -> str:
        """The pair as a sentence to be read aloud."""
        played, written = _spoken(self.references), _spoken(self.answers)
        if not self.references:
            return f"{self.place}: you wrote {written}, {self.word}" if written else ""
        if not self.answers:
            return f"{self.place}: {played}, {self.word}"
        if not self.word:
            return f"{self.place}: {played}, right"
        return f"{self.place}: the band played {played}; you wrote {written} ({self.word})"


@dataclass(frozen=True, slots=True)
class SectionRow:
    """A section that was played, by phrases, with what was written for them."""

    label: str
    phrases: tuple[tuple[BarPair, ...], ...]


@dataclass(frozen=True, slots=True)
class PartScore:
    """One part of the score; `share` None if the song has nothing of it."""

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
    """All of a result page but the song's own data.

    `summary` is what a teacher would say first, empty for reports that do not have it; `advice` is
    in order of cost; `worst` is the number of the advice whose bars are chosen at first, None for
    none. `added` bars were written and not played.
    """

    score: float
    summary: tuple[str, ...]
    rows: tuple[SectionRow, ...]
    parts: tuple[PartScore, ...]
    advice: tuple[Advice, ...]
    worst: int | None
    added: int = 0

    @property
    def pairs(self) -> tuple[BarPair, ...]:
        """Every place in order."""
        return tuple(pair for row in self.rows for phrase in row.phrases for pair in phrase)

    @property
    def mistakes(self) -> int:
        """How many places there are to look at."""
        return sum(pair.is_mistake for pair in self.pairs)

    @property
    def verdict(self) -> str:
        """How many places differ, in words."""
        states = [pair.state for pair in self.pairs]
        wrong, otherwise = states.count(State.WRONG), states.count(State.OTHERWISE)
        unwritten = states.count(State.NOT_WRITTEN)
        said = []
        if not wrong + otherwise + unwritten:
            return (
                "Every bar is right."
                if self.score >= 1
                else "Every bar is right. You lost points only on the phrases or the form."
            )
        if wrong:
            said.append(f"Look at {wrong} place{'s' * (wrong != 1)}.")
        if otherwise:
            are = "bars are" if otherwise > 1 else "bar is"
            said.append(f"{otherwise} {are} right but counted differently.")
        if unwritten:
            said.append(f"You left out {unwritten} bar{'s' * (unwritten > 1)}.")
        if self.added:
            bars_ = "1 bar that wasn't" if self.added == 1 else f"{self.added} bars that weren't"
            said.append(f"You wrote {bars_} played. Extra bars cost points too.")
        return " ".join(said)


def result_view(report: StoredReport, reference: Chart, answer: ParseResult) -> ResultView:
    """A stored report with the charts it is about.

    Bars that a chart does not have (any more) are drawn as missing.
    """
    advice = report.advice_details
    cited = [_Cited.of(one) for one in advice]
    rows = tuple(_rows(report, reference, answer, cited))
    pairs = [pair for row in rows for phrase in row.phrases for pair in phrase]
    shown = {number for pair in pairs for number in pair.advice}
    return ResultView(
        score=report.score,
        summary=report.summary,
        rows=rows,
        parts=tuple(_parts(report, reference)),
        advice=tuple(_advice(report)),
        worst=min(shown, default=None),
        added=sum(len(pair.answers) for pair in pairs if not pair.references),
    )


@dataclass(frozen=True, slots=True)
class _Cited:
    """The bars that a piece of advice cites: those of the song, those of the answer alone, and,
    where the report is too old to say, those to hear again."""

    song: frozenset[int]
    own: frozenset[int]
    heard: range

    @classmethod
    def of(cls, advice: StoredAdvice) -> _Cited:
        """What an advice cites."""
        cases = advice.cases
        first, last = advice.listen if advice.listen and not cases else (1, 0)
        return cls(
            frozenset(case.reference for case in cases if case.reference is not None),
            frozenset(
                case.answer for case in cases if case.reference is None and case.answer is not None
            ),
            range(first, last + 1),
        )

    def is_about(self, place: ComparedBars) -> bool:
        """Whether the advice is about a place."""
        if self.heard:
            wrong = place.state is not State.RIGHT
            return wrong and any(bar in self.heard for bar in place.references)
        return not (self.song.isdisjoint(place.references) and self.own.isdisjoint(place.answers))


def _rows(
    report: StoredReport, reference: Chart, answer: ParseResult, cited: Sequence[_Cited]
) -> Iterator[SectionRow]:
    """The graded bars by section and phrase played; added bars stay where they stand."""
    played = {place.number: place for place in reference.placed_bars()}
    played_bars = bar_drawings(reference)
    written_bars = bar_drawings(answer.chart, answer.invalid_bars) if answer.chart else {}
    groups: list[tuple[PlacedBar | None, list[BarPair]]] = []
    for compared in compare_bars(report):
        place = played.get(compared.references[0]) if compared.references else None
        if not groups or (place and not _same_phrase(groups[-1][0], place)):
            groups.append((place, []))
        elif groups[-1][0] is None and place:
            groups[-1] = (place, groups[-1][1])
        about = tuple(k for k, one in enumerate(cited) if one.is_about(compared))
        groups[-1][1].append(_pair(compared, played_bars, written_bars, about))
    for section, inside in groupby(groups, key=lambda group: group[0].section if group[0] else 0):
        phrases = tuple(tuple(pairs) for _, pairs in inside)
        yield SectionRow(reference.sections[section].name, phrases)


def _same_phrase(one: PlacedBar | None, other: PlacedBar) -> bool:
    return one is None or (one.section, one.phrase) == (other.section, other.phrase)


def _pair(
    compared: ComparedBars,
    played_bars: Mapping[int, BarDrawing],
    written_bars: Mapping[int, BarDrawing],
    advice: tuple[int, ...],
) -> BarPair:
    numbers = compared.references or compared.answers
    name = "Bar" if len(numbers) == 1 else "Bars"
    place = f"{name} {' and '.join(map(str, numbers))}"
    return BarPair(
        tuple(played_bars[bar] for bar in compared.references if bar in played_bars),
        tuple(written_bars[bar] for bar in compared.answers if bar in written_bars),
        compared.state,
        compared.word,
        place if compared.references else f"Your {place.lower()}",
        _with_the_bar_before(compared.references),
        _with_the_bar_before(compared.answers),
        advice,
    )


def _spoken(drawings: Sequence[BarDrawing]) -> str:
    return ", then ".join(drawing.spoken for drawing in drawings)


def _with_the_bar_before(numbers: tuple[int, ...]) -> BarRange | None:
    return BarRange(max(1, numbers[0] - 1), numbers[-1]) if numbers else None


def _parts(report: StoredReport, reference: Chart) -> Iterator[PartScore]:
    """The parts that the exercise asked for."""
    for key, name, about in PARTS:
        if getattr(report.weights, key):
            share = report.parts.get(key)
            if share is not None or key not in ("meter", "key_change"):
                yield PartScore(name, about, share)
    phrases = [phrase for section in reference.sections for phrase in section.phrases]
    if report.weights.phrases and len(phrases) > 1:
        yield PartScore("Phrases", "where each line starts over", report.phrases.f)
    if report.weights.form and len(reference.sections) > 1:
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
        heard = BarRange(min(written), max(written)) if written else None
        yield Advice(one.text, BarRange(first, last), heard)


def weight_rows(weights: Weights) -> tuple[WeightRow, ...]:
    """The weight of each part of the score, under the names that the page uses."""
    return tuple(row._replace(part=row.part.replace("_", " ")) for row in weights_table(weights))


def wrote_along(attempt: AttemptRecord, speed: StoredSpeed | None) -> bool:
    """Whether the bars were written while the band played, so that a lag means something.

    Those who listen first and write afterwards are always behind.
    """
    lag = speed.median_lag_beats if speed is not None else None
    if attempt.first_pass:
        return True
    return attempt.listens == 1 and not attempt.paused and lag is not None and lag <= MOST_LAG_BEATS


def lag_plot(speed: StoredSpeed | None) -> Plot | None:
    """How far behind each bar was written; None if none was, or if that is not known."""
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
        return (
            f"You wrote most bars before they were played, and were at most {_beats(most)} behind."
        )
    return f"You were usually about {_beats(usual)} behind, and at most {_beats(most)}."


def _lag(lag: float | None) -> str:
    if lag is None:
        return "–"
    return f"{lag:.1f}" if lag >= 0 else f"{-lag:.1f} ahead"


def _beats(value: float) -> str:
    said = f"{value:.1f}" if value < TELLS_TENTHS else f"{value:.0f}"
    return f"{said} beat{'s' * (said != '1.0')}"
