"""A library of sounds without a synth: a tone as long as the arrangement."""

from __future__ import annotations

import math
import secrets
import struct
import wave
from dataclasses import dataclass
from pathlib import Path

from fastapi import APIRouter, HTTPException
from fastapi.responses import FileResponse

from trainer.band import Arrangement

RATE = 8000


@dataclass(frozen=True)
class FakeInfo:
    """What the page asks about a sound."""

    duration_s: float
    error: str | None = None


class FakeLibrary:
    """Offers tones. With `error` it has no sound to give, and says why."""

    def __init__(self, folder: Path, error: str | None = None) -> None:
        self.folder, self.error = folder, error
        self.registered: dict[str, Arrangement] = {}
        self.prefetched: list[str] = []
        self.ready: list[str] = []
        self.router = APIRouter()
        self.router.add_api_route("/{name}.wav", self._serve, methods=["GET", "HEAD"])

    def register(self, arrangement: Arrangement) -> str:
        """Keep an arrangement under a key that says nothing."""
        for key, known in self.registered.items():
            if known == arrangement:
                return key
        key = secrets.token_hex(8)
        self.registered[key] = arrangement
        return key

    def info(self, key: str) -> FakeInfo:
        """Length and error of what was offered."""
        arrangement = self.registered[key]
        length_s = arrangement.length_s
        return FakeInfo(length_s, self.error)

    def prefetch(self, key: str) -> None:
        """Note what was to be made ahead."""
        self.prefetched.append(key)

    def make_ready(self, key: str) -> None:
        """Note what was made ready."""
        self.ready.append(key)

    def _serve(self, name: str) -> FileResponse:
        if self.error:
            raise HTTPException(503, self.error)
        if name not in self.registered:
            raise HTTPException(404, "no such sound")
        path = self.folder / f"{name}.wav"
        if not path.exists():
            write_tone(path, self.info(name).duration_s)
        return FileResponse(path, media_type="audio/wav")


def write_tone(path: Path, length_s: float) -> None:
    """A quiet A as a WAV file."""
    period = [int(3000 * math.sin(2 * math.pi * 400 * k / RATE)) for k in range(20)]
    frames = round(length_s * RATE)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(struct.pack("<20h", *period) * (frames // 20))
