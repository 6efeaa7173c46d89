"""The pieces that all advice is worded with: bars, lists, beats, intervals, shares."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from trainer.chart.format import OPEN_BAR
from trainer.chart.model import Bar, Meter
from trainer.grade.content import ChartContent
from trainer.grade.mistakes import bar_text
from trainer.grade.weights import ROUNDING

__all__ = [
    "bar_ranges",
    "bars_aside",
    "bars_text",
    "beats_text",
    "chords_text",
    "count_text",
    "interval_text",
    "join_words",
    "location_text",
    "number_word",
    "percent_text",
    "phrase_length_text",
    "some_bars_text",
    "usual_meter",
    "whole_percent",
    "your_bars",
]

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
MOST_SHOWN = 4
INTERVALS = (
    "nothing",
    "a half step",
    "a whole step",
    "a minor third",
    "a major third",
    "a fourth",
    "a tritone",
    "a fifth",
    "a minor sixth",
    "a major sixth",
    "a minor seventh",
    "a major seventh",
)


def number_word(number: int) -> str:
    """Return a number as a word, from 11 on in digits."""
    return NUMBERS[number] if number < len(NUMBERS) else str(number)


def count_text(number: int, noun: str) -> str:
    """Return a number with its noun: "one bar", "three bars"."""
    return f"{number_word(number)} {noun}{'' if number == 1 else 's'}"


def whole_percent(share: float) -> int:
    """Return a share (0 to 1) in whole per cent, rounded down: 100 is said of 1 alone.

    A share below a mark is so never shown as having reached it.

    >>> whole_percent(0.996), whole_percent(1.0), whole_percent(0.29)
    (99, 100, 29)
    """
    # A share that is a fraction may lie a hair below it.
    return 100 if share >= 1.0 else min(99, math.floor(100 * share + ROUNDING))


def percent_text(share: float) -> str:
    """Return a share as a percentage, rounded down: 100% is said of 1 alone.

    >>> percent_text(0.996), percent_text(1.0)
    ('99%', '100%')
    """
    return f"{whole_percent(share)}%"


def interval_text(semitones: int) -> str:
    """Name an interval below an octave."""
    return INTERVALS[semitones % 12]


def join_words(words: Sequence[str]) -> str:
    """Join words with commas and a last "and"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def bar_ranges(bars: Sequence[int]) -> list[tuple[int, int]]:
    """Put bars that follow each other together: [1, 2, 3, 7] is [(1, 3), (7, 7)]."""
    ranges: list[tuple[int, int]] = []
    for bar in sorted(bars):
        if ranges and bar <= ranges[-1][1] + 1:
            ranges[-1] = ranges[-1][0], bar
        else:
            ranges.append((bar, bar))
    return ranges


def bars_text(bars: Sequence[int], capital: bool = False) -> str:
    """Name bars, all of them, those that follow each other as a range: "bars 3–6 and 9"."""
    if len(bars) == 1:
        return f"{'Bar' if capital else 'bar'} {bars[0]}"
    bars = sorted(set(bars))
    parts = [str(first) if first == last else f"{first}–{last}" for first, last in bar_ranges(bars)]
    word = "bar" if len(bars) == 1 else "bars"
    return f"{word.capitalize() if capital else word} {join_words(parts)}"


def some_bars_text(chart: ChartContent, bars: Sequence[int]) -> str:
    """Return the first of some bars (from 1) in notation: "1 4 (5 1) 2- …"."""
    texts = [bar_text(chart.bars[bar - 1]) for bar in bars[:MOST_SHOWN]]
    return " ".join(texts) + (" …" if len(bars) > MOST_SHOWN else "")


def bars_aside(named: str, chart: ChartContent, bars: Sequence[int]) -> str:
    """Return the name of some bars (from 1) and what stands in them: "bars 1–2 (1 4)".

    Commas take the place of the brackets where the first bar has brackets of its own. A number
    behind a comma would be read as one more bar.
    """
    text = some_bars_text(chart, bars)
    return f"{named}, {text}," if text.startswith("(") else f"{named} ({text})"


def phrase_length_text(chart: ChartContent, phrase: int, written: int) -> str:
    """Say how long a phrase of the song is, and how many bars are written for it."""
    first, end = chart.phrase_boundaries[phrase : phrase + 2]
    length = end - first
    bars = f"{first + 1}" if length == 1 else f"{first + 1}–{end}"
    return (
        f"The phrase is {count_text(length, 'bar')} long ({bars}), and you wrote "
        f"{number_word(written)}. Count until the vocal starts over."
    )


def your_bars(bars: Sequence[int]) -> str:
    """Name bars of the answer."""
    return f"your {bars_text(bars)}"


def location_text(chart: ChartContent, bars: Sequence[int], capital: bool = False) -> str:
    """Name bars by number, and say where in which section they stand if they all stand in one.

    Bars count from 1.
    """
    text = bars_text(bars, capital)
    sections = {chart.section_of_bar[bar - 1] for bar in bars}
    if len(sections) != 1 or len(chart.sections) < 2:
        return text
    section = sections.pop()
    name, start = chart.sections[section].name, chart.section_boundaries[section]
    if not name:
        return text
    if start == 0 or len(bars) > 1:
        return f"{text} ({name})"
    return f"{text} (bar {bars[0] - start} of {name})"


def chords_text(bar: Bar) -> str:
    """Name the chords of a bar in order: "1, 4 and 0 (silence)"."""
    if bar.is_open:
        return OPEN_BAR
    return join_words(
        ["0 (silence)" if event.chord is None else str(event.chord) for event in bar.events]
    )


def usual_meter(chart: ChartContent) -> Meter:
    """Return the meter that most bars of a chart have."""
    meters = [bar.meter for bar in chart.bars]
    # Most bars have one and the same meter: its identity is told quicker than its value.
    return max(set({id(meter): meter for meter in meters}.values()), key=meters.count)


def beats_text(beats: Sequence[Fraction], unit: int = 4) -> str:
    """Say how long each chord of a bar lasts: "two beats each", "three beats and then one".

    Of three chords and more, it is "for one, one and two beats".

    `unit` is the lower number of the meter: what 6/8 and 12/8 count are eighths.
    """
    noun = {8: "eighth", 16: "sixteenth"}.get(unit, "beat")
    if len(set(beats)) == 1:
        beat = beats[0]
        if beat.denominator != 1:
            return "dividing the bar evenly"
        return f"{count_text(int(beat), noun)} each"
    first, *rest = [int(beat) for beat in beats]
    words = [number_word(beat) for beat in rest]
    if len(rest) > 1:
        return f"for {join_words([number_word(first), *words])} {noun}s"
    return f"{count_text(first, noun)} and then {words[0]}"
