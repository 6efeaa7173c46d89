"""What a listener who sees nothing writes down: chords, basses, short chords; and 6/8 and 12/8.

`python -m tests.benchmarks.hearing` plays ten charts with the full band and the work tape, and
with the full band on the small soundfont, and prints how much of their time is heard rightly, by
`tests.transcriber` and by plain templates that are told when each chord sounds. For
6/8 and 12/8 it prints how strong the strokes on the eighths between the beats are against those on
the beats, and how well the strokes repeat after three eighths against two and a whole bar.
`--soundfont FILE` plays everything with another soundfont.
"""

from __future__ import annotations

import argparse
import random
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.band.heard import Heard, play
from tests.band.songs import river_song
from tests.benchmarks import Row, at_least, at_most, seen
from tests.benchmarks.__main__ import table
from tests.benchmarks.hearing_plain import PlainListener
from tests.transcriber import RATE, HeardChord, transcribe
from trainer.chart import Chart, Feel, parse
from trainer.chart.chords import chord_intervals
from trainer.sound import Synth, find_soundfont
from trainer.sound.soundfonts import bundled_soundfont

SONGS = Path(__file__).parent / "songs"
SHORT_S = 0.7
ONSET_HOP = 256
# For each setting: triads, slash basses, basses foreign to the chord, short chords.
TARGETS = {
    "full band": (0.95, 0.90, 0.85, 0.75),
    "work tape": (0.95, 0.85, 0.80, 0.75),
    "small soundfont": (0.95, 0.80, 0.80, 0.75),
}
KINDS = (
    "major and minor triads",
    "slash chords, their bass",
    "basses foreign to the chord",
    "chords shorter than 0.7 s",
)
PLAIN_TRIADS, PLAIN_BASSES = "triads, plain templates", "slash basses, plain templates"
QUALITY_CLASS = {"maj": 0, "7": 0, "maj7": 0, "min": 1, "min7": 1, "dim": 2, "sus4": 3}


@dataclass
class Tally:
    """Seconds heard rightly, of how many."""

    right: float = 0.0
    whole: float = 0.0

    @property
    def share(self) -> float:
        """The share of the time."""
        return self.right / self.whole if self.whole else float("nan")


def charts() -> list[tuple[str, Chart]]:
    """The charts, by name."""
    return [(path.stem, parse(path.read_text())) for path in sorted(SONGS.glob("*.txt"))]


def run(soundfont: Path | None = None) -> list[Row]:
    """The rows of each setting."""
    best = find_soundfont(soundfont)
    settings = {
        "full band": ("full", best),
        "work tape": ("work tape", best),
        "small soundfont": ("full", bundled_soundfont()),
    }
    rows = []
    for name, (band, font) in settings.items():
        tallies = listen(band, font)
        for kind, target in zip(KINDS, TARGETS[name], strict=True):
            rows.append(at_least(f"{kind}, {name}", tallies[kind].share, target, ""))
        rows.append(seen(f"… seconds of triads, {name}", tallies[KINDS[0]].whole, "s"))
        rows += [
            seen(f"{kind}, {name}", tallies[kind].share, "")
            for kind in (PLAIN_TRIADS, PLAIN_BASSES)
        ]
        rows += accents(name, band, font)
    return rows


def accents(name: str, band: str, font: Path) -> list[Row]:
    """How 6/8 and 12/8 are accented by a band: the strokes as librosa hears them."""
    import librosa

    rows = []
    synth = Synth(font)
    for feel in (Feel.SIX_EIGHT, Feel.TWELVE_EIGHT):
        played = play(river_song(feel, tempo=55.0), seed=1, band=band)
        rendering = synth.render(played.arrangement, RATE)
        samples = np.concatenate(list(rendering)).mean(axis=1).astype(np.float32) / 32768
        strokes = librosa.onset.onset_strength(y=samples, sr=RATE, hop_length=ONSET_HOP)
        eighths = played.chart.meter.beats
        heard = np.array(
            [
                [_near(strokes, at) for at in np.linspace(start, end, eighths, endpoint=False)]
                for start, end in rendering.bar_times_s
            ]
        )
        mean = heard.mean(axis=0)
        between = max(mean[place] for place in range(eighths) if place % 3)
        line = heard.ravel() - heard.mean()
        three, two, bar = (float(np.mean(line[lag:] * line[:-lag])) for lag in (3, 2, eighths))
        rows += [
            at_most(f"{feel}: between the beats over on them, {name}",
                    float(between / mean[3::3].min()), 0.7, ""),
            at_least(f"{feel}: repeats after 3 rather than 2, {name}",
                     (three - two) / bar, 0.5, ""),
        ]  # fmt: skip
    synth.close()
    return rows


def _near(strokes: NDArray[np.float32], at_s: float) -> float:
    """The strongest stroke within 60 ms around a time."""
    first = max(0, round((at_s - 0.06) * RATE / ONSET_HOP))
    return float(strokes[first : round((at_s + 0.06) * RATE / ONSET_HOP) + 1].max())


def listen(band: str, font: Path, only: str = "", details: bool = False) -> dict[str, Tally]:
    """What is heard of all charts, or of one, played by a band with a soundfont."""
    synth = Synth(font)
    tallies: dict[str, Tally] = defaultdict(Tally)
    for name, chart in charts():
        if only and name != only:
            continue
        played = play(chart, seed=1, band=band)
        rendering = synth.render(played.arrangement, RATE)
        samples = np.concatenate(list(rendering)).mean(axis=1).astype(np.float32) / 32768
        found, plain = transcribe(samples), PlainListener(samples)
        seconds = played.arrangement.sounding_s
        own: dict[str, Tally] = defaultdict(Tally)
        for chord in played.chords:
            start, end = seconds(chord.start), seconds(chord.end)
            judged = [*_judged(chord, found, start, end), *_plainly(chord, plain, start, end)]
            for kind, right in judged:
                for tally in (tallies[kind], own[kind]):
                    tally.right += right
                    tally.whole += end - start
            if details and chord.chord is not None:
                heard = " ".join(
                    f"{(h.root - played.chart.key.pitch_class) % 12}{h.quality}"
                    f"/{(h.bass - played.chart.key.pitch_class) % 12}"
                    for h in found
                    if min(h.end, end) - max(h.start, start) > 0.25 * (end - start)
                )
                print(f"{start:6.2f} {end - start:5.2f} {chord.chord!s:>8}  {heard}")
        if details:
            print(name, band, {kind: f"{own[kind].share:.2f}" for kind in KINDS if own[kind].whole})
    synth.close()
    return tallies


def _judged(
    written: Heard, found: list[HeardChord], start: float, end: float
) -> Iterator[tuple[str, float]]:
    """For each kind that a chord is of, the seconds in which it was heard rightly."""
    chord = written.chord
    if chord is None or written.bass is None:
        return
    steps = chord_intervals(chord)
    quality, root = _triad(written)
    triad = bass = 0.0
    for heard in found:
        both = min(heard.end, end) - max(heard.start, start)
        if both > 0:
            triad += both * (heard.root == root and QUALITY_CLASS[heard.quality] == quality)
            bass += both * (heard.bass == written.bass)
    if quality is not None:
        yield KINDS[0], triad
    if chord.bass is not None:
        yield KINDS[1], bass
        if _bass_step(written) not in steps:
            yield KINDS[2], bass
    if end - start < SHORT_S and quality is not None:
        yield KINDS[3], triad


def _triad(written: Heard) -> tuple[int | None, int]:
    """Whether a chord is major (0), minor (1) or neither (None), and its root."""
    assert written.chord is not None
    assert written.bass is not None
    steps = chord_intervals(written.chord)
    quality = {(4, 7): 0, (3, 7): 1}.get((steps[1], steps[2]) if len(steps) > 2 else (0, 0))
    return quality, (written.bass - _bass_step(written)) % 12


def _plainly(
    written: Heard, plain: PlainListener, start: float, end: float
) -> Iterator[tuple[str, float]]:
    """The seconds in which plain templates heard a chord's triad and its slash bass rightly."""
    if written.chord is None or written.bass is None:
        return
    triad, bass = plain.hear(start, end)
    quality, root = _triad(written)
    if quality is not None:
        yield PLAIN_TRIADS, (end - start) * (triad == root + 12 * quality)
    if written.chord.bass is not None:
        yield PLAIN_BASSES, (end - start) * (bass == written.bass)


def _bass_step(written: Heard) -> int:
    """How many semitones the bass stands above the root, modulo an octave."""
    chord = written.chord
    assert chord is not None
    return 0 if chord.bass is None else (chord.bass.semitones - chord.root.semitones) % 12


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--soundfont", type=Path)
    asked.add_argument("--band", help="this band alone, chord by chord")
    asked.add_argument("--song", default="", help="with --band: this chart alone")
    given = asked.parse_args()
    random.seed(0)
    if given.band:
        listen(given.band, find_soundfont(given.soundfont), given.song, details=True)
    else:
        print(table(run(given.soundfont)))
