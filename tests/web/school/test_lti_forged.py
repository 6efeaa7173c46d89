"""Messages that no platform would send, and what other sites may do to this server."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.web.classroom.school import School
from tests.web.school.platform import (
    INSTRUCTOR,
    ISSUER,
    LTI,
    WeirPlatform,
    form_of,
)
from tests.web.school.provider import rsa_key, signed, unsigned
from tests.web.school.test_openid import REFUSED, is_signed_in
from tests.web.test_reading import contents
from trainer.web.guard import Guard

TEACHERS = (INSTRUCTOR,)


FORGED: dict[str, dict[str, Any]] = {
    "another deployment": {f"{LTI}deployment_id": "3"},
    "no deployment": {f"{LTI}deployment_id": None},
    "another version": {f"{LTI}version": "1.2"},
    "an unknown message": {f"{LTI}message_type": "LtiSubmissionReviewRequest"},
    "another target": {f"{LTI}target_link_uri": "https://other.example/lti/launch"},
    "no resource link": {f"{LTI}resource_link": None},
    "roles that are no list": {f"{LTI}roles": INSTRUCTOR},
    "nobody": {"sub": None},
    "another audience": {"aud": "another-tool"},
    "another issuer": {"iss": "https://other.example"},
    "another nonce": {"nonce": "x" * 64},
    "expired": {"exp": 1_000_000},
    "no course": {f"{LTI}context": None},
    "a course without an id": {f"{LTI}context": {"title": "Choir"}},
    "a course with a long id": {f"{LTI}context": {"id": "x" * 256}},
}


class TestForged:
    @pytest.mark.parametrize("how", FORGED)
    def test_nothing_forged_is_believed(
        self, college: School, platform: WeirPlatform, how: str
    ) -> None:
        """A message not for this server, or not whole, lets nobody in, and nothing is stored."""
        platform.launch(college.browser(), "T-1", TEACHERS)
        before = contents(college.store)
        client = college.browser()
        answer = platform.launch(client, "W-1", **FORGED[how])
        assert answer.status_code == REFUSED
        assert not is_signed_in(client)
        assert contents(college.store) == before

    @pytest.mark.parametrize("sign", [lambda c: signed(c, rsa_key("another"), "first"), unsigned])
    def test_only_the_platforms_signature_counts(
        self, college: School, platform: WeirPlatform, sign: Callable[[Any], str]
    ) -> None:
        """Another key, or none, is not believed (Security Framework 1.0, section 5.1.3)."""
        client = college.browser()
        asked = platform.begin(client)
        token = sign(platform.message(asked["nonce"], "T-1", TEACHERS))
        assert platform.bring(client, token, asked["state"]).status_code == REFUSED
        assert college.store.accounts.count() == 0

    def test_a_message_works_once_and_in_its_browser(
        self, college: School, platform: WeirPlatform
    ) -> None:
        """Neither another browser nor the same one again gets in with a message that was used."""
        client = college.browser()
        asked = platform.begin(client)
        claims = platform.message(asked["nonce"], "T-1", TEACHERS)
        token, kept = signed(claims, platform.keys[0]), client.cookies["asked"]
        stranger = college.browser()
        assert platform.bring(stranger, token, asked["state"]).status_code == REFUSED
        assert platform.bring(client, token, asked["state"]).status_code == 303
        assert platform.bring(client, token, asked["state"]).status_code == REFUSED
        client.cookies.set("asked", kept)
        answer = platform.bring(client, token, asked["state"])
        assert answer.status_code == REFUSED
        assert "used already" in answer.text

    def test_an_error_of_the_platform_is_told(
        self, college: School, platform: WeirPlatform
    ) -> None:
        """A platform that cannot sign somebody in says so (OpenID Connect Core 1.0, 3.1.2.6)."""
        client = college.browser()
        state = platform.begin(client)["state"]
        form = {"error": "login_required", "state": state}
        answer = client.post("/lti/enter", data=form)
        assert answer.status_code == REFUSED
        assert "Go back there and try again" in answer.text

    def test_an_unknown_platform_is_sent_nowhere(self, college: School) -> None:
        """Neither an unknown issuer, nor an unknown client, nor a missing hint begins anything."""
        client = college.browser()
        for query in (
            {},
            {"iss": "https://other.example", "login_hint": "1"},
            {"iss": ISSUER},
            {"iss": ISSUER, "login_hint": "1", "client_id": "other"},
        ):
            answer = client.get("/lti/login", params=query, follow_redirects=False)
            assert answer.status_code == REFUSED
            assert "asked" not in client.cookies

    def test_without_platforms_there_is_nothing(self, school: School) -> None:
        """A server that works with none has none of the addresses."""
        client = school.browser()
        assert client.get("/lti/keys").status_code == 404
        assert client.post("/lti/enter").status_code == 404


class TestFrames:
    def guarded(self, school: School) -> TestClient:
        """A browser at the server as it is served."""
        return school.open.enter_context(
            TestClient(Guard(school.app, origin=school.origin), base_url=school.origin)
        )

    def test_a_frame_shows_the_way_out(self, college: School) -> None:
        """In a frame, the platform's page may show a link into a window of its own, and nothing
        else; no cookie is set, and none has to be sent to other sites."""
        client = self.guarded(college)
        query = {"iss": ISSUER, "login_hint": "hint-7"}
        framed = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate",
                  "sec-fetch-dest": "iframe"}  # fmt: skip
        answer = client.get("/lti/login", params=query, headers=framed)
        assert answer.status_code == 200
        policy = answer.headers["content-security-policy"]
        assert f"frame-ancestors {ISSUER};" in f"{policy};"
        assert 'target="_blank"' in answer.text
        assert "set-cookie" not in answer.headers
        window = client.get("/sign-in", headers=framed)
        assert window.status_code == 403

    def test_a_platform_may_send_a_form(self, college: School, platform: WeirPlatform) -> None:
        """What comes from the platform's site is let in where launches begin and arrive; what acts
        is not."""
        client = self.guarded(college)
        abroad = {"origin": ISSUER, "sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate",
                  "sec-fetch-dest": "document"}  # fmt: skip
        form = {"iss": ISSUER, "login_hint": "hint-7"}
        answer = client.post("/lti/login", data=form, headers=abroad, follow_redirects=False)
        assert answer.status_code == 303
        assert "samesite=lax" in answer.headers["set-cookie"].lower()
        page = client.post("/lti/launch", data={"id_token": "a", "state": "b"}, headers=abroad)
        assert page.status_code == 200
        assert form_of(page.text) == ("/lti/enter", {"id_token": "a", "state": "b", "error": ""})
        for place in ("/lti/enter", "/lti/choose", "/sign-in"):
            assert client.post(place, data=form, headers=abroad).status_code == 403
