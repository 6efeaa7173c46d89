from __future__ import annotations

import random
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.patience import PATIENCE_S
from tests.sound.pieces import BASS, HAT, SQUARE, part, piece, song, whole
from tests.sound.test_rendering import RATE, frequency
from trainer.band.parts import Arrangement, Bend, Note
from trainer.errors import TrainerError
from trainer.sound import Synth, mixing, windows
from trainer.sound.engine import SynthEngine
from trainer.sound.limiter import CHUNK
from trainer.sound.sequence import NoteRows, SequencedNote, SynthSequence, as_notes
from trainer.sound.windows import (
    GRID,
    WINDOW_S,
    EngineFactory,
    RenderWindow,
    WindowRenderer,
    split_into_windows,
)

pytestmark = pytest.mark.audio

OPEN_HAT = 46


def quarters(seconds: float) -> float:
    """A time as quarters of half a second."""
    return 2 * seconds


def hats(*strokes: tuple[float, int]) -> Arrangement:
    """Hi-hat strokes at some seconds."""
    notes = [Note(quarters(second), 0.1, key, 110) for second, key in strokes]
    return piece(part(notes, 0, is_drum=True), quarters=quarters(30))


def dry(soundfont: Path) -> EngineFactory:
    """Makes engines without a room."""

    @contextmanager
    def new(sample_rate: int, channels: int, _: bool) -> Iterator[SynthEngine]:
        with closing(SynthEngine(soundfont, sample_rate, channels, reverb=False)) as engine:
            yield engine

    return new


def by_one_synth(
    sequence: SynthSequence, new_engine: EngineFactory, chunks: int
) -> NDArray[np.float32]:
    """What one synth gives that plays everything."""
    renderer = WindowRenderer(RenderWindow(0, 10**9, sequence.note_rows), sequence, new_engine)
    made = [renderer.take() for _ in range(chunks)]
    renderer.close()
    return np.concatenate([chunk for chunk in made if chunk is not None])


def rms_db(samples: NDArray[np.float32]) -> float:
    """Level in dB under full scale."""
    return float(20 * np.log10(np.sqrt(np.mean(samples.astype(float) ** 2)) + 1e-12))


class TestCutting:
    def test_every_note_is_in_one_window(self) -> None:
        """No note is lost or doubled; each starts, and rings, within its window."""
        sequence = SynthSequence.of(song(3, bars=30), RATE)
        found = split_into_windows(sequence)
        inside = [as_notes(window.note_rows) for window in found]
        assert sorted(note for notes in inside for note in notes) == list(sequence.notes)
        assert len(found) == int(np.ceil(60 / WINDOW_S))
        for window, notes in zip(found, inside, strict=True):
            assert window.start % GRID == window.until % GRID == 0
            assert all(window.start <= note.start < note.end < window.until for note in notes)

    def test_nothing_to_play(self) -> None:
        """A sequence without notes has no windows."""
        assert split_into_windows(SynthSequence.of(piece(), RATE)) == []

    def test_a_stroke_is_played_with_the_one_it_ends(self) -> None:
        """A closed hi-hat after an open one is in its window; the next is in its own."""
        sequence = SynthSequence.of(
            hats((11.9, OPEN_HAT), (12.1, HAT), (12.3, HAT), (20, HAT)), RATE
        )
        assert [len(window.note_rows) for window in split_into_windows(sequence)] == [2, 2]

    def test_an_open_hat_that_has_rung_out_holds_nothing_back(self) -> None:
        """A stroke long after an open hi-hat is in its own window."""
        sequence = SynthSequence.of(hats((2, OPEN_HAT), (20, HAT)), RATE)
        assert [len(window.note_rows) for window in split_into_windows(sequence)] == [1, 1]

    def test_a_window_is_read_when_it_is_played(
        self, small_soundfont: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The first chunk of a long song takes only the notes of its first window."""
        sequence, read = SynthSequence.of(song(3, bars=60), RATE), []

        def count(rows: NoteRows) -> tuple[SequencedNote, ...]:
            read.append(len(rows))
            return as_notes(rows)

        monkeypatch.setattr(windows, "as_notes", count)
        with closing(mixing.mix_windows(sequence, 0, 10**6, dry(small_soundfont))) as chunks:
            next(chunks)
        assert read == [len(split_into_windows(sequence)[0].note_rows)]


class TestSum:
    def test_it_sounds_as_if_one_synth_played_all(self, small_soundfont: Path) -> None:
        """Without the room, only the first 64 frames of a window's first notes differ, by little.

        A voice's gains ramp from those of the note it played before (FluidSynth 2.3).
        """
        sequence, new = SynthSequence.of(song(3, bars=18), RATE), dry(small_soundfont)
        chunks = 36 * RATE // CHUNK
        summed = np.concatenate(list(mixing.mix_windows(sequence, 0, chunks * CHUNK, new)))
        alone = by_one_synth(sequence, new, chunks)
        edge = split_into_windows(sequence)[1].start * 64
        assert np.array_equal(summed[:edge], alone[:edge])
        difference = summed - alone
        assert rms_db(difference) - rms_db(alone) < -50
        assert np.mean(np.abs(difference).max(axis=1) > 1e-4) < 0.002

    def test_a_closing_hat_ends_an_open_one_across_windows(self, small_soundfont: Path) -> None:
        """An open hi-hat is cut by the closed one after the edge as by one synth."""
        sequence = SynthSequence.of(hats((11.9, OPEN_HAT), (12.1, HAT), (25, HAT)), RATE)
        new, chunks = dry(small_soundfont), 13 * RATE // CHUNK
        summed = np.concatenate(list(mixing.mix_windows(sequence, 0, chunks * CHUNK, new)))
        assert np.array_equal(summed, by_one_synth(sequence, new, chunks))
        rings = SynthSequence.of(hats((11.9, OPEN_HAT), (25, HAT)), RATE)
        after = slice(int(12.3 * RATE), int(12.6 * RATE))
        assert rms_db(by_one_synth(rings, new, chunks)[after]) > rms_db(summed[after]) + 10

    def test_a_note_held_through_windows_and_a_bend(self, synth: Synth) -> None:
        """A bend reaches a note from windows ago, and holds for what starts in later windows."""
        held = part([Note(0, quarters(40), 69, 90)], bends=(Bend(quarters(20), 8191),))
        late = part([Note(quarters(30), quarters(10), 69, 90)], bends=(Bend(quarters(20), 8191),))
        for played in (held, late):
            samples = whole(synth.render(piece(played, quarters=quarters(40))))
            found = frequency(samples[32 * RATE : 38 * RATE], 440 * 2 ** (2 / 12))
            assert abs(1200 * np.log2(found / 440) - 200) < 3

    def test_a_window_that_rings_on_is_faded(self, synth: Synth) -> None:
        """Notes whose release outlasts the window's end fade: no step is left in the sound."""
        # SoundFont 2.04, section 9.6: NRPN 120 with data sets a generator, 38 is the release.
        longer = ((99, 120), (98, 38), (38, 0), (6, 96))
        notes = [Note(0, 4, 45, 100), Note(quarters(29), 1, 45, 1)]
        arrangement = piece(part(notes, BASS, controls=longer), quarters=quarters(30))
        rendering = synth.render(arrangement)
        raw = np.concatenate(list(rendering._raw(0)))
        until = split_into_windows(rendering.sequence)[0].until * 64
        assert np.abs(raw[until - 20 * CHUNK : until - 19 * CHUNK]).max() > 0.001
        assert np.abs(raw[until - 8 : until]).max() < 1e-5
        assert not raw[until : until + CHUNK].any()


class TestFromAnywhere:
    def test_the_bytes_are_those_of_the_whole(self, synth: Synth) -> None:
        """From any frame, at windows' edges too, the rest is byte for byte the rest."""
        rendering = synth.render(song(1, bars=18))
        complete = whole(rendering)
        edges = [window.start * 64 for window in split_into_windows(rendering.sequence)]
        rng = random.Random(1)
        places = [edge + step for edge in edges[1:] for step in (-CHUNK - 1, -1, 0, 1, CHUNK)]
        places += [rng.randrange(len(complete)) for _ in range(3)] + [len(complete) - 1]
        for start in places:
            with closing(rendering.blocks(start, most=3000)) as blocks:
                for _ in range(20):
                    block = next(blocks, None)
                    if block is None:
                        break
                    assert np.array_equal(block, complete[start : start + len(block)])
                    start += len(block)

    def test_to_the_very_end(self, synth: Synth) -> None:
        """What starts in the middle goes through all later windows to the last frame."""
        rendering = synth.render(song(5, bars=18))
        assert np.array_equal(
            np.concatenate(list(rendering.blocks(700_001))), whole(rendering)[700_001:]
        )

    def test_the_helper_does_not_matter(
        self, synth: Synth, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """One thread alone gives the bytes that two give."""
        rendering = synth.render(song(6, bars=18))
        helped = whole(rendering)
        monkeypatch.setattr(mixing._LookaheadThread, "start", lambda _: None)
        assert np.array_equal(whole(rendering), helped)


class _Endless:
    """A renderer that only counts what is made ahead."""

    ended = False
    window = RenderWindow(10**6, 10**7, np.empty((0, 5), np.int64))

    def __init__(self) -> None:
        self.made = 0
        self.enough = threading.Event()

    def make_ahead(self) -> None:
        """Count."""
        self.made += 1
        if self.made == mixing._CHUNKS_AHEAD:
            self.enough.set()


class TestLookaheadThread:
    def test_it_stops_when_nobody_asks(self) -> None:
        """While a block is not asked for, only so much is made ahead, however long it takes."""
        endless = _Endless()
        lookahead = mixing._LookaheadThread([endless])  # type: ignore[list-item]
        lookahead.rest()
        lookahead.start()
        assert endless.enough.wait(PATIENCE_S)
        lookahead.stop()
        assert endless.made == mixing._CHUNKS_AHEAD

    def test_what_it_cannot_make_is_told(self, small_soundfont: Path) -> None:
        """An error in the second thread is raised for the reader, at its place."""
        good = dry(small_soundfont)

        def only_at_once(sample_rate: int, channels: int, at_once: bool):  # type: ignore[no-untyped-def]
            if not at_once:
                raise TrainerError("no more synths")
            return good(sample_rate, channels, at_once)

        sequence = SynthSequence.of(song(3, bars=18), RATE)
        chunks = mixing.mix_windows(sequence, 0, 36 * RATE, only_at_once)
        for _ in range(split_into_windows(sequence)[1].start // GRID):
            next(chunks)
        with pytest.raises(TrainerError, match="no more synths"):
            next(chunks)

    def test_who_stops_reading_leaves_no_thread(self, synth: Synth) -> None:
        """A rendering that is closed midway ends its second thread."""
        with closing(synth.render(song(3, bars=18)).blocks()) as blocks:
            for _ in range(8):
                next(blocks)
            assert "windows ahead" in [thread.name for thread in threading.enumerate()]
        assert "windows ahead" not in [thread.name for thread in threading.enumerate()]

    def test_programs_are_set_in_every_window(self, synth: Synth) -> None:
        """A part keeps its sound, side and level in later windows."""
        notes = [Note(quarters(second), 4, 69, 90) for second in (1, 14, 27)]
        played = piece(part(notes, SQUARE, pan=-1.0, level=80), quarters=quarters(30))
        samples = whole(synth.render(played)).astype(float)
        heard = [samples[int(RATE * (second + 0.2)) :][:RATE] for second in (1, 14, 27)]
        levels = [20 * np.log10(np.sqrt(np.mean(one[:, 0] ** 2))) for one in heard]
        assert max(levels) - min(levels) < 0.3
        assert all((one[:, 0] ** 2).sum() > 50 * (one[:, 1] ** 2).sum() for one in heard)
