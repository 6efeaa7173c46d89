"""Two server processes over one database: a learner's requests go from one to the other."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest

from tests.databases import KINDS
from tests.web.classroom.running import MAIN, Browser, Running, add_people, running
from trainer.store import Store

CHART = "1 4 5 1"
# Notes every sound that a server has rendered to its end, and renders none to warm up.
PROGRAM = f"""
import os, trainer.cli.page
from trainer.web.audio.pool import RenderPool
trainer.cli.page.WARM_UP_AFTER_S = 10**6
render = RenderPool._render_blocks
def noted(self, job):
    render(self, job)
    if job.finished:
        with open(os.environ["RENDERED"], "a") as out:
            out.write(job.name + chr(10))
RenderPool._render_blocks = noted
{MAIN}
"""


@dataclass(frozen=True)
class Together:
    """Two servers over one database, on one machine or on two; `rendered` names their sounds."""

    servers: list[Running]
    machines: int
    rendered: Path


@pytest.fixture(scope="module", params=KINDS)
def together(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Together]:
    """SQLite has one machine; with PostgreSQL each process has one of its own."""
    folder = tmp_path_factory.mktemp("together")
    if request.param == "sqlite":
        location: Path | str = folder / "record"
        homes: list[Path | None] = [None, None]
    else:
        server = request.getfixturevalue("postgresql_server")
        name = server.make()
        location, homes = server.url(name), [folder / "one", folder / "two"]
    with Store(location) as store:
        add_people(store, "wren", "zoe", "jory")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("RENDERED", str(folder / "rendered"))
        with running(location, homes=homes, program=PROGRAM) as servers:
            yield Together(servers, len(set(homes)), folder / "rendered")
    if not isinstance(location, Path):
        server.drop(name)


@pytest.fixture
def both(together: Together) -> list[Running]:
    """The two servers."""
    return together.servers


@pytest.fixture
def wren(both: list[Running]) -> Iterator[Browser]:
    """A learner who is signed in."""
    browser = Browser(both)
    browser.sign_in("wren")
    yield browser
    browser.close()


def begin(browser: Browser, seed: str) -> str:
    """Begin an exercise; its id."""
    answer = browser.ask("POST", "/begin", data={"level": "1", "seed": seed})
    assert answer.status_code == httpx.codes.SEE_OTHER, answer.text
    return answer.headers["location"].removeprefix("/write/")


def field(page: str, name: str) -> str:
    """The value of a hidden field."""
    return page.partition(f'name="{name}" value="')[2].partition('"')[0]


def song_url(page: str) -> str:
    """The address of the song on a page to write on."""
    found = re.search(r'<audio id="song"[^>]* src="([^"]+)"', page)
    assert found is not None, page
    return found[1].replace("&amp;", "&")


def test_an_exercise_from_its_beginning_to_its_result(both: list[Running], wren: Browser) -> None:
    """Begin, listen, resume, write, hand in and read the result, each request at the other process
    than the one before; what one was told the other knows."""
    one, two = both
    exercise = begin(wren, "7")
    page = wren.ask("GET", f"/write/{exercise}", one).text
    token = field(page, "token")
    how = {"token": token}
    listened = wren.ask("POST", f"/write/{exercise}/listen", two, params=how)
    assert listened.status_code == 200, listened.text
    heard = {**how, "position_s": "2.5"}
    assert wren.ask("POST", f"/write/{exercise}/heard", one, params=heard).status_code == 204
    resumed = wren.ask("GET", f"/write/{exercise}", two).text
    assert 'data-position="2.5"' in resumed
    assert field(resumed, "token") == token
    typed = {"token": token, "text": "1 4"}
    assert wren.ask("PUT", f"/write/{exercise}/draft", two, data=typed).status_code == 204
    assert "1 4</textarea>" in wren.ask("GET", f"/write/{exercise}", one).text
    places = [
        wren.ask("POST", f"/write/{exercise}", server, data={"token": token, "text": CHART})
        for server in (one, two)
    ]
    assert len({place.headers["location"] for place in places}) == 1
    result = wren.ask("GET", places[0].headers["location"], two)
    assert result.status_code == 200


def test_a_sound_is_heard_from_either(both: list[Running], wren: Browser) -> None:
    """Any process plays what another one's page offers: the whole, ranges that go from one to the
    other, and at another speed, as WAV and FLAC."""
    one, two = both
    exercise = begin(wren, "8")
    place = song_url(wren.ask("GET", f"/write/{exercise}", one).text)
    slow = wren.ask("GET", f"/write/{exercise}/sound", two, params={"speed": "50"}).json()["url"]
    whole = wren.ask("GET", place, two)
    assert whole.status_code == 200, whole.text
    assert whole.content[:4] == b"RIFF"
    half = len(whole.content) // 2
    rest = wren.ask(
        "GET",
        place,
        one,
        headers={"range": f"bytes={half}-", "if-range": whole.headers["etag"]},
    )
    assert rest.status_code == 206
    assert rest.content == whole.content[half:]
    assert wren.ask("GET", slow, one).status_code == 200
    assert wren.ask("GET", place.replace(".wav", ".flac"), one).content[:4] == b"fLaC"


def test_a_song_that_is_being_typed_is_heard_from_either(
    both: list[Running], wren: Browser
) -> None:
    """What one process was sent in a form, and stored nowhere, the other one plays."""
    one, two = both
    song = wren.ask("POST", "/songbook/new", one, data={"text": CHART}).headers["location"]
    form = {"text": "1 1 4 5", "key": "D"}
    answer = wren.ask("POST", f"{song}/sound", two, data=form)
    assert answer.status_code == 200, answer.text
    assert wren.ask("GET", answer.json()["url"], one).status_code == 200


def test_an_address_opens_nothing_to_others(both: list[Running], wren: Browser) -> None:
    """The process that does not know a sound asks its page on behalf of whoever wants it: somebody
    else gets nothing by the address, nor does a key that was made up, or nobody."""
    one, two = both
    place = song_url(wren.ask("GET", f"/write/{begin(wren, '9')}", one).text)
    zoe, nobody = Browser(both), Browser(both)
    zoe.sign_in("zoe")
    assert zoe.ask("GET", place, two).status_code == 404
    page = place.partition("?")[2]
    assert wren.ask("GET", f"/audio/{'0' * 40}.wav?{page}", two).status_code == 404
    for strange in ("/audio/x.wav", "//other.example/", "x", "/sign-out", ""):
        answer = wren.ask("GET", f"/audio/{'0' * 40}.wav", two, params={"from": strange})
        assert answer.status_code == 404, strange
    assert nobody.ask("GET", place, two).status_code == 303
    assert wren.ask("GET", place, two).status_code == 200
    for browser in (zoe, nobody):
        browser.close()


def test_signing_out_ends_it_everywhere(both: list[Running], wren: Browser) -> None:
    """Whoever signs out at one process is signed out at the other, with the cookie they had."""
    cookies = dict(wren.cookies)
    for server in both:
        assert wren.ask("GET", "/account", server).status_code == 200
    assert wren.ask("POST", "/sign-out", both[0]).status_code == 303
    wren.cookies.update(cookies)
    for server in both:
        assert wren.ask("GET", "/account", server).status_code == 303


def test_failed_sign_ins_are_counted_together(both: list[Running]) -> None:
    """Tries at a name wait by what all processes have seen of them."""
    browser = Browser(both)
    wrong = {"name": "jory", "password": "nine herons on a weir"}
    said = [browser.ask("POST", "/sign-in", data=wrong).status_code for _ in range(7)]
    browser.close()
    assert set(said[:5]) == {422}
    assert 429 in said[5:]


def test_a_class_renders_a_song_once(together: Together) -> None:
    """Learners who hear the same song from two processes at once, and all that was heard before,
    have each sound rendered once on each machine."""
    places = []
    for name in ("wren", "zoe"):
        browser = Browser(together.servers)
        browser.sign_in(name)
        exercise = begin(browser, seed="11")
        places += [
            (browser, server, song_url(browser.ask("GET", f"/write/{exercise}", server).text))
            for server in together.servers
        ]
    with ThreadPoolExecutor() as threads:
        answers = threads.map(lambda one: one[0].ask("GET", one[2], one[1]), places)
        sounds = [answer.content for answer in answers]
    assert sounds[0][:4] == b"RIFF"
    assert len(set(sounds)) == 1
    for browser, *_ in places:
        browser.close()
    done = Counter(together.rendered.read_text().split())
    assert done
    assert max(done.values()) == together.machines, done
