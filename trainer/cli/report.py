"""The graded chart on the terminal: what was played over what was written, bar under bar.

A mark under a bar says in a word what is wrong with it, so that nothing rests on colour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.chart import Chart, PlacedBar
from trainer.cli.common import percent
from trainer.cli.sheet import LABEL_WIDTH, SHORTEST_CELL, cell
from trainer.drill import bar_difference

if TYPE_CHECKING:
    from rich.console import Console

    from trainer.grade import BarGrade, Report, Weights
    from trainer.practice import Verdict

__all__ = ["print_report", "print_verdict"]


def print_report(console: Console, reference: Chart, answer: Chart | None, report: Report) -> None:
    """Print score, both charts aligned, and advice."""
    console.print(f"Score {percent(report.score)}", style="bold", highlight=False)
    console.print(_parts(report), highlight=False)
    console.print()
    played = {place.number: place for place in reference.placed_bars()}
    written = {place.number: place for place in answer.placed_bars()} if answer is not None else {}
    for row in _rows(report.bars, played):
        _print_row(console, row, played, written, reference, report.weights)
    for advice in report.advice:
        console.print(f"- {advice.text}", highlight=False, markup=False)


def print_verdict(console: Console, verdict: Verdict, level: int) -> None:
    """Say whether a level is passed, and what is not there yet with how to practise it."""
    from trainer.practice import describe_verdict

    if verdict.passed:
        console.print(f"Level {level} passed.", style="bold", highlight=False)
        return
    console.print(
        f"The whole is good enough, but not every skill of level {level} is there yet."
        if verdict.reached
        else f"Level {level} is not passed yet.",
        style="bold",
        highlight=False,
    )
    for found, text in zip(verdict.missing, describe_verdict(verdict), strict=True):
        console.print(text, highlight=False, markup=False)
        command = f'chart-trainer more "{found.skill}" --level {level}'
        console.print(f"Ten more of just this: {command}", highlight=False, markup=False)


def _parts(report: Report) -> str:
    names = ("root", "quality", "bass", "placement", "articulation")
    values = ((name, getattr(report.parts, name)) for name in names)
    said = [f"{name} {percent(value)}" for name, value in values if value is not None]
    return ", ".join(
        [*said, f"phrases {percent(report.phrases.f)}", f"form {percent(report.form.score)}"]
    )


def _rows(grades: tuple[BarGrade, ...], played: dict[int, PlacedBar]) -> list[list[BarGrade]]:
    """The graded bars, a row for each phrase that was played; added bars stay where they stand."""
    rows: list[list[BarGrade]] = []
    at: tuple[int, int] | None = None
    for grade in grades:
        place = played.get(grade.reference) if grade.reference is not None else None
        if not rows or (place is not None and (place.section, place.phrase) != at):
            rows.append([])
        if place is not None:
            at = place.section, place.phrase
        rows[-1].append(grade)
    return rows


def _print_row(
    console: Console,
    row: list[BarGrade],
    played: dict[int, PlacedBar],
    written: dict[int, PlacedBar],
    reference: Chart,
    weights: Weights,
) -> None:
    first = next((played[g.reference] for g in row if g.reference is not None), None)
    label = ""
    if first is not None and first.phrase == 0 and first.index == 0:
        label = reference.sections[first.section].name
    columns = [_column(grade, played, written, reference, weights) for grade in row]
    lines = [("played", 0), ("wrote", 1)]
    if any(column[2] for column in columns):
        lines.append(("", 2))
    for name, which in lines:
        cells = "".join(
            f"{column[which]:<{max(SHORTEST_CELL, 2 + max(map(len, column)))}}"
            for column in columns
        )
        head = f"{label[: LABEL_WIDTH - 1]:<{LABEL_WIDTH}}{name:<8}"
        label = ""
        console.print(
            (head + cells).rstrip(),
            highlight=False,
            markup=False,
            no_wrap=True,
            crop=False,
            overflow="ignore",
            style="bold" if which == 2 else "",
        )
    console.print()


def _column(
    grade: BarGrade,
    played: dict[int, PlacedBar],
    written: dict[int, PlacedBar],
    reference: Chart,
    weights: Weights,
) -> tuple[str, str, str]:
    above = cell(played[grade.reference].bar, reference) if grade.reference else ""
    below = cell(written[grade.answer].bar, reference) if grade.answer else ""
    return above, below, bar_difference(grade, weights)
