"""`grade`: one chart against another."""

from __future__ import annotations

from typing import Annotated

import typer

from trainer.chart import Header
from trainer.cli.files import print_json, read_chart

__all__ = ["grade_command"]


def grade_command(
    reference: Annotated[str, typer.Argument(help="The right chart.")],
    answer: Annotated[str, typer.Argument(help="The chart to grade; - for standard input.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print the report as JSON.")] = False,
) -> None:
    """Grade a chart against the right one, bar by bar, with advice.

    What the answer's header does not say (meter, tempo, feel, key) is taken from the reference.
    """
    from trainer.grade import grade, report_to_json

    right = read_chart(reference)
    written = read_chart(answer, Header("", right.meter, right.tempo, right.feel, right.key))
    report = grade(right, written)
    if as_json:
        print_json(report_to_json(report))
        return
    from rich.console import Console

    from trainer.cli.graded import print_report

    print_report(Console(highlight=False), right, written, report)
