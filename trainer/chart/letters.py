"""Charts and chords in letter names, spelt from the degree and the key.

A degree keeps its own letter: the 3 of G# is B#, not C. Minor songs need no rule of their own,
since degrees are counted against the major scale of the 1 in any case: the b3 of E minor is G.
"""

from __future__ import annotations

from trainer.chart.format import FADE, OPEN_BAR, format_with, format_words, join_chords
from trainer.chart.keys import LETTER_PITCH, LETTERS, Key
from trainer.chart.model import Bar, Chart, Chord, Degree, Event

__all__ = ["NO_CHORD", "chord_letters", "chord_suffix", "degree_letters", "format_letters"]

NO_CHORD = "NC"
# The trade's spelling of each quality with each extension; the rest is quality sign + extension.
SIGNS = {"": "", "-": "m", "o": "dim", "+": "aug", "ø": "m7b5"}
SUFFIXES = {
    ("-", "maj7"): "m(maj7)",
    ("+", "maj7"): "maj7#5",
    ("+", "7"): "7#5",
    ("ø", "7"): "m7b5",
}


def degree_letters(degree: Degree, key: Key) -> str:
    """Letter name of a degree: the b7 of F is Eb.

    Where its own letter would need three sharps or flats, the next letter is used instead.
    """
    place = LETTERS.index(key.letter) + degree.number - 1
    pitch = key.pitch_class + degree.semitones
    sharps = _distance(pitch, place)
    if abs(sharps) > 2:
        while abs(sharps) > 1:
            place += 1 if sharps > 0 else -1
            sharps = _distance(pitch, place)
    return LETTERS[place % 7] + ("#" * sharps if sharps > 0 else "b" * -sharps)


def chord_letters(chord: Chord, key: Key, shift: int = 0) -> str:
    """Letter name of a chord in the key moved by `shift` semitones: 5/7 in E is B/D#."""
    key = key.shifted(shift)
    text = degree_letters(chord.root, key) + chord_suffix(chord)
    return text if chord.bass is None else f"{text}/{degree_letters(chord.bass, key)}"


def format_letters(chart: Chart) -> str:
    """Write a whole chart in letter names, laid out like its notation.

    Articulations are written out, (hold), (push), (choke), and a key move names the new key. The
    text is for reading; it is not notation.
    """
    bars = iter([_bar(place.bar, chart, place.key_shift) for place in chart.placed_bars()])
    return format_with(chart, lambda _: next(bars))


def _distance(pitch: int, place: int) -> int:
    """The sharps (positive) or flats that bring a letter to a pitch class."""
    return (pitch - LETTER_PITCH[LETTERS[place % 7]] + 6) % 12 - 6


def chord_suffix(chord: Chord) -> str:
    """What follows the letter of the root: m7 for a minor seventh."""
    known = SUFFIXES.get((chord.quality, chord.extension))
    return known if known is not None else SIGNS[chord.quality] + chord.extension


def _bar(bar: Bar, chart: Chart, shift: int) -> str:
    before = f"{FADE} " if bar.fades else ""
    if bar.key_change:
        before += f"[key {chart.key.shifted(shift)}] "
    if bar.meter != chart.meter:
        before += f"[{bar.meter}] "
    before += format_words(bar)
    if bar.is_open:
        return f"{before}{OPEN_BAR}"
    key, ticked = chart.key.shifted(shift), not bar.is_even
    return before + join_chords([_event(event, key, ticked) for event in bar.events])


def _event(event: Event, key: Key, ticked: bool) -> str:
    text = NO_CHORD if event.chord is None else chord_letters(event.chord, key)
    text += "'" * int(event.beats) if ticked else ""
    return text if event.articulation is None else f"{text}({event.articulation})"
