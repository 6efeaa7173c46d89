"""Sound against FluidSynth's own command and pretty_midi, on the same notes and soundfont.

All three render at 44,100 Hz with 256 voices, fourth-order interpolation (FluidSynth's default)
and the same reverb where they have one; none has chorus but pretty_midi, which cannot be told.
Ours works with two threads, the others with one, so the clock and the processor are told apart.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np

from tests.benchmarks import Row, against, at_most, best_of_both, seen
from trainer.band import Arrangement, arrange, to_midi
from trainer.generate import Settings, generate
from trainer.sound import Synth, find_soundfont, write_audio
from trainer.sound.engine import POLYPHONY, REVERB, SYNTH_GAIN
from trainer.sound.soundfonts import bundled_soundfont

SONG_S = (170.0, 190.0)

COLD = """
import sys, time
start = time.perf_counter()
import random
from trainer.band import arrange
from trainer.generate import Settings, generate
from trainer.sound import Synth
rng = random.Random(1)
next(iter(Synth(sys.argv[1]).render(arrange(generate(Settings(), rng), rng=rng))))
print(time.perf_counter() - start)
"""

# The kernel's high-water mark of this program alone: getrusage counts what forked it, too.
PEAK = """
import random, sys
from pathlib import Path
from trainer.band import arrange, to_midi
from trainer.generate import Settings, generate
rng = random.Random(int(sys.argv[2]))
song = arrange(generate(Settings(), rng), rng=rng)
if sys.argv[3] == "ours":
    from trainer.sound import Synth, write_audio
    write_audio(Synth(sys.argv[1]).render(song), sys.argv[4])
else:
    to_midi(song).fluidsynth(fs=44100, synthesizer=sys.argv[1])
print(Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0])
"""


def three_minutes() -> tuple[int, Arrangement]:
    """A full-band song of about three minutes, and the seed it came from."""
    for seed in range(1000):
        rng = random.Random(seed)
        song = arrange(generate(Settings(), rng), rng=rng)
        if SONG_S[0] < song.tempo_map.seconds(song.length_quarters) < SONG_S[1]:
            return seed, song
    raise LookupError("no song of three minutes among a thousand")


def command(soundfont: Path, midi: Path, out: Path) -> Callable[[], object]:
    """FluidSynth's own command with our settings."""
    options = [f"synth.reverb.{name}={value}" for name, value in REVERB.items()]
    options.append(f"synth.polyphony={POLYPHONY}")
    line = ["fluidsynth", "-ni", "-q", "-r", "44100", "-g", str(SYNTH_GAIN), "-R", "1", "-C", "0"]
    line += [word for option in options for word in ("-o", option)]
    line += ["-F", str(out), str(soundfont), str(midi)]
    return lambda: subprocess.run(line, check=True, capture_output=True)


def first_sounds(synth: Synth, count: int = 20) -> list[float]:
    """Seconds from asking for a fresh exercise to its first block, for new songs, warm."""
    times = []
    for seed in range(count + 5):
        rng = random.Random(10_000 + seed)
        start = time.perf_counter()
        song = arrange(generate(Settings(), rng), rng=rng)
        next(iter(synth.render(song)))
        times.append(time.perf_counter() - start)
    # The first few load the programs' samples and measure their notes: that is warming up.
    return times[5:]


def in_a_process(program: str, *arguments: str) -> float:
    """The number that a program prints."""
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments], check=True, capture_output=True, text=True
    )
    return float(done.stdout)


def both(name: str, least: float, times: list[tuple[float, float]]) -> list[Row]:
    """Two rows of one comparison: by the clock, with the aim, and by the processor."""
    (clock_s, processor_s), (other_clock_s, other_processor_s) = times
    return [
        against(f"{name}, by the clock", clock_s, other_clock_s, least),
        against(f"{name}, by the processor", processor_s, other_processor_s),
    ]


def of_soundfont(soundfont: Path, seed: int, song: Arrangement, folder: Path) -> list[Row]:
    """All rows for one soundfont."""
    name = soundfont.stem
    synth = Synth(soundfont)
    midi, out = folder / "song.mid", folder / "song.wav"
    notes = to_midi(song)
    notes.write(str(midi))
    rows = [
        at_most(
            f"first sound, warm, median of 20, by the clock ({name})",
            1000 * median(first_sounds(synth)),
            150,
            "ms",
        ),
        seen(
            f"first sound, new process, by the clock ({name})",
            1000 * in_a_process(COLD, str(soundfont)),
            "ms",
        ),
    ]
    if shutil.which("fluidsynth"):
        rows += both(
            f"3 min to WAV, against the fluidsynth command ({name})",
            0.9,
            best_of_both(
                lambda: write_audio(synth.render(song), out),
                command(soundfont, midi, folder / "other.wav"),
            ),
        )
    rows += both(
        f"3 min in memory, against pretty_midi ({name})",
        1.4,
        best_of_both(
            lambda: np.concatenate(list(synth.render(song))),
            lambda: notes.fluidsynth(fs=44100, synthesizer=str(soundfont)),
            times=2,
        ),
    )
    if not Path("/proc/self/status").exists():
        return rows
    peaks = [
        in_a_process(PEAK, str(soundfont), str(seed), who, str(out)) / 1024
        for who in ("ours", "pretty_midi")
    ]
    rows.append(
        seen(f"peak memory of 3 min, beside pretty_midi ({name})", peaks[0], "MiB", peaks[1])
    )
    return rows


def run() -> list[Row]:
    """Rows for the small soundfont, and for the machine's own if there is one."""
    seed, song = three_minutes()
    soundfonts = dict.fromkeys([bundled_soundfont().resolve(), find_soundfont().resolve()])
    with tempfile.TemporaryDirectory() as folder:
        return [
            row
            for soundfont in soundfonts
            for row in of_soundfont(soundfont, seed, song, Path(folder))
        ]
