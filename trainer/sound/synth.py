"""A warm synth: the soundfont stays loaded, renderings start at once."""

from __future__ import annotations

import os
import threading
from pathlib import Path

from trainer.band.parts import Arrangement
from trainer.sound.balance import Balance
from trainer.sound.engine import Engine, check_sample_rate
from trainer.sound.rendering import Rendering
from trainer.sound.soundfonts import check_soundfont, find_soundfont

__all__ = ["Synth"]


class Synth:
    """Renders arrangements with one soundfont; safe to use from several threads.

    Parameters
    ----------
    soundfont : a soundfont file; None for the first that `find_soundfont` finds.

    Raises
    ------
    SoundfontMissing, FileError, SynthMissing
    """

    def __init__(self, soundfont: str | os.PathLike[str] | None = None) -> None:
        self.soundfont = check_soundfont(Path(soundfont)) if soundfont else find_soundfont()
        self._balance = Balance(self.soundfont)
        self._lock = threading.Lock()
        self._selected: set[tuple[int, bool]] = set()
        # FluidSynth keeps samples in memory while some synth of the process uses them.
        self._keeper = Engine(self.soundfont, channels=256)

    def render(self, arrangement: Arrangement, sample_rate: int = 44100) -> Rendering:
        """The arrangement as audio, made while it is iterated.

        Raises FileError if the soundfont lacks a program, ValueError for a sample rate outside
        8,000 to 96,000 Hz.
        """
        check_sample_rate(sample_rate)
        self._keep(arrangement)
        return Rendering(arrangement, sample_rate, self._new_engine, self._balance.gain)

    def _keep(self, arrangement: Arrangement) -> None:
        """Load the samples of an arrangement's programs, once and for all."""
        wanted = {(part.program, part.is_drum) for part in arrangement.parts}
        with self._lock:
            for program, is_drum in sorted(wanted - self._selected):
                self._keeper.select(len(self._selected), program, is_drum)
                self._selected.add((program, is_drum))

    def _new_engine(self, sample_rate: int, channels: int) -> Engine:
        return Engine(self.soundfont, sample_rate, channels)

    def close(self) -> None:
        """Let go of the soundfont; renderings under way go on."""
        self._keeper.close()
