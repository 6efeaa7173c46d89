"""Ways through a drill that several tests take."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import accumulate
from typing import Any

from sqlalchemy import select

from tests.store.samples import TEXT
from trainer.chart import format_chart
from trainer.drill import Drills, Submitted, play_song, submit
from trainer.exercise import Exercise, read_answer
from trainer.store import Store
from trainer.store.tables import metadata

__all__ = ["Clock", "answered", "in_time", "shown", "stored"]


@dataclass
class Clock:
    """A clock that goes when it is told to."""

    now: datetime

    def __call__(self) -> datetime:
        """The moment it shows."""
        return self.now

    def pass_(self, **spans: float) -> datetime:
        """Let a span of time pass (as `timedelta` takes it); the moment then."""
        self.now += timedelta(**spans)
        return self.now


def shown(exercise: Exercise) -> str:
    """The text that the result page shows as what was played."""
    return format_chart(exercise.chart)


def in_time(
    exercise: Exercise, text: str, lag_beats: float | Sequence[float] = 4.0, speed: int = 100
) -> str:
    """Stamps of an ASCII text whose bars were each written so long after they began to sound.

    `lag_beats` is the same for all bars, or has one for each.
    """
    played = play_song(exercise, speed)
    beat = played.tempo_map.seconds(4 / exercise.chart.meter.unit)
    spans = read_answer(exercise, text).parsed.bar_spans
    starts = [0, *accumulate(len(line) for line in text.splitlines(keepends=True))]
    ends = [starts[span.line - 1] + span.end_column - 1 for span in spans]
    lags = [lag_beats] * len(ends) if isinstance(lag_beats, float) else lag_beats
    bars = zip([0, *ends], ends, lags, played.bar_times_s, strict=False)
    runs = [[end - before, start + lag * beat] for before, end, lag, (start, _) in bars]
    typed = sum(count for count, _ in runs)
    return json.dumps([*runs, [len(text) - typed, runs[-1][1]]])


def answered(
    drills: Drills, exercise: Exercise, text: str = TEXT, listens: int = 1, **how: Any
) -> Submitted:
    """Begin an exercise, hear it through so many times, write and submit."""
    drill = drills.begin(exercise)
    for _ in range(listens):
        drills.listen(drill.record.key, token=drill.token)
        drills.heard(drill.record.key, None, token=drill.token)
    drills.keep_text(drill.record.key, text, token=drill.token)
    return submit(drills, drill.record.key, text, token=drill.token, **how)


def stored(store: Store, *but: str) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table but those named, in an order that does not change."""
    with store._database.reading() as connection:
        return {
            name: sorted(map(tuple, connection.execute(select(table))), key=repr)
            for name, table in metadata.tables.items()
            if name not in but
        }
