"""How the band plays a song: in any key and tempo, by any band, from any bar."""

from __future__ import annotations

import random
from dataclasses import replace

from trainer.band import Arrangement, arrange
from trainer.chart import Chart, Key, excerpt
from trainer.errors import InputError
from trainer.songbook.song_text import in_key, read_song

__all__ = ["keys_of", "play_song_text"]

SEMITONES = 12


def keys_of(chart: Chart | None) -> tuple[Key, ...]:
    """The twelve keys that a chart can be played in, its own first; in a minor key, minor keys."""
    own = Key("C") if chart is None else chart.key
    return tuple(own.shifted(shift) for shift in range(SEMITONES))


def play_song_text(
    text: str,
    *,
    key: Key | None = None,
    tempo: float | None = None,
    band: str = "full",
    first: int = 1,
    last: int | None = None,
) -> Arrangement:
    """The band's arrangement of a song's text, as far as the text can be read.

    Parameters
    ----------
    key, tempo : None for the chart's own.
    band : one of the bands of `trainer.band`.
    first : the number of the bar to begin with.
    last : the number of the last bar, heard without a count-off; None for the rest of the song,
        after a count-off.

    Raises
    ------
    InputError
        If no bar can be read, or there is none of that number.
    """
    chart = read_song(text).chart
    if chart is None:
        raise InputError("There's nothing to play yet. Write at least one bar.")
    bars = len(chart.bars())
    if not 1 <= first <= bars:
        raise InputError(f"from bar: found {first}, expected a bar from 1 to {bars}")
    if last is not None and not first <= last <= bars:
        raise InputError(f"to bar: found {last}, expected a bar from {first} to {bars}")
    if tempo is not None:
        chart = replace(chart, tempo=tempo)
    heard = excerpt(in_key(chart, key), first, bars if last is None else last)
    # The seed is fixed, so that the same chart sounds the same each time.
    return arrange(heard, rng=random.Random("songbook"), band=band, count_off=last is None)
