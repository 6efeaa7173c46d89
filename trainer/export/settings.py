"""What a person says of a file that is written or read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Self

from trainer.chart import Key, Meter
from trainer.chart.header import METER
from trainer.errors import SettingsError
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

    @classmethod
    def typed(cls, key: str | None, meter: str | None, tempo: float | None = None) -> Self:
        """What a person typed; None or "" for nothing.

        Raises SettingsError or ChartError for a value that no chart can have.
        """
        match = METER.fullmatch(meter) if meter else None
        if meter and match is None:
            raise SettingsError("meter", repr(meter), "a meter such as 4/4 or 6/8")
        return cls(
            Key.parse(key) if key else None,
            None if match is None else Meter(int(match[1]), int(match[2])),
            tempo,
        )
