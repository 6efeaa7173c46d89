"""What a band plays: parts of timed notes, and the tempo map that turns beats into seconds."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.chart.model import TEMPO_BPM, Chart
from trainer.errors import SettingsError

__all__ = [
    "Arrangement",
    "BarTime",
    "Bend",
    "KeyChange",
    "MeterChange",
    "Note",
    "Part",
    "TempoMap",
]


@dataclass(frozen=True, slots=True)
class Note:
    """One note: start and length in quarter notes from the first count-off click.

    `pitch` is a MIDI number 0–127 (A4 = 69), a General MIDI drum key on a drum part; `velocity`
    1–127.
    """

    start_quarters: float
    length_quarters: float
    pitch: int
    velocity: int


@dataclass(frozen=True, slots=True)
class Bend:
    """A pitch bend of the whole part: at a time in quarter notes, −8192…8191 for ±2 semitones."""

    at_quarters: float
    value: int


@dataclass(frozen=True, slots=True)
class Part:
    """One player. `program` is the General MIDI program counted from 0 (wire value); a drum part
    plays on channel 10. `pan` −1 left to 1 right, `level` 0–127 (channel volume). `controls` are
    (controller, value) pairs to send in order before the first note."""

    name: str
    program: int
    is_drum: bool
    notes: tuple[Note, ...]
    level: int = 100
    pan: float = 0.0
    bends: tuple[Bend, ...] = ()
    controls: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class TempoMap:
    """Constant tempo: seconds from quarter notes, counted from the first count-off click."""

    seconds_per_quarter: float

    @classmethod
    def of(cls, chart: Chart, tempo: float | None = None) -> TempoMap:
        """The tempo map of a chart, or of the chart played at another tempo (pulses a minute).

        Raises SettingsError for a tempo that no chart may have.
        """
        pulses = chart.tempo if tempo is None else tempo
        if not TEMPO_BPM[0] <= pulses <= TEMPO_BPM[1]:
            raise SettingsError("tempo", f"{tempo}", f"{TEMPO_BPM[0]:g} to {TEMPO_BPM[1]:g}")
        return cls(60.0 / pulses / float(chart.meter.pulse_quarters))

    def seconds(self, quarters: float) -> float:
        """Seconds from the first count-off click."""
        return float(quarters) * self.seconds_per_quarter


@dataclass(frozen=True, slots=True)
class BarTime:
    """A bar of the chart on the arrangement's own line, in quarter notes; numbers from 1."""

    number: int
    start_quarters: float
    length_quarters: float


@dataclass(frozen=True, slots=True)
class MeterChange:
    """The meter from a time on, in quarter notes."""

    at_quarters: float
    beats: int
    unit: int


@dataclass(frozen=True, slots=True)
class KeyChange:
    """The key from a time on, in quarter notes: pitch class of the 1, C = 0."""

    at_quarters: float
    tonic: int
    minor: bool


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A chart as played. `length_quarters` ends with the last bar; notes may ring on after it.

    `meters` and `keys` list the changes, the first of each at 0.
    """

    parts: tuple[Part, ...]
    bars: tuple[BarTime, ...]
    tempo_map: TempoMap
    count_off_quarters: float
    length_quarters: float
    meters: tuple[MeterChange, ...] = ()
    keys: tuple[KeyChange, ...] = ()

    @property
    def bar_times_s(self) -> tuple[tuple[float, float], ...]:
        """Start and end of each bar, in seconds from the first click of the count-off."""
        seconds = self.tempo_map.seconds
        return tuple(
            (seconds(bar.start_quarters), seconds(bar.start_quarters + bar.length_quarters))
            for bar in self.bars
        )
