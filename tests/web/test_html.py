"""Pages as documents: parsed strictly by html5lib (the HTML standard's parsing rules)."""

from __future__ import annotations

import re
from collections import Counter
from importlib.resources import files

import html5lib
import pytest
from fastapi.testclient import TestClient

from tests.web.helpers import begin, read_pages

PAGE_LIMIT_BYTES = 150_000


@pytest.fixture(scope="module")
def pages(shared_client: TestClient) -> dict[str, str]:
    """The text of every page in a state that shows most of it."""
    return read_pages(shared_client)


PAGES = (
    "start", "write", "level", "result", "history", "begin", "handout", "hearing", "today", "speed",
    "progress", "learners", "delete", "rename", "error", "lessons", "lesson", "question",
    "answered", "done", "signs", "what",
)  # fmt: skip


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_valid(pages: dict[str, str], name: str) -> None:
    """A strict parser finds no error, and no id stands twice."""
    text = pages[name]
    html5lib.HTMLParser(strict=True).parse(text)
    ids = Counter(re.findall(r'\bid="([^"]+)"', text))
    assert [name for name, count in ids.items() if count > 1] == []


def test_a_preview_is_valid(shared_client: TestClient) -> None:
    """The fragment of a sheet parses strictly inside a section."""
    exercise_id = begin(shared_client, level="3", seed="1")
    text = "Verse & <co>:\n1 (4 5/7) (1''' 5-') . 4d 5^7p 1c x\n[2/4] 5 [up 2] 1"
    drawn = shared_client.post(f"/preview/{exercise_id}", content=text).text
    html5lib.HTMLParser(strict=True).parseFragment(drawn, container="section")


@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_inline_or_from_elsewhere(pages: dict[str, str], name: str) -> None:
    """A page has no script or style of its own and loads from its own server only."""
    text = pages[name]
    assert re.findall(r"<script(?![^>]*\bsrc=)", text) == []
    assert re.findall(r"<style|\bstyle=|\son[a-z]+=", text) == []
    loaded = re.findall(r'\b(?:src|href|action)="([^"]*)"', text)
    assert [place for place in loaded if not re.match(r"/(?!/)|#", place)] == []


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_light(shared_client: TestClient, pages: dict[str, str], name: str) -> None:
    """A page with all its scripts and styles, sound aside, is under 150 KB unpacked."""
    text = pages[name]
    waiting = set(re.findall(r'"(/static/[^"]+)"', text))
    seen: dict[str, int] = {}
    while waiting:
        place = waiting.pop()
        answer = shared_client.get(place)
        assert answer.status_code == 200, place
        seen[place] = len(answer.content)
        modules = re.findall(r'from "\./([^"]+)"', answer.text)
        waiting |= {f"/static/{module}" for module in modules} - seen.keys()
    assert len(text.encode()) + sum(seen.values()) < PAGE_LIMIT_BYTES


def test_modules_are_short() -> None:
    """Each script is under 150 lines."""
    static = files("trainer.web") / "static"
    lengths = {
        path.name: path.read_text("utf-8").count("\n")
        for path in static.iterdir()
        if path.name.endswith(".js")
    }
    assert {name: length for name, length in lengths.items() if length >= 150} == {}
