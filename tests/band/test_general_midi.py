from __future__ import annotations

import pretty_midi
import pytest

from tests.band.heard import play
from tests.band.songs import river_song
from trainer.band import BANDS, Mix, drums
from trainer.band.arrange import (
    ELECTRIC_PIANO,
    FRETLESS_BASS,
    JAZZ_GUITAR,
    NYLON_STRINGS,
    PIANO,
    RECORDER,
    STEEL_STRINGS,
    VOICE_OOHS,
)
from trainer.chart import Feel

# General MIDI System Level 1, instrument patch map and percussion key map, as pretty_midi carries
# them; patches count from 1 there, from 0 on the wire.
PATCHES = {
    PIANO: "Acoustic Grand Piano",
    ELECTRIC_PIANO: "Electric Piano 1",
    RECORDER: "Recorder",
    NYLON_STRINGS: "Acoustic Guitar (nylon)",
    STEEL_STRINGS: "Acoustic Guitar (steel)",
    JAZZ_GUITAR: "Electric Guitar (jazz)",
    FRETLESS_BASS: "Fretless Bass",
    VOICE_OOHS: "Voice Oohs",
}
KEYS = {
    drums.KICK: "Bass Drum 1",
    drums.SIDE_STICK: "Side Stick",
    drums.SNARE: "Acoustic Snare",
    drums.CLOSED_HAT: "Closed Hi Hat",
    drums.OPEN_HAT: "Open Hi Hat",
    drums.LOW_TOM: "Low Tom",
    drums.MID_TOM: "Low-Mid Tom",
    drums.HIGH_TOM: "High Tom",
    drums.CRASH: "Crash Cymbal 1",
    drums.RIDE: "Ride Cymbal 1",
}


@pytest.mark.parametrize(("program", "name"), PATCHES.items())
def test_programs_are_general_midis(program: int, name: str) -> None:
    """Each program that the band plays is the General MIDI patch it is meant to be."""
    assert pretty_midi.program_to_instrument_name(program) == name


@pytest.mark.parametrize(("key", "name"), KEYS.items())
def test_drum_keys_are_general_midis(key: int, name: str) -> None:
    """Each drum that is struck is the General MIDI key it is meant to be."""
    assert pretty_midi.note_number_to_drum_name(key) == name


@pytest.mark.many
@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize("feel", list(Feel))
def test_nothing_else_is_played(feel: Feel, band: str) -> None:
    """No arrangement uses a program or a drum key outside the tables above."""
    arrangement = play(river_song(feel), band=band, mix=Mix(tonic_first=True)).arrangement
    for part in arrangement.parts:
        if part.is_drum:
            assert {note.pitch for note in part.notes} <= set(KEYS)
        else:
            assert part.program in PATCHES
            assert part.low is None or part.low.program in PATCHES
