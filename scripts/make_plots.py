"""Draw the plots of docs/band.md: a song as a piano roll; a hold, a push and a choke as heard.

.venv/bin/python scripts/make_plots.py
"""

from __future__ import annotations

import random
from pathlib import Path

import librosa
import matplotlib as mpl
import numpy as np
from matplotlib import pyplot as plt
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from PIL import Image

from trainer.band import Arrangement, arrange
from trainer.chart import Chart, Header, format_chart, parse
from trainer.sound import Synth, find_soundfont

DOCS = Path(__file__).parent.parent / "docs"
RATE = 22050
COLOURS = {"voice": "#c0392b", "guitar": "#b8860b", "bass": "#1f4e9c", "drums": "#777777"}
# Where the drum keys of General MIDI are drawn: under the lowest bass note.
DRUM_ROWS = {36: 21, 38: 22.5, 37: 22.5, 42: 24, 46: 24, 51: 24, 49: 25.5}
SONG = """
Verse 1:
1 (1 5/7) 6- 4 . 1 5 4 5
Chorus:
4 5p 1 6- . 2- 5 [2/4]5 1d
Tag:
4 5c 1
"""
ARTICULATIONS = "Verse:\n1 4d 5 6-p 6- 5c 1\n"


def song() -> Chart:
    """Return a short song of Millrace."""
    header = Header(title="Ferry Landing Light", tempo=96.0)
    return parse("key: G\n" + SONG, header)


def _notes(axes: Axes, played: Arrangement) -> None:
    for part in played.parts:
        if part.name not in COLOURS:
            continue
        for note in part.notes:
            row = DRUM_ROWS.get(note.pitch, 23.5) if part.is_drum else note.pitch
            length = 0.12 if part.is_drum else note.length_quarters
            axes.broken_barh(
                [(note.start_quarters - played.count_off_quarters, length)],
                (row - 0.45, 0.9),
                color=COLOURS[part.name],
                alpha=0.35 + 0.6 * note.velocity / 127,
                linewidth=0,
            )


def _written(chart: Chart) -> list[tuple[float, str, str]]:
    """Return (start in quarters, section or "", text) of each bar."""
    found = []
    for place in chart.placed_bars():
        section = chart.sections[place.section]
        first = place.phrase == place.index == 0
        bar = section.phrases[place.phrase].bars[place.index]
        alone = Chart(
            "",
            bar.meter,
            chart.tempo,
            chart.feel,
            chart.key,
            (type(section)("Verse", (type(section.phrases[0])((bar,)),)),),
        )
        text = format_chart(alone).split("Verse:")[1].strip()
        found.append((float(place.start_quarters), section.name if first else "", text))
    return found


def piano_roll(path: Path) -> None:
    """Draw a song as a small band plays it, its chart above it."""
    chart = song()
    played = arrange(chart, rng=random.Random(4), band="small")
    figure, axes = plt.subplots(figsize=(15, 6), layout="constrained")
    _notes(axes, played)
    for start, section, text in _written(chart):
        axes.axvline(start, color="black", linewidth=1.4 if section else 0.4)
        axes.text(start + 0.15, 82, text, fontsize=10, family="monospace")
        axes.text(start + 0.15, 84.6, section, fontsize=10, weight="bold")
    end = played.length_quarters - played.count_off_quarters
    axes.set(xlim=(-0.7, end), ylim=(19.5, 87), xlabel="quarter notes from the first bar line")
    axes.set_yticks([24, 28, 40, 52, 64, 76], ["drums", "E1", "E2", "E3", "E4", "E5"])
    handles = [Line2D([], [], color=colour, lw=5, label=name) for name, colour in COLOURS.items()]
    figure.legend(handles=handles, loc="outside upper right", ncols=4, frameon=False)
    figure.suptitle(f"{chart.title}: guitar, bass, drums and guide voice", x=0.01, ha="left")
    figure.savefig(path, dpi=75)
    plt.close(figure)


def spectrogram(path: Path) -> None:
    """Draw a hold, a push and a choke as they sound."""
    chart = parse("key: G\n\n" + ARTICULATIONS, Header(tempo=96.0))
    played = arrange(chart, rng=random.Random(4), band="small")
    rendering = Synth(find_soundfont()).render(played, RATE)
    samples = np.concatenate(list(rendering)).mean(axis=1) / 32768.0
    start, end = rendering.bar_times_s[0][0], rendering.bar_times_s[-1][1]
    power = np.abs(librosa.stft(samples.astype(np.float32), n_fft=2048, hop_length=256)) ** 2
    level = librosa.power_to_db(power, ref=power.max())
    figure, (above, below) = plt.subplots(
        2, 1, figsize=(13, 6), sharex=True, layout="constrained", height_ratios=[4, 1]
    )
    above.imshow(
        level,
        origin="lower",
        aspect="auto",
        cmap="magma",
        vmin=-70,
        extent=(-start, len(samples) / RATE - start, 0, RATE / 2),
    )
    above.set(ylim=(0, 6000), ylabel="Hz")
    loud = librosa.feature.rms(y=samples.astype(np.float32), hop_length=256)[0]
    below.plot(np.arange(len(loud)) * 256 / RATE - start, 20 * np.log10(loud + 1e-6), color="black")
    below.set(ylim=(-75, 0), ylabel="dBFS", xlabel="seconds from the first bar line")
    names = {"d": "hold", "p": "push", "c": "choke"}
    for (at, _), (_, _, text) in zip(rendering.bar_times_s, _written(chart), strict=True):
        for axes in (above, below):
            axes.axvline(at - start, color="white" if axes is above else "grey", linewidth=0.8)
        name = names.get(text[-1])
        label = f"{text}  ({name})" if name else text
        above.text(at - start + 0.05, 5550, label, color="white", fontsize=11, family="monospace")
        if name == "push":
            early = at - start - played.tempo_map.seconds(0.5)
            above.axvline(early, color="cyan", linewidth=1.2, linestyle="--")
    below.set_xlim(-0.3, end - start)
    figure.savefig(path, dpi=75)
    plt.close(figure)
    # A palette is enough for a spectrogram, and a third of the size.
    with Image.open(path) as drawn:
        drawn.convert("RGB").quantize(64, dither=Image.Dither.NONE).save(path, optimize=True)


def main() -> None:
    """Write both plots."""
    mpl.use("Agg")
    DOCS.mkdir(exist_ok=True)
    for name, draw in (("piano-roll.png", piano_roll), ("articulations.png", spectrogram)):
        draw(DOCS / name)
        print(f"{DOCS / name}: {(DOCS / name).stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
