"""Short charts played and rendered, with every band and both soundfonts: a normal run hears each
band with one of them, a thorough one with both."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from dataclasses import dataclass
from functools import cache

import pytest

from tests.band.ears import RATE, SPOKEN_S, Sound, bass_pitch_class
from tests.thorough import is_thorough
from trainer.band import BANDS, arrange
from trainer.chart import Header, parse
from trainer.sound import Synth, find_soundfont
from trainer.sound.soundfonts import bundled_soundfont

TEMPO = 92.0
QUARTER_S = 60.0 / TEMPO
SOUNDFONTS = {path.resolve().stem: path for path in (bundled_soundfont(), find_soundfont())}
FONTS = list(SOUNDFONTS)
# Each band with each soundfont; in a normal run the soundfonts take turns.
ROOMS = [
    (band, font)
    for turn, band in enumerate(BANDS)
    for font in (FONTS if is_thorough() else [FONTS[turn % len(FONTS)]])
]
G = 7


@dataclass(frozen=True)
class Room:
    """Where a band plays: charts in G at 92 beats a minute, heard as sound."""

    band: str
    synth: Synth

    def hear(self, text: str, seed: int = 1) -> Sound:
        """The sound of a chart."""
        chart = parse(text, Header(tempo=TEMPO))
        played = arrange(chart, rng=random.Random(seed), band=self.band)
        rendering = self.synth.render(played, RATE)
        return Sound.of(rendering, rendering.bar_times_s)


def bass_at(sound: Sound, time_s: float, quarters: float = 1.0) -> int:
    """The degree in semitones above G that the bass plays after a time."""
    heard = sound.cut(time_s + SPOKEN_S, time_s + quarters * QUARTER_S)
    return (bass_pitch_class(heard) - G) % 12


@pytest.fixture(scope="session")
def synths() -> Iterator[Callable[[str], Synth]]:
    """Gives the synth with a soundfont, by name; each is made once."""
    with ExitStack() as stack:
        yield cache(lambda font: stack.enter_context(closing(Synth(SOUNDFONTS[font]))))


@pytest.fixture(params=FONTS)
def synth(request: pytest.FixtureRequest, synths: Callable[[str], Synth]) -> Synth:
    """A synth with each soundfont in turn."""
    return synths(request.param)


@pytest.fixture(params=ROOMS, ids="-".join)
def room(request: pytest.FixtureRequest, synths: Callable[[str], Synth]) -> Room:
    """A band with a soundfont."""
    band, font = request.param
    return Room(band, synths(font))
