from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from trainer.web.audio.cache import AudioCache


def name(number: int) -> str:
    """A file's name as keys make it."""
    return f"{number:040x}.wav"


def put(cache: AudioCache, number: int, size: int = 100) -> Path:
    """Finish a file."""
    unfinished = cache.claim(name(number))
    unfinished.file.write(bytes(size))
    cache.finish(unfinished, name(number))
    unfinished.discard()
    return cache.folder / name(number)


def there(cache: AudioCache) -> list[int]:
    """Numbers of the files in the folder."""
    return sorted(int(path.stem, 16) for path in cache.folder.glob("*.wav"))


@pytest.fixture
def cache(tmp_path: Path) -> AudioCache:
    """Room for three files of 100 bytes."""
    return AudioCache(tmp_path / "sounds", 300)


def test_what_is_finished_is_found(cache: AudioCache) -> None:
    """A file is there from the moment it is finished, and not before."""
    unfinished = cache.claim(name(1))
    unfinished.file.write(b"half")
    assert cache.open(name(1)) is None
    cache.finish(unfinished, name(1))
    unfinished.discard()
    found = cache.open(name(1))
    assert found is not None
    assert found.read(0, 100) == b"half"
    found.close()
    assert [path.name for path in cache.folder.iterdir()] == [name(1)]


def test_the_least_recently_used_goes_first(cache: AudioCache) -> None:
    """Past the limit, what was not used longest is thrown away."""
    for number in (1, 2, 3):
        put(cache, number)
    assert cache.size(name(1))
    put(cache, 4)
    assert there(cache) == [1, 3, 4]
    assert cache.bytes_kept == 300
    assert cache.size(name(2)) is None


def test_room_is_made_beforehand(cache: AudioCache) -> None:
    """Room for a file to come is made before it is there."""
    for number in (1, 2, 3):
        put(cache, number)
    cache.make_room(150)
    assert there(cache) == [3]


def test_what_is_read_stays(cache: AudioCache) -> None:
    """A file being read is never thrown away, and goes when it is no longer read."""
    put(cache, 1)
    cache.pin(name(1))
    cache.pin(name(1))
    for number in (2, 3, 4, 5):
        put(cache, number)
    assert there(cache) == [1, 4, 5]
    cache.make_room(300)
    cache.unpin(name(1))
    assert there(cache) == [1]
    cache.unpin(name(1))
    cache.make_room(300)
    assert there(cache) == []


def test_a_file_larger_than_the_limit_is_not_kept(cache: AudioCache) -> None:
    """What alone passes the limit leaves as soon as nobody reads it."""
    cache.pin(name(1))
    put(cache, 1, 1000)
    assert there(cache) == [1]
    cache.unpin(name(1))
    assert there(cache) == []


def test_another_run_finds_what_this_one_kept(cache: AudioCache) -> None:
    """Files and the order of their use outlive the program."""
    for number in (1, 2, 3):
        path = put(cache, number)
        os.utime(path, (number, number))
    cache.size(name(1))
    again = AudioCache(cache.folder, 300)
    assert again.bytes_kept == 300
    again.make_room(200)
    assert there(again) == [1]
    assert there(AudioCache(cache.folder, 50)) == []


def test_what_a_killed_server_left_goes(cache: AudioCache) -> None:
    """A new run deletes at once what a killed one left unfinished, FLAC too; not what another
    server writes now, nor other files."""
    written = cache.claim(name(1))
    left = [
        cache.folder / part
        for part in (f"{name(2)}.12345678.part", f".{name(3)[:40]}-x1y2z3.flac", "a.part")
    ]
    other = cache.folder / "notes.txt"
    for path in (*left, other):
        path.write_text("x")
    AudioCache(cache.folder, 300)
    assert set(cache.folder.iterdir()) == {written.path, other}
    written.discard()


def test_only_its_owner_may_read_it(tmp_path: Path) -> None:
    """The folder has mode 0700 and its files 0600, whatever the process's mask, and so has a folder
    of an earlier version."""
    folder = tmp_path / "data" / "sounds"
    before = os.umask(0)
    try:
        path = put(AudioCache(folder, 300), 1)
        folder.chmod(0o755)
        put(AudioCache(folder, 300), 2)
    finally:
        os.umask(before)
    modes = {stat.S_IMODE(one.stat().st_mode) for one in (folder, folder.parent)}
    assert modes == {0o700}
    assert {stat.S_IMODE(one.stat().st_mode) for one in folder.iterdir()} == {0o600}
    assert path.exists()


def test_a_file_that_vanishes_while_the_folder_is_read(
    cache: AudioCache, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What another server deletes between listing and looking at it is left out."""
    put(cache, 1)
    put(cache, 2)
    listed = list(cache.folder.iterdir())
    (cache.folder / name(1)).unlink()
    monkeypatch.setattr(Path, "iterdir", lambda _: iter(listed))
    again = AudioCache(cache.folder, 300)
    assert again.size(name(1)) is None
    assert again.size(name(2)) == 100


def test_nothing_goes_for_what_cannot_be_kept(cache: AudioCache) -> None:
    """Room for more than the whole cache deletes nothing."""
    put(cache, 1)
    cache.make_room(301)
    assert there(cache) == [1]


def test_a_file_deleted_before_it_is_opened(
    cache: AudioCache, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between finding and opening another server may delete it: then there is none."""
    path = put(cache, 1)
    found = cache.size

    def find_and_delete(name: str) -> int | None:
        size = found(name)
        path.unlink()
        return size

    monkeypatch.setattr(cache, "size", find_and_delete)
    assert cache.open(name(1)) is None


def test_a_file_that_somebody_removed_is_not_found(cache: AudioCache) -> None:
    """What vanished from the folder is forgotten, and can be finished again."""
    put(cache, 1).unlink()
    assert cache.size(name(1)) is None
    assert cache.bytes_kept == 0
    put(cache, 1)
    assert cache.size(name(1)) is not None


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    """Without a folder there is nothing to find, and no error before something is written."""
    (tmp_path / "file").write_text("in the way")
    cache = AudioCache(tmp_path / "file", 300)
    assert cache.size(name(1)) is None
    cache.make_room(100)
