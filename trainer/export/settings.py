"""What a person says of a file that is written or read."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.chart import Key, Meter

__all__ = ["Unsaid", "Writing"]


@dataclass(frozen=True, slots=True)
class Writing:
    """How a chart is written.

    `letters` is whether chords are letters in the chart's key rather than numbers, None for what is
    usual in the format. `band`, `seed` and `tempo` are as in `band.arrange`.
    """

    letters: bool | None = None
    band: str = "full"
    seed: int = 0
    tempo: float | None = None


@dataclass(frozen=True, slots=True)
class Unsaid:
    """What holds where a file doesn't say it; `tempo` is in pulses a minute."""

    key: Key | None = None
    meter: Meter | None = None
    tempo: float | None = None
