"""How many different bars the players play in a song, and how often the same one returns."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from statistics import mean

from tests.benchmarks import Row, seen
from tests.benchmarks.performances import Performance
from trainer.band import Note
from trainer.band.timeline import TimelineBar

__all__ = ["drum_rows", "guitar_rows", "line_rows"]

# Places are counted in twelfths of a quarter, which tells sixteenths from triplets.
FINE = 12
ONE_STROKE = 0.06
Pattern = tuple[tuple[object, ...], ...]


def _place(note: Note, bar: TimelineBar) -> int:
    return round(FINE * (note.start_quarters - bar.start))


def _drum_pattern(notes: list[Note], bar: TimelineBar) -> Pattern:
    """Which drums are struck where."""
    return tuple(sorted({(_place(note, bar), note.pitch) for note in notes}))


def _fill(performance: Performance, bar: TimelineBar) -> Pattern:
    """What is struck in the last half of a bar."""
    notes = performance.notes("drums", (bar.start + bar.end) / 2, bar.end)
    return _drum_pattern(notes, bar)


def drum_rows(played: list[Performance]) -> list[Row]:
    """Drum bars, fills, and the soft strokes of the snare."""
    kinds, most, same, fills, all_fills = [], [], [], [], set()
    for performance in played:
        bars = [
            (bar, _drum_pattern(performance.bar_notes("drums", bar), bar))
            for bar in performance.timeline.bars
            if not bar.last_in_section and performance.is_plain(bar)
        ]
        patterns = Counter(pattern for _, pattern in bars)
        kinds.append(len(patterns))
        most.append(patterns.most_common(1)[0][1] / patterns.total())
        same.append(_same_after(bars))
        own = {
            _fill(performance, bar)
            for bar in performance.timeline.bars[:-1]
            if bar.last_in_section and performance.is_plain(bar)
        }
        fills.append(len(own))
        all_fills |= {(performance.chart.feel, fill) for fill in own}
    return [
        seen("drums: kinds of bars in a song, without fills", mean(kinds), ""),
        seen("… share of the most frequent", 100 * mean(most), "%"),
        seen("… the same bar after a bar", 100 * mean(same), "%"),
        seen("… kinds of fills in a song", mean(fills), ""),
        seen("… kinds of fills in all songs", len(all_fills), ""),
    ]


def _same_after(bars: list[tuple[TimelineBar, Pattern]]) -> float:
    """The share of neighbouring bars of a section with the same pattern."""
    return mean(
        one == other
        for (before, one), (after, other) in pairwise(bars)
        if before.number + 1 == after.number and before.section == after.section
    )


def _guitar_pattern(notes: list[Note], bar: TimelineBar) -> Pattern:
    """The strokes of a bar: place, and rank of a string by itself or the way of a strum."""
    strokes: list[list[Note]] = []
    for note in notes:
        if strokes and note.start_quarters - strokes[-1][-1].start_quarters < ONE_STROKE:
            strokes[-1].append(note)
        else:
            strokes.append([note])
    ranks = sorted({stroke[0].pitch for stroke in strokes if len(stroke) == 1})
    return tuple(
        (
            round(_place(stroke[0], bar) / 2),
            len(stroke) > 1,
            ranks.index(stroke[0].pitch)
            if len(stroke) == 1
            else stroke[0].pitch < stroke[-1].pitch,
        )
        for stroke in strokes
    )


def guitar_rows(played: list[Performance]) -> list[Row]:
    """Guitar bars with one chord."""
    kinds, most, same = [], [], []
    for performance in played:
        bars = [
            (bar, _guitar_pattern(performance.bar_notes("guitar", bar), bar))
            for bar in performance.timeline.bars
            if performance.is_plain(bar) and len(performance.spans[bar.number]) == 1
        ]
        patterns = Counter(pattern for _, pattern in bars)
        kinds.append(len(patterns))
        most.append(patterns.most_common(1)[0][1] / patterns.total())
        same.append(_same_after(bars))
    return [
        seen("guitar: kinds of bars in a song, one chord", mean(kinds), ""),
        seen("… share of the most frequent", 100 * mean(most), "%"),
        seen("… the same bar after a bar", 100 * mean(same), "%"),
    ]


def _line_pattern(notes: list[Note], bar: TimelineBar) -> Pattern:
    """The strokes of a bass or of keys: place, and the tone above the lowest or how many voices."""
    lowest = min((note.pitch for note in notes), default=0)
    places: dict[int, list[int]] = {}
    for note in notes:
        places.setdefault(round(_place(note, bar) / 2), []).append(note.pitch - lowest)
    return tuple(
        (place, len(tones) if len(tones) > 1 else tones[0] % 12)
        for place, tones in sorted(places.items())
    )


def line_rows(played: list[Performance], name: str) -> list[Row]:
    """Bars of the bass or the keys with one chord, in the songs that have the player."""
    kinds, same = [], []
    for performance in played:
        if name not in performance.parts:
            continue
        bars = [
            (bar, _line_pattern(performance.bar_notes(name, bar), bar))
            for bar in performance.timeline.bars
            if performance.is_plain(bar) and len(performance.spans[bar.number]) == 1
        ]
        kinds.append(len({pattern for _, pattern in bars}))
        same.append(_same_after(bars))
    return [
        seen(f"{name}: kinds of bars in a song, one chord", mean(kinds), ""),
        seen("… the same bar after a bar", 100 * mean(same), "%"),
    ]
