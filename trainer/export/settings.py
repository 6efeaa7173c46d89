"""What a person says of a file that is written or read."""

from __future__ import annotations

from dataclasses import dataclass, field

from trainer.chart import Key, Meter
from trainer.export.sheet import SheetSettings

__all__ = ["Unsaid", "Writing"]


@dataclass(frozen=True, slots=True)
class Writing:
    """How a chart is written.

    `letters` is whether chords are letters in the chart's key rather than numbers, None for what is
    usual in the format. `band`, `seed` and `tempo` are as in `band.arrange`; `sheet` is how
    a sheet is printed.
    """

    letters: bool | None = None
    band: str = "full"
    seed: int = 0
    tempo: float | None = None
    sheet: SheetSettings = field(default_factory=SheetSettings)


@dataclass(frozen=True, slots=True)
class Unsaid:
    """What holds where a file doesn't say it; `tempo` is in pulses a minute."""

    key: Key | None = None
    meter: Meter | None = None
    tempo: float | None = None
