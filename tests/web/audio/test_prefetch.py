"""Parts far ahead of what is made so far."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest

from tests.sound.pieces import song
from tests.web.audio.gated import BLOCK_BYTES, Gated
from tests.web.audio.reading import settled
from trainer.band import Arrangement
from trainer.errors import TrainerError
from trainer.sound import Synth, write_audio
from trainer.web.audio import AudioLibrary, pool
from trainer.web.audio.cache import AudioSource
from trainer.web.audio.jobs import JobReader, Prefetcher
from trainer.web.audio.turns import Need, Renderer, RenderTurns

SONG = song(3, bars=30)


@pytest.fixture(scope="module")
def written(small_soundfont: Path, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The song as `write_audio` writes it."""
    path = tmp_path_factory.mktemp("written") / "song.wav"
    write_audio(Synth(small_soundfont).render(SONG), path)
    return path.read_bytes()


@pytest.fixture
def long(library: AudioLibrary, monkeypatch: pytest.MonkeyPatch) -> Gated:
    """The library renders thirty seconds of noise, of which one block is made."""
    gated = Gated(blocks=30 * 44100 // 2000)
    monkeypatch.setattr(library._pool, "rendering", lambda _: gated)
    gated.let(1)
    return gated


def read(source: AudioSource, at: int, size: int) -> bytes:
    """Bytes of a source."""
    found = b""
    while len(found) < size:
        found += source.read(at + len(found), size - len(found))
    return found


@pytest.mark.audio
@pytest.mark.parametrize("asked", ["-1", "-100001", "7000000-7000002", "9999999-"])
def test_a_real_part_is_a_slice(
    library: AudioLibrary, client: httpx.Client, written: bytes, asked: str
) -> None:
    """A part of a fresh song has the bytes of `write_audio`, and so has the whole after it."""
    first, _, last = asked.partition("-")
    start = int(first) if first else len(written) - int(last)
    end = int(last) + 1 if first and last else len(written)
    place = f"/audio/{library.register(SONG)}.wav"
    answer = client.get(place, headers={"range": f"bytes={asked}"})
    assert answer.status_code == 206
    assert answer.content == written[start:end]
    assert client.get(place).content == written


@pytest.mark.parametrize("back", [1, 2, 3, 4, 4001])
def test_it_comes_before_the_rest_is_made(library: AudioLibrary, long: Gated, back: int) -> None:
    """With one block made, the last bytes are there, from any byte of a frame."""
    at = len(long.wav) - back
    source = library.open_wav(library.register(SONG), at)
    source.wait_for(44)
    assert read(source, at, back) == long.wav[at:]
    source.close()
    long.let()


def test_the_job_goes_on_when_it_has_come_so_far(library: AudioLibrary, long: Gated) -> None:
    """Once the whole is made, nothing more is rendered in the middle; no byte is out of place."""
    at = len(long.wav) - 40 * BLOCK_BYTES - 3
    source = library.open_wav(library.register(SONG), at)
    head = source.read(at, 100)
    long.let()
    settled(library)
    assert head + read(source, at + 100, len(long.wav) - at - 100) == long.wav[at:]
    assert long.ahead == 1
    source.close()
    assert not library._pool._prefetchers


def test_what_is_near_is_waited_for(library: AudioLibrary, long: Gated) -> None:
    """A part that is soon made is read from the one rendering."""
    source = library.open_wav(library.register(SONG), 20 * BLOCK_BYTES)
    long.let()
    assert read(source, 20 * BLOCK_BYTES, 100) == long.wav[20 * BLOCK_BYTES :][:100]
    assert long.ahead == 0
    source.close()


def test_only_so_many_at_once(library: AudioLibrary, long: Gated) -> None:
    """More readers of far parts than may render wait for the job; who leaves makes room."""
    key, at = library.register(SONG), len(long.wav) - 1
    sources = [library.open_wav(key, at) for _ in range(pool.MAX_PREFETCHERS + 1)]
    assert [isinstance(source, Prefetcher) for source in sources] == [
        True
    ] * pool.MAX_PREFETCHERS + [False]
    sources[0].close()
    sources.append(library.open_wav(key, at))
    assert isinstance(sources[-1], Prefetcher)
    long.let()
    assert [read(source, at, 1) for source in sources[1:]] == [long.wav[-1:]] * (len(sources) - 1)
    for source in sources[1:]:
        source.close()
    settled(library)
    assert not library._pool._jobs


def test_its_first_bytes_go_first(library: AudioLibrary, long: Gated) -> None:
    """It is needed like a first note at its start, then like any sound, and not between reads."""
    needs = []

    class Turns(RenderTurns):
        def acquire(self, renderer: Renderer) -> bool:
            needs.append(renderer.need)
            return True

    reader = library.open_wav(library.register(SONG))
    assert isinstance(reader, JobReader)
    at = len(long.wav) - 3 * BLOCK_BYTES
    prefetcher = Prefetcher(reader, at, Turns(1), lambda _: None)
    for block in range(2):
        assert prefetcher.need == Need.NONE
        read(prefetcher, at + block * BLOCK_BYTES, BLOCK_BYTES)
    assert needs == [Need.FIRST, Need.MORE]
    prefetcher.close()
    long.let()


def test_closing_tells_its_reader(library: AudioLibrary, long: Gated) -> None:
    """A library that closes ends far parts, too."""
    at = len(long.wav) - 10 * BLOCK_BYTES
    source = library.open_wav(library.register(SONG), at)
    read(source, at, BLOCK_BYTES)
    library.stop()
    with pytest.raises(TrainerError, match="was cancelled"):
        source.read(at + BLOCK_BYTES, 10)
    source.close()
    long.let()


def test_what_cannot_be_made_says_why(
    library: AudioLibrary, client: httpx.Client, long: Gated
) -> None:
    """A part that fails at its start is answered 503 in words; the whole goes on."""
    long.ahead_fails = True
    place = f"/audio/{library.register(SONG)}.wav"
    answer = client.get(place, headers={"range": "bytes=-9"})
    assert answer.status_code == 503
    assert answer.text == "No sound: the sound could not be made: no more synths\n"
    long.let()
    assert client.get(place).content == long.wav


def test_an_arrangement_forgotten_meanwhile(
    library: AudioLibrary, long: Gated, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A far part of a sound that is being made needs no offer any more."""
    key, at = library.register(SONG), len(long.wav) - 1
    whole = library.open_wav(key)

    def forgotten(_: str) -> Arrangement:
        raise AssertionError("asked for again")

    monkeypatch.setattr(library, "_arrangement", forgotten)
    source = library.open_wav(key, at)
    assert read(source, at, 1) == long.wav[-1:]
    for one in (source, whole):
        one.close()
    long.let()
