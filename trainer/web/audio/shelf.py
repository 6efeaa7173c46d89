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
from trainer.web.audio.cache import Cache
from trainer.web.audio.keys import key_of, origin_of, secret_in
from trainer.web.audio.sources import Kept, Source
from trainer.web.audio.studio import Studio
from trainer.web.audio.take import FRAME_BYTES, wav_size

if TYPE_CHECKING:
    from fastapi import APIRouter

__all__ = ["AudioInfo", "AudioShelf", "NotOffered"]

LIMIT_BYTES = 512 * 2**20
# Songs have up to 7,000 notes of 130 bytes or so: at most 20 MB of what was offered.
MOST_NOTES = 150_000
_READ_BYTES = 2**17
_LOG = logging.getLogger(__name__)


class NotOffered(LookupError):
    """No sound of this key: never offered, or offered so long ago that it was forgotten."""


@dataclass(frozen=True, slots=True)
class AudioInfo:
    """What is known of a sound before it is made; `error` says why it cannot be, or is None."""

    duration_s: float
    error: str | None


class AudioShelf:
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
        self._cache = Cache(folder, limit_bytes)
        self._studio = Studio(soundfont, self._cache, sample_rate)
        self._lock = threading.Lock()
        self._encoding = threading.Lock()
        self._offers: OrderedDict[str, Arrangement] = OrderedDict()
        self._notes = 0

    @cached_property
    def router(self) -> APIRouter:
        """GET and HEAD of `/{key}.wav` and `/{key}.flac`."""
        from trainer.web.audio.routes import routes_of

        return routes_of(self)

    def offer(self, arrangement: Arrangement) -> str:
        """Make an arrangement ready to be asked for and give its key; nothing is rendered.

        The same sound always has the same key, so who sees two keys knows whether two sounds are
        the same; a page must not show the key of a learner's own chart before it is graded.
        """
        key = key_of(self._secret, arrangement, self._origin, self._rate)
        with self._lock:
            if key not in self._offers:
                self._notes += _notes(arrangement)
            self._offers[key] = arrangement
            self._offers.move_to_end(key)
            while self._notes > MOST_NOTES and len(self._offers) > 1:
                self._notes -= _notes(self._offers.popitem(last=False)[1])
        return key

    def info(self, key: str) -> AudioInfo:
        """Length of a sound, and why it cannot be made if it cannot."""
        if (path := self._cache.find(f"{key}.wav")) is not None:
            frames = (path.stat().st_size - WAV_HEADER_BYTES) // FRAME_BYTES
            return AudioInfo(frames / self._rate, None)
        arrangement = self._offers.get(key)
        if arrangement is None:
            return AudioInfo(0.0, "This sound is no longer here. Load the page again.")
        try:
            return AudioInfo(self._studio.rendering(arrangement).duration_s, None)
        except TrainerError as error:
            length_s = arrangement.tempo_map.seconds(arrangement.length_quarters)
            return AudioInfo(length_s + TAIL_S, str(error))

    def prepare(self, key: str) -> None:
        """Begin to make a sound that will soon be asked for, while nobody waits for another.

        Does nothing if it is there already, was not offered or cannot be made.
        """
        if self._cache.find(f"{key}.wav") is None:
            with suppress(NotOffered, TrainerError):
                self._studio.take(f"{key}.wav", self._offered(key)).leave()

    def warm(self) -> None:
        """Load in the background what nearly every song needs; returns at once."""
        threading.Thread(target=self._studio.warm, name="warming", daemon=True).start()

    def close(self) -> None:
        """Stop what is being made. What is finished stays."""
        self._studio.close()

    def wav_size(self, key: str) -> int:
        """Bytes of a sound as WAV, known without making it. Raises NotOffered, TrainerError."""
        if (path := self._cache.find(f"{key}.wav")) is not None:
            return path.stat().st_size
        return wav_size(self._studio.rendering(self._offered(key)))

    def open_wav(self, key: str, at: int = 0) -> Source:
        """A sound to read from a byte on, being made or kept. Raises NotOffered, TrainerError."""
        name = f"{key}.wav"
        if (take := self._studio.running(name)) is not None:
            return self._studio.ahead(take, at)
        if (kept := self._kept(name)) is not None:
            return kept
        return self._studio.ahead(self._studio.take(name, self._offered(key)), at)

    def open_flac(self, key: str) -> Source:
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
                return Kept(self._cache, path)
            except OSError as error:
                raise TrainerError(f"the sound cannot be kept as FLAC: {error}") from error
            finally:
                wav.leave()

    def _kept(self, name: str) -> Kept | None:
        path = self._cache.find(name)
        if path is not None:
            # Thrown away between finding and opening: it is made again.
            with suppress(FileNotFoundError):
                return Kept(self._cache, path)
        return None

    def _offered(self, key: str) -> Arrangement:
        with self._lock:
            if key not in self._offers:
                raise NotOffered(key)
            return self._offers[key]

    @cached_property
    def _secret(self) -> bytes:
        return secret_in(self._cache.folder)

    @cached_property
    def _origin(self) -> str:
        try:
            soundfont = find_soundfont(self._soundfont)
        except TrainerError:
            return origin_of(None)
        return origin_of(soundfont)


@dataclass(frozen=True)
class _Replay:
    """The blocks of a WAV that is being made or kept."""

    wav: Source
    sample_rate: int

    def __iter__(self) -> Iterator[memoryview]:
        at = WAV_HEADER_BYTES
        while at < self.wav.size:
            data = self.wav.read(at, _READ_BYTES)
            at += len(data)
            yield memoryview(data).cast("h", [len(data) // FRAME_BYTES, 2])


def _notes(arrangement: Arrangement) -> int:
    return sum(len(part.notes) for part in arrangement.parts)
