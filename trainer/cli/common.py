"""What several commands share: reading charts and lines, printing JSON, numbers and progress."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from trainer.chart import (
    Chart,
    Header,
    ParseResult,
    format_chart,
    parse,
    parse_tolerant,
)
from trainer.chart.text_file import TEXT_SUFFIXES, decode_text
from trainer.errors import FileError, NotationError

if TYPE_CHECKING:
    from rich.console import Console

    from trainer.export import ReadFile, Unsaid

__all__ = [
    "ask_word",
    "now",
    "percent",
    "print_json",
    "progress_bar",
    "read_chart",
    "read_chart_text",
    "read_chart_with_questions",
    "read_import",
    "read_line",
    "read_text",
    "unsaid_by_file",
]


def now() -> datetime:
    """The moment, aware and in UTC."""
    return datetime.now(UTC)


def percent(share: float) -> str:
    """A share (0 to 1) in per cent as people read it; only all of it is 100%.

    >>> percent(0.999), percent(1.0)
    ('99%', '100%')
    """
    from trainer.grade import whole_percent

    return f"{whole_percent(share)}%"


def read_text(path: str) -> str:
    """The text of a file, or of standard input for "-". Raises FileError."""
    if path == "-":
        return sys.stdin.read()
    try:
        content = Path(path).read_bytes()
    except OSError as error:
        raise FileError(f"{path}: {error.strerror or error}, expected a chart to read") from error
    # All ends of lines are made one, as for a file that is opened as text.
    return "\n".join(decode_text(content, path).replace("\r\n", "\n").split("\r"))


def read_chart(path: str, *, letters: bool = False, unsaid: Unsaid | None = None) -> Chart:
    """The chart in a file; with `letters`, letter names are counted in the key that it names.

    A file in another format, known by its suffix, becomes a chart; what is lost is printed on
    standard error. `unsaid` holds where the file says nothing. Raises NotationError for anything
    that is wrong in a chart's text or can be read in two ways, and FileError for other files.
    """
    imported = read_import(path, unsaid)
    if imported is not None:
        return imported.chart
    header = None if unsaid is None else _header(unsaid)
    return parse(_notation(path), header, source=source_name(path), letters=letters)


def read_chart_with_questions(
    path: str, *, letters: bool = False, unsaid: Unsaid | None = None
) -> ParseResult:
    """The chart in a file and what can be read in two ways; raises as `read_chart` otherwise."""
    header = None if unsaid is None else _header(unsaid)
    result = parse_tolerant(_notation(path), header, letters=letters)
    if result.problems:
        raise NotationError(result.problems, source_name(path))
    return result


def read_import(path: str, unsaid: Unsaid | None = None) -> ReadFile | None:
    """The chart in a file of another format, None for a chart's own text.

    What could not be read is printed on standard error, one line for each place.
    """
    # The usual files of charts need none of the readers, which take a moment to load.
    if path == "-" or Path(path).suffix.lower() in TEXT_SUFFIXES:
        return None
    from trainer.export import import_chart, is_import_file

    if not is_import_file(Path(path)):
        return None
    read = import_chart(Path(path), unsaid)
    for problem in read.problems:
        typer.echo(f"{path}: {problem}", err=True)
    return read


def read_chart_text(path: str) -> str:
    """The text of a chart as it is typed, or that of a file in another format."""
    imported = read_import(path)
    return read_text(path) if imported is None else format_chart(imported.chart)


def unsaid_by_file(key: str | None, meter: str | None, tempo: float | None) -> Unsaid | None:
    """What a person says for a file that does not say it; None for nothing.

    Raises SettingsError or ChartError for a value that no chart can have.
    """
    from trainer.export import Unsaid

    if key is None and meter is None and tempo is None:
        return None
    return Unsaid.typed(key, meter, tempo)


def _notation(path: str) -> str:
    """The text of a chart. Raises FileError for XML, which has other endings."""
    text = read_text(path)
    if text.lstrip("\ufeff \n").startswith("<"):
        raise FileError(
            f"{source_name(path)}: found XML, expected a chart as text; the name of a MusicXML "
            "file ends in .musicxml, .xml or .mxl"
        )
    return text


def _header(unsaid: Unsaid) -> Header | None:
    """The same for a chart's own text: letters are only read in a key that somebody said."""
    if unsaid.key is None:
        return None
    usual = Header()
    return Header("", unsaid.meter or usual.meter, unsaid.tempo or usual.tempo, None, unsaid.key)


def source_name(path: str) -> str:
    """What a file is called in a message."""
    return "standard input" if path == "-" else path


def read_line(prompt: str) -> str | None:
    """One line from the person; None at the end of the input. Prompts on a terminal only."""
    if sys.stdin.isatty():
        try:
            return input(prompt)
        except EOFError:
            return None
    line = sys.stdin.readline()
    return line.rstrip("\r\n") if line else None


def ask_word(console: Console, prompt: str, words: Sequence[str]) -> str:
    """Return the word at a prompt, one of `words`, of which the first is "" for Enter.

    Anything else is asked again; the end of the input is "stop".
    """
    while True:
        line = read_line(prompt)
        word = "stop" if line is None else line.strip().lower()
        if word in words:
            return word
        choices = ", ".join(words[1:])
        console.print(
            f"{word[:40]!r} isn't one of the choices. Press Enter, or type one of: {choices}",
            markup=False,
        )


def print_json(value: Any) -> None:
    """Print one JSON value on one line, keys in the order given."""
    typer.echo(json.dumps(value, ensure_ascii=False, allow_nan=False))


@contextmanager
def progress_bar(what: str, total: int) -> Iterator[Callable[[int], None]]:
    """Show progress on standard error while the block runs, on a terminal only.

    The value takes the amount that is done, out of `total`.
    """
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=total)
        yield lambda done: bar.update(task, completed=done)
