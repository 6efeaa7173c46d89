"""FLAC: encoded once for all who wait, stopped when nobody does, none waiting for another."""

from __future__ import annotations

import io
import threading
from pathlib import Path
from typing import Any

import pytest
import soundfile

from tests.patience import PATIENCE_S, until
from tests.sound.pieces import song
from tests.web.audio.conftest import MakeLibrary
from tests.web.audio.gated import BLOCK_BYTES, Gated, open_flac
from tests.web.audio.reading import settled, unfinished, whole
from trainer.errors import TrainerError
from trainer.sound import files
from trainer.web.audio import AudioLibrary, flac
from trainer.web.audio.cache import AudioCache, UnfinishedFile
from trainer.web.audio.flac import FlacRequest

SLOW, QUICK = song(1, bars=2), song(2, bars=2)


@pytest.fixture
def quick(library: AudioLibrary, gated: Gated) -> str:
    """The key of a sound whose WAV is finished; the next one comes as the test lets it."""
    key = library.register(QUICK)
    gated.let(len(gated.noise))
    whole(library.open_wav(key))
    settled(library)
    return key


def waiting(request: FlacRequest) -> tuple[threading.Thread, list[object]]:
    """A thread that waits for a request; what it gets, the file or the reason."""
    found: list[object] = []

    def wait() -> None:
        try:
            request.wait()
            found.append(request.open())
        except TrainerError as error:
            found.append(str(error))

    thread = threading.Thread(target=wait)
    thread.start()
    return thread, found


def test_one_song_does_not_wait_for_another(
    library: AudioLibrary, gated: Gated, quick: str
) -> None:
    """While the WAV of one is still rendered, another is encoded and read."""
    slow = library.request_flac(library.register(SLOW))
    # Nothing is encoded beside a sound whose first bytes are still missing.
    gated.let(1)
    found = whole(open_flac(library, quick))
    samples, _ = soundfile.read(io.BytesIO(found), dtype="int16")
    assert samples.tobytes() == gated.wav[44:]
    slow.close()
    gated.let()


def test_it_is_encoded_once_for_all(
    library: AudioLibrary, gated: Gated, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Several who ask at once, and who asks later, get the one file."""
    encoded = []

    def encode(blocks: object, rate: int, path: Path, kind: str) -> None:
        encoded.append(path)
        original(blocks, rate, path, kind)  # type: ignore[arg-type]

    original = files.encode
    monkeypatch.setattr(flac, "encode", encode)
    key = library.register(SLOW)
    requests = [library.request_flac(key) for _ in range(5)]
    threads = [waiting(request) for request in requests]
    requests[0].close()
    gated.let()
    for thread, _ in threads:
        thread.join(PATIENCE_S)
    assert threads[0][1] == ["the sound was cancelled"]
    sounds = {whole(found[0]) for _, found in threads[1:]}  # type: ignore[arg-type]
    for request in requests[1:]:
        request.close()
    assert sounds == {whole(open_flac(library, key))}
    assert len(encoded) == 1


def test_it_stops_when_nobody_waits(library: AudioLibrary, gated: Gated) -> None:
    """Who hangs up ends the encoding although its WAV has not come; nothing is left of it."""
    key = library.register(SLOW)
    request = library.request_flac(key)
    gated.let(1)
    wav = library.open_wav(key)
    wav.wait_for(44 + BLOCK_BYTES - 1)
    (encoder,) = [one for one in threading.enumerate() if one.name.startswith("flac ")]
    assert {path.suffix for path in library._cache.folder.iterdir()} <= {".part", ""}
    request.close()
    request.close()
    encoder.join(PATIENCE_S)
    assert not encoder.is_alive()
    assert [path.name[:4] for path in unfinished(library)] == [library.file_name(key, "wav")[:4]]
    gated.let()
    assert whole(wav) == gated.wav
    assert whole(open_flac(library, key))


def test_what_is_followed_is_closed_when_nobody_waits(
    library: AudioLibrary, gated: Gated, quick: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who hangs up while another program encodes the sound leaves no file open."""
    cache, name, claimed = library._cache, library.file_name(quick, "flac"), []
    writing = AudioCache(cache.folder, 2**20).claim(name)
    claim = cache.claim

    def noted(*given: Any) -> UnfinishedFile:
        claimed.append(claim(*given))
        return claimed[-1]

    monkeypatch.setattr(cache, "claim", noted)
    request = library.request_flac(quick)
    until(lambda: bool(claimed), "the encoder finds the file of the other program")
    (encoder,) = [one for one in threading.enumerate() if one.name.startswith("flac ")]
    request.close()
    encoder.join(PATIENCE_S)
    assert [each.file.closed for each in claimed] == [True]
    writing.discard()


def test_it_stops_when_the_library_closes(library: AudioLibrary, gated: Gated) -> None:
    """Callers who wait get an error, and so do those who ask afterwards."""
    key = library.register(SLOW)
    request = library.request_flac(key)
    thread, found = waiting(request)
    library.stop()
    thread.join(PATIENCE_S)
    assert found
    assert "no longer read" in str(found[0]) or "was cancelled" in str(found[0])
    request.close()
    gated.let()
    settled(library)
    assert not unfinished(library)
    for again in (library.request_flac, library.open_wav):
        with pytest.raises(TrainerError, match="was cancelled"):
            again(key)


def test_a_small_cache_does_not_lose_it(
    make_library: MakeLibrary, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that passes the limit alone is read by who waited for it, and then deleted."""
    gated = Gated()
    library = make_library(limit_bytes=1000)
    monkeypatch.setattr(library._pool, "rendering", lambda _: gated)
    gated.let()
    assert len(whole(open_flac(library, library.register(SLOW)))) > 1000
    settled(library)
    assert not list(library._cache.folder.glob("*.flac"))
