"""A synth whose soundfont stays loaded, so that renderings start at once."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from trainer.band import Arrangement
from trainer.sound.engine import SynthEngine, check_sample_rate
from trainer.sound.prediction import LoudnessPredictor
from trainer.sound.rendering import Rendering, check_duration
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
        self._predictor = LoudnessPredictor(self.soundfont)
        self._lock = threading.Lock()
        self._selected: set[tuple[int, bool]] = set()
        self._is_open = True
        # FluidSynth keeps samples in memory while some synth of the process uses them.
        self._keeper = SynthEngine(self.soundfont, channels=256)
        self._spare: SynthEngine | None = SynthEngine(self.soundfont)

    def render(self, arrangement: Arrangement, sample_rate: int = 44100) -> Rendering:
        """A rendering of the arrangement, made while it is iterated.

        Raises InputError if it lasts longer than `MAX_DURATION_S`, FileError if the soundfont
        lacks a program, ValueError for a sample rate outside 8,000 to 96,000 Hz.
        """
        check_sample_rate(sample_rate)
        check_duration(arrangement)
        self._keep(arrangement)
        return Rendering(arrangement, sample_rate, self._engine, self._predictor.gain)

    def _keep(self, arrangement: Arrangement) -> None:
        """Load the samples of an arrangement's programs, and keep them loaded."""
        wanted = {(part.program, part.is_drum) for part in arrangement.parts}
        wanted |= {(part.low.program, False) for part in arrangement.parts if part.low}
        with self._lock:
            for program, is_drum in sorted(wanted - self._selected):
                self._keeper.select(len(self._selected), program, is_drum)
                self._selected.add((program, is_drum))

    @contextmanager
    def _engine(self, sample_rate: int, channels: int, at_once: bool) -> Iterator[SynthEngine]:
        """An engine that has never played; the spare one if somebody waits for its first note.

        A new spare is made when this one is done.
        """
        engine = None
        if at_once and (sample_rate, channels <= 16) == (44100, True):
            with self._lock:
                engine, self._spare = self._spare, None
        engine = engine or SynthEngine(self.soundfont, sample_rate, channels)
        try:
            yield engine
        finally:
            engine.close()
            self._make_spare()

    def _make_spare(self) -> None:
        with self._lock:
            if self._spare is None and self._is_open:
                self._spare = SynthEngine(self.soundfont)

    def close(self) -> None:
        """Free the soundfont. Renderings that have begun go on."""
        with self._lock:
            self._is_open = False
            if self._spare is not None:
                self._spare.close()
            self._spare = None
            self._keeper.close()
        self._predictor.close()
