"""What can be heard: offered by the pages, made when somebody listens, kept on disk."""

from __future__ import annotations

import logging
import threading
from collections import OrderedDict
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, cast

from trainer.band import Arrangement
from trainer.errors import TrainerError
from trainer.sound import Rendering, find_soundfont, write_audio
from trainer.sound.files import WAV_HEADER_BYTES
from trainer.sound.rendering import TAIL_S
from trainer.web.audio.cache import AudioCache, AudioSource, CachedFile
from trainer.web.audio.jobs import FRAME_BYTES, wav_size
from trainer.web.audio.keys import audio_key, load_secret, renderer_fingerprint
from trainer.web.audio.pool import RenderPool

if TYPE_CHECKING:
    from fastapi import APIRouter

__all__ = ["AudioInfo", "AudioLibrary", "NotRegistered"]

LIMIT_BYTES = 512 * 2**20
# Songs have up to 7,000 notes of 130 bytes or so: at most 20 MB of what was offered.
MOST_NOTES = 150_000
_READ_BYTES = 2**17
_LOG = logging.getLogger(__name__)


class NotRegistered(LookupError):
    """No sound of this key: never offered, or offered so long ago that it was forgotten."""


@dataclass(frozen=True, slots=True)
class AudioInfo:
    """What is known of a sound before it is made; `error` says why it cannot be, or is None."""

    duration_s: float
    error: str | None


class AudioLibrary:
    """Sounds by key; safe to use from several threads.

    What holds: the bytes of a WAV are those that `write_audio` writes for the same arrangement.
    Its length is known before a note is made. It is made once, from its start, at full speed, for
    all who read it, and every byte goes out as soon as it is made. A range far ahead of the
    rendering is rendered from there until the whole has come so far, and has the same bytes (see
    `Rendering.blocks`). `prepare` takes the wait away.

    Parameters
    ----------
    soundfont : None for the first that is found on this machine.
    folder : where finished sounds are kept between runs; it need not exist.
    limit_bytes : for all of them together.
    sample_rate : frames a second.
    """

    def __init__(
        self,
        soundfont: Path | None,
        folder: Path,
        limit_bytes: int = LIMIT_BYTES,
        *,
        sample_rate: int = 44100,
    ) -> None:
        self._soundfont, self._rate = soundfont, sample_rate
        self._cache = AudioCache(folder, limit_bytes)
        self._pool = RenderPool(soundfont, self._cache, sample_rate)
        self._lock = threading.Lock()
        self._encoding = threading.Lock()
        self._registered: OrderedDict[str, Arrangement] = OrderedDict()
        self._notes = 0

    @cached_property
    def router(self) -> APIRouter:
        """GET and HEAD of `/{key}.wav` and `/{key}.flac`."""
        from trainer.web.audio.routes import audio_routes

        return audio_routes(self)

    def register(self, arrangement: Arrangement) -> str:
        """Make an arrangement ready to be asked for and give its key; nothing is rendered.

        The same sound always has the same key, so who sees two keys knows whether two sounds are
        the same; a page must not show the key of a learner's own chart before it is graded.
        """
        key = audio_key(self._secret, arrangement, self._fingerprint, self._rate)
        with self._lock:
            if key not in self._registered:
                self._notes += _notes(arrangement)
            self._registered[key] = arrangement
            self._registered.move_to_end(key)
            while self._notes > MOST_NOTES and len(self._registered) > 1:
                self._notes -= _notes(self._registered.popitem(last=False)[1])
        return key

    def info(self, key: str) -> AudioInfo:
        """Length of a sound, and why it cannot be made if it cannot."""
        if (path := self._cache.find(f"{key}.wav")) is not None:
            frames = (path.stat().st_size - WAV_HEADER_BYTES) // FRAME_BYTES
            return AudioInfo(frames / self._rate, None)
        arrangement = self._registered.get(key)
        if arrangement is None:
            return AudioInfo(0.0, "This sound is no longer here. Load the page again.")
        try:
            return AudioInfo(self._pool.rendering(arrangement).duration_s, None)
        except TrainerError as error:
            length_s = arrangement.tempo_map.seconds(arrangement.length_quarters)
            return AudioInfo(length_s + TAIL_S, str(error))

    def prefetch(self, key: str) -> None:
        """Begin to make a sound that will soon be asked for, while nobody waits for another.

        Does nothing if it is there already, was not offered or cannot be made.
        """
        if self._cache.find(f"{key}.wav") is None:
            with suppress(NotRegistered, TrainerError):
                self._pool.start(f"{key}.wav", self._arrangement(key)).leave()

    def warm_up(self) -> None:
        """Load in the background what nearly every song needs; returns at once."""
        threading.Thread(target=self._pool.warm_up, name="warming", daemon=True).start()

    def close(self) -> None:
        """Stop what is being made. What is finished stays."""
        self._pool.close()

    def wav_size(self, key: str) -> int:
        """Bytes of a sound as WAV, known without making it. Raises NotRegistered, TrainerError."""
        if (path := self._cache.find(f"{key}.wav")) is not None:
            return path.stat().st_size
        return wav_size(self._pool.rendering(self._arrangement(key)))

    def open_wav(self, key: str, at: int = 0) -> AudioSource:
        """A sound to read from a byte on. Raises NotRegistered, TrainerError."""
        name = f"{key}.wav"
        if (job := self._pool.running(name)) is not None:
            return self._pool.ahead(job, at)
        if (kept := self._kept(name)) is not None:
            return kept
        return self._pool.ahead(self._pool.start(name, self._arrangement(key)), at)

    def open_flac(self, key: str) -> AudioSource:
        """A sound as FLAC, encoded from its WAV when that is made. Raises as `open_wav`."""
        name = f"{key}.flac"
        with self._encoding:
            if (kept := self._kept(name)) is not None:
                return kept
            wav = self.open_wav(key)
            try:
                path = self._cache.folder / name
                # `write_audio` takes of a rendering its rate and its blocks.
                write_audio(cast("Rendering", _Replay(wav, self._rate)), path)
                self._cache.finish(path, name)
                return CachedFile(self._cache, path)
            except OSError as error:
                raise TrainerError(f"the sound cannot be kept as FLAC: {error}") from error
            finally:
                wav.leave()

    def _kept(self, name: str) -> CachedFile | None:
        path = self._cache.find(name)
        if path is not None:
            # Thrown away between finding and opening: it is made again.
            with suppress(FileNotFoundError):
                return CachedFile(self._cache, path)
        return None

    def _arrangement(self, key: str) -> Arrangement:
        with self._lock:
            if key not in self._registered:
                raise NotRegistered(key)
            return self._registered[key]

    @cached_property
    def _secret(self) -> bytes:
        return load_secret(self._cache.folder)

    @cached_property
    def _fingerprint(self) -> str:
        try:
            soundfont = find_soundfont(self._soundfont)
        except TrainerError:
            return renderer_fingerprint(None)
        return renderer_fingerprint(soundfont)


@dataclass(frozen=True)
class _Replay:
    """The blocks of a WAV that is being made or kept."""

    wav: AudioSource
    sample_rate: int

    def __iter__(self) -> Iterator[memoryview]:
        at = WAV_HEADER_BYTES
        while at < self.wav.size:
            data = self.wav.read(at, _READ_BYTES)
            at += len(data)
            yield memoryview(data).cast("h", [len(data) // FRAME_BYTES, 2])


def _notes(arrangement: Arrangement) -> int:
    return sum(len(part.notes) for part in arrangement.parts)
