"""`grade`: one chart against another."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.chart import Chart, Header, parse
from trainer.cli.common import print_json, read_chart, read_chart_text, read_text
from trainer.cli.exercises import level_numbered
from trainer.cli.options import LevelNumber
from trainer.errors import FileError

if TYPE_CHECKING:
    from rich.console import Console

    from trainer.exercise import Level
    from trainer.grade import Report, Weights
    from trainer.practice import Verdict

__all__ = ["grade_command"]

Scheme = Annotated[
    str | None,
    typer.Option(metavar="NAME", help="What counts: standard, strict, roots or symbols."),
]
WeightsFile = Annotated[
    Path | None,
    typer.Option(
        "--weights", metavar="FILE", help="Your own weights (TOML); --explain lists them."
    ),
]
Explain = Annotated[bool, typer.Option("--explain", help="Also show how the chart is scored.")]


def grade_command(
    reference: Annotated[str, typer.Argument(help="The right chart.")],
    answer: Annotated[str, typer.Argument(help="The chart to grade; - for standard input.")],
    scheme: Scheme = None,
    weights: WeightsFile = None,
    explain: Explain = False,
    level: LevelNumber = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the report as JSON.")] = False,
) -> None:
    """Grade a chart against the right one, bar by bar, with advice.

    If the answer's header leaves out meter, tempo, feel or key, the right chart's are used.
    With --level the chart is graded as that level asks, and you see whether it passes.
    """
    from trainer.grade import grade, report_to_json, weights_for

    aimed = level_numbered(level) if level is not None else None
    is_usual = aimed is not None and scheme is None and weights is None
    counted = weights_for(aimed.recipe.ask) if aimed and is_usual else _weights(scheme, weights)
    right = read_chart(reference)
    text = read_chart_text(answer)
    written = None
    if text.strip():
        header = Header("", right.meter, right.tempo, right.feel, right.key)
        written = parse(text, header, source="standard input" if answer == "-" else answer)
    report = grade(right, written, weights=counted)
    verdict = _verdict(aimed, right, text, report) if aimed is not None else None
    if as_json:
        plain = report_to_json(report)
        if aimed is not None and verdict is not None:
            plain["level"] = _plain_verdict(aimed.number, verdict)
        print_json(plain)
        return
    from rich.console import Console

    from trainer.cli.report import print_report, print_verdict

    console = Console(highlight=False)
    print_report(console, right, written, report)
    if aimed is not None and verdict is not None:
        print_verdict(console, verdict, aimed.number)
    if explain:
        _print_weights(console, counted)


def _verdict(level: Level, right: Chart, text: str, report: Report) -> Verdict:
    """The answer judged by a level, as if the right chart were a song of it."""
    from trainer.exercise import chart_exercise, read_answer
    from trainer.practice import graded_bars, judge

    exercise = chart_exercise(right, level)
    bars = graded_bars(report, exercise, read_answer(exercise, text))
    shift = report.home_shift.kind if report.home_shift is not None else None
    return judge(level, exercise, bars, report.score, shift)


def _plain_verdict(number: int, verdict: Verdict) -> dict[str, Any]:
    from trainer.practice import describe_verdict

    return {
        "level": number,
        "passed": verdict.passed,
        "reached": verdict.reached,
        "skills": [
            {
                "skill": each.skill,
                "places": each.places,
                "credit": each.credit,
                "needed": each.needed,
                "is_there": each.is_there,
                "missed": list(each.missed),
                "added": list(each.added),
            }
            for each in verdict.skills
        ],
        "not_there_yet": list(describe_verdict(verdict)),
    }


def _weights(scheme: str | None, path: Path | None) -> Weights:
    """The weights asked for; a scheme named on the line is what the file's settings change."""
    from trainer.grade import weights_from

    settings: dict[str, object] = {}
    if path is not None:
        try:
            settings = tomllib.loads(read_text(str(path)))
        except tomllib.TOMLDecodeError as error:
            raise FileError(f"{path}: {error}, expected weights in TOML") from error
    if scheme is not None:
        settings["scheme"] = scheme
    return weights_from(settings)


def _print_weights(console: Console, weights: Weights) -> None:
    from trainer.grade import weights_table

    console.print("\nHow it's scored:")
    for row in weights_table(weights):
        console.print(f"{row.part:<14}{row.weight:>6g}  {row.meaning}", soft_wrap=True)
