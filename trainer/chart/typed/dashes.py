"""Dashes after a chord: the same bar again, one more beat each, or a minor chord."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.chart.meter import Meter
from trainer.chart.typed.cells import bars_of_beats
from trainer.chart.typed.pieces import Kind
from trainer.chart.typed.question import Choice, Doubt
from trainer.chart.typed.units import Unit

__all__ = ["settle_dashes"]

ASKED = "What is each dash after a chord: the same bar again, or one more beat?"
ASKED_MINOR = "What are the two dashes after a chord?"


def settle_dashes(
    units: list[Unit], meter: Meter, *, may_ask: bool
) -> tuple[list[Unit], Doubt | None]:
    """Ask about a line like 1 - - - or 6--, whose dashes can be read in several ways.

    Until that is answered each dash is the same bar again, and the units stay as they are.
    """
    runs = _runs(units)
    if not may_ask or not any(len(run) > 1 for run in runs):
        return units, None
    beats = _beats(runs, meter)
    minors = _minors(runs)
    if beats is None and minors is None:
        return units, None
    choices = [Choice("the same bar again", " ".join(map(_again, runs)))]
    choices += [] if beats is None else [Choice("one more beat", beats)]
    choices += [] if minors is None else [Choice("minor, and the same bar again", minors)]
    asked = ASKED if minors is None else ASKED_MINOR
    kind = f"{asked} {len(choices)}"
    return units, Doubt(units[0].start, units[-1].end, asked, tuple(choices), kind)


def _runs(units: Sequence[Unit]) -> list[list[Unit]]:
    """The units in runs, each a chord with the dashes after it, or a single unit."""
    runs: list[list[Unit]] = []
    for unit in units:
        is_dash = unit.kind is Kind.AGAIN and unit.pieces[0].text == "-" and not unit.before
        if is_dash and runs and runs[-1][0].kind is Kind.CHORD:
            runs[-1].append(unit)
        else:
            runs.append([unit])
    return runs


def _beats(runs: Sequence[Sequence[Unit]], meter: Meter) -> str | None:
    """The line with each dash for a beat; None if it does not fill its bars, or not obviously."""
    if not any(len(run) > 1 and len(run) == run[0].beats(meter) for run in runs):
        return None
    dashed = [run for run in runs if len(run) > 1]
    if all(len(run) == run[0].beats(meter) for run in dashed):
        return " ".join(run[0].whole_text for run in runs)
    beats = [
        Unit(Kind.BEAT, unit.pieces) if unit is not run[0] else unit for run in runs for unit in run
    ]
    bars: list[Unit] = []
    phrase: list[Unit] = []
    for unit in [*beats, None]:
        if unit is not None and unit.kind is not Kind.END:
            phrase.append(unit)
            continue
        has_beats = any(each.kind is Kind.BEAT for each in phrase)
        read = bars_of_beats(phrase, meter) if has_beats else phrase
        if read is None:
            return None
        bars += read if unit is None else [*read, unit]
        phrase = []
    return " ".join(unit.whole_text for unit in bars)


def _minors(runs: Sequence[Sequence[Unit]]) -> str | None:
    """The line with 6-- as a minor chord and the same bar again; None if nothing is written so."""
    found, texts = False, []
    for run in runs:
        chord, dashes = run[0], run[1:]
        is_close = bool(dashes) and dashes[0].start == chord.end
        number = chord.text if chord.kind is Kind.CHORD else ""
        if is_close and len(dashes) == 2 and number[-1:].isdigit() and number.strip("b#").isdigit():
            found = True
            texts.append(f"{chord.whole_text}- {number}-")
        else:
            texts.append(_again(run))
    return " ".join(texts) if found else None


def _again(run: Sequence[Unit]) -> str:
    """A run with its bar written again for each dash."""
    first = run[0]
    return " ".join([first.whole_text, *(first.text for _ in run[1:])])
