"""The report on an answer, and its JSON.

Bars count from 1. All scores are 0 to 1; None stands for what cannot be compared. The names of the
fields are keys of the JSON, which may be added but never renamed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from trainer.grade.weights import Weights

__all__ = [
    "Advice",
    "AlignmentEdit",
    "BarGrade",
    "Case",
    "ComponentScores",
    "Confusion",
    "FormGrade",
    "HomeShift",
    "PhraseGrade",
    "RepeatedSlip",
    "Report",
    "SectionPair",
    "SpeedGrade",
    "report_to_json",
]


class BarGrade(NamedTuple):
    """One row of the aligned charts: a bar of the reference, of the answer, or of both.

    `reference` None is a bar too many, `answer` None a bar left out; both score 0 throughout. Where
    one bar of the answer stands for two, the second has `answer` None, too, and what it scored.
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
    """Phrase boundaries inside the chart: precision, recall and F-measure.

    `precision`, `recall` and `f` are of boundaries matched exactly, `near_` within one bar.
    """

    precision: float
    recall: float
    f: float
    near_precision: float
    near_recall: float
    near_f: float


@dataclass(frozen=True, slots=True)
class SectionPair:
    """A section of the song and the one of the answer that stands for it.

    `reference` and `answer` are their names, None if one is missing; `reference_bars` and
    `answer_bars` are how many bars each has.
    """

    reference: str | None
    answer: str | None
    reference_bars: int
    answer_bars: int


@dataclass(frozen=True, slots=True)
class FormGrade:
    """Which sections, in which order, and how long.

    `order` is the F-measure of the kinds in order, `lengths` the share of the reference's sections
    that were found with the right number of bars. `score` is the order: a bar left out costs where
    it is missing, and not here again.
    """

    score: float
    order: float
    lengths: float
    sections: tuple[SectionPair, ...]


@dataclass(frozen=True, slots=True)
class HomeShift:
    """How a chart that is right is counted from another tonic than the reference.

    The answer's numbers stand `semitones` above (modulo 12) those of the reference, from bar
    `from_bar` to `to_bar` of the reference. `bars_explained` of `bars_compared` agree in their
    roots when that is undone; `bars` and `score_as_meant` are graded so. `kind` is "another home",
    "relative major", "own minor 1", "section from another home", "numbers of the old key" (after a
    key change that is written), "key change not written", "key change not played" or "key change
    elsewhere" (all three sound right), "key sign missing" or "key sign wrong" (the numbers are
    right, the key that is written is not).
    """

    kind: str
    semitones: int
    from_bar: int
    bars_explained: int
    bars_compared: int
    score_as_meant: float
    bars: tuple[BarGrade, ...]
    to_bar: int


@dataclass(frozen=True, slots=True)
class AlignmentEdit:
    """What was done to whole bars of the song in the answer, named once and charged once.

    `kind` is "left out", "not written", "added", "doubled", "swapped", "counted double", "counted
    half", "split written as two bars" or "two bars written as one"; `unit` is "bar", "phrase",
    "section", "stretch" or "song". `reference` and `answer` are the bars of either side that it is
    about; for "swapped", those of the reference in its own order.
    """

    kind: str
    unit: str
    reference: tuple[int, ...]
    answer: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """One place that an advice cites.

    `reference` and `answer` are bars, None if a side has none; `played` and `written` are what
    stands there, a bar or a chord of it in notation.
    """

    reference: int | None
    answer: int | None
    played: str
    written: str


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice. `cost` is what the mistake took off the score, `cases` the evidence.

    `listen` and `listen_answer` are the excerpts of the reference and of the answer that are worth
    hearing again, first and last bar, or None; see `trainer.grade.advice`.
    """

    kind: str
    text: str
    cost: float
    cases: tuple[Case, ...] = ()
    listen: tuple[int, int] | None = None
    listen_answer: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Confusion:
    """A chord that was written for another in one bar, for the `share` of the bar's time."""

    bar: int
    played: str
    written: str
    share: float


@dataclass(frozen=True, slots=True)
class RepeatedSlip:
    """One chord written for one and the same other in several bars of the reference, `bars`.

    It lost `lost` bars of credit in all, of which `spared` are not counted.
    """

    played: str
    written: str
    bars: tuple[int, ...]
    lost: float
    spared: float


@dataclass(frozen=True, slots=True)
class ComponentScores:
    """The components of the bars' grades, each as its mean over the song.

    Placement, articulation, meter and key change are taken over the bars of the reference where
    they count (a bar left out included), None if there are none.
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
    for each bar of the reference, None if it is not known. `fell_behind` is the first bar of
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
    """A graded answer. `root` and `strict` are means over the reference's time.

    `meter_renamed` is whether the answer has another meter throughout, which is charged once.
    `summary` is what was good and what to work on, a sentence each.

    The JSON calls `edits` "happenings".
    """

    score: float
    root: float
    strict: float
    parts: ComponentScores
    bars: tuple[BarGrade, ...]
    phrases: PhraseGrade
    form: FormGrade
    home_shift: HomeShift | None
    edits: tuple[AlignmentEdit, ...]
    confusions: tuple[Confusion, ...]
    speed: SpeedGrade | None
    advice: tuple[Advice, ...]
    weights: Weights
    slips: tuple[RepeatedSlip, ...] = ()
    meter_renamed: bool = False
    summary: tuple[str, ...] = ()


# Fields whose JSON key is not their name.
JSON_KEYS = {"edits": "happenings"}


def _plain(value: Any) -> Any:
    """Return dataclasses and named tuples as dicts and tuples as lists, inside each other."""
    kind = type(value)
    names = getattr(kind, "__dataclass_fields__", None) or getattr(kind, "_fields", None)
    if names is not None:
        return {JSON_KEYS.get(name, name): _plain(getattr(value, name)) for name in names}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return value


def report_to_json(report: Report) -> dict[str, Any]:
    """Return a report as plain data for JSON. Keys may be added, never renamed."""
    plain: dict[str, Any] = _plain(report)
    phrases = plain["phrases"]
    plain["phrases"] = {key: phrases[key] for key in ("precision", "recall", "f")} | {
        "within_one": {key: phrases[f"near_{key}"] for key in ("precision", "recall", "f")}
    }
    plain["advice_details"] = plain["advice"]
    plain["advice"] = [one.text for one in report.advice]
    return plain
