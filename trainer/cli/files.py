"""Reading charts and writing results for every command."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import typer

from trainer.chart import Chart, Header, parse
from trainer.errors import FileError

__all__ = ["print_json", "read_chart", "read_text"]


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


def read_chart(path: str, header: Header | None = None) -> Chart:
    """Parse a chart file; `header` holds what the text does not say."""
    return parse(
        read_text(path), header or Header(), source="standard input" if path == "-" else path
    )


def print_json(value: Any) -> None:
    """Print one JSON value on one line, keys in the order given."""
    typer.echo(json.dumps(value, ensure_ascii=False, allow_nan=False))
