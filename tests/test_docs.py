from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer.main

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
TEXTS = {".cfg", ".css", ".html", ".ini", ".js", ".json", ".mako", ".md", ".py", ".toml", ".txt"}
FOLDERS = ("trainer", "tests", "exercises", "scripts", ".ci")

# Nothing of where the program is made belongs in it, nor anything left undone. Written so that
# this file does not hold the words itself.
BANNED = {
    "left undone": r"\b(?:TO[D]O|FIX[M]E|XX[X]|HA[C]K)\b|NotImplemente[d]Error|mark\.ski[p]\(",
    "where it is made": r"(?<![\w.])/(?:wor[k]|roo[t]|tmp/brie[f])\b/?",
    "a registry's host": r"pypi\.or[g]|pythonhoste[d]|deb\.debia[n]|registry\.npmj[s]|index-ur[l]",
    "a source": r"(?i)seed[ ]documen[t]|\btran[s]cripts?\b|practitioner's (?:vide[o]|recordin[g])",
}


def _files() -> Iterator[Path]:
    # In a second working tree of a repository, Git's own folder is a file.
    ours = (path for path in ROOT.iterdir() if path.name != ".git" and path.name[:9] != ".coverage")
    yield from (path for path in ours if path.is_file())
    for folder in FOLDERS:
        for path in (ROOT / folder).rglob("*"):
            if path.is_file() and (path.suffix in TEXTS or folder in ("scripts", ".ci")):
                yield path


@pytest.mark.parametrize("reason", BANNED)
def test_no_banned_words(reason: str) -> None:
    """No file of the project holds a word that does not belong in it."""
    pattern = re.compile(BANNED[reason])
    found = []
    for path in _files():
        # The page for contributors alone may say what the program was made from.
        if reason == "a source" and path.name == "DEVELOPERS.md":
            continue
        for number, line in enumerate(path.read_text("utf-8", "replace").splitlines(), 1):
            if match := pattern.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {match[0]!r} ({reason})")
    assert not found, "\n" + "\n".join(found)


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_links_lead_somewhere(page: str) -> None:
    """Each relative link of a page names a file that exists."""
    text = (ROOT / page).read_text(encoding="utf-8")
    links = re.findall(r"\]\((?!https?:|mailto:|#)([^)#\s]+)", text)
    assert [link for link in links if not (ROOT / link).exists()] == []


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_named_scripts_exist(page: str) -> None:
    """Each script that a page names is there, and those without a suffix can be run."""
    text = (ROOT / page).read_text(encoding="utf-8")
    names = set(re.findall(r"\bscripts/[a-z_]+(?:\.py)?", text))
    assert names
    assert [name for name in sorted(names) if not (ROOT / name).is_file()] == []
    commands = [name for name in sorted(names) if not name.endswith(".py")]
    assert [name for name in commands if not (ROOT / name).stat().st_mode & 0o100] == []


def test_every_command_is_in_the_readme() -> None:
    """README shows each command of the program as it is typed."""
    from trainer.cli.main import app

    group = typer.main.get_command(app)
    commands = sorted(getattr(group, "commands", {}))
    text = README.read_text(encoding="utf-8")
    assert commands
    shown = r"(?:chart-trainer |scripts/run |`){}\b"
    assert [name for name in commands if not re.search(shown.format(name), text)] == []


def test_scripts_are_posix() -> None:
    """Each shell script starts as POSIX sh and stops at the first failure."""
    scripts = [path for path in (ROOT / "scripts").iterdir() if path.is_file() and not path.suffix]
    assert scripts
    for script in scripts:
        text = script.read_text(encoding="utf-8")
        assert text.startswith("#!/bin/sh\n"), script
        assert "\nset -eu\n" in text, script
