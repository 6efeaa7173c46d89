"""Runs of `chart-trainer` inside the test's own process."""

from __future__ import annotations

import io
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
import soundfile

from trainer.band import Arrangement
from trainer.cli import charts, main


class Ran(NamedTuple):
    """What a command left: exit code and what it printed."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]

REFERENCE = "key: D\n\nVerse 1:\n1 1 5 5 . 1 1 5 5 5\n4 4 1 1 . (1 5/7) 6- 4 5\n\nTag:\n4 5 1d\n"


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command line, `typed` on its standard input."""

    def run(*arguments: object, typed: str = "") -> Ran:
        monkeypatch.setattr(sys, "argv", ["chart-trainer", *map(str, arguments)])
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        capsys.readouterr()
        try:
            main()
            code = 0
        except SystemExit as leaving:
            code = leaving.code if isinstance(leaving.code, int) else int(bool(leaving.code))
        out, err = capsys.readouterr()
        return Ran(code, out, err)

    return run


@pytest.fixture(autouse=True)
def copied_stores(monkeypatch: pytest.MonkeyPatch, sqlite_template: Path) -> None:
    """A command that makes a store copies an empty one; tests.store tests how it is made."""

    def make(path: Path, *_: object) -> None:
        shutil.copy2(sqlite_template, path)

    monkeypatch.setattr("trainer.store.store.make_file", make)


@pytest.fixture
def silent_files(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sound that goes into a file is silence of the right length, which needs no synth."""

    def write(arrangement: Arrangement, out: Path, soundfont: Path | None = None) -> dict[str, Any]:
        del soundfont
        made = charts._facts(arrangement)
        soundfile.write(out, np.zeros(round(8000 * made["duration_s"])), 8000)
        return made

    monkeypatch.setattr(charts, "render_audio", write)


@pytest.fixture
def reference(tmp_path: Path) -> Path:
    """A chart file to work with."""
    path = tmp_path / "levee.txt"
    path.write_text(REFERENCE, encoding="utf-8")
    return path
