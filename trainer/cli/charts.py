"""Commands on charts: `generate`, `chart` and `render`."""

from __future__ import annotations

import math
import random
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.chart import (
    Key,
    ParseResult,
    called_in,
    chart_to_json,
    format_chart,
    format_letters,
    question_to_json,
)
from trainer.cli.common import (
    print_json,
    progress_bar,
    read_chart,
    read_chart_with_questions,
    read_import,
    unsaid_by_file,
)
from trainer.cli.exercises import exercise_source
from trainer.cli.options import Band, BandSeed, Json, LevelNumber, RecipeName, Seed, SoundfontFile

if TYPE_CHECKING:
    from trainer.band import Arrangement
    from trainer.export import ReadFile

__all__ = ["chart", "generate", "render", "render_audio"]

ChartFile = Annotated[
    str,
    typer.Argument(
        help="A chart in text notation, or .musicxml, .mxl, .cho or .lab; - for standard input."
    ),
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
    key: Annotated[
        str | None, typer.Option(help="The key of a file that doesn't say its key.")
    ] = None,
    meter: Annotated[
        str | None, typer.Option(help="The meter of a file that doesn't say its meter.")
    ] = None,
    tempo: Annotated[
        float | None,
        typer.Option(help="The tempo of a file that doesn't say its tempo.", min=20, max=400),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the chart as JSON.")] = False,
) -> None:
    """Check a chart and print it tidied up, or as letter names in a key.

    Reads MusicXML, ChordPro and label files as well, and says what in them could not be read.
    """
    unsaid = unsaid_by_file(key, meter, tempo)
    if as_json:
        imported = read_import(file, unsaid)
        if imported is None:
            _print_as_json(read_chart_with_questions(file, letters=letters, unsaid=unsaid))
        else:
            _print_import_as_json(imported)
        return
    song = read_chart(file, letters=letters, unsaid=unsaid)
    if in_key is not None:
        typer.echo(format_letters(called_in(song, Key.parse(in_key))), nl=False)
    else:
        typer.echo(format_chart(song), nl=False)


def _print_as_json(result: ParseResult) -> None:
    """Print a chart with the numbers of its open bars, and its questions with every answer."""
    assert result.chart is not None
    questions = [question_to_json(question) for question in result.questions]
    more = {"gaps": sorted(result.gaps), "questions": questions, "problems": []}
    print_json(chart_to_json(result.chart) | more)


def _print_import_as_json(read: ReadFile) -> None:
    """Print a chart from another format in the same shape, with what could not be read."""
    gaps = [number for number, bar in enumerate(read.chart.bars(), 1) if bar.is_open]
    problems = [
        {"place": each.place, "found": each.found, "instead": each.instead}
        for each in read.problems
    ]
    more = {"gaps": gaps, "questions": [], "problems": problems}
    print_json(chart_to_json(read.chart) | more)


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
        from trainer.export import Writing, export_chart

        export_chart(song, out, Writing(band=band, seed=seed, tempo=tempo))
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
