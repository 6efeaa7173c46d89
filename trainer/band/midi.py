"""An arrangement as MIDI, through pretty_midi."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.band.parts import Arrangement, Part, TempoMap

if TYPE_CHECKING:
    import pretty_midi

__all__ = ["tempo_changes", "to_midi"]

TICKS_PER_QUARTER = 960
VOLUME, PAN, EXPRESSION = 7, 10, 11
MIDI_MINOR = 12
# A slowing is written as a tempo for each half quarter.
TEMPO_STEP = 0.5


def steady(tempo_map: TempoMap) -> TempoMap:
    """A tempo map without its slowings."""
    return TempoMap(tempo_map.seconds_per_quarter)


def tempo_changes(tempo_map: TempoMap) -> list[tuple[float, float]]:
    """The tempo of each step of the slowings and after them: quarters from the beginning of the
    arrangement, and quarters a minute."""
    found = []
    for each in tempo_map.slowings:
        at, end = each.start, each.start + each.length
        while at < end:
            after = min(at + TEMPO_STEP, end)
            seconds = tempo_map.seconds(after) - tempo_map.seconds(at)
            found.append((at, 60.0 * (after - at) / seconds))
            at = after
        found.append((end, 60.0 / tempo_map.seconds_per_quarter))
    # Where one slowing begins as another ends, the later one counts.
    return sorted(dict(sorted(found, key=lambda change: change[0])).items())


def _instrument(part: Part, arrangement: Arrangement) -> pretty_midi.Instrument:
    import pretty_midi

    tempo_map = steady(arrangement.tempo_map)
    instrument = pretty_midi.Instrument(part.program, part.is_drum, part.name)
    pan = round(64 + part.pan * 63)
    instrument.control_changes = [
        pretty_midi.ControlChange(VOLUME, part.level, 0.0),
        pretty_midi.ControlChange(PAN, pan, 0.0),
    ]
    # A tick apart, for pretty_midi sorts the controllers of one tick by number.
    instrument.control_changes += [
        pretty_midi.ControlChange(number, value, tempo_map.seconds(place / TICKS_PER_QUARTER))
        for place, (number, value) in enumerate(part.controls, start=1)
    ]
    instrument.control_changes += [
        pretty_midi.ControlChange(EXPRESSION, step.value, tempo_map.seconds(step.at_quarters))
        for step in part.volume_steps
    ]
    instrument.notes = [
        pretty_midi.Note(
            note.velocity,
            note.pitch,
            tempo_map.seconds(note.start_quarters),
            tempo_map.seconds(note.start_quarters + note.length_quarters),
        )
        for note in part.notes
    ]
    instrument.pitch_bends = [
        pretty_midi.PitchBend(bend.value, tempo_map.seconds(bend.at_quarters))
        for bend in part.bends
    ]
    return instrument


def to_midi(arrangement: Arrangement) -> pretty_midi.PrettyMIDI:
    """The arrangement as MIDI with tempo, time and key signatures, programs, volume and pan.

    Times are in steps of a 960th of a quarter, at the tempo without any slowing: pretty_midi writes
    one tempo. `tempo_changes` are what a file needs besides.
    """
    import pretty_midi

    tempo_map = steady(arrangement.tempo_map)
    midi = pretty_midi.PrettyMIDI(
        resolution=TICKS_PER_QUARTER, initial_tempo=60.0 / tempo_map.seconds_per_quarter
    )
    midi.time_signature_changes = [
        pretty_midi.TimeSignature(change.beats, change.unit, tempo_map.seconds(change.at_quarters))
        for change in arrangement.meters
    ]
    midi.key_signature_changes = [
        pretty_midi.KeySignature(
            change.tonic + MIDI_MINOR * change.minor, tempo_map.seconds(change.at_quarters)
        )
        for change in arrangement.keys
    ]
    midi.instruments = [_instrument(part, arrangement) for part in arrangement.parts]
    return midi
