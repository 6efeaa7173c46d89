"""Whether there is something to hear with advice, and whether what it says of speed is so.

What it says of the charts is checked by `tests.grade.advice_checker`.
"""

from __future__ import annotations

from trainer.chart import Chart
from trainer.grade import Advice, Report

__all__ = ["check_listening", "check_speed", "seconds"]


def check_listening(advice: Advice, report: Report, reference: Chart, answer: Chart) -> None:
    """There is an excerpt of either chart to hear, unless all is right."""
    if advice.kind == "all right":
        assert report.score == 1.0 or all(bar.score == 1.0 for bar in report.bars)
        assert (advice.listen, advice.listen_answer) == (None, None)
        return
    check_stretch(advice.listen, reference, reference)
    check_stretch(advice.listen_answer, answer, reference)


def check_speed(advice: Advice, report: Report) -> None:
    """The bar that is named was written later after its sound than bars usually were."""
    assert report.speed is not None
    assert f"bar {report.speed.fell_behind}." in advice.text
    assert report.speed.listens == 1
    assert not report.speed.paused
    assert report.speed.median_lag_beats is not None
    here = report.speed.lag_beats[(report.speed.fell_behind or 0) - 1]
    assert here is not None
    assert here > report.speed.median_lag_beats


def check_stretch(bars: tuple[int, int] | None, chart: Chart, song: Chart) -> None:
    """Bars of the chart that last 5 to 15 seconds, unless it is too short or its bars too long."""
    assert bars is not None
    lasts = seconds(chart, song)
    assert 1 <= bars[0] <= bars[1] <= len(lasts)
    heard = sum(lasts[bars[0] - 1 : bars[1]])
    assert heard <= 15 + 1e-6 or bars[0] == bars[1]
    beside = [lasts[at] for at in (bars[0] - 2, bars[1]) if 0 <= at < len(lasts)]
    assert heard >= 5 - 1e-6 or all(heard + more > 15 - 1e-6 for more in beside)


def seconds(chart: Chart, song: Chart) -> list[float]:
    """How long each bar lasts at the song's tempo."""
    pulse = 60 / song.tempo / song.meter.pulse_quarters
    return [float(bar.meter.quarters * pulse) for bar in chart.bars()]
