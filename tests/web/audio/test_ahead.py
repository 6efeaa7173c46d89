"""Parts far ahead of what is made so far."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest

from tests.sound.pieces import song
from tests.web.audio.gated import BLOCK_BYTES, Gated
from tests.web.audio.test_shelf import settled
from trainer.band import Arrangement
from trainer.errors import TrainerError
from trainer.sound import Synth, write_audio
from trainer.web.audio import AudioShelf, studio
from trainer.web.audio.ahead import Ahead
from trainer.web.audio.sources import Source
from trainer.web.audio.take import Take

SONG = song(3, bars=30)


@pytest.fixture
def long(shelf: AudioShelf, monkeypatch: pytest.MonkeyPatch) -> Gated:
    """The shelf renders thirty seconds of noise, of which one block is made."""
    gated = Gated(blocks=30 * 44100 // 2000)
    monkeypatch.setattr(shelf._studio, "rendering", lambda _: gated)
    gated.let(1)
    return gated


def read(source: Source, at: int, size: int) -> bytes:
    """Bytes of a source."""
    found = b""
    while len(found) < size:
        found += source.read(at + len(found), size - len(found))
    return found


@pytest.mark.audio
@pytest.mark.parametrize("asked", ["-1", "-100001", "7000000-7000002", "9999999-"])
def test_a_real_part_is_a_slice(
    shelf: AudioShelf, client: httpx.Client, small_soundfont: Path, tmp_path: Path, asked: str
) -> None:
    """A part of a fresh song has the bytes of `write_audio`, and so has the whole after it."""
    path = tmp_path / "song.wav"
    write_audio(Synth(small_soundfont).render(SONG), path)
    expected = path.read_bytes()
    first, _, last = asked.partition("-")
    start = int(first) if first else len(expected) - int(last)
    end = int(last) + 1 if first and last else len(expected)
    place = f"/audio/{shelf.offer(SONG)}.wav"
    answer = client.get(place, headers={"range": f"bytes={asked}"})
    assert answer.status_code == 206
    assert answer.content == expected[start:end]
    assert client.get(place).content == expected


@pytest.mark.parametrize("back", [1, 2, 3, 4, 4001])
def test_it_comes_before_the_rest_is_made(shelf: AudioShelf, long: Gated, back: int) -> None:
    """With one block made, the last bytes are there, from any byte of a frame."""
    at = len(long.wav) - back
    source = shelf.open_wav(shelf.offer(SONG), at)
    source.wait_for(44)
    assert read(source, at, back) == long.wav[at:]
    source.leave()
    long.let()


def test_the_take_goes_on_when_it_has_come_so_far(shelf: AudioShelf, long: Gated) -> None:
    """Once the whole is made, nothing more is rendered in the middle; no byte is out of place."""
    at = len(long.wav) - 40 * BLOCK_BYTES - 3
    source = shelf.open_wav(shelf.offer(SONG), at)
    head = source.read(at, 100)
    long.let()
    settled(shelf)
    assert head + read(source, at + 100, len(long.wav) - at - 100) == long.wav[at:]
    assert long.ahead == 1
    source.leave()
    assert not shelf._studio._ahead


def test_what_is_near_is_waited_for(shelf: AudioShelf, long: Gated) -> None:
    """A part that is soon made is read from the one rendering."""
    source = shelf.open_wav(shelf.offer(SONG), 20 * BLOCK_BYTES)
    long.let()
    assert read(source, 20 * BLOCK_BYTES, 100) == long.wav[20 * BLOCK_BYTES :][:100]
    assert long.ahead == 0
    source.leave()


def test_only_so_many_at_once(shelf: AudioShelf, long: Gated) -> None:
    """More readers of far parts than may render wait for the take; who leaves makes room."""
    key, at = shelf.offer(SONG), len(long.wav) - 1
    sources = [shelf.open_wav(key, at) for _ in range(studio.MOST_AHEAD + 1)]
    assert [isinstance(source, Ahead) for source in sources] == [True] * studio.MOST_AHEAD + [False]
    sources[0].leave()
    sources.append(shelf.open_wav(key, at))
    assert isinstance(sources[-1], Ahead)
    long.let()
    assert [read(source, at, 1) for source in sources[1:]] == [long.wav[-1:]] * (len(sources) - 1)
    for source in sources[1:]:
        source.leave()
    settled(shelf)
    assert not shelf._studio._takes


def test_its_first_bytes_go_first(shelf: AudioShelf, long: Gated) -> None:
    """It is needed like a first note at its start, then like any sound, and not between reads."""
    needs = []

    def note(ahead: Ahead) -> None:
        needs.append(ahead.need)

    take = shelf.open_wav(shelf.offer(SONG))
    assert isinstance(take, Take)
    at = len(long.wav) - 3 * BLOCK_BYTES
    ahead = Ahead(take, at, note, lambda _: None)
    for block in range(2):
        assert ahead.need == 0
        read(ahead, at + block * BLOCK_BYTES, BLOCK_BYTES)
    assert needs == [2, 1]
    ahead.leave()
    long.let()


def test_closing_tells_its_reader(shelf: AudioShelf, long: Gated) -> None:
    """A shelf that closes ends far parts, too."""
    at = len(long.wav) - 10 * BLOCK_BYTES
    source = shelf.open_wav(shelf.offer(SONG), at)
    read(source, at, BLOCK_BYTES)
    shelf.close()
    with pytest.raises(TrainerError, match="given up"):
        source.read(at + BLOCK_BYTES, 10)
    source.leave()
    long.let()


def test_what_cannot_be_made_says_why(shelf: AudioShelf, client: httpx.Client, long: Gated) -> None:
    """A part that fails at its start is answered 503 in words; the whole goes on."""
    long.ahead_fails = True
    place = f"/audio/{shelf.offer(SONG)}.wav"
    answer = client.get(place, headers={"range": "bytes=-9"})
    assert answer.status_code == 503
    assert answer.text == "No sound: the sound could not be made: no more synths\n"
    long.let()
    assert client.get(place).content == long.wav


def test_an_arrangement_forgotten_meanwhile(
    shelf: AudioShelf, long: Gated, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A far part of a sound that is being made needs no offer any more."""
    key, at = shelf.offer(SONG), len(long.wav) - 1
    whole = shelf.open_wav(key)

    def forgotten(_: str) -> Arrangement:
        raise AssertionError("asked for again")

    monkeypatch.setattr(shelf, "_offered", forgotten)
    source = shelf.open_wav(key, at)
    assert read(source, at, 1) == long.wav[-1:]
    for one in (source, whole):
        one.leave()
    long.let()
