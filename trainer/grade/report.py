"""What grading says: typed, frozen, with None for "not comparable"; and its JSON.

Bars count from 1. All scores are 0 to 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trainer.grade.weights import Weights

__all__ = [
    "Advice",
    "BarGrade",
    "Case",
    "Confusion",
    "FormGrade",
    "Happening",
    "HomeShift",
    "Parts",
    "PhraseGrade",
    "Report",
    "SectionPair",
    "SpeedGrade",
    "report_to_json",
]


@dataclass(frozen=True, slots=True)
class BarGrade:
    """One row of the aligned charts: a bar of the reference, of the answer, or of both.

    `reference` None is a bar too many, `answer` None a bar left out; both score 0 throughout.
    The components are defined in `trainer.grade.compare`; `lag_beats` is None without times.
    """

    reference: int | None
    answer: int | None
    score: float = 0.0
    root: float = 0.0
    quality: float = 0.0
    bass: float = 0.0
    placement: float = 0.0
    articulation: float = 0.0
    meter: float = 0.0
    key_change: float = 0.0
    strict: float = 0.0
    lag_beats: float | None = None


@dataclass(frozen=True, slots=True)
class PhraseGrade:
    """Phrase limits inside the chart as precision, recall, F-measure; exact and within one bar."""

    precision: float
    recall: float
    f: float
    near_precision: float
    near_recall: float
    near_f: float


@dataclass(frozen=True, slots=True)
class SectionPair:
    """A section of the song and the one that stands for it, names None where one is missing.

    The bars are how many each has.
    """

    reference: str | None
    answer: str | None
    reference_bars: int
    answer_bars: int


@dataclass(frozen=True, slots=True)
class FormGrade:
    """Sections: `order` is the F-measure of kinds in order, `lengths` the share of the reference's
    sections that were found with the right number of bars. `score` is the order: a bar left out is
    paid for where it is missing.
    """

    score: float
    order: float
    lengths: float
    sections: tuple[SectionPair, ...]


@dataclass(frozen=True, slots=True)
class HomeShift:
    """A chart that is right but counted from elsewhere.

    The answer's numbers stand `semitones` above (modulo 12) those of the reference, from bar
    `from_bar` of the reference on. `bars_explained` of `bars_compared` agree in their roots when
    that is undone; `bars` and `score_as_meant` are graded so. `kind` is "another home", "relative
    major", "own minor 1", "key change not written", "key change not played" or "key change
    elsewhere".
    """

    kind: str
    semitones: int
    from_bar: int
    bars_explained: int
    bars_compared: int
    score_as_meant: float
    bars: tuple[BarGrade, ...]


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that happened to whole bars, named once and charged once.

    `kind` is "left out", "added", "doubled", "swapped", "split written as two bars" or "two bars
    written as one"; `unit` "bar", "phrase" or "section". Bars of either side that it is about; for
    "swapped", those of the reference in its order.
    """

    kind: str
    unit: str
    reference: tuple[int, ...]
    answer: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """One place that an advice cites: bars (None where a side has none), played and written."""

    reference: int | None
    answer: int | None
    played: str
    written: str


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing worth saying. `cost` is what it took off the score, `cases` the evidence.

    `listen` and `listen_answer` are the stretches of the reference and of the answer worth hearing
    again, first and last bar, or None; see `trainer.grade.hearing`.
    """

    kind: str
    text: str
    cost: float
    cases: tuple[Case, ...] = ()
    listen: tuple[int, int] | None = None
    listen_answer: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Confusion:
    """A chord written for another in one bar; `share` of the bar's time."""

    bar: int
    played: str
    written: str
    share: float


@dataclass(frozen=True, slots=True)
class Parts:
    """The components over the whole song, each the mean over its bars.

    Placement, articulation, meter and key change are taken over the bars of the reference where
    they count (a bar left out included), None where there are none.
    """

    root: float
    quality: float
    bass: float
    placement: float | None
    articulation: float | None
    meter: float | None
    key_change: float | None


@dataclass(frozen=True, slots=True)
class SpeedGrade:
    """How closely the writing followed the sound.

    Lags are in beats from where a bar began to sound to when it was written; `lag_beats` holds one
    for each bar of the reference, None where it is not known. `fell_behind` is the first bar of
    the longest stretch that lagged a bar or more behind the median.
    """

    first_pass: bool
    listens: int
    paused: bool
    median_lag_beats: float | None
    most_lag_beats: float | None
    bars_a_minute: float | None
    fell_behind: int | None
    lag_beats: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """A graded answer. `root` and `strict` are means over the reference's time."""

    score: float
    root: float
    strict: float
    parts: Parts
    bars: tuple[BarGrade, ...]
    phrases: PhraseGrade
    form: FormGrade
    home_shift: HomeShift | None
    happenings: tuple[Happening, ...]
    confusions: tuple[Confusion, ...]
    speed: SpeedGrade | None
    advice: tuple[Advice, ...]
    weights: Weights


def _plain(value: Any) -> Any:
    names = getattr(type(value), "__dataclass_fields__", None)
    if names is not None:
        return {name: _plain(getattr(value, name)) for name in names}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value


def report_to_json(report: Report) -> dict[str, Any]:
    """A report as plain data for JSON. Keys may be added, never renamed."""
    plain: dict[str, Any] = _plain(report)
    phrases = plain["phrases"]
    plain["phrases"] = {key: phrases[key] for key in ("precision", "recall", "f")} | {
        "within_one": {key: phrases[f"near_{key}"] for key in ("precision", "recall", "f")}
    }
    plain["advice_details"] = plain["advice"]
    plain["advice"] = [one.text for one in report.advice]
    return plain
