"""Bars and chords as a musician says them: "five over seven, then six minor, two beats each"."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from trainer.chart.model import Articulation, Bar, Chord, Degree, Event, Meter, Section

__all__ = ["say_bar", "say_chord", "say_section"]

NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen",
)  # fmt: skip
QUALITIES = {"": "", "-": " minor", "o": " diminished", "+": " augmented", "ø": " half-diminished"}
# What is said after number and quality.
EXTENSIONS = {
    "": "",
    "5": " power chord",
    "6": " six",
    "69": " six nine",
    "7": " seven",
    "maj7": " major seven",
    "9": " nine",
    "maj9": " major nine",
    "add9": " add nine",
    "11": " eleven",
    "13": " thirteen",
    "7b9": " seven flat nine",
    "7#9": " seven sharp nine",
    "sus2": " suspended two",
    "sus4": " suspended four",
    "7sus4": " seven suspended four",
    "9sus4": " nine suspended four",
}
ARTICULATIONS = {
    Articulation.HOLD: ", held",
    Articulation.PUSH: ", pushed",
    Articulation.CHOKE: ", choked",
}
STEPS = ("", "a half step", "a whole step", "a step and a half", "two whole steps", "a fourth",
         "a tritone", "a fifth", "four whole steps", "a major sixth", "five whole steps",
         "a major seventh")  # fmt: skip


def say_chord(chord: Chord | None) -> str:
    """Say a chord: 5/7 is "five over seven", b7^maj7 "flat seven major seven"."""
    if chord is None:
        return "no chord"
    text = _degree(chord.root) + QUALITIES[chord.quality]
    # A half-diminished chord has its seventh in its name.
    text += "" if chord.quality == "ø" else EXTENSIONS[chord.extension]
    return text if chord.bass is None else f"{text} over {_degree(chord.bass)}"


def say_bar(bar: Bar, meter: Meter | None = None) -> str:
    """Say a bar, after its fade and key move, and after its meter if that is not `meter`.

    Its notes come before the chords, and its hits after them.

    With `meter` None only meters that are short against the common ones are said: those of fewer
    than 3 beats, as the 2/4 bar in a 4/4 song.
    """
    before = "the band fades out from here: " if bar.fades else ""
    if bar.key_change:
        direction = "up" if bar.key_change > 0 else "down"
        before += f"{direction} {STEPS[abs(bar.key_change)]}: "
    own_meter = bar.meter != meter if meter is not None else bar.meter.beats < 3
    if own_meter:
        before += f"{_number(bar.meter.beats)}-{_number(bar.meter.unit)} bar: "
    before += "".join([f"{note}: " for note in bar.notes])
    hits = f", hits on {_listed(map(_hit, bar.hits))}" if bar.hits else ""
    return before + _events(bar) + hits


def say_section(section: Section, meter: Meter | None = None) -> str:
    """Say a section: its name with its notes, then a line for each phrase."""
    lines = [f"{', '.join([section.name, *section.notes])}:"] if section.name else []
    lines.extend(
        "; ".join([say_bar(bar, meter) for bar in phrase.bars]) + "." for phrase in section.phrases
    )
    return "\n".join(lines)


def _events(bar: Bar) -> str:
    if bar.is_open:
        return "left open"
    said = [_event(event) for event in bar.events]
    if len(said) == 1:
        return said[0]
    if bar.is_even:
        return ", then ".join(said) + f", {_each(bar.events[0].beats)}"
    lengths = [_number(int(event.beats)) for event in bar.events]
    lengths[0] += " beat" if bar.events[0].beats == 1 else " beats"
    return ", then ".join([f"{a} for {b}" for a, b in zip(said, lengths, strict=True)])


def _hit(place: Fraction) -> str:
    beat = _number(int(place) + 1)
    return beat if place.denominator == 1 else f"the and of {beat}"


def _listed(words: Iterable[str]) -> str:
    """Words with commas between them, and "and" before the last."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def _event(event: Event) -> str:
    return say_chord(event.chord) + (
        ARTICULATIONS[event.articulation] if event.articulation else ""
    )


def _degree(degree: Degree) -> str:
    return ("", "sharp ", "flat ")[degree.alteration] + NUMBERS[degree.number]


def _number(number: int) -> str:
    return NUMBERS[number] if number < len(NUMBERS) else str(number)


def _each(beats: Fraction) -> str:
    """How long each of several even chords lasts, if that can be counted in half beats."""
    whole, part = divmod(beats, 1)
    if not part:
        return f"{_number(int(whole))} beat{'s' * (whole != 1)} each"
    if part == Fraction(1, 2):
        return f"{_number(int(whole))} and a half beats each" if whole else "half a beat each"
    return "evenly"
