"""The band: a chart turned into parts of timed notes that obey it exactly."""

from trainer.band.arrange import BANDS, Mix, arrange
from trainer.band.home import calm_chord, home_chord
from trainer.band.midi import to_midi
from trainer.band.parts import (
    Arrangement,
    BarTime,
    Bend,
    Clock,
    KeyChange,
    MeterChange,
    Note,
    Part,
)

__all__ = [
    "BANDS",
    "Arrangement",
    "BarTime",
    "Bend",
    "Clock",
    "KeyChange",
    "MeterChange",
    "Mix",
    "Note",
    "Part",
    "arrange",
    "calm_chord",
    "home_chord",
    "to_midi",
]
