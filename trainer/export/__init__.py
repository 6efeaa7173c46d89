"""Charts as files for others, and files of others as charts.

The suffix names the format. `midi` has the band's parts, `labels` its chords in seconds (`harte`
is their syntax), `chordpro` text with chords in brackets; `musicxml` is slash notation (`rhythm`)
under chords (`harmony`, `kinds`, `xml_keys`). `sheet` prints charts: `sheet_signs` draws each bar,
`sheet_lines` and `sheet_layout` put all bars on paper, and `typesetting` has Typst draw them by
`sheet.typ`; `unprintable` finds what no font can print.

What is read becomes a `score` of measures first: `musicxml_file` reads XML within limits
(`xml_file`, `xml_values`) into measures (`musicxml_read`, `harmony_read`), `chordpro_read` and
`labels_read` read text. `repeats` finds the order of play and `score_chart` makes the chart, with
what is said to the players by `score_words`. `problems` is the report of what was lost, `settings`
what a person says of a file.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from trainer.chart import Chart, format_chart, format_letters
from trainer.chart.text_file import decode_text
from trainer.errors import FileError, SettingsError
from trainer.export.chordpro import write_chordpro
from trainer.export.chordpro_read import read_chordpro
from trainer.export.labels import write_labels
from trainer.export.labels_read import read_labels
from trainer.export.midi import write_midi
from trainer.export.musicxml import write_musicxml, write_mxl
from trainer.export.musicxml_file import read_musicxml
from trainer.export.problems import ReadFile, ReadingProblem
from trainer.export.settings import Unsaid, Writing
from trainer.export.sheet import SheetSettings, write_set, write_sheet, write_sheets
from trainer.export.sheet_signs import Names
from trainer.export.typesetting import SheetFormat
from trainer.export.unprintable import unprintable_note

__all__ = [
    "EXPORT_FORMATS",
    "IMPORT_FORMATS",
    "SHEET_FORMATS",
    "Names",
    "ReadFile",
    "ReadingProblem",
    "SheetSettings",
    "Unsaid",
    "Writing",
    "chart_as_file",
    "chart_in_file",
    "export_chart",
    "export_set",
    "import_chart",
    "is_import_file",
    "unprintable_note",
    "write_set",
    "write_sheet",
    "write_sheets",
]

F = TypeVar("F")
MOST_TEXT_BYTES = 2 * 2**20


def _text(chart: Chart, writing: Writing) -> bytes:
    """The chart's text; letters come with the line that says so, without which no reader takes them
    for chords."""
    if not writing.letters:
        return format_chart(chart).encode()
    key = f"\nkey: {chart.key}\n"
    return format_letters(chart).replace(key, f"{key}chords: letters\n", 1).encode()


def _midi(chart: Chart, writing: Writing) -> bytes:
    if writing.letters is not None:
        named = "letters" if writing.letters else "numbers"
        raise SettingsError(".mid", named, "no choice, since the format has no names of chords")
    return write_midi(chart, band=writing.band, seed=writing.seed, tempo=writing.tempo)


def _labels(chart: Chart, writing: Writing) -> bytes:
    if writing.letters is False:
        raise SettingsError(".lab", "numbers", "letters, the only names that the format has")
    return write_labels(chart, writing.tempo).encode()


def _sheet(suffix: SheetFormat) -> Callable[[Chart, Writing], bytes]:
    def write(chart: Chart, writing: Writing) -> bytes:
        return write_sheet(chart, _sheet_settings(writing), suffix)

    return write


def _sheet_settings(writing: Writing) -> SheetSettings:
    """How a sheet is printed; `letters` goes before the names that the sheet's own settings say."""
    if writing.letters is None:
        return writing.sheet
    return replace(writing.sheet, names=Names.LETTERS if writing.letters else Names.NUMBERS)


SHEET_FORMATS: dict[str, Callable[[Chart, Writing], bytes]] = {
    ".pdf": _sheet("pdf"),
    ".png": _sheet("png"),
    ".svg": _sheet("svg"),
}
EXPORT_FORMATS: dict[str, Callable[[Chart, Writing], bytes]] = {
    ".mid": _midi,
    ".txt": _text,
    ".musicxml": lambda chart, writing: write_musicxml(chart, letters=bool(writing.letters)),
    ".mxl": lambda chart, writing: write_mxl(chart, letters=bool(writing.letters)),
    ".cho": lambda chart, writing: write_chordpro(
        chart, letters=writing.letters is not False
    ).encode(),
    ".lab": _labels,
    **SHEET_FORMATS,
}


def chart_as_file(chart: Chart, suffix: str, writing: Writing | None = None) -> bytes:
    """The content of a file with a chart in the format of a suffix, one of EXPORT_FORMATS.

    `.mid` holds the parts of the band, `.lab` its chords in seconds, `.txt` the chart's own text,
    `.musicxml`, `.mxl` and `.cho` what their formats are, and `.pdf`, `.png` and `.svg` the printed
    sheet. Chords are numbers, in `.cho` and `.lab`
    letters, unless `writing` says otherwise. Raises FileError for another suffix, and SettingsError
    for names that a format lacks.
    """
    return _known(EXPORT_FORMATS, suffix, "")(chart, writing or Writing())


def export_chart(chart: Chart, path: Path, writing: Writing | None = None) -> None:
    """Write a chart to a file; an older file is replaced only by a whole new one.

    The suffix says in which format, as in `chart_as_file`. Raises FileError if it is unknown or the
    file cannot be written, and SettingsError for names that a format lacks.
    """
    write = _known(EXPORT_FORMATS, path.suffix, f"{path}: ")
    _write_whole(path, write(chart, writing or Writing()))


def export_set(
    charts: Sequence[Chart], path: Path, writing: Writing | None = None, title: str = "Set"
) -> None:
    """Write several charts as one PDF with a list in front.

    Raises FileError for another suffix or if the file cannot be written, and SettingsError for no
    charts.
    """
    if path.suffix.lower() != ".pdf":
        found = path.suffix or "none"
        raise FileError(f"{path}: found the ending {found!r}, expected .pdf for several charts")
    _write_whole(path, write_set(charts, _sheet_settings(writing or Writing()), title))


def _write_whole(path: Path, content: bytes) -> None:
    """Write a file beside its place first, so that no half of it is ever there."""
    try:
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=".export-") as folder:
            whole = Path(folder) / path.name
            whole.write_bytes(content)
            whole.replace(path)
    except OSError as error:
        raise FileError(f"{path}: cannot be written: {error.strerror or error}") from error


def _known(formats: dict[str, F], suffix: str, where: str) -> F:
    """The function for a suffix. Raises FileError for one that has none."""
    found = formats.get(suffix.lower())
    if found is None:
        expected = ", ".join(formats)
        raise FileError(f"{where}found the ending {suffix or 'none'!r}, expected one of {expected}")
    return found


def _decoded(content: bytes, source: str) -> str:
    """The text of a file in UTF-8, within the limit."""
    if len(content) > MOST_TEXT_BYTES:
        found = f"{len(content):,} bytes"
        raise FileError(f"{source}: found {found}, expected at most {MOST_TEXT_BYTES:,}")
    return decode_text(content, source)


IMPORT_FORMATS: dict[str, Callable[[bytes, str, Unsaid], ReadFile]] = {
    ".musicxml": read_musicxml,
    ".xml": read_musicxml,
    ".mxl": read_musicxml,
    ".lab": lambda content, source, unsaid: read_labels(_decoded(content, source), source, unsaid),
    **dict.fromkeys(
        (".cho", ".chordpro", ".chopro", ".crd", ".pro"),
        lambda content, source, unsaid: read_chordpro(_decoded(content, source), source, unsaid),
    ),
}


def is_import_file(path: Path) -> bool:
    """Whether a file is in a format of others, by its suffix."""
    return path.suffix.lower() in IMPORT_FORMATS


def chart_in_file(content: bytes, name: str, unsaid: Unsaid | None = None) -> ReadFile:
    """The chart in the content of a file in a format of others, with a report of what was lost.

    The suffix of `name` says in which format, and messages begin with `name`. `unsaid` holds where
    the file says nothing. Raises FileError if the suffix is none of IMPORT_FORMATS or the content
    is not what it says.
    """
    read = _known(IMPORT_FORMATS, Path(name).suffix, f"{name}: ")
    return read(content, name, unsaid or Unsaid())


def import_chart(path: Path, unsaid: Unsaid | None = None) -> ReadFile:
    """Read a file in a format of others, as `chart_in_file`. Raises FileError."""
    _known(IMPORT_FORMATS, path.suffix, f"{path}: ")
    try:
        content = path.read_bytes()
    except OSError as error:
        raise FileError(f"{path}: {error.strerror or error}, expected a chart to read") from error
    return chart_in_file(content, str(path), unsaid)
