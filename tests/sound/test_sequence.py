"""Arrangements as notes on the synth's grid."""

from __future__ import annotations

import random
from itertools import groupby, pairwise

import pytest

from tests.sound.pieces import BASS, part, piece
from trainer.band import Arrangement, arrange
from trainer.band.parts import Note
from trainer.chart import parse
from trainer.generate import Settings, generate
from trainer.sound.engine import PERIOD
from trainer.sound.sequence import SequencedNote, SynthSequence

RATE = 44100


def plainly(arrangement: Arrangement) -> list[SequencedNote]:
    """The notes of a sequence, worked out one by one: each on the nearest period (halves to the
    even one), and ended where its pitch is struck next."""
    found = []
    for channel, played in enumerate(arrangement.parts):

        def by_pitch(note: Note) -> tuple[int, int, int]:
            return note.pitch, period(arrangement, note.start_quarters), note.velocity

        for _, same in groupby(sorted(played.notes, key=by_pitch), key=lambda note: note.pitch):
            notes = [
                SequencedNote(
                    start := period(arrangement, note.start_quarters),
                    max(period(arrangement, note.start_quarters + note.length_quarters), start + 1),
                    channel,
                    note.pitch,
                    note.velocity,
                )
                for note in same
            ]
            for one, following in pairwise(notes):
                if one.start < following.start:
                    found.append(one._replace(end=min(one.end, following.start)))
            found.append(notes[-1])
    return sorted(found)


def period(arrangement: Arrangement, at_quarters: float) -> int:
    """The period of a moment, none before the first."""
    return max(0, round(arrangement.sounding_s(at_quarters) * (RATE / PERIOD)))


@pytest.mark.parametrize("seed", range(4))
def test_it_is_the_arrangement_note_by_note(seed: int) -> None:
    """The notes of generated songs are those that a plain loop finds."""
    rng = random.Random(seed)
    arrangement = arrange(generate(Settings(), rng), rng=rng)
    assert list(SynthSequence.of(arrangement, RATE).notes) == plainly(arrangement)


def test_a_pitch_that_is_struck_again_ends_before() -> None:
    """A note ends where its pitch is struck next; of two struck together the loudest is left; none
    is shorter than a period or starts before the beginning."""
    notes = [Note(-1.0, 3.0, 40, 90), Note(1.0, 2.0, 40, 80), Note(1.0, 1.0, 40, 70),
             Note(1.0, 0.0, 52, 60)]  # fmt: skip
    arrangement = piece(part(notes, BASS))
    found = SynthSequence.of(arrangement, RATE).notes
    assert list(found) == plainly(arrangement)
    again = period(arrangement, 1.0)
    assert [(note.start, note.end, note.velocity) for note in found] == [
        (0, again, 90),
        (again, again + 1, 60),
        (again, period(arrangement, 3.0), 80),
    ]


def test_silence() -> None:
    """An arrangement without notes, and one without parts, are sequences without notes."""
    assert SynthSequence.of(piece(part([], BASS)), RATE).notes == ()
    assert SynthSequence.of(piece(), RATE).notes == ()


def test_a_low_register_sounds_with_its_own_program() -> None:
    """A part with a low register is two parts for the synth: its notes under the pitch have the
    other program, the rest its own, and level, place and controls are the same."""
    chart = parse("tempo: 96\nVerse:\n1 4 5 1 . 1/3 4 5 1\n")
    arrangement = arrange(chart, rng=random.Random(1), band="work tape")
    guitar = next(part for part in arrangement.parts if part.name == "guitar")
    assert guitar.low is not None
    sequence = SynthSequence.of(arrangement, RATE)
    high, low = (part for part in sequence.parts if part.name == "guitar")
    assert (high.program, low.program) == (guitar.program, guitar.low.program)
    assert (high.level, high.pan, high.controls) == (low.level, low.pan, low.controls)
    for note in sequence.notes:
        playing = sequence.parts[note.channel]
        if playing.name == "guitar":
            assert (note.pitch < guitar.low.below) == (playing is low)
    assert len(sequence.notes) >= sum(len(part.notes) for part in arrangement.parts) - 2
