from __future__ import annotations

import io
import random
import threading
from functools import partial
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.patience import PATIENCE_S
from tests.sound.pieces import part, piece, song
from tests.web.audio.conftest import MakeLibrary
from tests.web.audio.gated import BLOCK_BYTES, Gated, open_flac
from tests.web.audio.reading import settled, unfinished, whole
from trainer.band import arrange
from trainer.band.parts import Note
from trainer.chart import parse
from trainer.errors import TrainerError
from trainer.sound import Synth, write_audio
from trainer.web.audio import AudioLibrary, pool
from trainer.web.audio import library as module
from trainer.web.audio.library import NotRegistered

SONG = song(3, bars=2)


@pytest.mark.audio
class TestRealSounds:
    def test_the_bytes_are_those_of_the_file(
        self, library: AudioLibrary, small_soundfont: Path, tmp_path: Path
    ) -> None:
        """WAV and FLAC are, byte for byte, what `render` writes of the same arrangement."""
        key = library.register(SONG)
        for suffix, opened in (("wav", library.open_wav), ("flac", partial(open_flac, library))):
            path = tmp_path / f"file.{suffix}"
            write_audio(Synth(small_soundfont).render(SONG), path)
            assert whole(opened(key)) == path.read_bytes()

    def test_flac_and_wav_are_one_sound(self, library: AudioLibrary) -> None:
        """Libsndfile reads the same samples from both."""
        key = library.register(SONG)
        wav, rate = soundfile.read(io.BytesIO(whole(library.open_wav(key))), dtype="int16")
        flac, _ = soundfile.read(io.BytesIO(whole(open_flac(library, key))), dtype="int16")
        assert np.array_equal(wav, flac)
        assert rate == 44100
        assert np.abs(wav).max() > 1000

    def test_length_is_known_before_and_true(self, library: AudioLibrary) -> None:
        """Duration and size are told before a note is made, and are what comes."""
        key = library.register(SONG)
        info, size = library.info(key), library.wav_size(key)
        assert not list(library._cache.folder.glob("*.wav"))
        samples, rate = soundfile.read(io.BytesIO(whole(library.open_wav(key))))
        assert info.error is None
        assert info.duration_s == len(samples) / rate
        assert size == 44 + 4 * len(samples)
        settled(library)
        assert library.info(key) == info

    def test_warming_makes_the_synth(self, library: AudioLibrary) -> None:
        """After warming, the synth is there and the next song needs nothing loaded."""
        library._pool.warm_up()
        synth = library._pool.synth()
        known = len(synth._selected)
        library.info(library.register(arrange(parse("1 4 5 1"), rng=random.Random(9))))
        assert library._pool.synth() is synth
        assert len(synth._selected) == known

    def test_a_program_the_soundfont_lacks_is_told(self, library: AudioLibrary) -> None:
        """An arrangement that cannot be played says why, with its length; others go on."""
        strange = piece(part([Note(0, 4, 60, 90)], program=99, is_drum=True))
        key = library.register(strange)
        info = library.info(key)
        assert info.error is not None
        assert "found no drum kit 99" in info.error
        assert info.duration_s == 2.0 + 3.0
        with pytest.raises(TrainerError, match="drum kit 99"):
            library.open_wav(key)
        assert whole(library.open_wav(library.register(SONG)))


class TestKeys:
    def test_offering_is_rendering_nothing(self, library: AudioLibrary, gated: Gated) -> None:
        """An offer makes no synth and no sound, and the same offer has the same key."""
        assert (
            library.register(SONG) == library.register(song(3, bars=2)) != library.register(song(4))
        )
        assert gated.begun == 0
        assert library._pool._synth is None

    def test_the_key_outlives_the_program_but_not_its_folder(
        self, make_library: MakeLibrary, small_soundfont: Path, tmp_path: Path
    ) -> None:
        """Another start over the same folder gives the same key; another folder another key."""
        key = make_library().register(SONG)
        assert make_library().register(SONG) == key
        assert AudioLibrary(small_soundfont, tmp_path / "other").register(SONG) != key

    def test_old_offers_are_forgotten(
        self, library: AudioLibrary, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Only a limited number of notes is remembered; a forgotten sound says so and may be
        registered again.
        """
        monkeypatch.setattr(module, "MOST_NOTES", 300)
        keys = [library.register(song(seed, bars=2)) for seed in range(5)]
        assert len(library._registered) < 5
        assert "no longer here" in str(library.info(keys[0]).error)
        with pytest.raises(NotRegistered):
            library.open_wav(keys[0])
        assert library.register(song(0, bars=2)) == keys[0]
        assert library._notes == sum(
            len(p.notes) for a in library._registered.values() for p in a.parts
        )


class TestManyReaders:
    def test_a_sound_is_made_once_for_all(self, library: AudioLibrary, gated: Gated) -> None:
        """Readers at several places share one rendering and get the same bytes."""
        key = library.register(SONG)
        sources = [library.open_wav(key) for _ in range(8)]
        found: list[bytes] = []
        threads = [threading.Thread(target=lambda s=s: found.append(whole(s))) for s in sources]
        for thread in threads:
            thread.start()
        gated.let()
        for thread in threads:
            thread.join(PATIENCE_S)
        assert found == [gated.wav] * 8
        settled(library)
        assert whole(library.open_wav(key)) == gated.wav
        assert gated.iterated == 1

    def test_bytes_come_as_soon_as_they_are_made(self, library: AudioLibrary, gated: Gated) -> None:
        """With two blocks let through, two blocks can be read and no more."""
        source = library.open_wav(library.register(SONG))
        gated.let(2)
        source.wait_for(44 + 2 * BLOCK_BYTES - 1)
        assert source.read(44, 10**6) == gated.wav[44 : 44 + 2 * BLOCK_BYTES]
        gated.let()
        assert source.read(len(gated.wav) - 5, 100) == gated.wav[-5:]
        source.close()

    def test_a_sound_left_early_is_made_to_its_end(
        self, library: AudioLibrary, gated: Gated
    ) -> None:
        """Who leaves stops nothing: the sound is finished and kept."""
        key = library.register(SONG)
        source = library.open_wav(key)
        gated.let(1)
        source.wait_for(100)
        source.close()
        gated.let()
        settled(library)
        assert whole(library.open_wav(key)) == gated.wav
        assert gated.iterated == 1
        assert not unfinished(library)

    def test_prepared_sounds_are_there(self, library: AudioLibrary, gated: Gated) -> None:
        """What is prepared is made without a reader; preparing again does nothing."""
        key = library.register(SONG)
        gated.let()
        library.prefetch(key)
        settled(library)
        library.prefetch(key)
        library.prefetch("0" * 40)
        assert whole(library.open_wav(key)) == gated.wav
        assert gated.iterated == 1

    def test_what_is_ready_is_worked_out_once(
        self, library: AudioLibrary, gated: Gated, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """What is ready is neither rendered nor written; it is worked out once, and used when it is
        asked for; only the last few are kept."""
        key = library.register(SONG)
        library.make_ready(key)
        library.make_ready(key)
        library.make_ready("0" * 40)
        assert (gated.begun, gated.iterated, unfinished(library)) == (1, 0, [])
        gated.let()
        assert whole(library.open_wav(key)) == gated.wav
        assert gated.begun == 1
        library.make_ready(key)
        assert gated.begun == 1
        for shift in range(pool.MAX_READY + 2):
            library.make_ready(library.register(song(shift, bars=3)))
        assert len(library._pool._ready) == pool.MAX_READY

    def test_too_many_unread_are_given_up(self, library: AudioLibrary, gated: Gated) -> None:
        """With too many being made, the oldest that nobody reads stops and leaves no file."""
        first = library.register(song(0))
        library.open_wav(first).close()
        others = [
            library.open_wav(library.register(song(seed)))
            for seed in range(1, pool.MAX_UNREAD_BESIDE + 1)
        ]
        assert library._pool._jobs[library.file_name(first, "wav")].stopped
        for _ in range(pool.MAX_UNREAD_BESIDE + 1):
            gated.let()
        assert [whole(source) for source in others] == [gated.wav] * len(others)
        settled(library)
        assert not unfinished(library)
        assert library._cache.size(library.file_name(first, "wav")) is None
        assert whole(library.open_wav(first)) == gated.wav

    def test_closing_stops_what_is_made(self, library: AudioLibrary, gated: Gated) -> None:
        """A reader of a library that closes is told; nothing unfinished stays."""
        source = library.open_wav(library.register(SONG))
        library.stop()
        gated.let()
        with pytest.raises(TrainerError, match="was cancelled"):
            source.wait_for(len(gated.wav) - 1)
        source.close()
        settled(library)
        assert not unfinished(library)


class TestLength:
    @pytest.mark.audio
    def test_a_sound_too_long_is_refused(self, library: AudioLibrary) -> None:
        """Over 20 minutes nothing is rendered: the page tells the length and what to do, and no
        kept sound goes to make room."""
        kept = library.register(SONG)
        whole(library.open_wav(kept))
        settled(library)
        key = library.register(song(3, bars=2000))
        info = library.info(key)
        assert info.duration_s == 4003.0
        assert info.error is not None
        assert "plays for 1 h 7 min, expected at most 20 min of sound" in info.error
        library.prefetch(key)
        for asked in (library.open_wav, partial(open_flac, library), library.wav_size):
            with pytest.raises(TrainerError, match="at most 20 min"):
                asked(key)
        assert not library._pool._jobs
        assert (library._cache.folder / library.file_name(kept, "wav")).exists()

    def test_a_long_one_that_nobody_reads_is_given_up(
        self, library: AudioLibrary, gated: Gated, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """With much of it missing it is rendered only while somebody reads it, and not prefetched;
        a reader who is left midway by others goes on."""
        key = library.register(SONG)
        monkeypatch.setattr(pool, "MAX_UNREAD_S", gated.duration_s / 2)
        library.prefetch(key)
        assert gated.begun == 1
        assert not library._pool._jobs
        one, two = library.open_wav(key), library.open_wav(key)
        gated.let(1)
        one.wait_for(44)
        one.close()
        assert len(library._pool._jobs) == 1
        two.close()
        gated.let(1)
        settled(library)
        assert not library._pool._jobs
        assert not unfinished(library)

    def test_too_many_at_once_are_refused(
        self, library: AudioLibrary, gated: Gated, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Threads and synths are bounded: the next is told to come back."""
        monkeypatch.setattr(pool, "MAX_JOBS", 2)
        sources = [library.open_wav(library.register(song(seed, bars=1))) for seed in (1, 2)]
        third = library.register(song(3, bars=1))
        with pytest.raises(TrainerError, match="2 sounds are already being made; try again"):
            library.open_wav(third)
        for _ in range(3):
            gated.let()
        assert [whole(source) for source in sources] == [gated.wav] * 2
        settled(library)
        assert whole(library.open_wav(third)) == gated.wav


class TestClosing:
    def test_nothing_unfinished_stays_of_what_does_not_end(
        self, library: AudioLibrary, gated: Gated, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """What is still being rendered when the library has waited long enough is deleted, too."""
        monkeypatch.setattr("trainer.web.audio.library.CLOSE_S", 0.0)
        source = library.open_wav(library.register(SONG))
        assert unfinished(library)
        library.close()
        assert not unfinished(library)
        with pytest.raises(TrainerError):
            source.wait_for(len(gated.wav) - 1)
        source.close()
        gated.let()
        settled(library)
        assert not unfinished(library)

    def test_closing_a_reader_ends_its_wait(self, library: AudioLibrary, gated: Gated) -> None:
        """Who waits for bytes in another thread is told at once, not when the next bytes come."""
        source = library.open_wav(library.register(SONG))
        told: list[str] = []

        def read() -> None:
            try:
                source.wait_for(len(gated.wav) - 1)
            except TrainerError as error:
                told.append(str(error))

        thread = threading.Thread(target=read)
        thread.start()
        source.close()
        thread.join(PATIENCE_S)
        assert told == ["this sound is no longer read"]
        gated.let()


class TestFaults:
    def test_a_rendering_that_breaks_off(self, library: AudioLibrary, gated: Gated) -> None:
        """Readers get what was made, then why there is no more; the next asker gets a new try."""
        key = library.register(SONG)
        source = library.open_wav(key)
        gated.let(1)
        gated_bytes = source.read(44, BLOCK_BYTES)
        gated.fail()
        assert gated_bytes == gated.wav[44 : 44 + len(gated_bytes)]
        with pytest.raises(TrainerError, match="could not be made: no more notes"):
            source.wait_for(len(gated.wav) - 1)
        source.close()
        settled(library)
        assert not unfinished(library)
        gated._broken = False
        gated.let()
        assert whole(library.open_wav(key)) == gated.wav

    def test_without_a_soundfont(self, make_library: MakeLibrary, tmp_path: Path) -> None:
        """A library without a synth offers, tells length and reason, and refuses to open."""
        library = make_library(soundfont=tmp_path / "missing.sf2")
        key = library.register(SONG)
        info = library.info(key)
        assert info.duration_s == SONG.length_s + 3.0
        assert "missing.sf2" in str(info.error)
        library._pool.warm_up()
        library.prefetch(key)
        for opened in (library.open_wav, partial(open_flac, library)):
            with pytest.raises(TrainerError, match=r"missing\.sf2"):
                opened(key)

    @pytest.mark.audio
    def test_what_was_missing_is_found_when_it_is_put_there(
        self,
        make_library: MakeLibrary,
        tmp_path: Path,
        small_soundfont: Path,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        """A soundfont put in place while the program runs is used a little later."""
        path = tmp_path / "late.sf2"
        library = make_library(soundfont=path)
        key = library.register(SONG)
        assert library.info(key).error
        path.symlink_to(small_soundfont)
        assert library.info(key).error
        monkeypatch.setattr(pool, "_RETRY_SYNTH_S", 0.0)
        assert library.info(key).error is None
        assert len(whole(library.open_wav(key))) == library.wav_size(key)

    @pytest.mark.audio
    def test_a_kept_sound_needs_no_synth(
        self, make_library: MakeLibrary, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """What was finished in an earlier run is heard from its key alone."""
        first = make_library()
        key = first.register(SONG)
        sound = whole(first.open_wav(key))
        settled(first)
        second = make_library()
        monkeypatch.setattr(second._pool, "synth", lambda: pytest.fail("a synth was made"))
        assert second.info(key).error is None
        assert whole(second.open_wav(key)) == sound
