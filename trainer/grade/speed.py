"""Speed: how far behind the sound the writing was.

A bar's lag is the time from when it began to sound to when it was written, in beats of the song.
Times are seconds on the clock of the playback.
"""

from __future__ import annotations

import math
from collections.abc import Container, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from trainer.errors import InputError
from trainer.grade.alignment import Pair
from trainer.grade.report import SpeedGrade

__all__ = ["Timing", "bar_lags", "grade_speed"]


@dataclass(frozen=True, slots=True)
class Timing:
    """When things happened.

    `bar_done_s` holds for each bar of the answer when it was finished, None where unknown;
    `bar_times_s` the start and end of each bar of the reference; `seconds_per_beat` is of the
    song's beat; `listens` counts passes through the audio, `paused` says whether it was stopped on
    the way. Raises InputError for times that are not finite or beats that do not last.
    """

    bar_done_s: tuple[float | None, ...]
    bar_times_s: tuple[tuple[float, float], ...]
    seconds_per_beat: float
    listens: int = 1
    paused: bool = False

    def __post_init__(self) -> None:
        times = [time for time in self.bar_done_s if time is not None]
        times += [time for pair in self.bar_times_s for time in pair]
        if not all(map(math.isfinite, times)):
            raise InputError("timing: found a time that is not finite, expected seconds")
        if not (self.seconds_per_beat > 0 and math.isfinite(self.seconds_per_beat)):
            raise InputError(
                f"timing: found {self.seconds_per_beat} seconds per beat, expected more than 0"
            )
        if self.listens < 0:
            raise InputError(f"timing: found {self.listens} listens, expected 0 or more")


def check_timing(timing: Timing, reference_bars: int, answer_bars: int) -> None:
    """Raise InputError unless there is one time for each bar of either side."""
    for name, found, expected in (
        ("bar_times_s", len(timing.bar_times_s), reference_bars),
        ("bar_done_s", len(timing.bar_done_s), answer_bars),
    ):
        if found != expected:
            raise InputError(f"timing: found {found} {name}, expected one a bar, {expected}")


def bar_lags(timing: Timing, pairs: Sequence[Pair]) -> list[float | None]:
    """The lag in beats of each row of the alignment, None where a side has no time."""
    lags: list[float | None] = []
    for one, other in pairs:
        done = None if other is None else timing.bar_done_s[other]
        if one is None or done is None:
            lags.append(None)
        else:
            lags.append((done - timing.bar_times_s[one][0]) / timing.seconds_per_beat)
    return lags


def grade_speed(
    timing: Timing, pairs: Sequence[Pair], moved: Container[int] = frozenset()
) -> SpeedGrade:
    """Summarise the lags. Bars of the reference that were `moved` (from 0) say nothing of speed.

    "First pass" is one listen, no pause, every bar of the answer timed, and the last bar written
    no later than one bar's length after the song's last bar ended.
    """
    # In the song's order, which swapped sections are not in.
    pairs = sorted((one, other) for one, other in pairs if one is not None)
    lags = bar_lags(timing, pairs)
    in_place = [None if pair[0] in moved else lag for pair, lag in zip(pairs, lags, strict=True)]
    known = [lag for lag in in_place if lag is not None]
    done = [time for time in timing.bar_done_s if time is not None]
    start, (last_start, last_end) = timing.bar_times_s[0][0], timing.bar_times_s[-1]
    first_pass = (
        timing.listens == 1
        and not timing.paused
        and bool(done)
        and len(done) == len(timing.bar_done_s)
        and max(done) <= last_end + (last_end - last_start)
    )
    spent = max(done) - start if done else 0.0
    return SpeedGrade(
        first_pass,
        timing.listens,
        timing.paused,
        median(known) if known else None,
        max(known) if known else None,
        60 * len(done) / spent if spent > 0 else None,
        _fell_behind(timing, pairs, in_place),
        tuple(lags),
    )


def _fell_behind(timing: Timing, pairs: Sequence[Pair], lags: Sequence[float | None]) -> int | None:
    """First bar (from 1) of the longest run of bars that lag a bar or more over the median, or
    over the sound itself if most were written ahead of it."""
    timed = [
        (one, lag)
        for (one, _), lag in zip(pairs, lags, strict=True)
        if one is not None and lag is not None
    ]
    if not timed:
        return None
    # Who wrote ahead of the sound is not behind when the sound catches up.
    usual = max(0.0, median(lag for _, lag in timed))
    behind = []
    for one, lag in timed:
        start, end = timing.bar_times_s[one]
        behind.append(lag - usual >= (end - start) / timing.seconds_per_beat)
    edges = [
        k for k in range(len(timed) + 1) if (k and behind[k - 1]) != (k < len(timed) and behind[k])
    ]
    runs = [(b - a, -a) for a, b in pairwise(edges) if behind[a]]
    return timed[-max(runs)[1]][0] + 1 if runs else None
