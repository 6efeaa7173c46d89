"""How the chord after a number may be spelt, against lists made by others."""

from __future__ import annotations

import pytest
from music21 import harmony

from trainer.chart import Chord, ParseResult, parse_tolerant, pitch_classes
from trainer.chart.format import format_bar

# The shorthands of Harte, Sandler, Abdallah & Gómez, "Symbolic Representation of Musical Chords",
# ISMIR 2005 (sus2 is a later addition of its users), and what each is on the 1.
HARTE = {
    "maj": "1", "min": "1-", "dim": "1o", "aug": "1+", "maj7": "1^maj7", "min7": "1-^7",
    "dim7": "1o^7", "hdim7": "1ø", "minmaj7": "1-^maj7", "maj6": "1^6", "min6": "1-^6",
    "9": "1^9", "maj9": "1^maj9", "min9": "1-^9", "sus4": "1^sus4", "sus2": "1^sus2",
}  # fmt: skip

# Abbreviations of music21's list that are not read as a chord. After a number, figures that can be
# degrees are bars unless a ^ stands before them; the notation has no other chord of the list.
AS_BARS = {"6", "11", "13", "7+", "m#7", "+11", "aug11", "+13", "aug13", "ø11", "ø13", "o11"}
NOT_IN_THE_NOTATION = {
    "seventh-flat-five", "minor-major-ninth", "augmented-major-ninth", "half-diminished-ninth",
    "augmented-dominant-ninth", "half-diminished-minor-ninth", "diminished-ninth",
    "diminished-minor-ninth", "major-11th", "minor-major-11th", "augmented-major-11th",
    "augmented-11th", "half-diminished-11th", "diminished-11th", "major-13th", "minor-13th",
    "minor-major-13th", "augmented-major-13th", "augmented-dominant-13th", "half-diminished-13th",
    "Neapolitan", "Italian", "French", "German", "pedal", "power", "Tristan",
}  # fmt: skip
# Our 11 and 13 leave out notes that a band leaves out; music21 stacks all thirds.
VOICED_WITHOUT = {"dominant-11th", "dominant-13th"}
LISTED = [
    (kind, abbreviation)
    for kind, (_, abbreviations) in harmony.CHORD_TYPES.items()
    for abbreviation in abbreviations
]


def bars_of(result: ParseResult) -> list[str]:
    """The bars of a result as notation."""
    assert result.chart is not None
    return [format_bar(bar, result.chart) for bar in result.chart.bars()]


def only_chord(result: ParseResult) -> Chord | None:
    """The chord of a result that has just one, and nothing wrong in it."""
    assert result.chart is not None
    bars = result.chart.bars()
    is_one = len(bars) == 1 and len(bars[0].events) == 1 and not result.problems
    return bars[0].events[0].chord if is_one else None


@pytest.mark.parametrize(("shorthand", "notation"), HARTE.items())
def test_the_shorthands_of_harte_are_read(shorthand: str, notation: str) -> None:
    """Each shorthand after a number is its chord, with a bass and an articulation after it too."""
    assert bars_of(parse_tolerant(f"1{shorthand}")) == [notation]
    assert bars_of(parse_tolerant(f"4 1{shorthand}/5d 4")) == ["4", f"{notation}/5d", "4"]


def test_a_bare_seven_is_asked_about() -> None:
    """The shorthand 7 is the one that could be a bar: it is read as the chord and asked about."""
    result = parse_tolerant("17")
    assert bars_of(result) == ["1^7"]
    assert [choice.text for choice in result.questions[0].choices] == ["1^7", "1 7"]


@pytest.mark.parametrize(("kind", "abbreviation"), LISTED)
def test_the_abbreviations_of_music21(kind: str, abbreviation: str) -> None:
    """What is read of music21's list has its notes; what is not read as a chord is known."""
    result = parse_tolerant(f"1{abbreviation}")
    chord = only_chord(result)
    if abbreviation in AS_BARS or kind in NOT_IN_THE_NOTATION:
        assert chord is None
        # Nothing is misread in silence: wrong, or plainly bars of one figure each.
        assert result.problems or len(bars_of(result)) > 1
        return
    assert chord is not None, bars_of(result)
    if kind not in VOICED_WITHOUT:
        theirs = harmony.ChordSymbol(f"C{abbreviation}").pitches
        assert pitch_classes(chord) == {pitch.pitchClass for pitch in theirs}


@pytest.mark.parametrize("abbreviation", ["m13", "Maj11", "M13", "min13", "dim11", "9#5", "maj7#5"])
def test_a_chord_that_the_notation_does_not_have_is_refused(abbreviation: str) -> None:
    """A word that can only mean such a chord is not read as several bars."""
    result = parse_tolerant(f"4 1{abbreviation} 5")
    assert len(result.problems) == 1
    assert result.invalid_bars
