from __future__ import annotations

import pytest

from trainer.chart import Meter, parse, say_bar, say_chord, say_section
from trainer.chart.chords import EXTENSIONS
from trainer.chart.speech import EXTENSIONS as SAID_EXTENSIONS


def said(text: str) -> str:
    """What is said of a one-bar text."""
    (bar,) = parse(text).bars()
    return say_bar(bar)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1", "one"),
        ("2-", "two minor"),
        ("7o", "seven diminished"),
        ("7ø", "seven half-diminished"),
        ("7ø^7", "seven half-diminished"),
        ("5+", "five augmented"),
        ("b7", "flat seven"),
        ("#4o", "sharp four diminished"),
        ("5^7", "five seven"),
        ("1^maj7", "one major seven"),
        ("2-^7", "two minor seven"),
        ("5^sus4", "five suspended four"),
        ("5^7sus4", "five seven suspended four"),
        ("1^add9", "one add nine"),
        ("5/7", "five over seven"),
        ("4/b7", "four over flat seven"),
        ("0", "no chord"),
        ("1d", "one, held"),
        ("5p", "five, pushed"),
        ("1c", "one, choked"),
        ("(5/7 6-)", "five over seven, then six minor, two beats each"),
        ("(1''' 5')", "one for three beats, then five for one"),
        ("(1' 5''')", "one for one beat, then five for three"),
        ("(1 4 5 1)", "one, then four, then five, then one, one beat each"),
        ("meter: 3/4\n(1 5)", "one, then five, one and a half beats each"),
        ("[2/4] (1 4 5 1)", "two-four bar: one, then four, then five, then one, half a beat each"),
        ("(1 4 5)", "one, then four, then five, evenly"),
        ("(1d 5)", "one, held, then five, two beats each"),
        ("[2/4] 5", "two-four bar: five"),
        ("[up 2] 1", "up a whole step: one"),
        ("[down 1] [2/4] 1", "down a half step: two-four bar: one"),
        ("[up 3] 1", "up a step and a half: one"),
    ],
)
def test_a_bar_as_a_musician_says_it(text: str, expected: str) -> None:
    """A bar is said as players say it to each other (common practice, no source)."""
    assert said(text) == expected


def test_the_songs_own_meter_is_not_said() -> None:
    """Told the song's meter, only bars in another one are announced."""
    (bar,) = parse("meter: 2/4\n1").bars()
    assert say_bar(bar, Meter(2, 4)) == "one"
    assert say_bar(bar, Meter(4, 4)) == "two-four bar: one"
    (waltz,) = parse("meter: 3/4\n1").bars()
    assert say_bar(waltz, Meter(4, 4)) == "three-four bar: one"


def test_every_extension_is_said() -> None:
    """Each extension of the closed list has words of its own."""
    listed = {extension for extensions in EXTENSIONS.values() for extension in extensions}
    assert listed == SAID_EXTENSIONS.keys() - {""}
    assert len(set(SAID_EXTENSIONS.values())) == len(SAID_EXTENSIONS)


def test_no_chord_is_said() -> None:
    """Silence has words too."""
    assert say_chord(None) == "no chord"


def test_a_section_is_said_phrase_by_phrase() -> None:
    """A section is its name and a sentence for each phrase; one without a name has only these."""
    chart = parse("1 4\nTag:\n(1 5) 1d . 5")
    first, tag = (say_section(section, chart.meter) for section in chart.sections)
    assert first == "one; four."
    assert tag == "Tag:\none, then five, two beats each; one, held.\nfive."
