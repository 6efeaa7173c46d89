"""Label files for researchers: start, end and chord of everything that the band plays, in seconds.

Times are those of the band's sound: half a second of silence and the count-off, if the chart has
one, come first as no chord, and a pushed chord begins when it sounds. Every chord that the chart
writes has its own line, even if it stays the same.
"""

from __future__ import annotations

from fractions import Fraction

from trainer.band import TempoMap, room_s
from trainer.band.timeline import Timeline
from trainer.chart import Chart
from trainer.export.harte import NO_CHORD, harte_label

__all__ = ["write_labels"]


def write_labels(chart: Chart, tempo: float | None = None) -> str:
    """The lines of a label file, at the chart's tempo or another (pulses a minute)."""
    count_off = chart.meter.quarters * chart.count_off
    tempo_map = TempoMap.of(chart, tempo, float(count_off))
    room = room_s(chart, tempo=tempo)
    timeline = Timeline.of(chart, Fraction(count_off))
    shifts = {place.number: place.key_shift for place in chart.placed_bars()}
    times = [*(span.start for span in timeline.spans), timeline.end]
    starts = [room + tempo_map.seconds(time + float(count_off)) for time in times]
    ends = starts[1:]
    lines = [_line(0.0, starts[0], NO_CHORD)] if starts[0] > 0 else []
    for span, start, end in zip(timeline.spans, starts[:-1], ends, strict=True):
        key = chart.key.shifted(shifts[span.bar.number])
        lines.append(_line(start, end, harte_label(span.chord, key)))
    return "".join(lines)


def _line(start: float, end: float, label: str) -> str:
    return f"{start:.6f}\t{end:.6f}\t{label}\n"
