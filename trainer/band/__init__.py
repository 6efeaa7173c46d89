"""The band: a chart turned into parts of timed notes that obey it exactly."""

from trainer.band.arrange import BANDS, Mix, arrange
from trainer.band.lead_in import level_check_chord, tonic_chord
from trainer.band.midi import to_midi
from trainer.band.parts import (
    Arrangement,
    BarTime,
    Bend,
    KeyChange,
    MeterChange,
    Note,
    Part,
    TempoMap,
)

__all__ = [
    "BANDS",
    "Arrangement",
    "BarTime",
    "Bend",
    "KeyChange",
    "MeterChange",
    "Mix",
    "Note",
    "Part",
    "TempoMap",
    "arrange",
    "level_check_chord",
    "to_midi",
    "tonic_chord",
]
