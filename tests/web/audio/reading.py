"""What the tests of the library read, wait for and look at."""

from __future__ import annotations

import threading
from pathlib import Path

from tests.patience import PATIENCE_S
from trainer.web.audio import AudioLibrary
from trainer.web.audio.cache import AudioSource


def whole(source: AudioSource) -> bytes:
    """All bytes of a source, which is left."""
    found = b""
    try:
        while len(found) < source.size:
            found += source.read(len(found), 2**16)
    finally:
        source.close()
    return found


def settled(library: AudioLibrary) -> None:
    """Wait until nothing is being made."""
    for thread in threading.enumerate():
        if thread.name.startswith(("sound ", "flac ")):
            thread.join(PATIENCE_S)
            assert not thread.is_alive()


def unfinished(library: AudioLibrary) -> list[Path]:
    """Files that are being written."""
    return list(library._cache.folder.glob("*.part"))
