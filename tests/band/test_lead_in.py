from __future__ import annotations

from fractions import Fraction

import pytest

from trainer.band import level_check_chord, tonic_chord
from trainer.chart import parse, pitch_classes


@pytest.mark.parametrize("key", ["C", "F#", "Bb", "E minor"])
def test_home_is_the_chord_of_the_1(key: str) -> None:
    """The notes are those of the 1 in the song's first key, minor where it lives there."""
    chart = parse(f"meter: 6/8\nkey: {key}\n5 [up 2] 1")
    heard = tonic_chord(chart)
    one = parse("1-" if chart.key.minor else "1").bars()[0].events[0].chord
    assert one is not None
    notes = {note.pitch % 12 for part in heard.parts for note in part.notes}
    assert notes == pitch_classes(one, chart.key.pitch_class)
    assert heard.length_quarters == Fraction(3)
    assert heard.bars == ()


def test_home_says_nothing_of_the_song() -> None:
    """Two songs of the same key, meter and tempo have the same chord."""
    assert tonic_chord(parse("1 4 5 1")) == tonic_chord(parse("6- 2- 5 1 4d"))


def test_the_calm_chord_is_one_soft_chord() -> None:
    """One chord, held all along, softer than anybody plays, and no drum."""
    heard = level_check_chord()
    (part,) = heard.parts
    assert not part.is_drum
    assert {(note.start_quarters, note.length_quarters) for note in part.notes} == {(0.0, 12.0)}
    assert max(note.velocity for note in part.notes) <= 64
