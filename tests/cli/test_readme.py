"""The worked drill in README is what the program does."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

from tests.cli.conftest import Run

README = Path(__file__).parents[2] / "README.md"
TYPED = re.compile(r"<b>(.*)</b>")


def worked_drill() -> tuple[list[str], list[str], list[str]]:
    """The command's arguments, the lines typed in bold, and all printed lines of the block."""
    block = README.read_text(encoding="utf-8").split("<pre>\n", 1)[1].split("</pre>")[0]
    lines = block.splitlines()
    typed = [html.unescape(found[1]) for line in lines if (found := TYPED.search(line))]
    printed = [html.unescape(line) for line in lines if not TYPED.search(line)]
    command, *chart = typed
    return command.split()[1:], chart, printed


@pytest.mark.audio
def test_the_worked_drill_is_true(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Typing what README's drill types prints what README's drill shows."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    arguments, typed, shown = worked_drill()
    assert typed[-1] == "done"
    # The hearing caution is shown once, before the first drill.
    assert run("today", "--show", "--data", tmp_path).code == 0
    ran = run(*arguments, "--data", tmp_path, typed="".join(f"{line}\n" for line in typed))
    assert ran.code == 0
    assert [line.rstrip() for line in ran.out.splitlines()] == shown
