"""Stored reports read back: of their JSON, what a result shows of a graded answer.

Reports keep the shape of the version that graded them. Keys that came later are left out in older
ones and have defaults here; keys that are not named here are passed over.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from msgspec import Meta, Struct, ValidationError, convert

from trainer.errors import SettingsError, StoreBroken
from trainer.grade import Weights

__all__ = ["StoredAdvice", "StoredBar", "StoredReport", "StoredSpeed", "read_report"]

# Sums of shares may be a rounding above 1.
Score = Annotated[float, Meta(ge=0, le=1 + 1e-6)]
BarNumber = Annotated[int, Meta(ge=1, le=1_000_000)]
BarRange = tuple[BarNumber, BarNumber]
Beats = Annotated[float, Meta(ge=-1e6, le=1e6)]
# A report of another version may weigh other things.
_WEIGHTS = frozenset(Weights.__dataclass_fields__)


class StoredBar(Struct, frozen=True):
    """A row of the aligned charts, as `trainer.grade.BarGrade`; None is a score it does not have.

    `reference` or `answer` None is a bar that one of the charts does not have.
    """

    reference: BarNumber | None
    answer: BarNumber | None
    score: Score
    root: Score | None = None
    quality: Score | None = None
    bass: Score | None = None
    placement: Score | None = None
    articulation: Score | None = None
    meter: Score | None = None
    key_change: Score | None = None


class StoredCase(Struct, frozen=True):
    """A place that an advice cites: the bars of either chart, and what stands there in notation,
    which older reports do not say."""

    reference: BarNumber | None = None
    answer: BarNumber | None = None
    played: str = ""
    written: str = ""


class StoredEdit(Struct, frozen=True):
    """What was done to whole bars, as `trainer.grade`'s AlignmentEdit."""

    kind: str
    reference: tuple[BarNumber, ...] = ()
    answer: tuple[BarNumber, ...] = ()


class StoredHomeShift(Struct, frozen=True):
    """How a chart is counted from another 1, as `trainer.grade`'s HomeShift; `bars` are graded with
    that undone."""

    kind: str
    from_bar: BarNumber = 1
    to_bar: BarNumber | None = None
    bars: tuple[StoredBar, ...] = ()


class StoredAdvice(Struct, frozen=True):
    """One thing worth saying, the first and last bar of either chart to hear again, and its kind
    and the places that it cites, which older reports do not have."""

    text: str
    listen: BarRange | None
    listen_answer: BarRange | None = None
    cases: tuple[StoredCase, ...] = ()
    kind: str = ""


class StoredPhrases(Struct, frozen=True):
    """The F-measure of the phrases' ends."""

    f: Score


class StoredForm(Struct, frozen=True):
    """The grade of the order of the sections."""

    score: Score


class StoredSpeed(Struct, frozen=True):
    """How closely the writing followed the sound, as `trainer.grade`'s SpeedGrade: lags in beats,
    one for each bar of the reference; `fell_behind` is a bar's number."""

    lag_beats: tuple[Beats | None, ...] = ()
    median_lag_beats: Beats | None = None
    fell_behind: BarNumber | None = None


class StoredReport(Struct, frozen=True, rename={"edits": "happenings"}):
    """A graded answer. `parts` are the scores over the whole song, None if it has nothing of a
    part; `weights` is what counted how much; `summary` is empty in older reports."""

    score: Score
    bars: tuple[StoredBar, ...]
    phrases: StoredPhrases
    form: StoredForm
    parts: dict[str, Score | None]
    advice: tuple[str, ...]
    advice_details: tuple[StoredAdvice, ...]
    weights: Weights
    home_shift: StoredHomeShift | None = None
    speed: StoredSpeed | None = None
    edits: tuple[StoredEdit, ...] = ()
    meter_renamed: bool = False
    summary: tuple[str, ...] = ()


def read_report(data: object, where: str) -> StoredReport:
    """The report in stored JSON; `where` names it in messages.

    Raises
    ------
    StoreBroken
        If it is no report; says where, what was found and what was expected.
    """
    try:
        return convert(_known(data), StoredReport)
    except (ValidationError, SettingsError) as error:
        raise StoreBroken(f"{where}: found no report: {error}") from error


def _known(data: object) -> object:
    """The report without the weights that are not known here."""
    if not isinstance(data, Mapping) or not isinstance(data.get("weights"), Mapping):
        return data
    weights = {name: each for name, each in data["weights"].items() if name in _WEIGHTS}
    return {**data, "weights": weights}
