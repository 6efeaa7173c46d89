"""How an exercise is played: the band's arrangement of its song, and the song's bars in time."""

from __future__ import annotations

import math
from dataclasses import replace

from trainer.band import Arrangement, Mix, arrange
from trainer.chart import Chart, excerpt
from trainer.errors import SettingsError
from trainer.exercise import Answer, Exercise
from trainer.grade import Timing

__all__ = [
    "FULL_SPEED",
    "SPEEDS",
    "beat_times_s",
    "check_speed",
    "play_answer",
    "play_bars",
    "play_part",
    "play_song",
    "timing_of",
]

# How fast the band may play, in per cent of the song's own tempo.
SPEEDS = (100, 90, 80, 70, 60, 50)
FULL_SPEED = 100


def check_speed(speed: int) -> int:
    """The speed, if the band may play at it. Raises SettingsError."""
    if speed not in SPEEDS:
        raise SettingsError("speed", str(speed), "one of " + ", ".join(map(str, SPEEDS)))
    return speed


def play_song(exercise: Exercise, speed: int = FULL_SPEED) -> Arrangement:
    """The song of an exercise as its band plays it, with the help that the exercise gives."""
    return arrange(
        exercise.chart,
        rng=exercise.band_rng(),
        band=exercise.band,
        mix=mix_of(exercise),
        tempo=exercise.chart.tempo * speed / FULL_SPEED,
        count_off=exercise.help.count_off,
    )


def play_answer(exercise: Exercise, answer: Answer) -> Arrangement | None:
    """An answer as the same band plays it; None if no bar of it could be read."""
    if answer.chart is None:
        return None
    return arrange(
        answer.chart,
        rng=exercise.band_rng(),
        band=exercise.band,
        mix=mix_of(exercise),
        count_off=exercise.help.count_off,
    )


def play_bars(
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
        model = excerpt(song, like, like).sections[0]
        phrases = tuple(phrase for section in heard.sections for phrase in section.phrases)
        heard = replace(heard, sections=(replace(model, phrases=phrases),))
    return arrange(
        heard,
        rng=exercise.band_rng(),
        band=exercise.band,
        mix=Mix(bass_lift_db=exercise.help.bass_lift_db),
        count_off=False,
    )


def play_part(exercise: Exercise, first: int, last: int) -> Arrangement:
    """Bars `first` to `last` of an exercise's song; the whole song begins as it does in a drill.
    Raises ChartError for bars that are not there."""
    if first == 1 and last == len(exercise.chart.bars()):
        return play_song(exercise)
    return play_bars(exercise, exercise.chart, first, last)


def mix_of(exercise: Exercise) -> Mix:
    """The balance of the band that the exercise asks for."""
    help_ = exercise.help
    return Mix(bass_lift_db=help_.bass_lift_db, tonic_first=help_.tonic_first)


def beat_times_s(exercise: Exercise, speed: int = FULL_SPEED) -> tuple[tuple[float, ...], ...]:
    """When the beats of each bar of the song sound, in seconds from the start of its playback.

    The beats are those that the tempo counts: two in a bar of 6/8.
    """
    arrangement = play_song(exercise, speed)
    times = []
    for bar, sounding in zip(exercise.chart.bars(), arrangement.bars, strict=True):
        pulse = bar.meter.pulse_quarters
        count = math.ceil(bar.meter.quarters / pulse)
        starts = [sounding.start_quarters + float(pulse * beat) for beat in range(count)]
        times.append(tuple(map(arrangement.sounding_s, starts)))
    return tuple(times)


def timing_of(
    exercise: Exercise,
    bars_done_s: tuple[float | None, ...],
    *,
    speed: int,
    listens: int,
    paused: bool,
) -> Timing:
    """When the bars of an answer were finished against when the song's bars sounded.

    Parameters: `bars_done_s` in seconds after the first listen began, at `speed` per cent of the
    song's tempo.
    """
    arrangement = play_song(exercise, speed)
    return Timing(
        bar_done_s=bars_done_s,
        bar_times_s=arrangement.bar_times_s,
        seconds_per_beat=arrangement.tempo_map.seconds(4 / exercise.chart.meter.unit),
        listens=listens,
        paused=paused,
    )
