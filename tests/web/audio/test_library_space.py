"""A library of sounds on a full disk, in little memory and at the limit of its cache."""

from __future__ import annotations

import resource
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.sound.pieces import song
from tests.web.audio.conftest import MakeLibrary
from tests.web.audio.gated import BLOCK_BYTES, Gated, open_flac
from tests.web.audio.reading import settled, unfinished, whole
from trainer.errors import TrainerError
from trainer.web.audio import AudioLibrary, jobs, pool

SONG = song(3, bars=2)


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
        self, library: AudioLibrary, gated: Gated, caplog: pytest.LogCaptureFixture
    ) -> None:
        """A disk that fills up midway is logged; everyone hears all, and who comes later too."""
        key = library.register(SONG)
        early = library.open_wav(key)
        gated.let(2)
        early.wait_for(44 + 2 * BLOCK_BYTES - 1)
        with disk_of(44 + 3 * BLOCK_BYTES + 17):
            gated.let()
            assert whole(early) == gated.wav
            settled(library)
        assert "goes on in memory" in caplog.text
        assert not unfinished(library)
        assert whole(library.open_wav(key)) == gated.wav
        assert gated.iterated == 1

    def test_memory_holds_only_so_much(
        self, library: AudioLibrary, gated: Gated, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Without a disk a sound that is too long for memory breaks off and says why."""
        monkeypatch.setattr(jobs, "MAX_MEMORY_BYTES", 3 * BLOCK_BYTES)
        with disk_of(1000):
            gated.let()
            source = library.open_wav(library.register(SONG))
            with pytest.raises(TrainerError, match="cannot be written, and the sound is too long"):
                whole(source)

    def test_memory_is_not_filled_either(self, library: AudioLibrary, gated: Gated) -> None:
        """Of sounds that only memory holds, the last two stay; the others are rendered again."""
        with disk_of(1000):
            for seed in range(5):
                gated.let()
                whole(library.open_wav(library.register(song(seed))))
                settled(library)
        assert len(library._pool._jobs) == pool.MAX_IN_MEMORY

    def test_a_folder_that_cannot_be_written(
        self, small_soundfont: Path, tmp_path: Path, gated: Gated, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Without a folder sounds come all the same; FLAC, which needs one, says why not."""
        (tmp_path / "file").write_text("in the way")
        library = AudioLibrary(small_soundfont, tmp_path / "file" / "sounds")
        monkeypatch.setattr(library._pool, "rendering", lambda _: gated)
        gated.let()
        key = library.register(SONG)
        assert whole(library.open_wav(key)) == gated.wav
        with pytest.raises(TrainerError, match=r"file.*Not a directory"):
            open_flac(library, key)


class TestLimit:
    def test_the_cache_stays_within_its_limit(
        self, make_library: MakeLibrary, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Many sounds, one after another: never more than the limit once nobody reads."""
        gated = Gated()
        limit = 3 * len(gated.wav)
        library = make_library(limit_bytes=limit)
        monkeypatch.setattr(library._pool, "rendering", lambda _: gated)
        for seed in range(6):
            gated.let()
            whole(library.open_wav(library.register(song(seed, bars=1))))
            settled(library)
            kept = sum(path.stat().st_size for path in library._cache.folder.glob("*.wav"))
            assert kept <= limit
        assert kept == limit

    def test_what_is_being_read_is_kept(
        self, make_library: MakeLibrary, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """A reader in the middle of a kept sound is not disturbed by others pushing it out."""
        gated = Gated()
        library = make_library(limit_bytes=2 * len(gated.wav))
        monkeypatch.setattr(library._pool, "rendering", lambda _: gated)
        gated.let()
        first = library.register(song(0, bars=1))
        whole(library.open_wav(first))
        settled(library)
        reader = library.open_wav(first)
        for seed in range(1, 5):
            gated.let()
            whole(library.open_wav(library.register(song(seed, bars=1))))
            settled(library)
        assert (library._cache.folder / library.file_name(first, "wav")).exists()
        assert whole(reader) == gated.wav
