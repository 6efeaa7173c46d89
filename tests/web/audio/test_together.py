"""Several programs over one cache: two libraries over one folder behave as two processes do, since
each has files and locks of its own."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.patience import until
from tests.web.audio.conftest import MakeLibrary
from tests.web.audio.gated import BLOCK_BYTES, Gated, open_flac
from tests.web.audio.reading import settled, whole
from tests.web.audio.test_library import SONG
from trainer.web.audio import AudioLibrary
from trainer.web.audio.cache import AudioCache, AudioSource, UnfinishedFile

NAME = f"{'0' * 40}.wav"


@pytest.fixture
def both(make_library: MakeLibrary) -> tuple[AudioLibrary, AudioLibrary]:
    """Two programs over one folder."""
    return make_library(), make_library()


@pytest.fixture
def gates(
    both: tuple[AudioLibrary, AudioLibrary], monkeypatch: pytest.MonkeyPatch
) -> tuple[Gated, Gated]:
    """What each of them renders."""
    made = Gated(), Gated()
    for library, gated in zip(both, made, strict=True):
        monkeypatch.setattr(library._pool, "rendering", lambda _, gated=gated: gated)
    return made


def parts(folder: Path) -> list[str]:
    """Names of files that are not finished."""
    return sorted(path.name for path in folder.glob("*.part"))


class TestRenderedOnce:
    def test_the_second_follows_the_first(
        self, both: tuple[AudioLibrary, AudioLibrary], gates: tuple[Gated, Gated]
    ) -> None:
        """While one program renders a sound, the other reads the same bytes as they come and
        renders nothing; at the end there is one file."""
        readers = [library.open_wav(library.register(SONG)) for library in both]
        gates[0].let(2)
        found = readers[1].read(0, 44) + readers[1].read(44, BLOCK_BYTES)
        assert found == gates[0].wav[: 44 + BLOCK_BYTES]
        gates[0].let()
        assert [whole(reader) for reader in readers] == [gates[0].wav] * 2
        settled(both[0])
        assert (gates[0].iterated, gates[1].iterated) == (1, 0)
        assert parts(both[0]._cache.folder) == []

    def test_a_full_disk_does_not_end_what_is_followed(
        self,
        both: tuple[AudioLibrary, AudioLibrary],
        gates: tuple[Gated, Gated],
        monkeypatch: pytest.MonkeyPatch,
        caplog: pytest.LogCaptureFixture,
    ) -> None:
        """A program that cannot tell the other one that somebody waits goes on reading; it is
        logged once as a warning."""
        asked: list[None] = []

        def full(_: UnfinishedFile) -> None:
            asked.append(None)
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr(UnfinishedFile, "want", full)
        readers = [library.open_wav(library.register(SONG)) for library in both]
        with ThreadPoolExecutor(1) as threads:
            found = threads.submit(whole, readers[1])
            until(lambda: len(asked) > 1, "the program that follows tries to tell the other")
            gates[0].let()
            assert found.result() == gates[0].wav
        readers[0].close()
        told = [each for each in caplog.records if "somebody waits" in each.getMessage()]
        assert [each.levelname for each in told if each.levelname != "DEBUG"] == ["WARNING"]

    def test_who_waits_elsewhere_counts(
        self, both: tuple[AudioLibrary, AudioLibrary], gates: tuple[Gated, Gated]
    ) -> None:
        """A sound that is read in the other program alone is needed as much as one read here."""
        first, second = both
        first.prefetch(first.register(SONG))
        (job,) = first._pool._jobs.values()
        assert not job.is_wanted_elsewhere
        reader = second.open_wav(second.register(SONG))
        with ThreadPoolExecutor(1) as threads:
            found = threads.submit(whole, reader)
            until(lambda: job.is_wanted_elsewhere, "the program that renders is told")
            gates[0].let()
            assert found.result() == gates[0].wav
        assert gates[1].iterated == 0

    def test_what_the_other_gives_up_is_rendered_here(
        self, both: tuple[AudioLibrary, AudioLibrary], gates: tuple[Gated, Gated]
    ) -> None:
        """The reader of a program that follows gets all of it when the other one ends."""
        first, second = both
        leaving = first.open_wav(first.register(SONG))
        reader = second.open_wav(second.register(SONG))
        gates[0].let(2)
        begun = reader.read(0, 44) + reader.read(44, 100)
        first.stop()
        leaving.close()
        gates[0].let()
        gates[1].let()
        assert begun + b"".join(iter_rest(reader, len(begun))) == gates[1].wav
        assert gates[1].iterated == 1

    def test_finished_sounds_are_used_by_both(
        self, both: tuple[AudioLibrary, AudioLibrary], gates: tuple[Gated, Gated]
    ) -> None:
        """What one has finished the other reads, as WAV and as FLAC, and renders nothing."""
        first, second = both
        gates[0].let()
        whole(first.open_wav(first.register(SONG)))
        settled(first)
        key = second.register(SONG)
        assert whole(second.open_wav(key)) == gates[0].wav
        flac = whole(open_flac(first, key))
        made_at = flac_file(first).stat().st_ino
        assert whole(open_flac(second, key)) == flac
        assert flac_file(second).stat().st_ino == made_at
        assert gates[1].begun == 0


def flac_file(library: AudioLibrary) -> Path:
    """The only FLAC file of a library."""
    (found,) = library._cache.folder.glob("*.flac")
    return found


def iter_rest(reader: AudioSource, at: int) -> Iterator[bytes]:
    """The bytes from a byte on, to the end of the reader."""
    while at < reader.size:
        data = reader.read(at, 2**16)
        at += len(data)
        yield data
    reader.close()


class TestClaims:
    def test_one_of_two_writes(self, tmp_path: Path) -> None:
        """The first to claim a name writes it; the other is given the file being written."""
        caches = AudioCache(tmp_path, 300), AudioCache(tmp_path, 300)
        one, two = (cache.claim(NAME) for cache in caches)
        assert one.is_ours
        assert not two.is_ours
        one.file.write(b"half")
        assert os.pread(two.file.fileno(), 10, 0) == b"half"
        assert not two.is_given_up()
        caches[0].finish(one, NAME)
        one.discard()
        assert two.is_given_up()
        two.discard()
        assert caches[1].size(NAME) == 4
        assert [path.name for path in tmp_path.iterdir()] == [NAME]

    def test_what_was_finished_meanwhile_is_not_written_again(self, tmp_path: Path) -> None:
        """A claim that comes after the file was finished reads it; one of another size is
        written again."""
        caches = AudioCache(tmp_path, 300), AudioCache(tmp_path, 300)
        one = caches[0].claim(NAME)
        one.file.write(b"whole")
        caches[0].finish(one, NAME)
        one.discard()
        late = caches[1].claim(NAME, 5)
        assert not late.is_ours
        assert late.is_given_up()
        assert os.pread(late.file.fileno(), 10, 0) == b"whole"
        late.discard()
        again = caches[1].claim(NAME, 6)
        assert again.is_ours
        again.discard()

    def test_what_a_killed_program_left_is_begun_again(self, tmp_path: Path) -> None:
        """An unfinished file that nobody writes is replaced by an empty one."""
        cache = AudioCache(tmp_path, 300)
        (tmp_path / f"{NAME}.part").write_bytes(b"left")
        made = cache.claim(NAME)
        assert made.is_ours
        assert os.fstat(made.file.fileno()).st_size == 0
        made.discard()
        assert list(tmp_path.iterdir()) == []

    def test_giving_up_leaves_what_another_writes(self, tmp_path: Path) -> None:
        """A program that follows deletes nothing."""
        cache = AudioCache(tmp_path, 300)
        ours = cache.claim(NAME)
        other = AudioCache(tmp_path, 300)
        other.claim(NAME).discard()
        other.delete_unfinished()
        assert ours.path.exists()
        ours.discard()

    def test_a_name_that_was_lost_is_left_to_who_has_it(self, tmp_path: Path) -> None:
        """If somebody removed the file and another program has begun it again, giving up deletes
        nothing, and finishing is an error and gives the other's half no name."""
        caches = AudioCache(tmp_path, 300), AudioCache(tmp_path, 300)
        lost = caches[0].claim(NAME)
        lost.path.unlink()
        other = caches[1].claim(NAME)
        assert other.is_ours
        other.file.write(b"half")
        with pytest.raises(FileNotFoundError, match="was removed"):
            caches[0].finish(lost, NAME)
        lost.delete()
        lost.discard()
        caches[0].delete_unfinished()
        assert parts(tmp_path) == [other.path.name]
        caches[1].finish(other, NAME)
        other.discard()
        assert [path.name for path in tmp_path.iterdir()] == [NAME]
