"""`render`: a chart played by the band into a file."""

from __future__ import annotations

import math
import random
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.cli.files import print_json, read_chart
from trainer.cli.options import Band, Json, SoundfontFile
from trainer.cli.waiting import progress_bar

if TYPE_CHECKING:
    from trainer.band import Arrangement

__all__ = ["render", "render_audio"]


def render(
    chart: Annotated[str, typer.Argument(help="A chart in text notation; - for standard input.")],
    out: Annotated[Path, typer.Option("-o", "--out", help="Where to: .wav, .flac or .mid.")],
    band: Band = "full",
    tempo: Annotated[
        float | None, typer.Option(help="Play at this tempo instead of the chart's.")
    ] = None,
    soundfont: SoundfontFile = None,
    seed: Annotated[int, typer.Option(help="Of the band's small liberties.", min=0)] = 0,
    as_json: Json = False,
) -> None:
    """Play a chart into a file: sound (.wav, .flac) or the parts (.mid)."""
    from trainer.band import arrange

    song = read_chart(chart)
    arrangement = arrange(song, rng=random.Random(seed), band=band, tempo=tempo)
    if out.suffix.lower() == ".mid":
        from trainer.export import export_chart

        export_chart(song, out, band=band, seed=seed, tempo=tempo)
        made = _facts(arrangement)
    else:
        made = render_audio(arrangement, out, soundfont)
    if as_json:
        print_json(made)
    else:
        typer.echo(f"wrote {out}: {made['duration_s']:.1f} s")


def render_audio(
    arrangement: Arrangement, out: Path, soundfont: Path | None = None
) -> dict[str, Any]:
    """Render into a WAV or FLAC file and tell what was made, in the shape of `render --json`."""
    from trainer.sound import LoudnessMeter, Synth, find_soundfont, write_audio

    rendering = Synth(find_soundfont(soundfont)).render(arrangement)
    meter = LoudnessMeter(rendering.sample_rate)
    with progress_bar(f"playing into {out.name}", rendering.frames) as advance:
        write_audio(rendering, out, progress=advance, meter=meter)
    loudness = meter.result()
    return {
        "duration_s": rendering.duration_s,
        "sample_rate": rendering.sample_rate,
        "bar_times_s": [list(times) for times in rendering.bar_times_s],
        "loudness_lufs": _finite(loudness.lufs),
        "peak_dbtp": _finite(loudness.true_peak_dbtp),
    }


def _finite(level: float) -> float | None:
    """A level for JSON, which knows no minus infinity: null is silence."""
    return level if math.isfinite(level) else None


def _facts(arrangement: Arrangement) -> dict[str, Any]:
    """The shape of `render --json` for parts that were not made into sound."""
    clock = arrangement.tempo_map
    return {
        "duration_s": clock.seconds(arrangement.length_quarters),
        "sample_rate": None,
        "bar_times_s": [
            [
                clock.seconds(bar.start_quarters),
                clock.seconds(bar.start_quarters + bar.length_quarters),
            ]
            for bar in arrangement.bars
        ],
        "loudness_lufs": None,
        "peak_dbtp": None,
    }
