"""Settings that cannot be are refused by name."""

from __future__ import annotations

import random

import pytest

from trainer.errors import SettingsError
from trainer.generate import STYLES, Features, Settings, check_settings, generate

BAD = {
    "size": (Settings(size="album"), "phrase, section, song"),
    "styles": (Settings(styles=("polka",)), "ballad"),
    "no styles": (Settings(styles=()), "at least one of ballad"),
    "weights": (Settings(style_weights=(1.0, 2.0)), "one weight for each of the 1 styles"),
    "meter": (Settings(styles=("train beat",), meters=("12/8",)), "gospel 12/8"),
    "unknown meter": (Settings(meters=("5/4",)), "4/4"),
    "key": (Settings(keys=("H",)), "a key such as D, Bb, F# or E minor"),
    "rate": (Settings(features=Features(splits=1.5)), "a rate from 0 to 1"),
    "negative": (Settings(extensions=-0.1), "a rate from 0 to 1"),
    "tempo": (Settings(tempo_bpm=(120, 90)), "low, then high"),
    "tempo and style": (Settings(styles=("ballad",), tempo_bpm=(150, 160)), "58 to 78"),
    "chord": (Settings(chords=("1", "8")), "a degree with quality and extension"),
    "extension": (Settings(chords=("1", "5^banana")), "one of"),
    "slash": (Settings(chords=("1", "5/7")), "features.slash_chords"),
    "no home": (Settings(chords=("4", "5")), "1: a cadence in major"),
    "no cadence": (Settings(chords=("1", "3-")), "something must lead to 1"),
    "minor": (Settings(chords=("1", "5"), minor=0.5), "1-: a cadence in minor"),
    "minor style": (Settings(chords=("1", "5"), styles=("minor-key",)), "1-"),
    "blues": (Settings(chords=("1", "5"), styles=("twelve-bar blues",)), "4: a twelve-bar blues"),
    "favour": (Settings(chords=("1", "5"), favour=("4",)), "one of the chords allowed"),
    "phrase": (Settings(phrase_bars=0), "1 to 16 bars"),
    "odd": (Settings(odd_lengths=(0,)), "1 to 16 bars"),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_settings_are_refused(name: str) -> None:
    """A wrong setting raises SettingsError with what is allowed, before anything is drawn."""
    settings, expected = BAD[name]
    with pytest.raises(SettingsError) as caught:
        check_settings(settings)
    assert expected in str(caught.value)
    rng = random.Random(1)
    state = rng.getstate()
    with pytest.raises(SettingsError):
        generate(settings, rng)
    assert rng.getstate() == state


def test_the_message_names_the_field() -> None:
    """The error says which setting, what was found and what was expected."""
    with pytest.raises(SettingsError) as caught:
        check_settings(Settings(features=Features(holds=2)))
    assert caught.value.where == "features.holds"
    assert caught.value.found == "2"


def test_contradictory_styles_name_both() -> None:
    """A style asked for in a meter that it is not played in is refused with both named."""
    with pytest.raises(SettingsError) as caught:
        check_settings(Settings(styles=("train beat",), meters=("12/8",)))
    assert "train beat" in caught.value.found
    assert "12/8" in caught.value.found


@pytest.mark.parametrize("style", STYLES.values(), ids=str)
def test_styles_can_be_played(style: object) -> None:
    """Each style's feel goes with its meter, its tempos rise, and its rates name features."""
    found = next(one for one in STYLES.values() if one is style)
    assert found.feel.fits(found.meter)
    assert 20 <= found.tempo_bpm[0] < found.tempo_bpm[1] <= 200
    assert found.rates.keys() <= Features.__dataclass_fields__.keys()
    assert (found.form_share > 0) == bool(found.forms)
    check_settings(Settings(styles=(found.name,)))
