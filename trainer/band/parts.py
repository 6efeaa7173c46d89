"""What a band plays: parts of timed notes, and the tempo map that turns beats into seconds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from trainer.band.slowing import Slowing, slowings
from trainer.chart.model import TEMPO_BPM, Chart
from trainer.errors import SettingsError

__all__ = [
    "Arrangement",
    "BarTime",
    "Bend",
    "KeyChange",
    "LowRegister",
    "MeterChange",
    "Note",
    "Part",
    "TempoMap",
    "VolumeStep",
]


class Note(NamedTuple):
    """One note; start and length in quarter notes from the beginning of the arrangement.

    `pitch` is a MIDI number from 0 to 127 (A4 = 69), on a drum part a drum key of General MIDI 1;
    `velocity` is from 1 to 127. It is a tuple, for a song has thousands.
    """

    start_quarters: float
    length_quarters: float
    pitch: int
    velocity: int


@dataclass(frozen=True, slots=True)
class Bend:
    """A pitch bend of a whole part, at a time in quarter notes; −8192 to 8191 is ±2 semitones."""

    at_quarters: float
    value: int


@dataclass(frozen=True, slots=True)
class VolumeStep:
    """A step of a part's volume, 0 to 127, at a time in quarter notes (MIDI: expression)."""

    at_quarters: float
    value: int


class LowRegister(NamedTuple):
    """The General MIDI program that sounds the notes of a part that lie under a pitch."""

    below: int
    program: int


@dataclass(frozen=True, slots=True)
class Part:
    """What one member of the band plays.

    Attributes
    ----------
    program : General MIDI program counted from 0; the number of a drum kit if `is_drum`.
    level : channel volume, 0 to 127.
    pan : −1 left to 1 right.
    controls : (controller, value) pairs to send in order before the first note.
    volume_steps : how the volume changes while the part is played; it is 127 before the first.
    low : what a synth plays the low notes with; None for `program`. A MIDI file has `program`.
    """

    name: str
    program: int
    is_drum: bool
    notes: tuple[Note, ...]
    level: int = 100
    pan: float = 0.0
    bends: tuple[Bend, ...] = ()
    controls: tuple[tuple[int, int], ...] = ()
    volume_steps: tuple[VolumeStep, ...] = ()
    low: LowRegister | None = None


@dataclass(frozen=True, slots=True)
class TempoMap:
    """Turns quarter notes from the beginning of an arrangement into seconds.

    The tempo is constant, `seconds_per_quarter`, but for the slowings.
    """

    seconds_per_quarter: float
    slowings: tuple[Slowing, ...] = ()

    @classmethod
    def of(cls, chart: Chart, tempo: float | None = None, lead_in: float | None = None) -> TempoMap:
        """The tempo map of a chart, or of the chart played at another tempo (pulses a minute).

        `lead_in` is how many quarters come before the first bar; without it the map is for a moment
        outside the bars, and has no slowing.

        Raises SettingsError for a tempo that no chart may have.
        """
        pulses = chart.tempo if tempo is None else tempo
        if not TEMPO_BPM[0] <= pulses <= TEMPO_BPM[1]:
            raise SettingsError("tempo", f"{tempo}", f"{TEMPO_BPM[0]:g} to {TEMPO_BPM[1]:g}")
        slower = () if lead_in is None else slowings(chart, lead_in)
        return cls(60.0 / pulses / float(chart.meter.pulse_quarters), slower)

    def seconds(self, quarters: float) -> float:
        """Seconds from the beginning of the arrangement."""
        later = sum(each.later(quarters) for each in self.slowings)
        return (float(quarters) + later) * self.seconds_per_quarter


@dataclass(frozen=True, slots=True)
class BarTime:
    """When a bar of the chart sounds, in quarter notes; `number` counts from 1."""

    number: int
    start_quarters: float
    length_quarters: float


@dataclass(frozen=True, slots=True)
class MeterChange:
    """The meter from a time on: `beats` to the bar of the note value 1/`unit`."""

    at_quarters: float
    beats: int
    unit: int


@dataclass(frozen=True, slots=True)
class KeyChange:
    """The key from a time on: `tonic` is the pitch class of the 1, C = 0."""

    at_quarters: float
    tonic: int
    minor: bool


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A chart as a band plays it.

    `length_quarters` ends with the last bar; notes may ring on after it. `meters` and `keys` list
    the changes, the first of each at 0. `room_s` is the silence before quarter note 0 where the
    arrangement is heard, in seconds; a MIDI file begins without it.
    """

    parts: tuple[Part, ...]
    bars: tuple[BarTime, ...]
    tempo_map: TempoMap
    count_off_quarters: float
    length_quarters: float
    meters: tuple[MeterChange, ...] = ()
    keys: tuple[KeyChange, ...] = ()
    room_s: float = 0.0

    def sounding_s(self, quarters: float) -> float:
        """When a moment of the arrangement is heard, in seconds from the start of its sound."""
        return self.room_s + self.tempo_map.seconds(quarters)

    @property
    def length_s(self) -> float:
        """When the last bar ends, in seconds from the start of the sound."""
        return self.sounding_s(self.length_quarters)

    @property
    def bar_times_s(self) -> tuple[tuple[float, float], ...]:
        """Start and end of each bar, in seconds from the start of the sound."""
        heard = self.sounding_s
        return tuple(
            (heard(bar.start_quarters), heard(bar.start_quarters + bar.length_quarters))
            for bar in self.bars
        )
