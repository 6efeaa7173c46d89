from __future__ import annotations

import pytest

from trainer.chart import Key
from trainer.errors import ChartError


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("D", Key("D")),
        ("bb", Key("B", -1)),
        ("F♯", Key("F", 1)),
        ("E♭ major", Key("E", -1)),
        ("E minor", Key("E", 0, minor=True)),
        ("Em", Key("E", 0, minor=True)),
        ("  c#   MINOR ", Key("C", 1, minor=True)),
        ("Bbm", Key("B", -1, minor=True)),
    ],
)
def test_keys_as_typed(text: str, key: Key) -> None:
    """Keys are read as musicians write them; what is written is read back."""
    assert Key.parse(text) == key
    assert Key.parse(str(key)) == key


@pytest.mark.parametrize("text", ["", "H", "Dx", "D##", "D minor please", "D dorian", "minor", "4"])
def test_what_is_no_key(text: str) -> None:
    """Anything else is refused with an example of a key."""
    with pytest.raises(ChartError, match="a key such as D, Bb, F# or E minor"):
        Key.parse(text)


def test_a_key_that_cannot_be() -> None:
    """A letter outside A–G is refused on construction too."""
    with pytest.raises(ChartError):
        Key("H")
    with pytest.raises(ChartError):
        Key("C", 2)


@pytest.mark.parametrize("name", ["C", "Db", "F#", "Gb", "Cb", "E minor", "G# minor"])
def test_a_shift_and_its_way_back(name: str) -> None:
    """A key moved up and down again has its pitch, and none but its own name when unmoved."""
    key = Key.parse(name)
    for semitones in range(-11, 12):
        moved = key.shifted(semitones)
        assert moved.pitch_class == (key.pitch_class + semitones) % 12
        assert moved.minor == key.minor
        assert moved.shifted(-semitones).pitch_class == key.pitch_class
    assert key.shifted(0) is key
    assert key.shifted(-12) is key
