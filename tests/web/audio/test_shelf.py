from __future__ import annotations

import io
import resource
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.sound.pieces import part, piece, song
from tests.web.audio.conftest import MakeShelf
from tests.web.audio.gated import BLOCK_BYTES, Gated
from trainer.band.parts import Note
from trainer.errors import TrainerError
from trainer.sound import Synth, write_audio
from trainer.web.audio import AudioShelf, studio
from trainer.web.audio import shelf as module
from trainer.web.audio.shelf import NotOffered
from trainer.web.audio.sources import Source

SONG = song(3, bars=2)


def whole(source: Source) -> bytes:
    """All bytes of a source, which is left."""
    found = b""
    try:
        while len(found) < source.size:
            found += source.read(len(found), 2**16)
    finally:
        source.leave()
    return found


def settled(shelf: AudioShelf) -> None:
    """Wait until nothing is being made."""
    for thread in threading.enumerate():
        if thread.name.startswith("sound "):
            thread.join(30)
            assert not thread.is_alive()


def unfinished(shelf: AudioShelf) -> list[Path]:
    """Files that are being written."""
    return list(shelf._cache.folder.glob("*.part"))


@pytest.mark.audio
class TestRealSounds:
    def test_the_bytes_are_those_of_the_file(
        self, shelf: AudioShelf, small_soundfont: Path, tmp_path: Path
    ) -> None:
        """WAV and FLAC are, byte for byte, what `render` writes of the same arrangement."""
        key = shelf.offer(SONG)
        for suffix, opened in (("wav", shelf.open_wav), ("flac", shelf.open_flac)):
            path = tmp_path / f"file.{suffix}"
            write_audio(Synth(small_soundfont).render(SONG), path)
            assert whole(opened(key)) == path.read_bytes()

    def test_flac_and_wav_are_one_sound(self, shelf: AudioShelf) -> None:
        """Libsndfile reads the same samples from both."""
        key = shelf.offer(SONG)
        wav, rate = soundfile.read(io.BytesIO(whole(shelf.open_wav(key))), dtype="int16")
        flac, _ = soundfile.read(io.BytesIO(whole(shelf.open_flac(key))), dtype="int16")
        assert np.array_equal(wav, flac)
        assert rate == 44100
        assert np.abs(wav).max() > 1000

    def test_length_is_known_before_and_true(self, shelf: AudioShelf) -> None:
        """Duration and size are told before a note is made, and are what comes."""
        key = shelf.offer(SONG)
        info, size = shelf.info(key), shelf.wav_size(key)
        assert not list(shelf._cache.folder.glob("*.wav"))
        samples, rate = soundfile.read(io.BytesIO(whole(shelf.open_wav(key))))
        assert info.error is None
        assert info.duration_s == len(samples) / rate
        assert size == 44 + 4 * len(samples)
        settled(shelf)
        assert shelf.info(key) == info

    def test_warming_makes_the_synth(self, shelf: AudioShelf) -> None:
        """After warming, the synth is there and the next song needs nothing loaded."""
        shelf._studio.warm()
        synth = shelf._studio.synth()
        known = len(synth._selected)
        shelf.info(shelf.offer(SONG))
        assert shelf._studio.synth() is synth
        assert len(synth._selected) == known

    def test_a_program_the_soundfont_lacks_is_told(self, shelf: AudioShelf) -> None:
        """An arrangement that cannot be played says why, with its length; others go on."""
        strange = piece(part([Note(0, 4, 60, 90)], program=99, is_drum=True))
        key = shelf.offer(strange)
        info = shelf.info(key)
        assert info.error is not None
        assert "found no drum kit 99" in info.error
        assert info.duration_s == 2.0 + 3.0
        with pytest.raises(TrainerError, match="drum kit 99"):
            shelf.open_wav(key)
        assert whole(shelf.open_wav(shelf.offer(SONG)))


class TestKeys:
    def test_offering_is_rendering_nothing(self, shelf: AudioShelf, gated: Gated) -> None:
        """An offer makes no synth and no sound, and the same offer has the same key."""
        assert shelf.offer(SONG) == shelf.offer(song(3, bars=2)) != shelf.offer(song(4))
        assert gated.begun == 0
        assert shelf._studio._synth is None

    def test_the_key_outlives_the_program_but_not_its_folder(
        self, make_shelf: MakeShelf, small_soundfont: Path, tmp_path: Path
    ) -> None:
        """Another start over the same folder gives the same key; another folder another key."""
        key = make_shelf().offer(SONG)
        assert make_shelf().offer(SONG) == key
        assert AudioShelf(small_soundfont, tmp_path / "other").offer(SONG) != key

    def test_old_offers_are_forgotten(
        self, shelf: AudioShelf, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Only so many notes are remembered; what is forgotten says so and may come back."""
        monkeypatch.setattr(module, "MOST_NOTES", 300)
        keys = [shelf.offer(song(seed, bars=2)) for seed in range(5)]
        assert len(shelf._offers) < 5
        assert "no longer here" in str(shelf.info(keys[0]).error)
        with pytest.raises(NotOffered):
            shelf.open_wav(keys[0])
        assert shelf.offer(song(0, bars=2)) == keys[0]
        assert shelf._notes == sum(len(p.notes) for a in shelf._offers.values() for p in a.parts)


class TestManyReaders:
    def test_a_sound_is_made_once_for_all(self, shelf: AudioShelf, gated: Gated) -> None:
        """Readers at several places share one rendering and get the same bytes."""
        key = shelf.offer(SONG)
        sources = [shelf.open_wav(key) for _ in range(8)]
        found: list[bytes] = []
        threads = [threading.Thread(target=lambda s=s: found.append(whole(s))) for s in sources]
        for thread in threads:
            thread.start()
        gated.let()
        for thread in threads:
            thread.join(30)
        assert found == [gated.wav] * 8
        settled(shelf)
        assert whole(shelf.open_wav(key)) == gated.wav
        assert gated.iterated == 1

    def test_bytes_come_as_soon_as_they_are_made(self, shelf: AudioShelf, gated: Gated) -> None:
        """With two blocks let through, two blocks can be read and no more."""
        source = shelf.open_wav(shelf.offer(SONG))
        gated.let(2)
        source.wait_for(44 + 2 * BLOCK_BYTES - 1)
        assert source.read(44, 10**6) == gated.wav[44 : 44 + 2 * BLOCK_BYTES]
        gated.let()
        assert source.read(len(gated.wav) - 5, 100) == gated.wav[-5:]
        source.leave()

    def test_a_sound_left_early_is_made_to_its_end(self, shelf: AudioShelf, gated: Gated) -> None:
        """Who leaves stops nothing: the sound is finished and kept."""
        key = shelf.offer(SONG)
        source = shelf.open_wav(key)
        gated.let(1)
        source.wait_for(100)
        source.leave()
        gated.let()
        settled(shelf)
        assert whole(shelf.open_wav(key)) == gated.wav
        assert gated.iterated == 1
        assert not unfinished(shelf)

    def test_prepared_sounds_are_there(self, shelf: AudioShelf, gated: Gated) -> None:
        """What is prepared is made without a reader; preparing again does nothing."""
        key = shelf.offer(SONG)
        gated.let()
        shelf.prepare(key)
        settled(shelf)
        shelf.prepare(key)
        shelf.prepare("0" * 40)
        assert whole(shelf.open_wav(key)) == gated.wav
        assert gated.iterated == 1

    def test_too_many_unread_are_given_up(self, shelf: AudioShelf, gated: Gated) -> None:
        """With too many being made, the oldest that nobody reads stops and leaves no file."""
        first = shelf.offer(song(0))
        shelf.open_wav(first).leave()
        others = [
            shelf.open_wav(shelf.offer(song(seed))) for seed in range(1, studio.MOST_AT_ONCE + 1)
        ]
        assert shelf._studio._takes[f"{first}.wav"].stopped
        for _ in range(studio.MOST_AT_ONCE + 1):
            gated.let()
        assert [whole(source) for source in others] == [gated.wav] * len(others)
        settled(shelf)
        assert not unfinished(shelf)
        assert shelf._cache.find(f"{first}.wav") is None
        assert whole(shelf.open_wav(first)) == gated.wav

    def test_what_is_waited_for_goes_first(self, shelf: AudioShelf, gated: Gated) -> None:
        """A sound nobody waits for pauses while somebody waits for another."""
        idle = shelf.open_wav(shelf.offer(song(1)))
        gated.let(1)
        idle.wait_for(44 + BLOCK_BYTES - 1)
        take = shelf._studio._takes[next(iter(shelf._studio._takes))]
        take._waited_at = float("-inf")
        wanted = shelf.open_wav(shelf.offer(song(2)))
        waiting = threading.Thread(target=wanted.wait_for, args=(44 + BLOCK_BYTES,))
        waiting.start()
        while not shelf._studio._takes[wanted.name]._waiting:  # type: ignore[attr-defined]
            pass
        assert take.need == 0
        written = take._written
        # Two blocks for the one, two for the other: the idle one holds its own back.
        gated.let(4)
        waiting.join(30)
        assert take._written == written
        gated.let()
        gated.let()
        assert whole(idle) == whole(wanted) == gated.wav

    def test_closing_stops_what_is_made(self, shelf: AudioShelf, gated: Gated) -> None:
        """A reader of a shelf that closes is told; nothing unfinished stays."""
        source = shelf.open_wav(shelf.offer(SONG))
        shelf.close()
        gated.let()
        with pytest.raises(TrainerError, match="given up"):
            source.wait_for(len(gated.wav) - 1)
        source.leave()
        settled(shelf)
        assert not unfinished(shelf)


class TestFaults:
    def test_a_rendering_that_breaks_off(self, shelf: AudioShelf, gated: Gated) -> None:
        """Readers get what was made, then why there is no more; the next asker gets a new try."""
        key = shelf.offer(SONG)
        source = shelf.open_wav(key)
        gated.let(1)
        gated_bytes = source.read(44, BLOCK_BYTES)
        gated.fail()
        assert gated_bytes == gated.wav[44 : 44 + len(gated_bytes)]
        with pytest.raises(TrainerError, match="could not be made: no more notes"):
            source.wait_for(len(gated.wav) - 1)
        source.leave()
        settled(shelf)
        assert not unfinished(shelf)
        gated._broken = False
        gated.let()
        assert whole(shelf.open_wav(key)) == gated.wav

    def test_without_a_soundfont(self, make_shelf: MakeShelf, tmp_path: Path) -> None:
        """A shelf without a synth offers, tells length and reason, and refuses to open."""
        shelf = make_shelf(soundfont=tmp_path / "missing.sf2")
        key = shelf.offer(SONG)
        info = shelf.info(key)
        assert info.duration_s == SONG.tempo_map.seconds(SONG.length_quarters) + 3.0
        assert "missing.sf2" in str(info.error)
        shelf._studio.warm()
        shelf.prepare(key)
        for opened in (shelf.open_wav, shelf.open_flac):
            with pytest.raises(TrainerError, match=r"missing\.sf2"):
                opened(key)

    @pytest.mark.audio
    def test_what_was_missing_is_found_when_it_is_put_there(
        self,
        make_shelf: MakeShelf,
        tmp_path: Path,
        small_soundfont: Path,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        """A soundfont put in place while the program runs is used a little later."""
        path = tmp_path / "late.sf2"
        shelf = make_shelf(soundfont=path)
        key = shelf.offer(SONG)
        assert shelf.info(key).error
        path.symlink_to(small_soundfont)
        assert shelf.info(key).error
        monkeypatch.setattr(studio, "_ASK_AGAIN_S", 0.0)
        assert shelf.info(key).error is None
        assert len(whole(shelf.open_wav(key))) == shelf.wav_size(key)

    @pytest.mark.audio
    def test_a_kept_sound_needs_no_synth(self, make_shelf: MakeShelf, tmp_path: Path) -> None:
        """What was finished in an earlier run is heard from its key alone."""
        first = make_shelf()
        key = first.offer(SONG)
        sound = whole(first.open_wav(key))
        settled(first)
        second = make_shelf(soundfont=tmp_path / "missing.sf2")
        assert second.info(key).error is None
        assert whole(second.open_wav(key)) == sound


@contextmanager
def disk_of(size: int) -> Iterator[None]:
    """Files cannot grow beyond a size in this process (RLIMIT_FSIZE)."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


class TestFullDisk:
    def test_the_sound_goes_on_in_memory(
        self, shelf: AudioShelf, gated: Gated, caplog: pytest.LogCaptureFixture
    ) -> None:
        """A disk that fills up midway is logged; everyone hears all, and who comes later too."""
        key = shelf.offer(SONG)
        early = shelf.open_wav(key)
        gated.let(2)
        early.wait_for(44 + 2 * BLOCK_BYTES - 1)
        with disk_of(44 + 3 * BLOCK_BYTES + 17):
            gated.let()
            assert whole(early) == gated.wav
            settled(shelf)
        assert "goes on in memory" in caplog.text
        assert not unfinished(shelf)
        assert whole(shelf.open_wav(key)) == gated.wav
        assert gated.iterated == 1

    def test_memory_is_not_filled_either(self, shelf: AudioShelf, gated: Gated) -> None:
        """Of sounds that only memory holds, the last two stay; the others are made anew."""
        with disk_of(1000):
            for seed in range(5):
                gated.let()
                whole(shelf.open_wav(shelf.offer(song(seed))))
                settled(shelf)
        assert len(shelf._studio._takes) == studio.MOST_IN_MEMORY

    def test_a_folder_that_cannot_be_written(
        self, small_soundfont: Path, tmp_path: Path, gated: Gated, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Without a folder sounds come all the same; FLAC, which needs one, says why not."""
        (tmp_path / "file").write_text("in the way")
        shelf = AudioShelf(small_soundfont, tmp_path / "file" / "sounds")
        monkeypatch.setattr(shelf._studio, "rendering", lambda _: gated)
        gated.let()
        key = shelf.offer(SONG)
        assert whole(shelf.open_wav(key)) == gated.wav
        with pytest.raises(TrainerError, match=r"file.*Not a directory"):
            shelf.open_flac(key)


class TestLimit:
    def test_the_cache_stays_within_its_limit(
        self, make_shelf: MakeShelf, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Many sounds, one after another: never more than the limit once nobody reads."""
        gated = Gated()
        limit = 3 * len(gated.wav)
        shelf = make_shelf(limit_bytes=limit)
        monkeypatch.setattr(shelf._studio, "rendering", lambda _: gated)
        for seed in range(6):
            gated.let()
            whole(shelf.open_wav(shelf.offer(song(seed, bars=1))))
            settled(shelf)
            kept = sum(path.stat().st_size for path in shelf._cache.folder.glob("*.wav"))
            assert kept <= limit
        assert kept == limit

    def test_what_is_being_read_is_kept(
        self, make_shelf: MakeShelf, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """A reader in the middle of a kept sound is not disturbed by others pushing it out."""
        gated = Gated()
        shelf = make_shelf(limit_bytes=2 * len(gated.wav))
        monkeypatch.setattr(shelf._studio, "rendering", lambda _: gated)
        gated.let()
        first = shelf.offer(song(0, bars=1))
        whole(shelf.open_wav(first))
        settled(shelf)
        reader = shelf.open_wav(first)
        for seed in range(1, 5):
            gated.let()
            whole(shelf.open_wav(shelf.offer(song(seed, bars=1))))
            settled(shelf)
        assert (shelf._cache.folder / f"{first}.wav").exists()
        assert whole(reader) == gated.wav
