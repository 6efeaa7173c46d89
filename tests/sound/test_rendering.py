from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.sound.pieces import (
    BASS,
    FLUTE,
    GUITAR,
    PIANO,
    SNARE,
    SQUARE,
    STICK,
    part,
    piece,
    song,
    whole,
)
from trainer.band.parts import Bend, Note
from trainer.errors import FileError, InputError
from trainer.sound import Synth, measure
from trainer.sound.rendering import MAX_DURATION_S, TAIL_S

pytestmark = pytest.mark.audio

RATE = 44100


def frequency(samples: NDArray[np.int16], near: float) -> float:
    """The strongest frequency within a quarter tone of `near`, by a zero-padded transform."""
    mono = samples.astype(float).sum(axis=1)
    spectrum = np.abs(np.fft.rfft(mono * np.hanning(len(mono)), 1 << 20))
    frequencies = np.fft.rfftfreq(1 << 20, 1 / RATE)
    inside = np.flatnonzero(np.abs(np.log2(frequencies[1:] / near)) < 1 / 24) + 1
    return float(frequencies[inside[np.argmax(spectrum[inside])]])


def onsets(samples: NDArray[np.int16], expected: list[float]) -> list[float]:
    """When the sound sets in near each expected time, after silence before it, seconds."""
    loud = np.abs(samples.astype(int)).max(axis=1)
    found = []
    for time in expected:
        first = max(0, int((time - 0.05) * RATE))
        window = loud[first : int((time + 0.05) * RATE)]
        found.append((first + int(np.argmax(window > 0.1 * loud.max()))) / RATE)
    return found


class TestPitch:
    def test_a4_is_440_hz(self, synth: Synth) -> None:
        """A4 sounds at 440 Hz, within the 0.5 Hz of ISO 16:1975."""
        arrangement = piece(part([Note(0, 8, 69, 90)]), quarters=8)
        samples = whole(synth.render(arrangement))[RATE // 4 : 4 * RATE]
        assert frequency(samples, 440.0) == pytest.approx(440.0, abs=0.5)

    @pytest.mark.parametrize("pitch", [36, 45, 52, 57, 64, 71, 76, 81, 88, 93])
    def test_equal_temperament(self, synth: Synth, pitch: int) -> None:
        """Every pitch is 440·2^((n−69)/12) Hz (MIDI tuning, equal temperament) within 3 cents."""
        expected = 440 * 2 ** ((pitch - 69) / 12)
        arrangement = piece(part([Note(0, 12, pitch, 90)]), quarters=12)
        samples = whole(synth.render(arrangement))[RATE // 4 : 6 * RATE]
        assert abs(1200 * np.log2(frequency(samples, expected) / expected)) < 3

    def test_a_full_bend_is_two_semitones(self, synth: Synth) -> None:
        """The highest bend sounds two semitones higher: General MIDI's default range."""
        bent = part([Note(0, 8, 69, 90)], bends=(Bend(0.0, 8191),))
        samples = whole(synth.render(piece(bent, quarters=8)))[RATE // 4 : 4 * RATE]
        cents = 1200 * np.log2(frequency(samples, 440 * 2 ** (2 / 12)) / 440)
        assert cents == pytest.approx(200, abs=3)


class TestTime:
    def test_onsets_are_where_the_notes_are(self, synth: Synth) -> None:
        """Each stroke sounds within 5 ms of its note, over five minutes, at an odd tempo."""
        beats = [0.0, 1.0, 2.5, 101.0, 317.25, 400.0]
        notes = [Note(beat, 0.2, STICK, 110) for beat in beats]
        arrangement = piece(part(notes, 0, is_drum=True), quarters=404, seconds_per_quarter=0.737)
        expected = [beat * 0.737 for beat in beats]
        found = onsets(whole(synth.render(arrangement)), expected)
        assert np.abs(np.subtract(found, expected)).max() < 0.005

    def test_bars_last_as_the_clock_says(self, synth: Synth) -> None:
        """Bar times are the clock's: 2 s bars at 120 quarters a minute."""
        rendering = synth.render(song(1, bars=3))
        assert rendering.bar_times_s == ((0.0, 2.0), (2.0, 4.0), (4.0, 6.0))

    def test_the_length_is_known_before_a_note_is_made(self, synth: Synth) -> None:
        """The frames promised are the frames that come: the piece and its tail."""
        rendering = synth.render(song(2, bars=2, seconds_per_quarter=0.4371))
        assert rendering.frames == int(np.ceil(8 * 0.4371 * RATE)) + int(TAIL_S * RATE)
        assert rendering.duration_s == rendering.frames / RATE
        assert len(whole(rendering)) == rendering.frames

    def test_a_note_repeated_before_it_ends_sounds_its_full_length(self, synth: Synth) -> None:
        """The end of an earlier note of the same pitch does not cut the later one short."""
        once = piece(part([Note(1, 6, 60, 90)]), quarters=8)
        twice = piece(part([Note(0, 2, 60, 90), Note(1, 6, 60, 90)]), quarters=8)
        heard = [whole(synth.render(p))[int(2.8 * RATE) : 3 * RATE] for p in (once, twice)]
        loudness = [measure(samples, RATE).true_peak_dbtp for samples in heard]
        assert loudness[1] > -40
        assert loudness[0] == pytest.approx(loudness[1], abs=3)

    def test_other_sample_rates(self, synth: Synth) -> None:
        """At 48,000 frames a second, times and pitch stay; a rate out of reach is refused."""
        rendering = synth.render(piece(part([Note(0, 4, 69, 90)])), 48000)
        assert rendering.frames == 2 * 48000 + int(TAIL_S * 48000)
        samples = whole(rendering)[12000:90000]
        # Read as if it were 44,100, it is lower by that ratio.
        assert frequency(samples, 440 * 44.1 / 48) * 48 / 44.1 == pytest.approx(440, abs=0.5)
        with pytest.raises(ValueError, match="sample rate 400: expected 8000 to 96000"):
            synth.render(piece(), 400)


class TestSameBytes:
    def test_twice_the_same(self, synth: Synth) -> None:
        """An arrangement gives the same bytes again, also after another song."""
        first = whole(synth.render(song(3)))
        other = whole(synth.render(song(4)))
        assert np.array_equal(first, whole(synth.render(song(3))))
        assert not np.array_equal(first, other)

    def test_another_synth_the_same(self, synth: Synth, small_soundfont: Path) -> None:
        """A synth fresh from the start gives the bytes of one that has played before."""
        assert np.array_equal(
            whole(synth.render(song(3))), whole(Synth(small_soundfont).render(song(3)))
        )

    @pytest.mark.parametrize("most", [1000, 4096, 8192, 100_000])
    def test_block_size_does_not_matter(self, synth: Synth, most: int) -> None:
        """Blocks are as long as asked for at most, and the same bytes in all."""
        rendering = synth.render(song(3, bars=4))
        blocks = list(rendering.blocks(most=most))
        assert max(len(block) for block in blocks) <= most
        assert np.array_equal(np.concatenate(blocks), whole(rendering))

    def test_several_at_once(self, synth: Synth) -> None:
        """Renderings in several threads at once give the bytes they give alone."""
        songs = [song(seed) for seed in range(5, 9)]
        alone = [whole(synth.render(arrangement)) for arrangement in songs]
        together: dict[int, NDArray[np.int16]] = {}

        def run(place: int) -> None:
            together[place] = whole(synth.render(songs[place]))

        threads = [threading.Thread(target=run, args=(place,)) for place in range(len(songs))]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert all(np.array_equal(alone[place], together[place]) for place in range(len(songs)))

    def test_two_read_in_turns(self, synth: Synth) -> None:
        """Two renderings read in turns in one thread do not disturb each other."""
        one, other = synth.render(song(3, bars=4)), synth.render(song(4, bars=4))
        pairs = list(zip(one, other, strict=True))
        assert np.array_equal(np.concatenate([pair[0] for pair in pairs]), whole(one))
        assert np.array_equal(np.concatenate([pair[1] for pair in pairs]), whole(other))

    def test_starting_at_the_end(self, synth: Synth) -> None:
        """From the very end there is nothing; beyond it is a mistake."""
        rendering = synth.render(song(3, bars=2))
        assert list(rendering.blocks(rendering.frames)) == []
        with pytest.raises(ValueError, match="expected a start from 0 to"):
            rendering.blocks(rendering.frames + 1)


class TestLength:
    def test_twenty_minutes_are_rendered_and_no_more(self, synth: Synth) -> None:
        """The limit is on the music; what rings out after it comes on top."""
        longest = synth.render(replace(song(1), length_quarters=2 * MAX_DURATION_S))
        assert longest.duration_s == MAX_DURATION_S + TAIL_S
        with pytest.raises(InputError, match="plays for 21 min, expected at most 20 min of sound"):
            synth.render(replace(song(1), length_quarters=2 * MAX_DURATION_S + 0.25))


class TestSound:
    @pytest.mark.parametrize("seed", range(3))
    def test_loudness_and_true_peak(self, synth: Synth, seed: int) -> None:
        """Songs come out at −18 LUFS ±1.5 and at most −1 dBTP (ITU-R BS.1770-4)."""
        found = measure(synth.render(song(seed)), RATE)
        assert found.lufs == pytest.approx(-18, abs=1.5)
        assert found.true_peak_dbtp <= -1

    @pytest.mark.parametrize("program", [BASS, GUITAR, PIANO, FLUTE, SQUARE])
    @pytest.mark.parametrize("velocity", [30, 75, 120])
    def test_any_part_is_as_loud(self, synth: Synth, program: int, velocity: int) -> None:
        """Soft or loud, whatever plays, the level is the same."""
        pitch = 40 if program == BASS else 64
        notes = [Note(beat, 0.9, pitch + beat % 5, velocity) for beat in range(16)]
        found = measure(synth.render(piece(part(notes, program), quarters=16)), RATE)
        assert found.lufs == pytest.approx(-18, abs=1.5)
        assert found.true_peak_dbtp <= -1

    def test_peaks_are_held_down(self, synth: Synth) -> None:
        """Rare hard strokes over a soft part that is lifted far stay at or under −1 dBTP."""
        soft = part([Note(beat / 2, 0.5, 60, 40) for beat in range(128)], FLUTE, level=90)
        hard = part([Note(16.0 * n + 8, 0.2, SNARE, 127) for n in range(4)], 0, is_drum=True)
        rendering = synth.render(piece(soft, hard, quarters=64))
        unlimited = np.concatenate(list(rendering._raw(0))) * rendering.gain
        assert measure(unlimited, RATE).true_peak_dbtp > 0
        assert -1.6 < measure(rendering, RATE).true_peak_dbtp <= -1

    def test_silence_is_silent(self, synth: Synth) -> None:
        """An arrangement without notes, or without parts, is silence of its length."""
        for arrangement in (piece(), piece(part([])), piece(part([], 0, is_drum=True))):
            samples = whole(synth.render(arrangement))
            assert len(samples) == (2 + TAIL_S) * RATE
            assert not samples.any()

    def test_it_starts_and_ends_without_a_click(self, synth: Synth) -> None:
        """The first and last frames are at rest, and the end fades."""
        samples = whole(synth.render(song(3, bars=4))).astype(int)
        assert np.abs(samples[0]).max() <= 8
        assert not samples[-1].any()
        levels = [np.abs(piece).max() for piece in np.array_split(samples[-RATE:], 4)]
        assert levels == sorted(levels, reverse=True)
        assert levels[-1] < 16

    def test_panning(self, synth: Synth) -> None:
        """A part on the left is louder on the left, one on the right on the right."""
        for pan, side in ((-1.0, 0), (1.0, 1)):
            notes = [Note(0, 4, 60, 90)]
            samples = whole(synth.render(piece(part(notes, pan=pan)))).astype(float)
            energy = (samples**2).sum(axis=0)
            assert energy[side] > 50 * energy[1 - side]

    def test_a_drum_part_plays_drums(self, synth: Synth) -> None:
        """The same key is a short stroke on a drum part and a long tone on another."""
        notes = [Note(0, 4, SNARE, 100)]
        drum, tone = (
            whole(synth.render(piece(part(notes, 0, is_drum=is_drum)))).astype(float)
            for is_drum in (True, False)
        )
        late = slice(RATE, 2 * RATE)
        assert np.abs(drum[late]).max() < 0.02 * np.abs(drum).max()
        assert np.abs(tone[late]).max() > 0.1 * np.abs(tone).max()

    def test_controls(self, synth: Synth) -> None:
        """A part's controls reach its notes, also in its predicted loudness.

        SoundFont 2.04, section 9.6: NRPN 120 with data sets a generator, 38 is the release.
        """
        notes = [Note(float(beat), 0.5, 50, 90) for beat in range(8)]
        longer = ((99, 120), (98, 38), (38, 0), (6, 96))
        late = []
        for controls in ((), longer):
            rendering = synth.render(piece(part(notes, GUITAR, controls=controls), quarters=8))
            samples = whole(rendering).astype(float)
            late.append(np.abs(samples[int(4.2 * RATE) : int(4.4 * RATE)]).max())
            assert measure(rendering, RATE).lufs == pytest.approx(-18, abs=1.5)
        assert late[1] > 5 * late[0]

    def test_more_parts_than_midi_has_channels(self, synth: Synth) -> None:
        """Twenty parts all sound: each of a rising scale is heard alone in its turn."""
        parts = [part([Note(float(n), 0.9, 60 + n, 90)]) for n in range(20)]
        samples = whole(synth.render(piece(*parts, quarters=20)))
        for n in (0, 9, 15, 16, 19):
            heard = samples[int((0.5 * n + 0.05) * RATE) : int((0.5 * n + 0.45) * RATE)]
            expected = 440 * 2 ** ((60 + n - 69) / 12)
            assert frequency(heard, expected) == pytest.approx(expected, rel=0.01)

    def test_a_program_the_soundfont_lacks(self, synth: Synth) -> None:
        """A drum kit that is not there is named, with the soundfont."""
        with pytest.raises(FileError, match=r"TimGM6mb\.sf2: found no drum kit 99"):
            synth.render(piece(part([Note(0, 1, 40, 90)], 99, is_drum=True)))
