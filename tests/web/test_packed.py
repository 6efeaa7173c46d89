"""Scripts and styles as they are sent."""

from __future__ import annotations

import gzip
import re
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.web.helpers import begin
from trainer.web.packed import COMMENT, PackedFiles, without_comments

STATIC = files("trainer.web") / "static"
# Less than the page weighed, unpacked, before lessons and the songbook came.
MOST_SENT = 56_000


def sent(client: TestClient, place: str, coding: str = "gzip", **headers: str) -> Any:
    """A file as it is sent to a browser that takes a coding."""
    asked = {"accept-encoding": coding} | {key.replace("_", "-"): v for key, v in headers.items()}
    return client.get(f"/static/{place}", headers=asked)


def sent_bytes(client: TestClient, place: str) -> int:
    """How many bytes of a file are sent, by its own header."""
    return int(client.get(place).raise_for_status().headers["content-length"])


def test_both_forms_are_the_file(shared_client: TestClient) -> None:
    """Scripts and styles come packed to whoever takes gzip, and plainly to all others; both are the
    file without its comments, of the same type."""
    for place, kind in (("write.js", "text/javascript"), ("base.css", "text/css")):
        own = (STATIC / place).read_text("utf-8")
        packed, plain = sent(shared_client, place), sent(shared_client, place, "identity")
        assert packed.headers["content-encoding"] == "gzip"
        assert "content-encoding" not in plain.headers
        assert int(packed.headers["content-length"]) < len(own) / 2
        assert packed.text == plain.text == without_comments(own)
        for answer in (packed, plain):
            assert answer.headers["content-type"].startswith(kind)
            assert answer.headers["vary"] == "Accept-Encoding"


def test_comments_alone_are_left_out() -> None:
    """A comment goes where it has its lines to itself; all other lines stay, each where it was."""
    code, cast = "let a = 1; // three", "/** @type {B} */ (b).c();"
    text = f"// one\n/** two\n * more */\n{code}\n  /* four */\n{cast}\n"
    kept = f"\n\n\n{code}\n\n{cast}\n"
    assert without_comments(text) == kept


@pytest.mark.parametrize(
    "path", sorted(Path(str(STATIC)).glob("*.[jc]s*")), ids=lambda path: path.name
)
def test_no_file_has_a_text_that_looks_like_a_comment(path: Path) -> None:
    """Nothing that is left out stands within a template literal or goes on after it, and what is
    left is as long as before, in lines."""
    text = path.read_text("utf-8")
    for comment in COMMENT.finditer(text):
        assert text.count("`", 0, comment.start()) % 2 == 0 or path.suffix == ".css", comment[0]
        assert "*/" not in comment[0].rstrip()[:-2], comment[0]
    assert without_comments(text).count("\n") == text.count("\n")


@pytest.mark.parametrize("coding", ["", "br", "gzip;q=0", "gzip; q=0.0, br", "x-gzip2"])
def test_who_does_not_take_gzip_is_sent_none(shared_client: TestClient, coding: str) -> None:
    """Nothing is packed for a browser that does not name gzip or refuses it (RFC 9110, section
    12.5.3)."""
    assert "content-encoding" not in sent(shared_client, "write.js", coding).headers


def test_a_file_that_a_browser_has_is_not_sent_again(shared_client: TestClient) -> None:
    """Each form has a tag of its own, by which the browser is told that it has that form."""
    tags = [
        sent(shared_client, "write.js", coding).headers["etag"] for coding in ("gzip", "identity")
    ]
    assert len(set(tags)) == 2
    for coding, tag, other in (("gzip", *tags), ("identity", *tags[::-1])):
        answer = sent(shared_client, "write.js", coding, if_none_match=tag)
        assert (answer.status_code, answer.content) == (304, b"")
        assert answer.headers["etag"] == tag
        assert sent(shared_client, "write.js", coding, if_none_match=other).status_code == 200


def test_a_file_that_changes_is_packed_again(tmp_path: Path) -> None:
    """A file is packed as it stands now, and pictures and what is missing as before."""
    app = FastAPI()
    app.mount("/static", PackedFiles(directory=tmp_path))
    client = TestClient(app)
    for text in ("let one = 1;", "let two = 22;"):
        (tmp_path / "a.js").write_text(text, "utf-8")
        assert sent(client, "a.js").text == text
    (tmp_path / "a.png").write_bytes(gzip.compress(b"no picture"))
    assert "content-encoding" not in sent(client, "a.png").headers
    assert sent(client, "b.js").status_code == 404


def test_a_page_to_write_on_comes_quickly(shared_client: TestClient) -> None:
    """The page to write on is sent with all its scripts and styles in under 56 kB."""
    page = shared_client.get(f"/write/{begin(shared_client, level='52', seed='2')}")
    waiting = set(re.findall(r'"(/static/[^"]+)"', page.text))
    found: dict[str, int] = {}
    while waiting:
        place = waiting.pop()
        found[place] = sent_bytes(shared_client, place)
        modules = re.findall(r'from "\./([^"]+)"', shared_client.get(place).text)
        waiting |= {f"/static/{module}" for module in modules} - found.keys()
    assert len(page.content) + sum(found.values()) < MOST_SENT
