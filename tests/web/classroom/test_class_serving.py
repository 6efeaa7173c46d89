"""Where a class server listens, and the server in a process of its own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.classroom.people import WORDS
from tests.patience import until
from tests.store.samples import NOW
from tests.web.classroom.running import Running, free_port
from trainer.cli import serve
from trainer.cli.main import app
from trainer.cli.page import start_page
from trainer.errors import SettingsError
from trainer.store import NewAccount, Role, Store
from trainer.web.classroom.serving import CLASS_PORT, Place
from trainer.web.serving import DEFAULT_PORT

FORWARDED = {"host": "class.example", "x-forwarded-proto": "https"}


class TestPlace:
    @pytest.mark.parametrize(
        ("host", "public_url", "proxies", "origin"),
        [
            ("127.0.0.1", None, [], "http://127.0.0.1:8000"),
            ("localhost", None, [], "http://localhost:8000"),
            ("::1", None, [], "http://[::1]:8000"),
            ("0.0.0.0", "http://192.168.1.20:8000/", [], "http://192.168.1.20:8000"),
            ("127.0.0.1", "https://Class.Example", ["127.0.0.1"], "https://class.example"),
            ("127.0.0.1", "https://class.example:443", ["10.0.0.0/8"], "https://class.example"),
            ("127.0.0.1", "https://class.example:8443", ["::1"], "https://class.example:8443"),
        ],
    )
    def test_the_origin_is_as_browsers_write_it(
        self, host: str, public_url: str | None, proxies: list[str], origin: str
    ) -> None:
        """Scheme and host in small letters, without the usual port or a path (RFC 6454)."""
        assert Place.of(host, 8000, public_url, proxies).origin == origin

    @pytest.mark.parametrize(
        ("host", "public_url", "proxies", "option"),
        [
            ("0.0.0.0", None, [], "--host"),
            ("192.168.1.20", None, [], "--host"),
            ("127.0.0.1", "https://class.example", [], "--public-url"),
            ("127.0.0.1", "class.example", [], "--public-url"),
            ("127.0.0.1", "ftp://class.example", [], "--public-url"),
            ("127.0.0.1", "http://class.example/trainer", [], "--public-url"),
            ("127.0.0.1", "http://me@class.example", [], "--public-url"),
            ("127.0.0.1", "http://class.example:port", [], "--public-url"),
            ("127.0.0.1", "http://", [], "--public-url"),
            ("127.0.0.1", None, ["*"], "--behind-proxy"),
            ("127.0.0.1", None, ["proxy.example"], "--behind-proxy"),
        ],
    )
    def test_what_cannot_be_is_told(
        self, host: str, public_url: str | None, proxies: list[str], option: str
    ) -> None:
        """Options that contradict each other, or would let anybody say where they come from."""
        with pytest.raises(SettingsError, match=f"^{option}"):
            Place.of(host, 8000, public_url, proxies)

    def test_passwords_in_the_open_are_noticed(self) -> None:
        """Without TLS on a network; not on this machine alone, and not behind a proxy with TLS."""
        assert Place.of("0.0.0.0", 8000, "http://192.168.1.20:8000").is_open
        assert not Place.of("127.0.0.1", 8000, None).is_open
        assert not Place.of("0.0.0.0", 8000, "https://class.example", ["10.0.0.1"]).is_open

    def test_the_ports_are_apart(self) -> None:
        """A class and somebody's own page run side by side; the terminal knows the port, too."""
        assert CLASS_PORT != DEFAULT_PORT
        assert serve.CLASS_PORT == CLASS_PORT


@pytest.fixture
def behind_proxy(record: Path) -> Iterator[Running]:
    """A server behind a proxy on this machine."""
    options = ("--public-url", "https://class.example", "--behind-proxy", "127.0.0.1")
    running = Running(record, *options)
    yield running
    running.kill()


def test_a_class_is_served_behind_a_proxy(behind_proxy: Running, record: Path) -> None:
    """The first start prints a link for the owner, with which an account is made and signed in over
    TLS; the address of whoever asks is the one that the proxy hands on."""
    server = behind_proxy
    link = re.compile(r"https://class\.example/link#([\w-]{43})")
    until(lambda: link.search(server.said) is not None, "the link is told")
    token = link.search(server.said)
    assert token is not None
    form = {"token": token[1], "name": "odell", "shown": "Odell Pruitt", "password": WORDS}
    ours = {**FORWARDED, "origin": "https://class.example", "x-forwarded-for": "192.0.2.7"}
    assert server.ask("POST", "/link/account", data=form, headers=FORWARDED).status_code == 403
    answer = server.ask("POST", "/link/account", data=form, headers=ours)
    assert answer.status_code == 303, answer.text
    assert "strict-transport-security" in answer.headers
    cookies = "; ".join(
        cookie.partition(";")[0] for cookie in answer.headers.get_list("set-cookie")
    )
    assert cookies.count("__Host-") == 2
    page = server.ask("GET", "/account", headers={**FORWARDED, "cookie": cookies})
    assert page.status_code == 200
    assert server.ask("GET", "/account", headers={"cookie": cookies}).status_code == 421
    wrong = {"name": "odell", "password": "nine herons on a weir"}
    assert server.ask("POST", "/sign-in", data=wrong, headers=ours).status_code == 422
    with Store.open(record) as store:
        failures = store.sign_in_failures
        (account,) = store.accounts.all()
        number = failures.add("x", "y", account.made_at)
        since, to = (account.made_at + timedelta(days=days) for days in (-1, 1))
        found = failures.before(number, "address 192.0.2.7", since=since, until=to)
        assert found.count == 1
    assert server.stop() == 0


def test_who_is_not_the_proxy_says_nothing_of_others(record: Path) -> None:
    """Without a proxy the headers that only proxies set are not believed."""
    running = Running(record)
    try:
        host = {"host": f"127.0.0.1:{running.port}"}
        assert running.ask("GET", "/sign-in", headers=host).status_code == 200
        claimed = {**host, "x-forwarded-proto": "https", "x-forwarded-for": "192.0.2.7"}
        assert running.ask("GET", "/sign-in", headers=claimed).status_code == 200
    finally:
        assert running.stop() == 0


def test_a_class_is_not_served_without_signing_in(record: Path) -> None:
    """The page for one desk refuses the record of a class, whose people sign in."""
    with Store.open(record) as store:
        learner = store.learners.add("wren", NOW)
        store.accounts.add(learner, NewAccount("wren", "Wren", Role.LEARNER), NOW)
    with pytest.raises(SettingsError, match="chart-trainer serve"):
        start_page(data=record, browser=False, port=free_port())


class TestAccountsCommand:
    def run(self, record: Path, *line: str) -> str:
        """What a command prints."""
        done = CliRunner().invoke(app, ["accounts", *line, "--data", str(record)])
        assert done.exit_code == 0, done.output
        return done.stdout

    def test_links_and_switches(self, record: Path) -> None:
        """The one at the machine makes links, and switches accounts off and on."""
        url = ("--public-url", "https://class.example")
        assert re.fullmatch(
            r"https://class\.example/link#[\w-]{43}\n", self.run(record, "make-owner", *url)
        )
        with Store.open(record) as store:
            learner = store.learners.add("wren", NOW)
            store.accounts.add(learner, NewAccount("wren", "Wren H.", Role.LEARNER), NOW)
        assert re.fullmatch(
            r"http://127\.0\.0\.1:28468/link#[\w-]{43}\n", self.run(record, "reset-link", "WREN")
        )
        assert self.run(record, "list") == "wren: Wren H., learner\n"
        self.run(record, "disable", "wren")
        assert self.run(record, "list") == "wren: Wren H., learner, switched off\n"
        self.run(record, "enable", "wren")
        assert '"switched_off": false' in self.run(record, "list", "--json")

    def test_nobody_of_that_name(self, record: Path) -> None:
        """A name without an account is told with those that have one."""
        done = CliRunner().invoke(app, ["accounts", "disable", "wren", "--data", str(record)])
        assert isinstance(done.exception, SettingsError)
        assert "nobody yet" in str(done.exception)

    def test_where_the_record_is_may_stand_in_the_environment(self, record: Path) -> None:
        """CHART_TRAINER_DATA names the record as --data does, so that a password in a URL stands
        in no list of processes."""
        with Store.open(record) as store:
            learner = store.learners.add("wren", NOW)
            store.accounts.add(learner, NewAccount("wren", "Wren H.", Role.LEARNER), NOW)
        done = CliRunner().invoke(
            app, ["accounts", "list"], env={"CHART_TRAINER_DATA": str(record)}
        )
        assert done.stdout == "wren: Wren H., learner\n"
