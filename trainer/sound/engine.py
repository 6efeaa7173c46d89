"""FluidSynth through ctypes: the library, its log messages, and a synth with one soundfont.

FluidSynth works in periods of 64 frames, and an event takes effect at the next period. Events are
therefore placed on that grid, rounded to the nearest period: at most 0.73 ms off at 44,100 Hz.

A synth that has played does not render the same bytes as a new one. Its voices keep the panning
gains of their last note and ramp from there for one period, and a reset does not clear that
(FluidSynth 2.3). Each window of a rendering therefore gets a synth of its own, so that the same
notes always give the same bytes.
"""

from __future__ import annotations

import ctypes
import io
import logging
import threading
from contextlib import redirect_stdout
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trainer.errors import FileError, SynthMissing, TrainerError

__all__ = ["PERIOD", "SynthEngine", "check_sample_rate", "fluidsynth_library"]

PERIOD = 64
POLYPHONY = 256
# FluidSynth's own gain: leaves headroom; loudness is set afterwards, in floating point.
SYNTH_GAIN = 0.5
# The reverberation is that of a small, dark room. Chorus is off.
REVERB = {"room-size": 0.3, "damp": 0.4, "width": 0.8, "level": 0.35}
SAMPLE_RATES_HZ = (8000, 96000)

_LOG = logging.getLogger(__name__)
# FluidSynth's log levels: panic, error, warning, information, debugging.
_ERROR, _LEVELS = 1, 5


class _ReportedErrors(threading.local):
    """The errors that FluidSynth has reported on this thread and that were not raised yet."""

    def __init__(self) -> None:
        self.errors: list[str] = []


_reported = _ReportedErrors()


@dataclass(frozen=True)
class _Library:
    """The FluidSynth library: pyfluidsynth's calls, and one for floats that it does not wrap."""

    calls: Any
    write_float: Any
    # The library keeps a pointer to this callback, so it must live as long.
    log: Any


@cache
def fluidsynth_library() -> _Library:
    """Load FluidSynth once, with its log messages caught.

    Raises
    ------
    SynthMissing
        pyfluidsynth or the FluidSynth library (version 2 or later) is not installed.
    """
    try:
        # Where CI is set, pyfluidsynth prints what it found; stdout belongs to the program.
        with redirect_stdout(io.StringIO()):
            import fluidsynth
    except (ImportError, OSError) as error:
        raise SynthMissing(
            f"the FluidSynth library was not found ({error}). Looked for libfluidsynth (version 2 "
            "or later) where the system keeps its libraries. Get it with 'apt-get install "
            "libfluidsynth3' (Debian, Ubuntu) or 'brew install fluid-synth' (macOS). Everything "
            "that makes no sound works without it."
        ) from error
    if fluidsynth.majver.value < 2:
        raise SynthMissing(
            f"found FluidSynth {fluidsynth.majver.value}, expected version 2 or later: "
            "'apt-get install libfluidsynth3' or 'brew install fluid-synth'"
        )
    native = fluidsynth._fl  # noqa: SLF001 - the only handle on what pyfluidsynth leaves out
    log = ctypes.CFUNCTYPE(None, ctypes.c_int, ctypes.c_char_p, ctypes.c_void_p)(_log_message)
    for level in range(_LEVELS):
        native.fluid_set_log_function(level, log, None)
    write_float = native.fluid_synth_write_float
    buffer = [ctypes.c_void_p, ctypes.c_int, ctypes.c_int]
    write_float.argtypes = [ctypes.c_void_p, ctypes.c_int, *buffer, *buffer]
    write_float.restype = ctypes.c_int
    return _Library(fluidsynth, write_float, log)


def _log_message(level: int, message: bytes, _data: int | None) -> None:
    """Log a message of FluidSynth's, and keep it for `SynthEngine` to raise if it is an error."""
    text = message.decode(errors="replace").strip()
    _LOG.debug("FluidSynth: %s", text)
    if level <= _ERROR:
        _reported.errors.append(text)


def check_sample_rate(sample_rate: int) -> None:
    """Raise ValueError for a rate at which FluidSynth cannot work."""
    low, high = SAMPLE_RATES_HZ
    if not low <= sample_rate <= high:
        raise ValueError(f"sample rate {sample_rate}: expected {low} to {high} Hz")


class SynthEngine:
    """One FluidSynth synth with one soundfont; used by one thread at a time.

    Parameters
    ----------
    soundfont : path of the soundfont file.
    sample_rate : frames a second, 8,000 to 96,000.
    channels : MIDI channels wanted, at most 256; rounded up to a multiple of 16.
    reverb : whether notes sound in a room.

    Raises
    ------
    SynthMissing, FileError (the soundfont cannot be loaded), ValueError (sample rate).
    """

    def __init__(
        self, soundfont: Path, sample_rate: int = 44100, channels: int = 16, *, reverb: bool = True
    ) -> None:
        check_sample_rate(sample_rate)
        found = fluidsynth_library()
        self._lib, self._write_float = found.calls, found.write_float
        self.soundfont = soundfont
        self._settings = self._lib.new_fluid_settings()
        self._configure(sample_rate, -(-channels // 16) * 16, reverb)
        _reported.errors.clear()
        self._synth = self._lib.new_fluid_synth(self._settings)
        if not self._synth:
            self._lib.delete_fluid_settings(self._settings)
            raise TrainerError("FluidSynth could not start: " + "; ".join(_reported.errors))
        # Loaded for this synth only; the samples are shared by all synths of the process.
        self._font = self._lib.fluid_synth_sfload(self._synth, str(soundfont).encode(), 0)
        if self._font < 0:
            reasons = "; ".join(_reported.errors) or "no reason given"
            self.close()
            raise FileError(
                f"soundfont {soundfont}: FluidSynth cannot load it ({reasons}); "
                "expected a whole SoundFont file"
            )

    def _configure(self, sample_rate: int, channels: int, reverb: bool) -> None:
        whole = {
            "synth.midi-channels": channels,
            "synth.polyphony": POLYPHONY,
            "synth.reverb.active": int(reverb),
            "synth.chorus.active": 0,
            "synth.threadsafe-api": 0,
            "synth.lock-memory": 0,
            "synth.dynamic-sample-loading": 1,
        }
        for name, value in whole.items():
            self._lib.fluid_settings_setint(self._settings, name.encode(), value)
        real = {f"synth.reverb.{name}": value for name, value in REVERB.items()}
        real |= {"synth.sample-rate": float(sample_rate), "synth.gain": SYNTH_GAIN}
        for name, number in real.items():
            self._lib.fluid_settings_setnum(self._settings, name.encode(), number)

    def select(self, channel: int, program: int, is_drum: bool) -> None:
        """Set the program of a channel: a General MIDI program from 0, or the number of a drum kit.

        Raises FileError if the soundfont has no such program.
        """
        bank = 128 if is_drum else 0
        if self._lib.fluid_synth_program_select(self._synth, channel, self._font, bank, program):
            _reported.errors.clear()
            kind = "drum kit" if is_drum else "program"
            raise FileError(
                f"soundfont {self.soundfont}: found no {kind} {program} (counted from "
                "0), expected a soundfont with all of General MIDI"
            )

    def control(self, channel: int, number: int, value: int) -> None:
        """Send a control change."""
        self._check(self._lib.fluid_synth_cc(self._synth, channel, number, value))

    def bend(self, channel: int, value: int) -> None:
        """Bend a channel: −8192…8191 for ±2 semitones."""
        self._check(self._lib.fluid_synth_pitch_bend(self._synth, channel, value + 8192))

    def note_on(self, channel: int, pitch: int, velocity: int) -> None:
        """Start a note."""
        self._check(self._lib.fluid_synth_noteon(self._synth, channel, pitch, velocity))

    def note_off(self, channel: int, pitch: int) -> None:
        """End a note. A note that has ended by itself is no error."""
        self._lib.fluid_synth_noteoff(self._synth, channel, pitch)

    def render(self, out: NDArray[np.float32], start: int, stop: int) -> None:
        """Render into rows `start` to `stop` of a float32 array, (n, 2) and C-contiguous.

        Full scale is ±1.
        """
        at = out.ctypes.data + start * 8
        self._check(self._write_float(self._synth, stop - start, at, 0, 2, at, 1, 2))

    def _check(self, result: int) -> None:
        """Raise TrainerError with what FluidSynth reported, if it reported an error."""
        if result or _reported.errors:
            said = "; ".join(_reported.errors) or "it refused an event and gave no reason"
            _reported.errors.clear()
            raise TrainerError(f"FluidSynth with soundfont {self.soundfont}: {said}")

    def close(self) -> None:
        """Free the synth. A second call does nothing."""
        if self._synth:
            self._lib.delete_fluid_synth(self._synth)
            self._lib.delete_fluid_settings(self._settings)
            self._synth = None
