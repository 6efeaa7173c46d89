"""The documented nginx in front of a class server: `docs/hosting/nginx.conf` as it stands, with
other names, ports and a certificate made for the test."""

from __future__ import annotations

import os
import re
import shutil
import ssl
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.classroom.people import WORDS
from tests.patience import PATIENCE_S, waiting
from tests.web.classroom.running import MAIN, Running, add_people, free_port
from trainer.store import Store

EXAMPLE = Path(__file__).parents[3] / "docs" / "hosting" / "nginx.conf"
NAME = "class.example"
LACKING = "nginx is not installed: apt-get install nginx (Debian)"
# Renders two blocks of each sound, and the rest once the file GATE is there.
GATED = f"""
import os, threading, trainer.cli.page
from trainer.web.audio.jobs import RenderJob
trainer.cli.page.WARM_UP_AFTER_S = 10**6
add = RenderJob.add
def gated(self, data):
    self.blocks = getattr(self, "blocks", 0) + 1
    while self.blocks > 3 and not os.path.exists(os.environ["GATE"]) and not self.stopped:
        threading.Event().wait(0.01)
    add(self, data)
RenderJob.add = gated
{MAIN}
"""


@dataclass
class Proxied:
    """nginx over TLS in front of a server that keeps its record in `record`."""

    tls_port: int
    plain_port: int
    client: httpx.Client
    record: Path
    gate: Path

    @property
    def origin(self) -> str:
        """How people reach it."""
        return f"https://{NAME}:{self.tls_port}"

    def ask(self, method: str, place: str, **how: Any) -> httpx.Response:
        """Ask over TLS; the certificate has to be that of the name."""
        headers = {"host": f"{NAME}:{self.tls_port}", "origin": self.origin, "accept": "text/html"}
        return self.client.send(
            self.client.build_request(
                method, f"https://127.0.0.1:{self.tls_port}{place}",
                headers=headers | how.pop("headers", {}),
                extensions={"sni_hostname": NAME}, **how,
            ), stream=True,
        )  # fmt: skip

    def read(self, method: str, place: str, **how: Any) -> httpx.Response:
        """Ask, and read all of the answer."""
        answer = self.ask(method, place, **how)
        answer.read()
        answer.close()
        return answer


def make_certificate(folder: Path) -> tuple[Path, Path]:
    """A certificate for `NAME`, signed by its own key; and that key."""
    certificate, key = folder / "class.pem", folder / "class.key"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
         "-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}",
         "-out", certificate, "-keyout", key],
        check=True, capture_output=True,
    )  # fmt: skip
    return certificate, key


def configuration(folder: Path, ports: dict[str, int], certificate: Path, key: Path) -> Path:
    """The documented example within a whole configuration that stays in a folder."""
    text = EXAMPLE.read_text("utf-8")
    for was, becomes in (
        ("127.0.0.1:28468", f"127.0.0.1:{ports['server']}"),
        ("listen 443 ssl", f"listen 127.0.0.1:{ports['tls']} ssl"),
        ("listen 80", f"listen 127.0.0.1:{ports['plain']}"),
        ("/etc/ssl/class.example.pem", str(certificate)),
        ("/etc/ssl/class.example.key", str(key)),
    ):
        assert text.count(was) == 1, was
        text = text.replace(was, becomes)
    kept = [f"{name}_temp_path {folder / name};" for name in
            ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")]  # fmt: skip
    user = "user root;" if os.geteuid() == 0 else ""
    whole = folder / "whole.conf"
    whole.write_text(
        f"{user} worker_processes 1; daemon off; pid {folder / 'pid'}; error_log stderr;\n"
        f"events {{}}\nhttp {{ access_log off; {' '.join(kept)}\n{text}\n}}\n"
    )
    return whole


@pytest.fixture(scope="module")
def proxied(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Proxied]:
    """The server behind nginx. The second process of the example is not running."""
    nginx = shutil.which("nginx", path=f"{os.environ['PATH']}:/usr/sbin")
    if nginx is None:
        pytest.skip(LACKING)
    folder = tmp_path_factory.mktemp("proxied")
    ports = {name: free_port() for name in ("tls", "plain", "server")}
    certificate, key = make_certificate(folder)
    whole = configuration(folder, ports, certificate, key)
    with Store(folder / "record") as store:
        add_people(store, "wren")
    process = subprocess.Popen([nginx, "-c", whole, "-p", folder, "-e", folder / "errors"])
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("GATE", str(folder / "gate"))
        url = f"https://{NAME}:{ports['tls']}"
        server = Running(
            folder / "record", "--public-url", url, "--behind-proxy", "127.0.0.1",
            port=ports["server"], program=GATED,
        )  # fmt: skip
    context = ssl.create_default_context(cafile=str(certificate))
    client = httpx.Client(trust_env=False, timeout=PATIENCE_S, verify=context)
    made = Proxied(ports["tls"], ports["plain"], client, folder / "record", folder / "gate")
    try:
        for _ in waiting("nginx answers"):
            try:
                assert made.read("GET", "/alive").status_code == 204
                break
            except httpx.ConnectError:
                assert process.poll() is None
        yield made
    finally:
        client.close()
        server.kill()
        process.terminate()
        process.wait(PATIENCE_S)


@pytest.fixture
def signed_in(proxied: Proxied) -> Proxied:
    """The same with a learner signed in."""
    answer = proxied.read("POST", "/sign-in", data={"name": "wren", "password": WORDS})
    assert answer.status_code == 303, answer.text
    return proxied


def test_cookies_are_for_tls_alone(proxied: Proxied) -> None:
    """Signing in through the proxy sets Secure cookies of this host, and browsers stay on TLS."""
    answer = proxied.read("POST", "/sign-in", data={"name": "wren", "password": WORDS})
    cookies = answer.headers.get_list("set-cookie")
    assert len(cookies) == 2
    for cookie in cookies:
        assert cookie.startswith("__Host-")
        assert "secure" in cookie.casefold()
    assert "max-age=31536000" in answer.headers["strict-transport-security"]


def test_without_tls_browsers_are_sent_on(proxied: Proxied) -> None:
    """The plain port answers with the address over TLS, whatever is asked."""
    answer = httpx.get(
        f"http://127.0.0.1:{proxied.plain_port}/today?x=1",
        headers={"host": NAME},
        trust_env=False,
    )
    assert (answer.status_code, answer.headers["location"]) == (301, f"https://{NAME}/today?x=1")


def test_old_tls_is_refused(proxied: Proxied) -> None:
    """Nothing older than TLS 1.2 is spoken (ASVS 12.1.1)."""
    line = ["openssl", "s_client", "-connect", f"127.0.0.1:{proxied.tls_port}", "-tls1_1",
            "-cipher", "DEFAULT@SECLEVEL=0"]  # fmt: skip
    told = subprocess.run(line, input=b"", capture_output=True, timeout=PATIENCE_S, check=False)
    assert b"alert protocol version" in told.stderr, told.stderr


def test_other_names_are_refused(proxied: Proxied) -> None:
    """The name that a browser asks for reaches the program, which answers to its own alone."""
    answer = proxied.read("GET", "/sign-in", headers={"host": "other.example"})
    assert answer.status_code == 421


def test_who_asks_is_what_the_proxy_sees(proxied: Proxied) -> None:
    """What a browser claims of its address, or of TLS, is replaced by the proxy."""
    claimed = {"x-forwarded-for": "203.0.113.9", "x-forwarded-proto": "http"}
    wrong = {"name": "nobody", "password": "nine herons on a weir"}
    assert proxied.read("POST", "/sign-in", data=wrong, headers=claimed).status_code == 422
    now = datetime.now(UTC)
    since, until = now - timedelta(hours=1), now + timedelta(hours=1)
    with Store(proxied.record) as store:
        failures = store.sign_in_failures
        number = failures.add("x", "y", now)
        assert failures.before(number, "address 127.0.0.1", since=since, until=until).count == 1
        assert failures.before(number, "address 203.0.113.9", since=since, until=until).count == 0


def test_sounds_come_while_they_are_made(signed_in: Proxied) -> None:
    """The first bytes of a sound are through the proxy before the rest is rendered; then all of
    it comes, and ranges of it."""
    begun = signed_in.read("POST", "/begin", data={"level": "1", "seed": "3"})
    page = signed_in.read("GET", begun.headers["location"]).text
    found = re.search(r'<audio id="song"[^>]* src="([^"]+)"', page)
    assert found is not None
    place = found[1].replace("&amp;", "&")
    answer = signed_in.ask("GET", place)
    size = int(answer.headers["content-length"])
    parts = answer.iter_raw()
    sound = next(parts)
    assert sound[:4] == b"RIFF"
    assert len(sound) < size
    signed_in.gate.touch()
    sound += b"".join(parts)
    answer.close()
    assert len(sound) == size
    ranged = signed_in.read(
        "GET", place, headers={"range": "bytes=1000-1999", "if-range": answer.headers["etag"]}
    )
    assert (ranged.status_code, ranged.content) == (206, sound[1000:2000])


def test_nobody_waits_for_a_process_that_is_gone(signed_in: Proxied) -> None:
    """Of the two processes of the example one is not there: every request is answered by the
    other, also those that change something."""
    for number in range(6):
        form = {"level": "1", "seed": str(number)}
        assert signed_in.read("POST", "/begin", data=form).status_code == 303
        assert signed_in.read("GET", "/").status_code == 200


def test_bodies_are_as_large_as_the_program_takes_them(signed_in: Proxied) -> None:
    """A file of 2 MiB passes the proxy to where files are uploaded, and one of 17 MiB does not."""
    place = "/songbook/import"
    small, large = (b"x" * (mib * 2**20) for mib in (2, 17))
    answer = signed_in.read("POST", place, files={"file": ("a.txt", small)})
    assert answer.status_code != 413
    assert signed_in.read("POST", place, files={"file": ("a.txt", large)}).status_code == 413
