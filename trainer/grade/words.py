"""Phrases that advice is made of."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from trainer.chart.format import ARTICULATION_LETTERS
from trainer.chart.model import Bar
from trainer.grade.sheet import Sheet

__all__ = [
    "bar_text",
    "bars_text",
    "beats_text",
    "count",
    "interval_text",
    "listing",
    "place_text",
    "ranges",
]

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
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
MOST_LISTED = 6


def count(number: int) -> str:
    """A small number as a word."""
    return NUMBERS[number] if number < len(NUMBERS) else str(number)


def interval_text(semitones: int) -> str:
    """An interval below the octave by its usual name."""
    return INTERVALS[semitones % 12]


def listing(items: Sequence[str]) -> str:
    """Join with commas and a last "and"."""
    return ", ".join(items[:-1]) + " and " + items[-1] if len(items) > 1 else "".join(items)


def ranges(bars: Sequence[int]) -> list[tuple[int, int]]:
    """Bars as stretches, first and last."""
    found: list[tuple[int, int]] = []
    for bar in sorted(set(bars)):
        if found and found[-1][1] == bar - 1:
            found[-1] = (found[-1][0], bar)
        else:
            found.append((bar, bar))
    return found


def bars_text(bars: Sequence[int], capital: bool = False) -> str:
    """Bars by number: "bar 3", "bars 3 and 7", "bars 3–6, 9 and 3 more"."""
    bars = sorted(set(bars))
    stretches = ranges(bars)
    shown = stretches[:MOST_LISTED]
    parts = []
    for first, last in shown:
        parts += [str(first)] if first == last else [f"{first}–{last}"]
    hidden = sum(last - first + 1 for first, last in stretches[MOST_LISTED:])
    if hidden:
        parts.append(f"{hidden} more")
    word = "bar" if len(bars) == 1 else "bars"
    return f"{word.capitalize() if capital else word} {listing(parts)}"


def place_text(sheet: Sheet, bars: Sequence[int], capital: bool = False) -> str:
    """Bars by number, and where in which section they stand if they all stand in one."""
    text = bars_text(bars, capital)
    sections = {sheet.sections[bar - 1] for bar in bars}
    if len(sections) != 1 or len(sheet.parts) < 2:
        return text
    section = sections.pop()
    name, start = sheet.parts[section].name, sheet.section_limits[section]
    if not name:
        return text
    if start == 0 or len(bars) > 1:
        return f"{text} ({name})"
    return f"{text} (bar {bars[0] - start} of {name})"


def bar_text(bar: Bar) -> str:
    """A bar in notation, without its meter and key."""
    parts = []
    for event in bar.events:
        text = "0" if event.chord is None else str(event.chord)
        if not bar.is_even:
            text += "'" * int(event.beats)
        if event.articulation is not None:
            text += ARTICULATION_LETTERS[event.articulation]
        parts.append(text)
    return "_".join(parts)


def beats_text(beats: Sequence[Fraction]) -> str:
    """How long each chord of a bar lasts: "two beats each", "three beats and then one"."""
    if len(set(beats)) == 1:
        beat = beats[0]
        if beat.denominator != 1:
            return "the bar divided evenly"
        return f"{count(int(beat))} beat{'' if beat == 1 else 's'} each"
    words = [count(int(beat)) for beat in beats]
    if len(words) > 2:
        return f"{words[0]} beat{'' if beats[0] == 1 else 's'}, {listing(words[1:])}"
    return f"{words[0]} beat{'' if beats[0] == 1 else 's'} and then {listing(words[1:])}"
