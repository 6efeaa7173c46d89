"""The line of strength of a song, which all players follow.

A stretch grows towards the bar of its cadence and relaxes in it. Before a fuller section everybody
grows more; before a quieter one they give way. Common practice, no source.
"""

from __future__ import annotations

from trainer.band.timeline import Timeline, TimelineBar

__all__ = ["strength_line"]

# In decibels: how far a stretch starts under and its last bar over the usual strength, how far it
# falls back in that bar, and what the last bars before another section add.
RISE_FROM_DB, RISE_TO_DB, FALL_DB = -0.8, 0.8, 1.0
CRESCENDO_DB, GIVING_WAY_DB = 2.4, -1.2
CRESCENDO_BARS = 2
# By how much the energy of the next section differs where players grow or give way.
FULLER, QUIETER = 0.15, -0.2
# A velocity v sounds 40·log10(v/127) dB (General MIDI Level 1 developer guidelines).
DB_A_DECADE = 40.0


def strength_line(timeline: Timeline) -> tuple[float, ...]:
    """By what factor strokes are harder at each half quarter from the first bar line."""
    bars = timeline.bars
    bars_left = _bars_left(bars)
    line: list[float] = []
    following = 0
    for bar, left in zip(bars, bars_left, strict=True):
        following = bar.number - 1 + left
        after = bars[following].energy if following < len(bars) else None
        while len(line) < 2 * bar.end:
            share = (len(line) / 2 - bar.start) / (bar.end - bar.start)
            decibels = _stretch_db(bar, share) + _next_section_db(bar, share, left, after)
            line.append(10 ** (decibels / DB_A_DECADE))
    # Strokes round to the nearest half quarter, which may be the one after the last bar.
    return (*line, *line[-1:] * 4)


def _bars_left(bars: tuple[TimelineBar, ...]) -> list[int]:
    """For each bar, the bars from it to the end of its section, itself included."""
    left: list[int] = []
    for bar in reversed(bars):
        left.append(1 if bar.last_in_section else left[-1] + 1)
    return left[::-1]


def _stretch_db(bar: TimelineBar, share: float) -> float:
    """The strength in decibels at a place in a stretch; `share` of the bar is over."""
    last = bar.stretch_bars - 1
    if last < 1:
        return 0.0
    place = bar.stretch_index + share
    if place <= last:
        return RISE_FROM_DB + (RISE_TO_DB - RISE_FROM_DB) * place / last
    return RISE_TO_DB - FALL_DB * (place - last)


def _next_section_db(bar: TimelineBar, share: float, left: int, after: float | None) -> float:
    """What is added before a section with the energy `after`, `left` bars with this one away."""
    if after is None or left > CRESCENDO_BARS:
        return 0.0
    if after - bar.energy >= FULLER:
        return CRESCENDO_DB * (CRESCENDO_BARS - left + share) / CRESCENDO_BARS
    if after - bar.energy <= QUIETER and left == 1:
        return GIVING_WAY_DB * share
    return 0.0
