"""A learning platform of the tests' own, and how a browser goes from its course to the trainer.

It plays the platform's side of LTI Core 1.3, Deep Linking 2.0, Assignment and Grade Services 2.0,
and the 1EdTech Security Framework 1.0, and checks what the tool sends, with real RS256 signatures.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from fastapi import FastAPI, Request
from fastapi.responses import JSONResponse, Response
from fastapi.testclient import TestClient
from httpx2 import Response as Answer
from joserfc import jwt
from joserfc.jwk import KeySet, RSAKey

from tests.classroom.people import Clock
from tests.web.school.provider import Claims, query_of, rsa_key, signed
from trainer.web.school.settings import PlatformSettings

ISSUER = "https://learn.weir.example"
TOOL = "trainer-17"
NAME = "Weir Learning"
LTI = "https://purl.imsglobal.org/spec/lti/claim/"
DEEP_LINK = "https://purl.imsglobal.org/spec/lti-dl/claim/"
GRADES = "https://purl.imsglobal.org/spec/lti-ags/claim/endpoint"
SCORE = "https://purl.imsglobal.org/spec/lti-ags/scope/score"
ROLE = "http://purl.imsglobal.org/vocab/lis/v2/membership#"
INSTRUCTOR, LEARNER = f"{ROLE}Instructor", f"{ROLE}Learner"
BACK = f"{ISSUER}/courses/choir/links"


def settings(**changed: Any) -> PlatformSettings:
    """What a server's owner says of the platform."""
    usual: dict[str, Any] = {
        "name": NAME, "issuer": ISSUER, "client_id": TOOL, "deployments": ("1", "2"),
        "sign_in_address": f"{ISSUER}/auth?site=weir", "token_address": f"{ISSUER}/token",
        "token_audience": f"{ISSUER}/token", "keys_address": f"{ISSUER}/keys",
    }  # fmt: skip
    return PlatformSettings(**usual | changed)


@dataclass
class WeirPlatform:
    """The platform. `scores` are those it took, and `refuse` the statuses that it answers instead,
    one for each of the next scores. `token_answer` is what it answers instead of a token."""

    clock: Clock
    tool: str = "http://testserver"
    keys: list[RSAKey] = field(default_factory=lambda: [rsa_key("first")])
    scores: list[tuple[str, Claims]] = field(default_factory=list)
    tokens: int = 0
    refuse: list[int] = field(default_factory=list)
    token_answer: str | None = None
    tool_keys: Callable[[], Any] = dict

    def __post_init__(self) -> None:
        app = FastAPI(openapi_url=None)
        app.add_api_route("/keys", self._keys)
        app.add_api_route("/token", self._token, methods=["POST"])
        app.add_api_route("/items/{item}/scores", self._score, methods=["POST"])
        self.client = TestClient(app, base_url=ISSUER)

    @property
    def transport(self) -> Any:
        """How the server under test reaches it."""
        return self.client._transport

    def message(
        self, nonce: str, /, subject: str = "W-1", roles: tuple[str, ...] = (LEARNER,), **more: Any
    ) -> Claims:
        """The claims of a launch from the course, with more or other ones."""
        now = int(self.clock().timestamp())
        usual = {
            "iss": ISSUER, "aud": TOOL, "sub": subject, "iat": now, "exp": now + 300,
            "nonce": nonce, "name": f"Person {subject}",
            f"{LTI}message_type": "LtiResourceLinkRequest",
            f"{LTI}version": "1.3.0",
            f"{LTI}deployment_id": "1",
            f"{LTI}target_link_uri": f"{self.tool}/lti/launch",
            f"{LTI}resource_link": {"id": "link-1", "title": "Week 3"},
            f"{LTI}roles": list(roles),
            f"{LTI}context": {"id": "choir", "label": "CH 1", "title": "Choir, first year"},
        }  # fmt: skip
        return {name: value for name, value in (usual | more).items() if value is not None}

    def begin(self, browser: TestClient, how: str = "get") -> dict[str, str]:
        """The browser is sent to the tool and back; what the tool asks for."""
        form = {"iss": ISSUER, "login_hint": "hint-7", "target_link_uri": f"{self.tool}/lti/launch",
                "lti_message_hint": "message-8"}  # fmt: skip
        place = "/lti/login"
        sent = (
            browser.get(place, params=form, follow_redirects=False)
            if how == "get"
            else browser.post(place, data=form, follow_redirects=False)
        )
        assert sent.status_code == 303, sent.text
        assert sent.headers["location"].startswith(f"{ISSUER}/auth?site=weir&")
        asked = query_of(sent.headers["location"])
        # 1EdTech Security Framework 1.0, section 5.1.1.2.
        fixed = {"scope": "openid", "response_type": "id_token", "response_mode": "form_post",
                 "prompt": "none", "client_id": TOOL, "login_hint": "hint-7",
                 "redirect_uri": f"{self.tool}/lti/launch",
                 "lti_message_hint": "message-8"}  # fmt: skip
        assert asked.items() >= fixed.items()
        return asked

    def bring(self, browser: TestClient, token: str, state: str) -> Answer:
        """The browser brings a message to the tool, whose page sends it on."""
        page = browser.post("/lti/launch", data={"id_token": token, "state": state})
        assert page.status_code == 200, page.text
        place, form = form_of(page.text)
        assert place == "/lti/enter"
        return browser.post(place, data=form, follow_redirects=False)

    def launch(
        self,
        browser: TestClient,
        subject: str = "W-1",
        roles: tuple[str, ...] = (LEARNER,),
        **more: Any,
    ) -> Answer:
        """Somebody opens a link of the course: what the tool answers at the end."""
        asked = self.begin(browser)
        claims = self.message(asked["nonce"], subject, roles, **more)
        return self.bring(browser, signed(claims, self.keys[0]), asked["state"])

    def choose(self, browser: TestClient, **more: Any) -> Answer:
        """A teacher asks to choose what a link leads to: the tool's page."""
        wish = {
            f"{LTI}message_type": "LtiDeepLinkingRequest",
            f"{LTI}resource_link": None,
            f"{LTI}target_link_uri": None,
            f"{DEEP_LINK}deep_linking_settings": {
                "deep_link_return_url": BACK,
                "accept_types": ["link", "ltiResourceLink"],
                "accept_presentation_document_targets": ["window"],
                "data": "opaque-9",
            },
        }
        subject, roles = more.pop("subject", "T-1"), more.pop("roles", (INSTRUCTOR,))
        return self.launch(browser, subject, roles, **wish | more)

    def chosen(self, token: str) -> Claims:
        """What the tool says was chosen, its signature checked with the keys that it publishes."""
        keys = KeySet.import_key_set(self.tool_keys())
        return dict(jwt.decode(token, keys, algorithms=["RS256"]).claims)

    def _keys(self) -> JSONResponse:
        return JSONResponse({"keys": [key.as_dict(private=False) for key in self.keys]})

    async def _token(self, request: Request) -> Response:
        """Client credentials with a signed assertion (RFC 7523, section 2.2)."""
        async with request.form() as form:
            asked = {name: str(value) for name, value in form.items()}
        assert asked["grant_type"] == "client_credentials"
        assert asked["scope"] == SCORE
        kind = "urn:ietf:params:oauth:client-assertion-type:jwt-bearer"
        assert asked["client_assertion_type"] == kind
        claims = self.chosen(asked["client_assertion"])
        assert (claims["iss"], claims["sub"]) == (TOOL, TOOL)
        assert claims["aud"] == f"{ISSUER}/token"
        now = self.clock().timestamp()
        assert claims["iat"] <= now < claims["exp"]
        assert claims["jti"]
        if self.token_answer is not None:
            return Response(self.token_answer, media_type="application/json")
        self.tokens += 1
        return JSONResponse(
            {"access_token": f"token-{self.tokens}", "token_type": "Bearer", "expires_in": 3600}
        )

    async def _score(self, request: Request, item: str) -> Response:
        """Assignment and Grade Services 2.0, section 3.4."""
        if self.refuse:
            return Response(status_code=self.refuse.pop(0))
        assert request.headers["authorization"] == f"Bearer token-{self.tokens}"
        assert request.headers["content-type"] == "application/vnd.ims.lis.v1.score+json"
        self.scores.append((f"{item}?{request.url.query}", await request.json()))
        return Response(status_code=204)


def line_item(number: int = 1) -> Claims:
    """The claim that says where scores go (Assignment and Grade Services 2.0, section 3.1)."""
    return {
        GRADES: {
            "scope": [SCORE, "https://purl.imsglobal.org/spec/lti-ags/scope/result.readonly"],
            "lineitems": f"{ISSUER}/items",
            "lineitem": f"{ISSUER}/items/{number}?type=17",
        }
    }


def form_of(page: str) -> tuple[str, dict[str, str]]:
    """Where the form of a page goes that is sent on by itself, and what it holds."""
    found = re.search(r'<form method="post" action="([^"]+)" data-pass-on', page)
    assert found is not None, page
    fields = re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page)
    return html.unescape(found[1]), {name: html.unescape(value) for name, value in fields}
