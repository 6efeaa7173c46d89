"""The sounds that can be heard: registered by the pages, rendered when somebody listens, kept on
disk."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.band import Arrangement
from trainer.errors import TrainerError
from trainer.sound import TAIL_S, WAV_HEADER_BYTES, find_soundfont
from trainer.web.audio.cache import AudioCache, AudioSource, NotRegistered
from trainer.web.audio.flac import FlacEncoder, FlacRequest
from trainer.web.audio.jobs import FRAME_BYTES, wav_size
from trainer.web.audio.keys import audio_key, file_stem, load_secret, renderer_fingerprint
from trainer.web.audio.pool import RenderPool
from trainer.web.audio.routes import audio_routes
from trainer.web.audio.turns import PagesFirst

if TYPE_CHECKING:
    from fastapi import APIRouter
    from starlette.types import ASGIApp

__all__ = ["AudioInfo", "AudioLibrary", "NotRegistered"]

LIMIT_BYTES = 512 * 2**20
# Songs have up to 7,000 notes of 130 bytes or so: at most 20 MB of what was registered.
MOST_NOTES = 150_000
CLOSE_S = 1.0


@dataclass(frozen=True, slots=True)
class AudioInfo:
    """What is known of a sound before it is rendered; `error` says why it cannot be, or is None."""

    duration_s: float
    error: str | None


class AudioLibrary:
    """Sounds by key; safe to use from several threads.

    The bytes of a WAV are those that `write_audio` writes for the same arrangement. Its length is
    known before a note is rendered. It is rendered once, from its start, for all who read it, and
    can be read as far as it has come. A range far ahead of that is rendered from there until the
    whole has come so far, and has the same bytes (see `Rendering.blocks`). After `prefetch` a
    reader need not wait.

    Parameters
    ----------
    soundfont : None for the first that is found on this machine.
    folder : where finished sounds are kept between runs; it need not exist.
    limit_bytes : for all of them together.
    sample_rate : frames a second.
    secret : gives what the keys are made with, so that several processes give a sound the same key;
        None for one that is kept in the folder.
    """

    def __init__(
        self,
        soundfont: Path | None,
        folder: Path,
        limit_bytes: int = LIMIT_BYTES,
        *,
        sample_rate: int = 44100,
        secret: Callable[[], bytes] | None = None,
    ) -> None:
        self._soundfont, self._rate, self._given_secret = soundfont, sample_rate, secret
        self._cache = AudioCache(folder, limit_bytes)
        self._pool = RenderPool(soundfont, self._cache, sample_rate)
        self._lock = threading.Lock()
        self._flac = FlacEncoder(self._cache, self._pool.turns, sample_rate)
        self._registered: OrderedDict[str, Arrangement] = OrderedDict()
        self._notes = 0

    @cached_property
    def router(self) -> APIRouter:
        """GET and HEAD of `/{key}.wav` and `/{key}.flac`."""
        return audio_routes(self)

    def pages_first(self, app: ASGIApp, sounds: str = "/audio/") -> ASGIApp:
        """An application that renders nothing while it answers a request, but for a sound.

        `sounds` begins the paths at which it has the `router`.
        """
        return PagesFirst(app, self._pool.turns, sounds)

    def register(self, arrangement: Arrangement) -> str:
        """Make an arrangement ready to be asked for and return its key; nothing is rendered.

        The same sound always has the same key, so whoever sees two keys knows whether two sounds
        are the same; a page must not show the key of a learner's own chart before it is graded.
        """
        key = audio_key(self._secret, arrangement)
        with self._lock:
            if key not in self._registered:
                self._notes += _notes(arrangement)
            self._registered[key] = arrangement
            self._registered.move_to_end(key)
            while self._notes > MOST_NOTES and len(self._registered) > 1:
                self._notes -= _notes(self._registered.popitem(last=False)[1])
        return key

    def info(self, key: str) -> AudioInfo:
        """Length of a sound, and why it cannot be rendered if it cannot."""
        if (size := self._cache.size(self.file_name(key, "wav"))) is not None:
            return AudioInfo((size - WAV_HEADER_BYTES) // FRAME_BYTES / self._rate, None)
        arrangement = self._registered.get(key)
        if arrangement is None:
            return AudioInfo(0.0, "This sound is no longer here. Load the page again.")
        try:
            return AudioInfo(self._pool.rendering(arrangement).duration_s, None)
        except TrainerError as error:
            return AudioInfo(arrangement.length_s + TAIL_S, str(error))

    def prefetch(self, key: str) -> None:
        """Begin to render a sound that will soon be asked for, while nobody waits for another.

        Does nothing if it is there already, was not registered, is very long or cannot be rendered.
        """
        if self._cache.size(self.file_name(key, "wav")) is None:
            with suppress(NotRegistered, TrainerError):
                self._pool.prefetch(self.file_name(key, "wav"), self._arrangement(key))

    def make_ready(self, key: str) -> None:
        """Have a sound that may be asked for begin at once then; returns when it is ready.

        Unlike `prefetch` it renders nothing. Does nothing if the sound is there already, was not
        registered, or cannot be rendered.
        """
        if self._cache.size(self.file_name(key, "wav")) is None:
            with suppress(NotRegistered, TrainerError):
                self._pool.make_ready(self.file_name(key, "wav"), self._arrangement(key))

    def warm_up(self) -> None:
        """Load in the background what nearly every song needs; returns at once."""
        threading.Thread(target=self._pool.warm_up, name="warming up", daemon=True).start()

    def stop(self) -> None:
        """Stop rendering and tell all readers; returns at once. What is finished stays."""
        self._flac.stop()
        self._pool.stop()

    def close(self) -> None:
        """Stop, and delete what is unfinished when nothing writes to it or `CLOSE_S` is over."""
        self.stop()
        until = time.monotonic() + CLOSE_S
        self._flac.join(until)
        self._pool.join(until)
        self._cache.delete_unfinished()

    def file_name(self, key: str, kind: str) -> str:
        """The name of a sound's bytes as "wav" or "flac": the same name, the same bytes."""
        return f"{file_stem(key, self._fingerprint, self._rate)}.{kind}"

    def wav_size(self, key: str) -> int:
        """Bytes of a sound as WAV; nothing is rendered. Raises NotRegistered, TrainerError."""
        size = self._cache.size(self.file_name(key, "wav"))
        return wav_size(self._pool.rendering(self._arrangement(key))) if size is None else size

    def open_wav(self, key: str, at: int = 0) -> AudioSource:
        """A sound to read from a byte on. Raises NotRegistered, TrainerError."""
        name = self.file_name(key, "wav")
        reader = self._pool.running(name)
        if reader is None and (kept := self._cache.open(name)) is not None:
            return kept
        reader = reader or self._pool.start(name, self._arrangement(key))
        return self._pool.source_at(reader, at)

    def request_flac(self, key: str) -> FlacRequest:
        """Ask for a sound as FLAC, encoded from its WAV when that is rendered. Raises as
        `open_wav`."""
        return self._flac.request(self.file_name(key, "flac"), partial(self.open_wav, key))

    def _arrangement(self, key: str) -> Arrangement:
        with self._lock:
            if key not in self._registered:
                raise NotRegistered(key)
            return self._registered[key]

    @cached_property
    def _secret(self) -> bytes:
        if self._given_secret is not None:
            return self._given_secret()
        return load_secret(self._cache.folder)

    @cached_property
    def _fingerprint(self) -> str:
        try:
            soundfont = find_soundfont(self._soundfont)
        except TrainerError:
            return renderer_fingerprint(None)
        return renderer_fingerprint(soundfont)


def _notes(arrangement: Arrangement) -> int:
    return sum(len(part.notes) for part in arrangement.parts)
