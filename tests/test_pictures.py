"""The pictures of docs/ and the table they are made from."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

from scripts.class_picture_table import BETWEEN_SYSTEMS, CLASS_PAGES, class_pages_text
from scripts.picture_table import PAGES, README_PICTURES, SHEET, pages_text

DOCS = Path(__file__).parent.parent / "docs"


def test_every_page_of_the_program_has_a_picture() -> None:
    """Each template that is a page of its own is in a table, and none that is gone."""
    templates = files("trainer.web") / "templates"
    pages = {
        one.name for one in templates.iterdir() if '{% extends "base.html" %}' in one.read_text()
    }
    assert {one.template for one in (*PAGES, *CLASS_PAGES)} | set(BETWEEN_SYSTEMS) == pages


def test_the_pages_of_pages_are_the_tables() -> None:
    """docs/pages.md and docs/class-pages.md say what the tables say."""
    assert (DOCS / "pages.md").read_text("utf-8") == pages_text()
    assert (DOCS / "class-pages.md").read_text("utf-8") == class_pages_text()


def test_every_picture_is_there() -> None:
    """docs/ holds the pictures of the tables and, under pages/ and class/, no others."""
    assert {path.stem for path in (DOCS / "pages").iterdir()} == {one.name for one in PAGES}
    assert {path.stem for path in (DOCS / "class").iterdir()} == {one.name for one in CLASS_PAGES}
    assert [
        one.name for one in (*README_PICTURES, SHEET) if not (DOCS / f"{one.name}.png").exists()
    ] == []


def test_readme_says_what_its_pictures_show() -> None:
    """README shows each of its pictures under the caption of the table."""
    readme = " ".join((DOCS.parent / "README.md").read_text("utf-8").split())
    shown = dict(re.findall(r"!\[([^\]]*)\]\(docs/([\w-]+)\.png\)", readme))
    assert {one.caption: one.name for one in (*README_PICTURES, SHEET)} == shown


def test_pictures_are_small() -> None:
    """All pictures of docs/ together are below 4.5 megabytes: each clone takes them along."""
    assert sum(path.stat().st_size for path in DOCS.rglob("*.png")) < 4_500_000
