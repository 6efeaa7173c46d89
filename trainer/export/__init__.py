"""A chart exported as a file for others: the band's parts as MIDI, or the canonical text.

The file's suffix names the format.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable
from pathlib import Path

from trainer.band import arrange, to_midi
from trainer.chart import Chart, format_chart
from trainer.errors import FileError

__all__ = ["EXPORT_FORMATS", "export_chart"]


def _write_text(chart: Chart, path: Path, band: str, seed: int, tempo: float | None) -> None:
    del band, seed, tempo
    path.write_text(format_chart(chart), encoding="utf-8")


def _write_midi(chart: Chart, path: Path, band: str, seed: int, tempo: float | None) -> None:
    arrangement = arrange(chart, rng=random.Random(seed), band=band, tempo=tempo)
    to_midi(arrangement).write(str(path))


EXPORT_FORMATS: dict[str, Callable[[Chart, Path, str, int, float | None], None]] = {
    ".mid": _write_midi,
    ".txt": _write_text,
}


def export_chart(
    chart: Chart, path: Path, *, band: str = "full", seed: int = 0, tempo: float | None = None
) -> None:
    """Write a chart to a file; an older file is replaced only by a whole new one.

    `.mid` holds the parts of the band (`band`, `seed` and `tempo` as in `band.arrange`), `.txt` the
    canonical text. Raises FileError if the suffix is none of EXPORT_FORMATS or the file cannot be
    written.
    """
    write = EXPORT_FORMATS.get(path.suffix.lower())
    if write is None:
        raise FileError(
            f"{path}: found the ending {path.suffix or 'none'!r}, expected one of "
            + ", ".join(EXPORT_FORMATS)
        )
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".export-") as folder:
            whole = Path(folder) / path.name
            write(chart, whole, band, seed, tempo)
            whole.replace(path)
    except OSError as error:
        raise FileError(f"{path}: cannot be written: {error.strerror or error}") from error
