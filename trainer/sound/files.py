"""Renderings written as files: WAV and FLAC, 16-bit stereo."""

from __future__ import annotations

import os
import secrets
import struct
from collections.abc import Callable, Generator, Iterable
from contextlib import closing
from pathlib import Path

from trainer.errors import FileError, InputError
from trainer.sound.loudness import LoudnessMeter
from trainer.sound.rendering import Block, Rendering

__all__ = ["AUDIO_FORMATS", "WAV_HEADER_BYTES", "encode", "wav_header", "write_audio"]

AUDIO_FORMATS = {".wav": "WAV", ".flac": "FLAC"}
WAV_HEADER_BYTES = 44
_CHANNELS, _BYTES = 2, 2
_FLAC_LEVEL = 5 / 8


def wav_header(frames: int, sample_rate: int = 44100) -> bytes:
    """The 44 bytes that come before `frames` 16-bit stereo frames in a WAV file.

    The layout is RIFF WAVE with one `fmt ` chunk (PCM) and one `data` chunk, little-endian. Raises
    InputError if the file would be larger than the 4 GiB that its length field can express.
    """
    frame = _CHANNELS * _BYTES
    data = frames * frame
    if data + WAV_HEADER_BYTES - 8 >= 2**32:
        raise InputError(f"a WAV file of {frames} frames: found {data} bytes, expected under 4 GiB")
    return struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        b"RIFF", data + WAV_HEADER_BYTES - 8, b"WAVE",
        b"fmt ", 16, 1, _CHANNELS, sample_rate, sample_rate * frame, frame, 8 * _BYTES,
        b"data", data,
    )  # fmt: skip


def write_audio(
    rendering: Rendering,
    path: str | os.PathLike[str],
    *,
    progress: Callable[[int], None] | None = None,
    meter: LoudnessMeter | None = None,
) -> None:
    """Write a rendering as WAV or FLAC, by the path's extension.

    The file appears whole or not at all: it is written under another name beside its place and then
    renamed; after any error the unfinished file is removed.

    Parameters
    ----------
    progress : called with the frames done so far, after each block; the rendering has `frames`.
    meter : is given every block, so that one rendering serves for file and loudness.

    Raises
    ------
    InputError (another extension), FileError (the file cannot be written).
    """
    target = Path(path)
    if target.suffix.lower() not in AUDIO_FORMATS:
        raise InputError(
            f"audio file {target}: found extension {target.suffix!r}, expected one "
            "of " + ", ".join(AUDIO_FORMATS)
        )
    # A name of its own beside the target, so that two writers never share one.
    partial = target.with_name(f".{target.stem}-{secrets.token_hex(8)}{target.suffix.lower()}")
    try:
        # Created like any new file: the system applies the umask, which threads must not change.
        os.close(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
    except OSError as error:
        raise FileError(f"audio file {target}: {error.strerror or error}") from error
    try:
        with closing(_counted(rendering, progress, meter)) as blocks:
            encode(blocks, rendering.sample_rate, partial, AUDIO_FORMATS[partial.suffix])
        partial.replace(target)
    except OSError as error:
        raise FileError(f"audio file {target}: {error.strerror or error}") from error
    finally:
        partial.unlink(missing_ok=True)


def encode(
    blocks: Iterable[Block | memoryview], sample_rate: int, path: Path, audio_format: str
) -> None:
    """Write 16-bit stereo blocks, shape (n, 2), to a file as "WAV" or "FLAC".

    An existing file is written over and keeps its rights. Raises OSError.
    """
    import soundfile

    level = _FLAC_LEVEL if audio_format == "FLAC" else None
    try:
        with soundfile.SoundFile(
            path,
            "w",
            sample_rate,
            _CHANNELS,
            "PCM_16",
            format=audio_format,
            compression_level=level,
        ) as file:
            for block in blocks:
                file.write(block)
    except soundfile.SoundFileError as error:
        raise OSError(None, str(error)) from error


def _counted(
    rendering: Rendering, progress: Callable[[int], None] | None, meter: LoudnessMeter | None
) -> Generator[Block]:
    """The blocks of a rendering; each is told to `progress` and `meter` after it was written."""
    done = 0
    with closing(rendering.blocks()) as blocks:
        for block in blocks:
            yield block
            done += len(block)
            if meter is not None:
                meter.add(block)
            if progress is not None:
                progress(done)
