"""The band: a chart turned into parts of timed notes.

`arrange` tells how it goes. `timeline` lays the chart out flat and resolves pushes, `feels` divides
each bar into cells, and `energy` says how fully each bar is played. Each player turns the timeline
into attacks: `drums` with `drum_patterns` and `fills`, `bass` with `bass_lines`, `guitar` with
`shapes` and `strumming`, `keyboards` with `comping`, `voice` with `motif` and `variation`;
`section_patterns` gives each kind of section its own lines of bass and keys. `humanize` turns
attacks into notes, in the time that `pocket` and with the strength that `strength` lets all players
share. `lead_in` is what sounds before the first bar, `stop_time` what a band does in bars without a
chord and in a fade. `orders` reads what the notes of a chart ask of each player in each bar, and
`obey` changes what the players play by it, with `hits`, `answers` and `walk_up`; `midi` writes the
result as MIDI.
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
