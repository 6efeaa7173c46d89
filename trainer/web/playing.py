"""What the band is asked to play: a song at some speed, or a few bars of it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.band import Mix, arrange
from trainer.chart import Chart, Header, Section, excerpt
from trainer.exercise import Exercise
from trainer.web.sittings import FULL_SPEED

if TYPE_CHECKING:
    from trainer.band import Arrangement

__all__ = ["bar_times_s", "few_bars", "header_of", "whole_song"]


def header_of(chart: Chart) -> Header:
    """What a learner need not write."""
    return Header(meter=chart.meter, tempo=chart.tempo, feel=chart.feel, key=chart.key)


def whole_song(exercise: Exercise, chart: Chart, speed: int = FULL_SPEED) -> Arrangement:
    """A chart, the learner's or the song's, as the exercise has it played."""
    help_ = exercise.help
    return arrange(
        chart,
        rng=exercise.band_rng(),
        band=exercise.band,
        mix=Mix(bass_lift_db=help_.bass_lift_db, tonic_first=help_.tonic_first),
        tempo=chart.tempo * speed / FULL_SPEED,
        count_off=help_.count_off,
    )


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


def bar_times_s(arrangement: Arrangement) -> tuple[tuple[float, float], ...]:
    """Start and end of each bar, in seconds from the first click."""
    seconds = arrangement.tempo_map.seconds
    return tuple(
        (seconds(bar.start_quarters), seconds(bar.start_quarters + bar.length_quarters))
        for bar in arrangement.bars
    )
