"""Names of sounds: the same sound always has the same name, and the name does not reveal it."""

from __future__ import annotations

import ctypes
import hashlib
import hmac
import logging
import os
import secrets
from array import array
from dataclasses import fields
from datetime import datetime
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import __version__
from trainer.band import Arrangement, Part
from trainer.errors import MissingError
from trainer.sound import RENDERING_VERSION, fluidsynth_library
from trainer.store import make_private_folder, private_opener

if TYPE_CHECKING:
    from trainer.store import Store

__all__ = [
    "SECRET_NAME",
    "audio_key",
    "file_stem",
    "load_secret",
    "renderer_fingerprint",
    "shared_secret",
]

SECRET_NAME = "secret"  # noqa: S105 - the file's name
SHARED_SECRET = "sounds"  # noqa: S105 - under which the store has it
_SECRET_BYTES, _KEY_BYTES = 32, 20
_FONT_END_BYTES = 2**18
# Notes are heard, but marked apart from the rest.
_NOT_HEARD = ("name", "notes")
_LOG = logging.getLogger(__name__)


def audio_key(secret: bytes, arrangement: Arrangement) -> str:
    """The name of an arrangement's sound, 40 hexadecimal digits.

    HMAC-SHA256 (RFC 2104) under `secret` over everything that can be heard, so nobody without the
    secret can try charts against it. Bar lines, names of parts and the like are left out. All
    processes that share the secret give a sound the same name.
    """
    mark = hmac.new(secret, digestmod=hashlib.sha256)
    tempo_map = arrangement.tempo_map
    clock = (tempo_map.seconds_per_quarter, arrangement.room_s, *tempo_map.slowings)
    mark.update(repr((clock, arrangement.length_quarters)).encode())
    for part in arrangement.parts:
        _add(mark, part)
    return mark.digest()[:_KEY_BYTES].hex()


def file_stem(key: str, origin: str, sample_rate: int) -> str:
    """The name of the bytes of a sound, 40 hexadecimal digits: another for each `origin`, which is
    what renders them (`renderer_fingerprint`)."""
    named = f"{key} {sample_rate} {origin}".encode()
    return hashlib.blake2b(named, digest_size=_KEY_BYTES).hexdigest()


def _add(mark: hmac.HMAC, part: Part) -> None:
    how = [getattr(part, field.name) for field in fields(part) if field.name not in _NOT_HEARD]
    mark.update(repr((how, len(part.notes))).encode())
    mark.update(array("d", chain.from_iterable(part.notes)).tobytes())


def renderer_fingerprint(soundfont: Path | None) -> str:
    """What besides the notes decides the bytes: program, FluidSynth and soundfont, as text.

    It is the same on every machine that has the same.
    """
    try:
        numbers = [ctypes.c_int() for _ in range(3)]
        fluidsynth_library().calls.fluid_version(*(ctypes.byref(number) for number in numbers))
        engine = ".".join(str(number.value) for number in numbers)
    except MissingError:
        engine = "none"
    font = "none" if soundfont is None else _font_mark(soundfont)
    return f"{__version__} {RENDERING_VERSION} {engine} {font}"


def _font_mark(path: Path) -> str:
    """A soundfont's size, and a digest of both ends: SF2 has its name and version at the start, and
    all its instruments at the end (SoundFont 2.04, section 4)."""
    with path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(0)
        ends = file.read(_FONT_END_BYTES)
        file.seek(max(0, size - _FONT_END_BYTES))
        ends += file.read()
    return f"{size} {hashlib.blake2b(ends, digest_size=_KEY_BYTES).hexdigest()}"


def shared_secret(store: Store, now: datetime) -> bytes:
    """The secret that every process over one database has, made by the first of them."""
    made = partial(secrets.token_hex, _SECRET_BYTES)
    return bytes.fromhex(store.server_secrets.get_or_add(SHARED_SECRET, made, now))


def load_secret(folder: Path) -> bytes:
    """The secret kept in a folder, made there the first time. Where it cannot be kept, a secret for
    this run only."""
    path = folder / SECRET_NAME
    try:
        make_private_folder(folder)
        if (kept := _read(path)) is not None:
            return kept
        made = folder / f".{SECRET_NAME}-{secrets.token_hex(4)}"
        with open(made, "xb", opener=private_opener) as file:
            file.write(secrets.token_bytes(_SECRET_BYTES))
        _move_secret(made, path)
        kept = _read(path)
    except OSError as error:
        _LOG.warning("sounds will not be kept for another run: %s", error)
        kept = None
    return kept or secrets.token_bytes(_SECRET_BYTES)


def _read(path: Path) -> bytes | None:
    """A whole secret; None if there is none."""
    if not path.exists():
        return None
    kept = path.read_bytes()
    return kept if len(kept) == _SECRET_BYTES else None


def _move_secret(made: Path, path: Path) -> None:
    """Move a new secret to its place; of two programs starting together, the first wins."""
    try:
        if path.exists():
            # Too short or too long: damaged, and what was named with it is lost anyway.
            made.replace(path)
        else:
            os.link(made, path)
    except FileExistsError:
        _LOG.debug("another program made the secret first")
    finally:
        made.unlink(missing_ok=True)
