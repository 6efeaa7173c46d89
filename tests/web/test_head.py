"""HEAD on every page (RFC 9110, section 9.3.2: the headers of GET, no body)."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from tests.web.fakes import FakeLibrary
from tests.web.helpers import begin
from trainer.store import Store
from trainer.web import create_app

PLACES = ["/", "/today", "/progress", "/speed", "/history", "/hearing", "/learners", "/alive"]


def same_but_for_the_body(client: TestClient, place: str) -> None:
    """Hold HEAD against GET."""
    get, head = client.get(place), client.head(place)
    assert head.status_code == get.status_code
    assert dict(head.headers) == dict(get.headers)
    assert head.content == b""


@pytest.mark.parametrize("place", [*PLACES, "/static/base.css", "/nothing", "/result/1"])
def test_a_page_answers_head(client: TestClient, place: str) -> None:
    """Status and headers are those of GET, errors and files included."""
    same_but_for_the_body(client, place)


def test_a_page_to_write_on_answers_head(client: TestClient) -> None:
    """So are those of an exercise."""
    same_but_for_the_body(client, f"/write/{begin(client, level='1', seed='1')}")


def test_a_form_answers_no_head(client: TestClient) -> None:
    """What takes only POST says so."""
    assert client.head("/begin").status_code == client.get("/begin").status_code == 405


def test_head_of_a_sound_renders_nothing(store: Store, library: FakeLibrary) -> None:
    """A sound answers HEAD itself: a GET would render it."""
    asked = []
    library.router.add_api_route("/x", lambda: asked.append("GET"), methods=["GET"])
    client = TestClient(create_app(store, library))
    assert client.head("/audio/x").status_code == 405
    assert not asked
    assert client.get("/audio/x").status_code == 200
    assert asked
