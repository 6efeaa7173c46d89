"""The line of strength in each part: towards cadences, into choruses, from verse to verse."""

from __future__ import annotations

from itertools import pairwise
from math import log10
from statistics import mean

from tests.benchmarks import Row, seen
from tests.benchmarks.performances import Performance
from trainer.band import Note
from trainer.band.timeline import TimelineBar

__all__ = ["strength_rows"]

PARTS = ("voice", "guitar", "bass", "drums", "keys")
LONG_PHRASE = 4


def _stroke_db(notes: list[Note]) -> float:
    """The level of a mean stroke: velocity v sounds 40·log10(v/127) dB (General MIDI)."""
    return 40 * log10(mean(note.velocity for note in notes) / 127)


def _power_db(bars: list[list[Note]]) -> float:
    """The level of everything struck in bars, for each bar: energies go with v to the fourth."""
    power = mean(sum((note.velocity / 127) ** 4 for note in notes) for notes in bars)
    return 10 * log10(power)


def _bars(performance: Performance, kind: str, turn: int | None = None) -> list[TimelineBar]:
    """The plain bars inside sections of a kind, or of the turn-th of them, without their last."""
    sections = sorted({b.section for b in performance.timeline.bars if b.kind == kind})
    chosen = sections if turn is None else sections[turn : turn + 1]
    return [
        bar
        for bar in performance.timeline.bars
        if bar.section in chosen and performance.is_plain(bar) and not bar.last_in_section
    ]


def _step_db(
    performance: Performance, name: str, one: list[TimelineBar], other: list[TimelineBar]
) -> tuple[float, float] | None:
    """By how much the other bars are louder, by stroke and by power; None if some are empty."""
    old, new = ([n for b in bars if (n := performance.bar_notes(name, b))] for bars in (one, other))
    if not old or not new:
        return None
    flat_old, flat_new = ([note for notes in bars for note in notes] for bars in (old, new))
    return _stroke_db(flat_new) - _stroke_db(flat_old), _power_db(new) - _power_db(old)


def _slopes(performance: Performance, name: str) -> list[float]:
    """The change in dB a bar over the plain bars of each phrase of four or more."""
    found = []
    for phrase in performance.timeline.phrases:
        levels = [
            (float(bar.index), _stroke_db(notes))
            for bar in phrase.bars
            if performance.is_plain(bar)
            and not bar.last_in_section
            and (notes := performance.bar_notes(name, bar))
        ]
        if len(phrase.bars) < LONG_PHRASE or len(levels) < LONG_PHRASE - 1:
            continue
        x, y = mean(at for at, _ in levels), mean(level for _, level in levels)
        spread = sum((at - x) ** 2 for at, _ in levels)
        found.append(sum((at - x) * (level - y) for at, level in levels) / spread)
    return found


def _rises(performance: Performance, name: str) -> list[float]:
    """By how much the last bar before each chorus is louder than the bars before it, in dB."""
    found = []
    bars = performance.timeline.bars
    for last, first in pairwise(bars):
        if first.kind != "chorus" or not first.first_in_section or last.kind == "chorus":
            continue
        before = [b for b in bars if b.section == last.section and b.number < last.number - 1]
        levels = [
            _stroke_db(notes)
            for b in before
            if performance.is_plain(b) and (notes := performance.bar_notes(name, b))
        ]
        notes = performance.bar_notes(name, last)
        if levels and notes:
            found.append(_stroke_db(notes) - mean(levels))
    return found


def strength_rows(played: list[Performance]) -> list[Row]:
    """All rows."""
    rows = []
    for name in PARTS:
        slopes = [slope for performance in played for slope in _slopes(performance, name)]
        rises = [rise for performance in played for rise in _rises(performance, name)]
        lifts, seconds = [], []
        for performance in played:
            verse = _bars(performance, "verse", 0)
            lifts.append(_step_db(performance, name, verse, _bars(performance, "chorus")))
            seconds.append(_step_db(performance, name, verse, _bars(performance, "verse", 1)))
        lift = [step for step in lifts if step is not None]
        second = [step for step in seconds if step is not None]
        rows += [
            seen(f"{name}: through a phrase", mean(slopes), "dB a bar"),
            seen("… last bar before a chorus", mean(rises), "dB over the bars before"),
            seen("… chorus over verse, a stroke", mean(step for step, _ in lift), "dB"),
            seen("… chorus over verse, a bar", mean(step for _, step in lift), "dB"),
            seen("… second verse over first, a bar", mean(step for _, step in second), "dB"),
        ]
    return rows
