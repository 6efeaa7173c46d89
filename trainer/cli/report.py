"""Charts on the terminal: the sheet as it is written, and the graded chart.

The sheet has sections at the left, one phrase a line, bars in columns, in the notation they were
typed in; split bars are underlined too where the terminal can. The graded chart shows what was
played over what was written, bar under bar; a mark under a bar says in a word what is wrong with
it, so that nothing rests on colour.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from trainer.chart import Bar, Chart, ParseResult, PlacedBar, Question
from trainer.chart.format import format_bar
from trainer.cli.common import percent
from trainer.drill import ComparedBars, compare_bars

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

    from trainer.grade import Report
    from trainer.practice import Verdict

__all__ = ["draw_sheet", "print_report", "print_verdict", "say_question", "unreadable_bars"]

LABEL_WIDTH = 14
SHORTEST_CELL = 4


def cell(bar: Bar, chart: Chart) -> str:
    """A bar of the chart as it stands on the sheet; the chords of a split bar stand apart."""
    return format_bar(bar, chart)


def cell_width(chart: Chart) -> int:
    """Columns that every bar of the chart fits in, a space after it included."""
    widest = max(len(cell(bar, chart)) for bar in set(chart.bars()))
    return max(SHORTEST_CELL, widest + 2)


def say_question(question: Question) -> str:
    """What can be read in two ways: where it stands, the question, and what to write instead."""
    ways = [each.label if "\n" in each.text else each.written for each in question.choices]
    place = f"line {question.line}, column {question.column}"
    return f"{place}: {question.asked} Write {' or '.join(ways)}."


def unreadable_bars(parsed: ParseResult) -> list[int]:
    """Numbers of the bars that could not be read; not those that were asked about."""
    asked = {
        number
        for question in parsed.questions
        for number, span in enumerate(parsed.bar_spans, 1)
        if span.line == question.line
        and span.column < question.end_column
        and question.column < span.end_column
    }
    return sorted(parsed.invalid_bars - asked)


def draw_sheet(console: Console, chart: Chart, unsure: Iterable[int] = ()) -> None:
    """Draw the chart. Bars numbered in `unsure` (from 1) have a `?` after what was read of them."""
    from rich.text import Text

    unreadable, width, number = frozenset(unsure), cell_width(chart), 0
    for section in chart.sections:
        label = section.name
        for phrase in section.phrases:
            line = Text(f"{label[: LABEL_WIDTH - 1]:<{LABEL_WIDTH}}", style="bold")
            label = ""
            for bar in phrase.bars:
                number += 1
                text = cell(bar, chart)
                if number in unreadable:
                    text = f"{text}?" if any(event.chord for event in bar.events) else "?"
                line.append_text(_styled(text, len(bar.events) > 1, width))
            console.print(line, no_wrap=True, crop=False, overflow="ignore")


def _styled(text: str, is_split: bool, width: int) -> Text:
    from rich.text import Text

    styled = Text(text, style="not bold underline" if is_split else "not bold")
    styled.append(" " * max(1, width - len(text)), style="not bold not underline")
    return styled


def print_report(console: Console, reference: Chart, answer: Chart | None, report: Report) -> None:
    """Print what a teacher would say first, the score, both charts aligned, and all advice, the
    costliest first."""
    for sentence in report.summary:
        console.print(sentence, style="bold", highlight=False, markup=False)
    console.print(f"Score {percent(report.score)}", style="bold", highlight=False)
    console.print(_parts(report, reference), highlight=False)
    console.print()
    played = {place.number: place for place in reference.placed_bars()}
    written = {place.number: place for place in answer.placed_bars()} if answer is not None else {}
    for row in _rows(compare_bars(report), played):
        _print_row(console, row, played, written, reference)
    for advice in report.advice:
        console.print(f"- {advice.text}", highlight=False, markup=False)


def print_verdict(console: Console, verdict: Verdict, level: int) -> None:
    """Say whether a level is passed, and which skills are missing with how to practise them."""
    from trainer.practice import describe_verdict

    if verdict.passed:
        console.print(f"You passed level {level}.", style="bold", highlight=False)
        return
    console.print(
        f"Your overall score is high enough, but you still need {_missing(verdict)} to pass level "
        f"{level}."
        if verdict.reached
        else f"You haven't passed level {level} yet.",
        style="bold",
        highlight=False,
    )
    for found, text in zip(verdict.missing, describe_verdict(verdict), strict=True):
        console.print(text, highlight=False, markup=False)
        command = f'chart-trainer more "{found.skill}" --level {level}'
        console.print(f"Practise just this ten times: {command}", highlight=False, markup=False)


def _missing(verdict: Verdict) -> str:
    """The skills that are missing, as a list: "1/3 and splits"."""
    from trainer.grade.text_pieces import join_words
    from trainer.practice import describe_skill

    return join_words([describe_skill(each.skill) for each in verdict.missing])


def _parts(report: Report, reference: Chart) -> str:
    """The score by part: those that were asked for and that the song has."""
    names = ("root", "quality", "bass", "placement", "articulation")
    asked = [name for name in names if getattr(report.weights, name)]
    values = [(name, getattr(report.parts, name)) for name in asked]
    if report.weights.phrases and sum(len(each.phrases) for each in reference.sections) > 1:
        values.append(("phrases", report.phrases.f))
    if report.weights.form and len(reference.sections) > 1:
        values.append(("form", report.form.score))
    return ", ".join(f"{name} {percent(value)}" for name, value in values if value is not None)


def _rows(
    places: tuple[ComparedBars, ...], played: dict[int, PlacedBar]
) -> list[list[ComparedBars]]:
    """The compared bars, a row for each phrase that was played; added bars stay where they
    stand."""
    rows: list[list[ComparedBars]] = []
    at: tuple[int, int] | None = None
    for compared in places:
        place = played[compared.references[0]] if compared.references else None
        if not rows or (place is not None and (place.section, place.phrase) != at):
            rows.append([])
        if place is not None:
            at = place.section, place.phrase
        rows[-1].append(compared)
    return rows


def _print_row(
    console: Console,
    row: list[ComparedBars],
    played: dict[int, PlacedBar],
    written: dict[int, PlacedBar],
    reference: Chart,
) -> None:
    first = next((played[each.references[0]] for each in row if each.references), None)
    label = ""
    if first is not None and first.phrase == 0 and first.index == 0:
        label = reference.sections[first.section].name
    columns = [
        (_cells(each.references, played, reference), _cells(each.answers, written, reference),
         each.word)
        for each in row
    ]  # fmt: skip
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


def _cells(numbers: tuple[int, ...], bars: dict[int, PlacedBar], reference: Chart) -> str:
    """The bars of one chart at a place, as text."""
    return " | ".join(cell(bars[number].bar, reference) for number in numbers)
