"""The band: a chart turned into parts of timed notes.

`arrange` tells how it goes: `timeline` lays the chart out flat and resolves pushes, `feels` divides
each bar into cells, each player (`drums`, `bass`, `guitar` with its `shapes`, `keyboards`, `voice`
with its `motif`) turns the timeline into attacks, and `humanize` turns attacks into notes with
small errors of timing and loudness. `lead_in` is what sounds before the first bar, `stop_time` what
a band does in bars without a chord and in a fade; `midi` writes the result as MIDI.
"""

from trainer.band.arrange import BANDS, Mix, arrange, playing_time_s, room_s
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
    VolumeStep,
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
    "VolumeStep",
    "arrange",
    "level_check_chord",
    "playing_time_s",
    "room_s",
    "to_midi",
    "tonic_chord",
]
