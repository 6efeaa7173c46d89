"""The pages of accounts as HTML, and as texts that people read."""

from __future__ import annotations

import re
from collections import Counter

import html5lib
import pytest

from tests.readability import flesch_kincaid_grade
from tests.web.classroom.matrix import requests
from tests.web.classroom.school import School
from tests.web.test_reading_level import HARDEST, main_of, sentences
from trainer.store import Role

# Under such a name a page must not show what only its escaping keeps from being markup.
EVIL = "<script>alert('1')</script>\" onclick=\"x"
PLACES = ("/sign-in", "/join", "/link", "/privacy", "/account", "/account/delete", "/people",
          "/people/log")  # fmt: skip


@pytest.fixture
def pages(school: School) -> dict[str, str]:
    """Every page of accounts, with somebody on it whose name is markup."""
    wren = school.account("wren")
    school.server.accounts.set_shown_name(wren, EVIL)
    nobody, owner = school.browser(), school.signed_in("odell", Role.OWNER)
    found = {place: (nobody if place in PLACES[:4] else owner).get(place).text for place in PLACES}
    new, reset = school.server.accounts.owner_link(), school.server.accounts.reset_link(wren, None)
    found["new account"] = nobody.post("/link", data={"token": new}).text
    found["new password"] = nobody.post("/link", data={"token": reset}).text
    found["link made"] = owner.post(f"/people/{wren.uid}/reset").text
    found["delete somebody"] = owner.get(f"/people/{wren.uid}/delete").text
    return found


def test_every_page_is_valid(pages: dict[str, str]) -> None:
    """A strict parser finds no error, no id stands twice, and no script or style is inline."""
    for name, text in pages.items():
        html5lib.HTMLParser(strict=True).parse(text)
        ids = Counter(re.findall(r'\bid="([^"]+)"', text))
        assert [each for each, count in ids.items() if count > 1] == [], name
        assert re.findall(r"<script(?![^>]*\bsrc=)|<style|\bstyle=|\son[a-z]+=\"", text) == [], name


def test_names_are_text(pages: dict[str, str]) -> None:
    """What somebody calls themselves is shown as it was typed, and is never markup."""
    assert "&lt;script&gt;alert" in pages["/people"]
    for name, text in pages.items():
        assert "<script>alert" not in text, name


def test_pages_are_read_with_ease(pages: dict[str, str]) -> None:
    """The sentences of every page are at most of the grade that all our pages keep to."""
    for name, text in pages.items():
        found = " ".join(sentences(main_of(text)))
        assert not found or flesch_kincaid_grade(found) <= HARDEST, name


def test_fields_say_what_they_are_for(pages: dict[str, str]) -> None:
    """Passwords are masked, and browsers and password managers know what to fill in (HTML, section
    4.10.18.7.1; OWASP ASVS 5.0, 6.2.6 and 6.2.7)."""
    seen = Counter[str]()
    for text in pages.values():
        for field in re.findall(r'<input[^>]*name="(?:password|new)"[^>]*>', text):
            assert 'type="password"' in field
            (kind,) = re.findall(r'autocomplete="([\w-]+)"', field)
            seen[kind] += 1
            assert "onpaste" not in field
    assert set(seen) == {"current-password", "new-password"}
    assert 'autocomplete="username"' in pages["/sign-in"]


def test_texts_name_their_encoding(school: School) -> None:
    """Every answer that is text says in which encoding (OWASP ASVS 5.0, 4.1.1)."""
    client = school.signed_in("odell", Role.OWNER)
    kinds = Counter[str]()
    for one in requests(school.app):
        if one.method == "GET" and "{" not in one.path:
            kind = client.get(one.path).headers.get("content-type", "no body")
            kinds[kind] += 1
            if kind.startswith("text/"):
                assert "charset=utf-8" in kind, one
    assert kinds["text/html; charset=utf-8"] > 10
