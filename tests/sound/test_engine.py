from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from trainer.errors import SynthMissing, TrainerError
from trainer.sound.engine import SynthEngine, fluidsynth_library

WITHOUT = """
import ctypes.util, os, sys
ctypes.util.find_library = lambda name: None
os.environ.pop("HOMEBREW_PREFIX", None)
import trainer.sound
assert not {"numpy", "fluidsynth", "soundfile", "sounddevice", "scipy"} & set(sys.modules)
from trainer.sound import Synth
try:
    Synth(sys.argv[1])
except trainer.errors.SynthMissing as error:
    print(error)
"""


def test_a_machine_without_fluidsynth(small_soundfont: Path) -> None:
    """Without the library the room still loads, lightly; a synth says what to install."""
    found = subprocess.run(
        [sys.executable, "-c", WITHOUT, str(small_soundfont)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert "apt-get install libfluidsynth3" in found.stdout
    assert "brew install fluid-synth" in found.stdout
    assert found.stderr == ""


def test_without_pyfluidsynth(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the Python wrapper the error is the same kind."""
    monkeypatch.setitem(sys.modules, "fluidsynth", None)
    fluidsynth_library.cache_clear()
    with pytest.raises(SynthMissing, match="FluidSynth library was not found"):
        fluidsynth_library()
    monkeypatch.undo()
    fluidsynth_library.cache_clear()


@pytest.mark.audio
def test_nothing_is_printed_in_ci(small_soundfont: Path) -> None:
    """Loading the library and rendering prints nothing, also where CI is set."""
    program = (
        "import sys; from pathlib import Path; from trainer.sound.engine import SynthEngine; "
        "SynthEngine(Path(sys.argv[1])).close()"
    )
    found = subprocess.run(
        [sys.executable, "-c", program, str(small_soundfont)],
        capture_output=True,
        text=True,
        check=True,
        env={"CI": "true"},
        cwd=Path(__file__).parents[2],
    )
    assert (found.stdout, found.stderr) == ("", "")


@pytest.mark.audio
class TestEngine:
    @pytest.fixture
    def engine(self, small_soundfont: Path) -> SynthEngine:
        """An engine with the small soundfont."""
        return SynthEngine(small_soundfont)

    def test_what_fluidsynth_refuses_is_raised(self, engine: SynthEngine) -> None:
        """A channel or a pitch that does not exist is an error that names the soundfont."""
        engine.select(0, 0, is_drum=False)
        for wrong in (
            lambda: engine.note_on(99, 60, 90),
            lambda: engine.note_on(0, 200, 90),
            lambda: engine.control(0, 7, 900),
            lambda: engine.bend(0, 9000),
        ):
            with pytest.raises(TrainerError, match=r"FluidSynth with soundfont .*TimGM6mb"):
                wrong()

    def test_ending_a_note_that_has_ended(self, engine: SynthEngine) -> None:
        """A note that is not sounding may be ended: drums end by themselves."""
        engine.select(0, 0, is_drum=True)
        engine.note_off(0, 38)
        engine.note_on(0, 38, 90)
        out = np.zeros((6400, 2), np.float32)
        engine.render(out, 0, 6400)
        assert out.any()

    def test_closing_twice(self, engine: SynthEngine) -> None:
        """A second close does nothing."""
        engine.close()
        engine.close()
