from __future__ import annotations

import io

import pretty_midi
import pytest

from tests.band.heard import Played, play
from tests.band.songs import river_song
from trainer.band import Mix, to_midi
from trainer.chart import Feel, parse

TEXT = "meter: 4/4\ntempo: 90\nkey: D\n\nVerse 1:\n1 4 [2/4] 5 1\n[up 2] 1 4 5 1\n"


@pytest.fixture(scope="module")
def played() -> Played:
    """A song with a bar of 2/4 and a key change."""
    return play(parse(TEXT), mix=Mix(tonic_first=True))


@pytest.fixture(scope="module")
def midi(played: Played) -> pretty_midi.PrettyMIDI:
    """It, written to a MIDI file and read back."""
    file = io.BytesIO()
    to_midi(played.arrangement).write(file)
    file.seek(0)
    return pretty_midi.PrettyMIDI(file)


def test_the_file_keeps_the_clock(played: Played, midi: pretty_midi.PrettyMIDI) -> None:
    """Every note starts and ends within a millisecond of the arrangement's clock."""
    clock = played.arrangement.tempo_map
    assert len(midi.instruments) == len(played.arrangement.parts)
    for part, instrument in zip(played.arrangement.parts, midi.instruments, strict=True):
        ours = sorted((clock.seconds(n.start_quarters), n.pitch, n.velocity) for n in part.notes)
        theirs = sorted((n.start, n.pitch, n.velocity) for n in instrument.notes)
        assert len(ours) == len(theirs)
        for (start, *note), (read, *read_note) in zip(ours, theirs, strict=True):
            assert read == pytest.approx(start, abs=0.001)
            assert read_note == note or abs(read - start) < 0.001


def test_the_file_has_tempo_meters_and_keys(played: Played, midi: pretty_midi.PrettyMIDI) -> None:
    """Tempo, time signatures and key signatures stand where they change."""
    clock, bars = played.arrangement.tempo_map, played.arrangement.bars
    _, tempos = midi.get_tempo_changes()
    assert list(tempos) == pytest.approx([90.0], abs=0.01)
    meters = [(m.numerator, m.denominator, m.time) for m in midi.time_signature_changes]
    assert meters == [
        (4, 4, pytest.approx(0.0)),
        (2, 4, pytest.approx(clock.seconds(bars[2].start_quarters), abs=0.001)),
        (4, 4, pytest.approx(clock.seconds(bars[3].start_quarters), abs=0.001)),
    ]
    keys = [(k.key_number, k.time) for k in midi.key_signature_changes]
    assert keys == [
        (2, pytest.approx(0.0)),
        (4, pytest.approx(clock.seconds(bars[4].start_quarters), abs=0.001)),
    ]


def test_the_file_has_programs_volume_and_pan(played: Played, midi: pretty_midi.PrettyMIDI) -> None:
    """Each track has its name, program, channel volume (7) and pan (10)."""
    for part, instrument in zip(played.arrangement.parts, midi.instruments, strict=True):
        assert instrument.name == part.name
        assert instrument.is_drum == part.is_drum
        if not part.is_drum:
            assert instrument.program == part.program
        controls = {c.number: c.value for c in instrument.control_changes}
        assert controls[7] == part.level
        assert controls[10] == pytest.approx(64 + part.pan * 63, abs=1)


def test_a_minor_song_is_in_a_minor_key() -> None:
    """E minor is key number 16: 12 and the pitch class of its 1."""
    midi = to_midi(play(parse("key: E minor\n\n1- 4- 5 1-")).arrangement)
    assert [change.key_number for change in midi.key_signature_changes] == [16]


def test_bends_are_kept() -> None:
    """Pitch bends of the pad are written at their times."""
    arrangement = play(river_song(Feel.TRAIN_BEAT)).arrangement
    pad = next(part for part in arrangement.parts if part.name == "pad")
    instrument = next(i for i in to_midi(arrangement).instruments if i.name == "pad")
    written = [(bend.pitch, bend.time) for bend in instrument.pitch_bends]
    assert written == [(b.value, arrangement.tempo_map.seconds(b.at_quarters)) for b in pad.bends]
