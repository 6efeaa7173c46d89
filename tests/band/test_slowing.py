"""What the words for slowing down do to the band's time, in sound, files and times of bars."""

from __future__ import annotations

import io
import random

import mir_eval
import numpy as np
import pretty_midi
import pytest

from trainer.band import arrange, playing_time_s
from trainer.band.slowing import SLOWEST
from trainer.chart import Chart, parse
from trainer.export.labels import write_labels
from trainer.export.midi import write_midi
from trainer.sound.sequence import SynthSequence

PLAIN = "tempo: 120\n\nVerse:\n1 4 1 5\n1 4 5 1\n\nTag:\n4 5 1 1"
SLOWER = PLAIN.replace("Tag:\n4 5", "Tag:\n4 [rit.] 5")
THEN_ON = PLAIN.replace("1 4 1 5\n1 4", "1 [slow down] 4 1 5\n[a tempo] 1 4")


def bar_lengths(chart: Chart) -> list[float]:
    """How long each bar sounds, in seconds."""
    times = arrange(chart, rng=random.Random(0)).bar_times_s
    return [end - start for start, end in times]


def test_bars_grow_longer_to_the_end_of_the_section() -> None:
    """From the note on each bar is longer than the one before; the last beat lasts nearly as long
    as the slowest."""
    lengths = bar_lengths(parse(SLOWER))
    assert lengths[:9] == pytest.approx([2.0] * 9)
    assert lengths[9:] == sorted(lengths[9:])
    assert 2.0 < lengths[9] < lengths[11] < 2.0 * SLOWEST
    assert sum(lengths[9:]) == pytest.approx(6.0 * (1 + SLOWEST) / 2)


@pytest.mark.parametrize("words", ["a tempo", "as before"])
def test_the_tempo_is_taken_up_again(words: str) -> None:
    """Where it is said, and in the next section in any case, bars are as long as at first."""
    lengths = bar_lengths(parse(THEN_ON.replace("a tempo", words)))
    assert [round(each, 6) for each in lengths if each == pytest.approx(2.0)] == [2.0] * 9
    assert all(each > 2.0 for each in lengths[1:4])
    whole = bar_lengths(parse(PLAIN.replace("Verse:", "Verse: [rit.]")))
    assert whole[8:] == pytest.approx([2.0] * 4)


def test_a_slowing_is_known_before_the_song_is_arranged() -> None:
    """The playing time that limits are checked against counts the slowing, at any tempo."""
    for tempo in (None, 90.0):
        chart = parse(SLOWER)
        arrangement = arrange(chart, rng=random.Random(0), tempo=tempo)
        assert playing_time_s(chart, tempo=tempo) == pytest.approx(arrangement.length_s)
        assert arrangement.length_s > playing_time_s(parse(PLAIN), tempo=tempo) + 1.0


def test_notes_sound_when_their_bars_do() -> None:
    """In the synth's events every stroke comes where the tempo map puts it, to the period."""
    rate = 44100
    for text in (PLAIN, SLOWER, THEN_ON):
        arrangement = arrange(parse(text), rng=random.Random(0))
        sequence = SynthSequence.of(arrangement, rate)
        heard = sorted(note.start for note in sequence.notes)
        wanted = sorted(
            arrangement.sounding_s(note.start_quarters) * rate / 64
            for part in arrangement.parts
            for note in part.notes
        )
        assert len(heard) >= 0.9 * len(wanted)
        assert heard[-1] == pytest.approx(wanted[-1], abs=1)


def test_label_files_and_midi_slow_down_too() -> None:
    """Labels stand at the band's times (mir_eval), and pretty_midi finds every note of the file
    where the band plays it, through the changes of tempo."""
    for text in (SLOWER, THEN_ON):
        chart = parse(text)
        arrangement = arrange(chart, rng=random.Random(0))
        starts = [float(line.split("\t")[0]) for line in write_labels(chart).splitlines()[1:]]
        times = [start for start, _ in arrangement.bar_times_s]
        assert mir_eval.onset.f_measure(np.array(times), np.array(starts), window=0.001)[0] == 1.0
        read = pretty_midi.PrettyMIDI(io.BytesIO(write_midi(chart)))
        assert len(read.get_tempo_changes()[1]) > 3
        seconds = arrangement.tempo_map.seconds
        for part, instrument in zip(arrangement.parts, read.instruments, strict=True):
            wanted = sorted(seconds(note.start_quarters) for note in part.notes)
            assert sorted(note.start for note in instrument.notes) == pytest.approx(
                wanted, abs=0.01
            )
