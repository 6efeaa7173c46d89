from __future__ import annotations

import anyio
import pytest
from fastapi import FastAPI, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response
from fastapi.testclient import TestClient
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocketDisconnect

from trainer.web.guard import BODY_LIMIT_BYTES, UPLOAD_LIMIT_BYTES, Guard

OURS = "http://127.0.0.1:28467"


class Inner:
    """A small application that remembers what reached it."""

    def __init__(self) -> None:
        self.reached: list[str] = []
        self.app = FastAPI()
        self.app.add_api_route("/", self.page, methods=["GET", "POST", "PUT", "DELETE"])
        self.app.add_api_route("/audio/{name}", self.page, methods=["GET"])
        self.app.add_api_route("/songbook/import", self.page, methods=["POST"])
        self.app.add_api_route("/preview/{name}", self.page, methods=["GET"])
        self.app.add_api_route("/data", self.data, methods=["GET"])
        self.app.add_api_route("/script.js", self.script, methods=["GET"])

    async def page(self, request: Request) -> Response:
        self.reached.append(request.method)
        return HTMLResponse(f"{len(await request.body())} bytes")

    async def data(self) -> Response:
        return JSONResponse({}, headers={"cache-control": "max-age=5"})

    async def script(self) -> Response:
        return Response("", media_type="text/javascript")


@pytest.fixture
def inner() -> Inner:
    """The application behind the guard."""
    return Inner()


@pytest.fixture
def client(inner: Inner) -> TestClient:
    """A browser at the page's own address."""
    return TestClient(Guard(inner.app), base_url=OURS)


class TestHost:
    @pytest.mark.parametrize(
        "host", ["127.0.0.1:28467", "localhost:28467", "LocalHost:28467", "[::1]:28467"]
    )
    def test_loopback_names_are_ours(self, client: TestClient, host: str) -> None:
        """The names and addresses of this machine itself, with the port served."""
        assert client.get("/", headers={"host": host}).status_code == 200

    @pytest.mark.parametrize(
        "host",
        [
            "rebound.example:28467",
            "127.0.0.1.rebound.example:28467",
            "localhost.rebound.example:28467",
            "localhost.:28467",
            "127.0.0.1",
            "127.0.0.1:80",
            "127.0.0.1:28468",
            "127.0.0.1:",
            "127.0.0.1:28467:28467",
            "127.0.0.2:28467",
            "0.0.0.0:28467",
            "2130706433:28467",
            "[::1]",
            "[::2]:28467",
            "[::ffff:127.0.0.1]:28467",
            "::1:28467",
            "user@127.0.0.1:28467",
            "127.0.0.1:28467, rebound.example",
            "192.168.1.10:28467",
            "",
        ],
    )
    @pytest.mark.parametrize("method", ["GET", "POST"])
    def test_other_names_are_refused(
        self, client: TestClient, inner: Inner, host: str, method: str
    ) -> None:
        """A name rebound to this machine (DNS rebinding), another port, or nonsense: 421."""
        answer = client.request(method, "/", headers={"host": host})
        assert answer.status_code == 421
        assert answer.headers["content-type"] == "text/plain; charset=utf-8"
        assert f"Found the host {host!r}" in answer.text
        assert not inner.reached

    def test_a_teacher_may_allow_others(self, inner: Inner) -> None:
        """Names that were allowed are answered, the loopback ones then only if listed."""
        client = TestClient(Guard(inner.app, allowed_hosts=["school.example"]), base_url=OURS)
        assert client.get("/", headers={"host": "School.Example:28467"}).status_code == 200
        assert client.get("/").status_code == 421

    def test_the_usual_port_needs_no_number(self, inner: Inner) -> None:
        """On port 80 the Host header has no port."""
        client = TestClient(Guard(inner.app), base_url="http://localhost")
        assert client.get("/").status_code == 200

    @pytest.mark.parametrize("hosts", [[], [b"127.0.0.1:28467", b"127.0.0.1:28467"]])
    def test_no_host_or_two(self, inner: Inner, hosts: list[bytes]) -> None:
        """RFC 9112, section 3.2: without exactly one Host header the answer is 400."""
        status, _ = raw(Guard(inner.app), [(b"host", host) for host in hosts])
        assert status == 400
        assert not inner.reached


def raw(
    app: ASGIApp, headers: list[tuple[bytes, bytes]], method: str = "GET", *bodies: bytes
) -> tuple[int, bytes]:
    """Status and body of a request that no client library would send."""
    scope: Scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
        "scheme": "http", "path": "/", "raw_path": b"/", "query_string": b"", "root_path": "",
        "headers": headers, "server": ("127.0.0.1", 28467), "client": ("127.0.0.1", 5),
    }  # fmt: skip
    coming = [{"type": "http.request", "body": body, "more_body": True} for body in bodies]
    coming.append({"type": "http.request", "body": b"", "more_body": False})
    sent: list[Message] = []

    async def receive() -> Message:
        return coming.pop(0) if coming else {"type": "http.disconnect"}

    async def send(message: Message) -> None:
        sent.append(message)

    anyio.run(app, scope, receive, send)
    return sent[0]["status"], b"".join(message.get("body", b"") for message in sent[1:])


CROSS = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "cors", "sec-fetch-dest": "empty"}
LINK = {"sec-fetch-mode": "navigate", "sec-fetch-dest": "document"}


class TestOtherSites:
    @pytest.mark.parametrize(
        "headers",
        [
            {},
            {"origin": OURS, "sec-fetch-site": "same-origin"},
            {"sec-fetch-site": "none"},
        ],
        ids=["no browser", "our page", "typed address"],
    )
    @pytest.mark.parametrize("method", ["GET", "POST", "PUT", "DELETE"])
    def test_our_own_requests(
        self, client: TestClient, method: str, headers: dict[str, str]
    ) -> None:
        """What comes from the page itself, or from no page at all, is answered."""
        assert client.request(method, "/", headers=headers).status_code == 200

    @pytest.mark.parametrize(
        "headers",
        [
            {"origin": "http://other.example"},
            {"origin": "null"},
            {"origin": "http://127.0.0.1:8000"},
            {"origin": "https://127.0.0.1:28467"},
            {"origin": "http://localhost:28467"},
            {"origin": f"{OURS}.other.example"},
            {"origin": OURS, "sec-fetch-site": "cross-site"},
            CROSS,
            {**CROSS, "sec-fetch-site": "same-site"},
            {**LINK, "sec-fetch-site": "cross-site"},
        ],
    )
    @pytest.mark.parametrize("method", ["POST", "PUT", "DELETE"])
    def test_nothing_is_changed_from_elsewhere(
        self, client: TestClient, inner: Inner, method: str, headers: dict[str, str]
    ) -> None:
        """Forms and scripts of another origin, another port included, change nothing (CSRF)."""
        answer = client.request(method, "/", headers=headers)
        assert answer.status_code == 403
        assert answer.headers["content-type"] == "text/plain; charset=utf-8"
        assert "expected one from this page itself" in answer.text
        assert not inner.reached

    @pytest.mark.parametrize("path", ["/", "/audio/x", "/preview/x"])
    @pytest.mark.parametrize("dest", ["audio", "image", "script", "iframe", "empty", "object"])
    @pytest.mark.parametrize("site", ["cross-site", "same-site"])
    def test_nothing_is_embedded_elsewhere(
        self, client: TestClient, inner: Inner, path: str, dest: str, site: str
    ) -> None:
        """Another site cannot load, play or frame anything of ours."""
        mode = "navigate" if dest in ("iframe", "object") else "no-cors"
        headers = {"sec-fetch-site": site, "sec-fetch-mode": mode, "sec-fetch-dest": dest}
        assert client.get(path, headers=headers).status_code == 403
        assert not inner.reached

    def test_a_link_leads_to_a_page_but_not_to_sounds(self, client: TestClient) -> None:
        """A bookmark page may link here; a link to a sound or a preview is refused."""
        headers = {**LINK, "sec-fetch-site": "cross-site"}
        assert client.get("/", headers=headers).status_code == 200
        for path in ("/audio/x", "/preview/x"):
            assert client.get(path, headers=headers).status_code == 403

    def test_reading_with_a_foreign_origin(self, client: TestClient) -> None:
        """A script elsewhere cannot read, whatever else it says of itself."""
        assert client.get("/audio/x", headers={"origin": "http://other.example"}).status_code == 403


SCHOOL = "https://class.example"


class TestClassServer:
    """A server for a class, known under one origin."""

    @pytest.fixture
    def school(self, inner: Inner) -> TestClient:
        """A browser at the origin of a class."""
        return TestClient(Guard(inner.app, origin=SCHOOL), base_url=SCHOOL)

    @pytest.mark.parametrize("host", ["class.example", "Class.Example", "class.example:443"])
    def test_its_own_address(self, school: TestClient, host: str) -> None:
        """The host of the origin, with or without the usual port, whatever port is served."""
        assert school.get("/", headers={"host": host}).status_code == 200

    @pytest.mark.parametrize(
        "host", ["other.example", "class.example:8000", "127.0.0.1", "class.example.other.example"]
    )
    def test_other_addresses(self, school: TestClient, inner: Inner, host: str) -> None:
        """Any other name is refused, so that links in mails and caches cannot be poisoned."""
        answer = school.get("/", headers={"host": host})
        assert answer.status_code == 421
        assert "expected 'https://class.example'" in answer.text
        assert not inner.reached

    def test_without_tls_it_does_not_answer(self, inner: Inner) -> None:
        """A proxy that does not say it was asked over TLS is told what it has to hand on."""
        plain = TestClient(Guard(inner.app, origin=SCHOOL), base_url="http://class.example")
        answer = plain.get("/")
        assert answer.status_code == 421
        assert "X-Forwarded-Proto" in answer.text

    @pytest.mark.parametrize("method", ["POST", "PUT", "DELETE"])
    @pytest.mark.parametrize(
        ("headers", "status"),
        [
            ({"origin": SCHOOL}, 200),
            ({"sec-fetch-site": "same-origin"}, 200),
            ({}, 403),
            ({"sec-fetch-site": "none"}, 403),
            ({"origin": "null"}, 403),
            ({"origin": "https://other.example"}, 403),
            ({"origin": "http://class.example"}, 403),
            ({"origin": SCHOOL, "sec-fetch-site": "cross-site"}, 403),
            ({"sec-fetch-site": "same-site"}, 403),
        ],
    )
    def test_changes_need_proof(
        self, school: TestClient, inner: Inner, method: str, headers: dict[str, str], status: int
    ) -> None:
        """What may change something says that it comes from the page itself, or is refused (CSRF;
        OWASP ASVS 5.0, 3.5.1)."""
        assert school.request(method, "/", headers=headers).status_code == status
        assert bool(inner.reached) is (status == 200)

    def test_reading_needs_none(self, school: TestClient) -> None:
        """A link in a message leads to the page."""
        assert school.get("/").status_code == 200

    def test_browsers_stay_on_tls(self, school: TestClient, inner: Inner) -> None:
        """Over TLS every answer says so for a year (RFC 6797); without it none does."""
        name = "strict-transport-security"
        assert school.get("/").headers[name] == "max-age=31536000"
        assert school.get("/", headers={"host": "x"}).headers[name] == "max-age=31536000"
        plain = TestClient(Guard(inner.app, origin="http://class.example"),
                           base_url="http://class.example")  # fmt: skip
        assert name not in plain.get("/").headers


class TestHeaders:
    @pytest.mark.parametrize(("path", "status"), [("/", 200), ("/nothing", 404)])
    def test_every_answer_is_strict(self, client: TestClient, path: str, status: int) -> None:
        """Content policy and the rest stand on pages and errors alike."""
        answer = client.get(path)
        assert answer.status_code == status
        policy = dict(
            rule.strip().split(" ", 1)
            for rule in answer.headers["content-security-policy"].split(";")
        )
        assert policy == {
            "default-src": "'none'", "script-src": "'self'", "style-src": "'self'",
            "img-src": "'self'", "media-src": "'self' blob:", "connect-src": "'self'",
            "form-action": "'self'", "base-uri": "'none'", "frame-ancestors": "'none'",
        }  # fmt: skip
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "same-origin"
        assert answer.headers["cross-origin-opener-policy"] == "same-origin"
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"
        assert answer.headers["cache-control"] == "no-store"

    def test_a_refusal_is_strict_too(self, client: TestClient) -> None:
        """So do they on what the guard itself says."""
        answer = client.get("/", headers={"host": "rebound.example"})
        assert "default-src 'none'" in answer.headers["content-security-policy"]

    def test_what_the_application_says_of_caching_stays(self, client: TestClient) -> None:
        """Only answers that say nothing are kept from caches; scripts are asked about again."""
        assert client.get("/data").headers["cache-control"] == "max-age=5"
        assert client.get("/script.js").headers["cache-control"] == "no-cache"


class TestBody:
    def test_up_to_the_limit(self, client: TestClient) -> None:
        """A body of exactly the limit arrives whole."""
        answer = client.post("/", content=bytes(BODY_LIMIT_BYTES))
        assert answer.text == f"{BODY_LIMIT_BYTES} bytes"

    def test_beyond_the_limit(self, client: TestClient, inner: Inner) -> None:
        """One byte more is refused with both sizes, and nothing reaches the application."""
        answer = client.post("/", content=bytes(BODY_LIMIT_BYTES + 1))
        assert answer.status_code == 413
        assert "Found 1,048,577 bytes, expected at most 1,048,576" in answer.text
        assert answer.headers["content-type"] == "text/plain; charset=utf-8"
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert not inner.reached

    def test_uploads_may_be_larger(self, client: TestClient) -> None:
        """Where songbooks come in a body may be larger, and its own limit is named."""
        content = bytes(BODY_LIMIT_BYTES + 1)
        answer = client.post("/songbook/import", content=content)
        assert answer.text == f"{BODY_LIMIT_BYTES + 1} bytes"
        answer = client.post("/songbook/import", content=bytes(UPLOAD_LIMIT_BYTES + 1))
        assert answer.status_code == 413
        assert "expected at most 16,777,216" in answer.text

    def test_a_length_that_lies(self, inner: Inner) -> None:
        """Bytes are counted, whatever Content-Length says or leaves out."""
        host = (b"host", b"127.0.0.1:28467")
        guard = Guard(inner.app, body_limit_bytes=1000)
        for said in ((b"content-length", b"10"), (b"transfer-encoding", b"chunked")):
            status, text = raw(guard, [host, said], "POST", bytes(600), bytes(600))
            assert status == 413
            assert b"Found more than 1,000 bytes, expected at most 1,000. Nothing" in text
        assert raw(guard, [host, (b"transfer-encoding", b"chunked")], "POST", b"ab", b"c") == (
            200,
            b"3 bytes",
        )
        assert inner.reached == ["POST"]

    def test_an_endless_body_is_not_read_for_ever(self, inner: Inner) -> None:
        """Reading stops at the limit."""
        coming = iter([{"type": "http.request", "body": bytes(100), "more_body": True}] * 3)
        sent: list[Message] = []

        async def receive() -> Message:
            return next(coming)

        async def send(message: Message) -> None:
            sent.append(message)

        scope: Scope = {
            "type": "http", "method": "POST", "scheme": "http", "path": "/",
            "headers": [(b"host", b"127.0.0.1:28467"), (b"transfer-encoding", b"chunked")],
            "server": ("127.0.0.1", 28467),
        }  # fmt: skip
        anyio.run(Guard(inner.app, body_limit_bytes=150), scope, receive, send)
        assert sent[0]["status"] == 413
        assert len(list(coming)) == 1
        assert not inner.reached

    def test_what_the_application_says_of_size_stays(self) -> None:
        """A 413 of the application's own is not rewritten."""
        app = FastAPI()
        app.add_api_route("/", lambda: Response("too many bars", 413), methods=["POST"])
        answer = TestClient(Guard(app), base_url=OURS).post("/", content=b"text")
        assert (answer.status_code, answer.text) == (413, "too many bars")

    def test_who_hangs_up_midway_changes_nothing(self, inner: Inner) -> None:
        """A body that breaks off never reaches the application."""
        sent: list[Message] = []

        async def receive() -> Message:
            return {"type": "http.disconnect"}

        async def send(message: Message) -> None:
            sent.append(message)

        scope: Scope = {
            "type": "http", "method": "POST", "scheme": "http", "path": "/",
            "headers": [(b"host", b"127.0.0.1:28467"), (b"content-length", b"5")],
            "server": ("127.0.0.1", 28467),
        }  # fmt: skip
        anyio.run(Guard(inner.app), scope, receive, send)
        assert not sent
        assert not inner.reached


class TestOtherProtocols:
    def test_websockets_are_refused(self, client: TestClient) -> None:
        """There is no websocket here, whoever asks (close code 1008 of RFC 6455)."""
        with pytest.raises(WebSocketDisconnect) as refused, client.websocket_connect("/"):
            pass
        assert refused.value.code == 1008

    def test_the_life_of_the_application_passes(self) -> None:
        """Start and stop reach the application."""
        seen: list[str] = []

        async def app(scope: Scope, receive: Receive, send: Send) -> None:
            seen.append(scope["type"])

        async def receive() -> Message:
            return {}

        async def send(message: Message) -> None:
            raise AssertionError(message)

        scope: Scope = {"type": "lifespan"}
        anyio.run(Guard(app), scope, receive, send)
        assert seen == ["lifespan"]
