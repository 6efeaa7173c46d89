"""Commands on charts: `generate`, `chart`, `render` and `export`."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.chart import (
    Key,
    ParseResult,
    chart_to_json,
    format_chart,
    format_letters,
    question_to_json,
)
from trainer.cli.common import print_json, progress_bar, read_chart, read_chart_with_questions
from trainer.cli.exercises import exercise_source
from trainer.cli.options import Band, Json, LevelNumber, RecipeName, Seed, SoundfontFile

if TYPE_CHECKING:
    from trainer.band import Arrangement

__all__ = ["chart", "export", "generate", "render", "render_audio"]

ChartFile = Annotated[str, typer.Argument(help="A chart in text notation; - for standard input.")]
BandSeed = Annotated[
    int, typer.Option("--seed", help="The seed for the band's small variations.", min=0)
]


def generate(
    level: LevelNumber = None,
    recipe: RecipeName = None,
    seed: Seed = None,
    count: Annotated[
        int, typer.Option(min=1, help="How many to make, one seed after another.")
    ] = 1,
    as_json: Json = False,
) -> None:
    """Make exercises and print their charts, or one JSON object per line with --json."""
    from trainer.exercise import exercise_to_json, new_seed

    make = exercise_source(level, recipe, songs=False)
    first = new_seed() if seed is None else seed
    for number in range(first, first + count):
        exercise = make(number)
        if as_json:
            print_json(exercise_to_json(exercise))
        else:
            typer.echo(f"--- seed {number}\n{format_chart(exercise.chart)}")


def chart(
    file: ChartFile,
    in_key: Annotated[
        str | None, typer.Option("--in", metavar="KEY", help="Print letter names in this key.")
    ] = None,
    letters: Annotated[
        bool, typer.Option("--letters", help="Read letter names, in the chart's own key.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the chart as JSON.")] = False,
) -> None:
    """Check a chart and print it tidied up, or as letter names in a key."""
    if as_json:
        _print_as_json(read_chart_with_questions(file, letters=letters))
        return
    song = read_chart(file, letters=letters)
    if in_key is not None:
        typer.echo(format_letters(replace(song, key=Key.parse(in_key))), nl=False)
    else:
        typer.echo(format_chart(song), nl=False)


def _print_as_json(result: ParseResult) -> None:
    """Print a chart with the numbers of its open bars, and its questions with every answer."""
    assert result.chart is not None
    questions = [question_to_json(question) for question in result.questions]
    more = {"gaps": sorted(result.gaps), "questions": questions}
    print_json(chart_to_json(result.chart) | more)


def render(
    chart: ChartFile,
    out: Annotated[
        Path, typer.Option("-o", "--out", help="The file to write: .wav, .flac or .mid.")
    ],
    band: Band = "full",
    tempo: Annotated[
        float | None, typer.Option(help="Play at this tempo instead of the chart's.")
    ] = None,
    soundfont: SoundfontFile = None,
    seed: BandSeed = 0,
    as_json: Json = False,
) -> None:
    """Have the band play a chart into a file: sound (.wav, .flac) or its parts (.mid)."""
    from trainer.band import arrange, playing_time_s

    song, is_midi = read_chart(chart), out.suffix.lower() == ".mid"
    if not is_midi:
        from trainer.sound import check_playing_time

        check_playing_time(playing_time_s(song, tempo=tempo))
    arrangement = arrange(song, rng=random.Random(seed), band=band, tempo=tempo)
    if is_midi:
        from trainer.export import export_chart

        export_chart(song, out, band=band, seed=seed, tempo=tempo)
        made = _facts(arrangement)
    else:
        from trainer.sound import HEARING_REMINDER

        made = render_audio(arrangement, out, soundfont)
        typer.echo(HEARING_REMINDER, err=True)
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
    with progress_bar(f"rendering {out.name}", rendering.frames) as advance:
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
    return {
        "duration_s": arrangement.tempo_map.seconds(arrangement.length_quarters),
        "sample_rate": None,
        "bar_times_s": [list(times) for times in arrangement.bar_times_s],
        "loudness_lufs": None,
        "peak_dbtp": None,
    }


def export(
    chart: ChartFile,
    out: Annotated[Path, typer.Option("-o", "--out", help="The file to write: .mid or .txt.")],
    band: Band = "full",
    seed: BandSeed = 0,
) -> None:
    """Write a chart as MIDI (the band's parts) or as plain text."""
    from trainer.export import export_chart

    export_chart(read_chart(chart), out, band=band, seed=seed)
    typer.echo(f"wrote {out}")
