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

from trainer.chart import Chart, ParseResult, parse, parse_tolerant
from trainer.errors import FileError, NotationError

if TYPE_CHECKING:
    from rich.console import Console

__all__ = [
    "ask_word",
    "now",
    "percent",
    "print_json",
    "progress_bar",
    "read_chart",
    "read_chart_with_questions",
    "read_line",
    "read_text",
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
        return Path(path).read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise FileError(
            f"{path}: found bytes that are not UTF-8 text (at {error.start}), expected a chart"
        ) from error
    except OSError as error:
        raise FileError(f"{path}: {error.strerror or error}, expected a chart to read") from error


def read_chart(path: str, *, letters: bool = False) -> Chart:
    """The chart in a file; with `letters`, letter names are counted in the key that it names.

    Raises NotationError for anything that is wrong in it or can be read in two ways.
    """
    return parse(read_text(path), source=source_name(path), letters=letters)


def read_chart_with_questions(path: str, *, letters: bool = False) -> ParseResult:
    """The chart in a file and what can be read in two ways; raises as `read_chart` otherwise."""
    result = parse_tolerant(read_text(path), letters=letters)
    if result.problems:
        raise NotationError(result.problems, source_name(path))
    return result


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
