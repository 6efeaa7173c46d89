"""Short charts played and rendered, with every band and both soundfonts."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.band.ears import RATE, SPOKEN_S, Sound, bass_pitch_class
from trainer.band import BANDS, arrange
from trainer.chart import Header, parse
from trainer.sound import Synth, find_soundfont
from trainer.sound.soundfonts import bundled_soundfont

TEMPO = 92.0
QUARTER_S = 60.0 / TEMPO
SOUNDFONTS = {path.resolve().stem: path for path in (bundled_soundfont(), find_soundfont())}
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


@pytest.fixture(scope="session", params=SOUNDFONTS.values(), ids=list(SOUNDFONTS))
def synth(request: pytest.FixtureRequest) -> Iterator[Synth]:
    """A synth with each soundfont in turn."""
    path: Path = request.param
    warm = Synth(path)
    yield warm
    warm.close()


@pytest.fixture(params=BANDS)
def room(request: pytest.FixtureRequest, synth: Synth) -> Room:
    """Each band with each soundfont."""
    return Room(request.param, synth)
