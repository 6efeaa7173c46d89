"""The worked drill in README is what the program does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.cli.conftest import Run

README = Path(__file__).parents[2] / "README.md"
TYPED = re.compile(r" {1,2}\d  (.+)")


def worked_drill() -> tuple[list[str], list[str], list[str]]:
    """The command's arguments, the lines typed, and all other lines of the block."""
    block = README.read_text(encoding="utf-8").split("## A drill", 1)[1].split("```")[1]
    command, *rest = block.strip().splitlines()
    typed = [found[1] for line in rest if (found := TYPED.fullmatch(line))]
    return command.split()[2:], typed, [line for line in rest if not TYPED.fullmatch(line)]


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
