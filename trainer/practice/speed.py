"""The speed self-test: a fixed protocol, so that results can be compared.

One section of sixteen bars at 96 beats a minute, six chords, a few splits and slashes, the small
band, no help, one listen, no pause, the tempo as it is. The result is the share of the bars that
were kept up with: written entirely right, no later than one bar after they had sounded and no
earlier than one bar before they sounded (what was written earlier was a guess).
The protocol has a name; if it ever changes, so does the name, and results of different protocols
are never compared. An exercise carries the name of its protocol in its recipe, under "protocol".
Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from statistics import median
from typing import Any

from trainer.exercise import Exercise, make_exercise, recipe_from_dict
from trainer.practice.graded import GradedBar

__all__ = [
    "PROTOCOL",
    "SPEED_RECIPE",
    "SpeedHistory",
    "SpeedResult",
    "describe_standing",
    "disqualification",
    "is_speed_test",
    "speed_history",
    "speed_result",
    "speed_test",
]

PROTOCOL = "speed 1"
SPEED_RECIPE = recipe_from_dict(
    {
        "size": "section",
        "styles": ["straight pop"],
        "tempo": [96, 96],
        "chords": ["1", "2-", "3-", "4", "5", "6-"],
        "bars": [16, 16],
        "least_chords": 4,
        "features": {"splits": 0.15, "slash_chords": 0.15},
        "band": "small",
        "listens": 1,
        "ask": "chords",
    },
    PROTOCOL,
)
# What the recipe of "speed 1" said before exercises carried the name of their protocol. It stays as
# it is, whatever keys recipes get: stored tests are known by it.
FIRST_SPEED_RECIPE: Mapping[str, Any] = {
    "size": "section",
    "styles": ["straight pop"],
    "meters": [],
    "tempo": [96.0, 96.0],
    "keys": [],
    "chords": ["1", "2-", "3-", "4", "5", "6-"],
    "favour": [],
    "extensions": 0.0,
    "minor": 0.0,
    "phrase_bars": 4,
    "odd_lengths": [2, 3, 5, 6, 7],
    "variety": 0.0,
    "bars": [16, 16],
    "least_chords": 4,
    "needs": [],
    "features": {
        "splits": 0.15,
        "uneven_splits": 0.0,
        "slash_chords": 0.15,
        "odd_phrases": 0.0,
        "holds": 0.0,
        "pushes": 0.0,
        "chokes": 0.0,
        "short_bars": 0.0,
        "key_change": 0.0,
        "tag": 0.0,
        "later_changes": 0.0,
    },
    "band": "small",
    "help": {"bass_lift_db": 0.0, "tonic_first": False, "count_off": True},
    "listens": 1,
    "loop": False,
    "ask": "chords",
}
# A bar is in time if it is written before the bar after it has ended.
BARS_IN_TIME = 2
# A bar written at most this many bars before it sounded is not a guess.
BARS_AHEAD = 1
RIGHT = 1 - 1e-9


@dataclass(frozen=True, slots=True)
class SpeedResult:
    """The result of one self-test.

    `kept_up` and `right` are shares of the bars, 0 to 1; `lag_beats` is the median lag, None if no
    bar was timed.
    """

    protocol: str
    at: datetime
    kept_up: float
    right: float
    lag_beats: float | None


@dataclass(frozen=True, slots=True)
class SpeedHistory:
    """Results in order of time, the best of them, and the rank of the last among those before it.

    `percentile` is the share (0 to 100) of earlier results that the last one beats, ties counted
    half; None for a first result.
    """

    results: tuple[SpeedResult, ...]
    best: SpeedResult | None
    is_best: bool
    percentile: float | None


def speed_test(seed: int) -> Exercise:
    """The exercise of a self-test. Raises SettingsError for a seed below 0."""
    made = make_exercise(SPEED_RECIPE, seed)
    return replace(made, recipe={"protocol": PROTOCOL} | dict(made.recipe))


def is_speed_test(recipe: Mapping[str, Any]) -> bool:
    """Whether an exercise's recipe is that of the present protocol.

    A recipe without a protocol is, where it says what those of old tests say; further keys do not
    matter.
    """
    if "protocol" in recipe:
        return bool(recipe["protocol"] == PROTOCOL)
    return _has(recipe, FIRST_SPEED_RECIPE)


def _has(found: object, expected: Mapping[str, Any]) -> bool:
    """Whether a table has all of the expected values, those of its tables included."""
    return isinstance(found, Mapping) and all(
        _has(found.get(key), value)
        if isinstance(value, Mapping)
        else key in found and found[key] == value
        for key, value in expected.items()
    )


def speed_result(
    bars: Iterable[GradedBar],
    beats_a_bar: float,
    at: datetime,
    *,
    listens: int,
    paused: bool,
    tempo_ratio: float,
    seen: bool = False,
) -> SpeedResult | None:
    """The result of an attempt at the self-test; None if it does not count as one."""
    rows = [bar for bar in bars if bar.reference is not None]
    lags = [max(0.0, bar.lag_beats) for bar in rows if bar.lag_beats is not None]
    if disqualification(
        listens=listens, paused=paused, tempo_ratio=tempo_ratio, is_timed=bool(lags), seen=seen
    ):
        return None
    right = [(bar.score or 0.0) >= RIGHT for bar in rows]
    in_time = [
        is_right
        and bar.lag_beats is not None
        and -BARS_AHEAD * beats_a_bar <= bar.lag_beats <= BARS_IN_TIME * beats_a_bar
        for is_right, bar in zip(right, rows, strict=True)
    ]
    return SpeedResult(PROTOCOL, at, sum(in_time) / len(rows), sum(right) / len(rows), median(lags))


def disqualification(
    *, listens: int, paused: bool, tempo_ratio: float, is_timed: bool, seen: bool
) -> str:
    """Why an attempt does not count as a self-test by the protocol, in words; "" if it does.

    `is_timed` says whether any bar was written while the band played; the rest is as in
    `trainer.practice.Conditions`.
    """
    if seen:
        return "you had seen the chart of this song before"
    if listens != 1:
        return (
            f"you played the song {listens} times, not once"
            if listens
            else "you didn't play the song"
        )
    if paused:
        return "you paused or stopped the band"
    if tempo_ratio != 1:
        return "you slowed the song down"
    return "" if is_timed else "you wrote no bar after the band began"


def describe_standing(history: SpeedHistory) -> str:
    """How the last result compares with those before it, in words.

    Raises ValueError if there is no result.
    """
    if not history.results:
        raise ValueError("found no results, expected at least one")
    *before, last = map(_rank, history.results)
    if not before:
        return "This is your first test. Later ones are compared with it."
    if history.is_best:
        return "This is your best so far."
    equal = sum(each == last for each in before)
    if equal == len(before):
        return "This is as good as your earlier tests."
    beaten = sum(each < last for each in before)
    if not beaten:
        return (
            "This is as good as your weakest test so far."
            if equal
            else "This is below all your earlier tests."
        )
    share = f"This is better than {beaten} of your {len(before)} earlier tests"
    return f"{share} and as good as {equal}." if equal else f"{share}."


def speed_history(results: Sequence[SpeedResult]) -> SpeedHistory:
    """The history of the results, of the present protocol only."""
    mine = tuple(result for result in results if result.protocol == PROTOCOL)
    if not mine:
        return SpeedHistory((), None, is_best=False, percentile=None)
    *before, last = mine
    best = max(mine, key=_rank)
    beaten = sum(
        1.0 if _rank(each) < _rank(last) else 0.5 if _rank(each) == _rank(last) else 0.0
        for each in before
    )
    percentile = 100 * beaten / len(before) if before else None
    is_best = bool(before) and all(_rank(each) < _rank(last) for each in before)
    return SpeedHistory(mine, best, is_best, percentile)


def _rank(result: SpeedResult) -> tuple[float, float, float]:
    """The key by which results are compared: more kept up, then more right, then less lag."""
    lag = float("inf") if result.lag_beats is None else result.lag_beats
    return result.kept_up, result.right, -lag
