"""What the band is asked to play besides whole songs: a few bars of one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.band import Mix, arrange
from trainer.chart import Chart, Section, excerpt
from trainer.exercise import Exercise

if TYPE_CHECKING:
    from trainer.band import Arrangement

__all__ = ["few_bars"]


def few_bars(
    exercise: Exercise, chart: Chart, first: int, last: int, like: int | None = None
) -> Arrangement:
    """Bars `first` to `last` by the same band, without a count-off.

    An answer sounds in the song's key and tempo, whatever its own header says, and as in the
    section of the song's bar `like`, so that the two can be compared. Raises ChartError for bars
    that are not there.
    """
    song = exercise.chart
    heard = excerpt(replace(chart, key=song.key, tempo=song.tempo), first, last)
    if like is not None:
        name = excerpt(song, like, like).sections[0].name
        phrases = tuple(phrase for section in heard.sections for phrase in section.phrases)
        heard = replace(heard, sections=(Section(name, phrases),))
    return arrange(
        heard,
        rng=exercise.band_rng(),
        band=exercise.band,
        mix=Mix(bass_lift_db=exercise.help.bass_lift_db),
        count_off=False,
    )
