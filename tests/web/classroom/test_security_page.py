"""docs/security.md is complete, and what it says of the whole program holds."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from fastapi.testclient import TestClient

from tests.web.classroom.school import School
from trainer.web.guard import Guard

ROOT = Path(__file__).parents[3]
PAGE = ROOT / "docs" / "security.md"
# How many requirements of level 1 each chapter of ASVS 5.0.0 has; 70 in all.
LEVEL_1 = {1: 8, 2: 4, 3: 8, 4: 2, 5: 4, 6: 13, 7: 6, 8: 4, 9: 4, 10: 5, 11: 3, 12: 3, 13: 1,
           14: 2, 15: 3}  # fmt: skip
# What the program does not show itself: other servers' work, and the world's.
ELSEWHERE = {"10.4.1–10.4.5", "12.2.2", "15.2.1"}


def rows() -> Iterator[tuple[str, list[str]]]:
    """The items of the table, each with the tests that it names."""
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        if match := re.match(r"\| (\d+\.\d+\.\d+[^ ]*) \|", line):
            yield match[1], re.findall(r"`(test_\w+)`", line.split("|")[4])


def names_of_tests() -> set[str]:
    """Every test's name."""
    texts = (path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("test_*.py"))
    return {name for text in texts for name in re.findall(r"def (test_\w+)", text)}


def test_security_page_is_true() -> None:
    """Every requirement of level 1 stands on the page once, and the tests that it names exist."""
    found = dict(rows())
    counts: dict[int, int] = {}
    for item in found:
        chapter = int(item.partition(".")[0])
        counts[chapter] = counts.get(chapter, 0) + (5 if "–" in item else 1)
    assert counts == LEVEL_1
    known = names_of_tests()
    assert {name for tests in found.values() for name in tests} - known == set()
    assert {item for item, tests in found.items() if not tests} == ELSEWHERE


@cache
def names_used() -> dict[str, Path]:
    """Every dotted name in the sources of the program, each with a file that has it."""
    found: dict[str, Path] = {}
    for path in (ROOT / "trainer").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Name):
                found[node.id] = path
            elif isinstance(node, ast.Attribute):
                found[ast.unparse(node)] = path
            elif isinstance(node, ast.Import | ast.ImportFrom):
                module = getattr(node, "module", "") or ""
                found |= {f"{module}.{name.name}".strip("."): path for name in node.names}
    return found


def test_no_program_is_started() -> None:
    """Nothing starts another program, runs text as code, or reads pickles."""
    banned = re.compile(r"^(?:subprocess\b|os\.(?:system|popen|exec|spawn)|eval$|exec$|pickle\b)")
    found = [f"{path}: {name}" for name, path in names_used().items() if banned.match(name)]
    assert found == []


def test_hash_functions_are_approved() -> None:
    """Of the standard library's hashes only SHA-2 and BLAKE2 are used, and nothing encrypts."""
    banned = re.compile(r"\b(?:md5|sha1|DES|AES|cryptography|Crypto)\b")
    found = [f"{path}: {name}" for name, path in names_used().items() if banned.search(name)]
    assert found == []


def test_no_other_origin_is_allowed(school: School) -> None:
    """No answer shares anything with another origin, whatever is asked (Fetch standard, CORS)."""
    client = TestClient(Guard(school.app, origin=school.origin), base_url=school.origin)
    for origin in (school.origin, "https://other.example", "null"):
        for method in ("GET", "OPTIONS"):
            asked = {"origin": origin, "access-control-request-method": "POST"}
            answer = client.request(method, "/sign-in", headers=asked)
            assert not [name for name in answer.headers if name.startswith("access-control-")]


def test_only_static_files_are_served(school: School) -> None:
    """Neither sources nor records are reached by way of the files, and no folder is listed."""
    client = school.browser()
    assert client.get("/static/base.css").status_code == 200
    for place in ("", "/", "/.git/config", "/../app.py", "/%2e%2e/app.py", "/..%2fapp.py",
                  "/../../../pyproject.toml", "//etc/passwd"):  # fmt: skip
        assert client.get(f"/static{place}").status_code in {404, 405}, place
    for place in ("/.git/config", "/.env", "/docs", "/openapi.json", "/redoc"):
        assert client.get(place).status_code == 404, place
