from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from trainer.web.audio.cache import AudioCache


def name(number: int) -> str:
    """A file's name as keys make it."""
    return f"{number:040x}.wav"


def put(cache: AudioCache, number: int, size: int = 100) -> Path:
    """Finish a file."""
    path = cache.unfinished(name(number))
    path.write_bytes(bytes(size))
    cache.finish(path, name(number))
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
    path = cache.unfinished(name(1))
    path.write_bytes(b"half")
    assert cache.find(name(1)) is None
    cache.finish(path, name(1))
    found = cache.find(name(1))
    assert found is not None
    assert found.read_bytes() == b"half"
    assert not path.exists()


def test_the_least_recently_used_goes_first(cache: AudioCache) -> None:
    """Past the limit, what was not used longest is thrown away."""
    for number in (1, 2, 3):
        put(cache, number)
    assert cache.find(name(1))
    put(cache, 4)
    assert there(cache) == [1, 3, 4]
    assert cache.bytes_kept == 300
    assert cache.find(name(2)) is None


def test_room_is_made_beforehand(cache: AudioCache) -> None:
    """Room for a file to come is made before it is there."""
    for number in (1, 2, 3):
        put(cache, number)
    cache.make_room(150)
    assert there(cache) == [3]


def test_what_is_read_stays(cache: AudioCache) -> None:
    """A file being read is never thrown away, and goes when it is no longer read."""
    put(cache, 1)
    cache.hold(name(1))
    cache.hold(name(1))
    for number in (2, 3, 4, 5):
        put(cache, number)
    assert there(cache) == [1, 4, 5]
    cache.make_room(10_000)
    cache.release(name(1))
    assert there(cache) == [1]
    cache.release(name(1))
    cache.make_room(10_000)
    assert there(cache) == []


def test_a_file_larger_than_the_limit_is_not_kept(cache: AudioCache) -> None:
    """What alone passes the limit leaves as soon as nobody reads it."""
    cache.hold(name(1))
    put(cache, 1, 1000)
    assert there(cache) == [1]
    cache.release(name(1))
    assert there(cache) == []


def test_another_run_finds_what_this_one_kept(cache: AudioCache) -> None:
    """Files and the order of their use outlive the program."""
    for number in (1, 2, 3):
        path = put(cache, number)
        os.utime(path, (number, number))
    cache.find(name(1))
    again = AudioCache(cache.folder, 300)
    assert again.bytes_kept == 300
    again.make_room(200)
    assert there(again) == [1]
    assert there(AudioCache(cache.folder, 50)) == []


def test_what_was_left_unfinished_goes(cache: AudioCache) -> None:
    """A new run throws away what an old one left, not what another makes now, nor other files."""
    old, new, other = (cache.folder / part for part in ("a.part", "b.part", "notes.txt"))
    for path in (old, new, other):
        path.write_text("x")
        os.utime(path, (0, 0))
    os.utime(new, (time.time(), time.time()))
    AudioCache(cache.folder, 300)
    assert (old.exists(), new.exists(), other.exists()) == (False, True, True)


def test_a_file_that_somebody_removed_is_not_found(cache: AudioCache) -> None:
    """What vanished from the folder is forgotten, and can be finished again."""
    put(cache, 1).unlink()
    assert cache.find(name(1)) is None
    assert cache.bytes_kept == 0
    put(cache, 1)
    assert cache.find(name(1)) is not None


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    """Without a folder there is nothing to find, and no error before something is written."""
    (tmp_path / "file").write_text("in the way")
    cache = AudioCache(tmp_path / "file", 300)
    assert cache.find(name(1)) is None
    cache.make_room(100)
