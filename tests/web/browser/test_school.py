"""Signing in by a school's own system, and coming from a course, in a real browser.

The systems are at `localhost` and the trainer at 127.0.0.1: for a browser these are two sites, so
that its rules about cookies, forms and frames of other sites hold.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI, Form, Request
from fastapi.responses import HTMLResponse
from playwright.sync_api import expect

from tests.classroom.people import WORDS, Clock
from tests.web.browser.class_house import ClassHouse
from tests.web.browser.house import House, Opened
from tests.web.browser.test_access import check
from tests.web.fakes import FakeLibrary
from tests.web.school import platform as weir
from tests.web.school import provider as lockgate
from tests.web.school.platform import DEEP_LINK, INSTRUCTOR, LEARNER, LTI, WeirPlatform
from tests.web.school.provider import LockgateProvider, query_of, rsa_key, signed
from trainer.classroom.assignments import Assignments, AssignmentSettings
from trainer.classroom.items import ItemPlan
from trainer.store import Store
from trainer.web.app import utc_now
from trainer.web.school.settings import SchoolSettings

SENT_ON = "<script>document.forms[0].submit()</script>"


@dataclass
class SystemsHouse(House):
    """The systems of a school: an OpenID provider, and a platform with a course."""

    trainer: str = ""
    sent_back: list[str] = field(default_factory=list)

    @property
    def url(self) -> str:
        """Where they are; another site than the trainer's."""
        return f"http://localhost:{self.port}/"

    def make_app(self) -> Any:
        """The pages that a browser sees of them."""
        self.provider = LockgateProvider(Clock(utc_now()), issuer=f"{self.url}login")
        # A clock that runs.
        self.provider.clock = utc_now  # type: ignore[assignment]  # gives the moment, too
        app = FastAPI(openapi_url=None)
        app.add_api_route("/course", self._course)
        app.add_api_route("/framed", self._framed)
        app.add_api_route("/auth", self._auth)
        app.add_api_route("/back", self._back, methods=["POST"])
        app.add_api_route("/keys", self._keys)
        app.mount("/login", self.provider.app)
        return app

    @property
    def settings(self) -> SchoolSettings:
        """What the trainer's owner says of them."""
        return SchoolSettings(
            lockgate.settings(issuer=f"{self.url}login"),
            (
                weir.settings(
                    issuer=self.url.rstrip("/"),
                    sign_in_address=f"{self.url}auth",
                    token_address=f"{self.url}token",
                    token_audience=f"{self.url}token",
                    keys_address=f"{self.url}keys",
                ),
            ),
        )

    def _login(self, who: str) -> str:
        issuer = self.url.rstrip("/")
        return f"{self.trainer}lti/login?iss={issuer}&login_hint={who}"

    def _course(self, who: str) -> HTMLResponse:
        """A page with a link to the trainer, made as a form."""
        address, _, query = self._login(who).partition("?")
        fields = "".join(f'<input type="hidden" name="{name}" value="{value}">'
                         for name, value in query_of(f"?{query}").items())  # fmt: skip
        return HTMLResponse(f'<form method="post" action="{address}">{fields}<button>Open</button>')

    def _framed(self, who: str) -> HTMLResponse:
        """A page that shows the trainer in a frame, as platforms do unless they are told not to."""
        return HTMLResponse(f'<iframe src="{self._login(who)}" width="600" height="400"></iframe>')

    def _auth(self, request: Request) -> HTMLResponse:
        """Bring a message for whoever the hint names: a subject, a role, and what they want."""
        asked = request.query_params
        subject, role, wish = asked["login_hint"].split(".")
        clock = Clock(utc_now())
        platform = WeirPlatform(clock, self.trainer.rstrip("/"))
        more: dict[str, Any] = {"iss": self.url.rstrip("/")}
        if wish == "choose":
            more[f"{LTI}message_type"] = "LtiDeepLinkingRequest"
            more[f"{DEEP_LINK}deep_linking_settings"] = {
                "deep_link_return_url": f"{self.url}back",
                "accept_types": ["ltiResourceLink"],
            }
        elif wish:
            more[f"{LTI}custom"] = {"assignment": wish}
        roles = (INSTRUCTOR if role == "teacher" else LEARNER,)
        token = signed(platform.message(asked["nonce"], subject, roles, **more), rsa_key("first"))
        return HTMLResponse(
            f'<form method="post" action="{asked["redirect_uri"]}">'
            f'<input name="id_token" value="{token}">'
            f'<input name="state" value="{asked["state"]}"></form>{SENT_ON}'
        )

    def _back(self, token: str = Form(alias="JWT")) -> HTMLResponse:
        self.sent_back.append(token)
        return HTMLResponse("<h1>The course</h1>")

    def _keys(self) -> dict[str, Any]:
        return {"keys": [rsa_key("first").as_dict(private=False)]}


@dataclass
class Both:
    """The trainer and the systems of the school."""

    trainer: ClassHouse
    systems: SystemsHouse


@pytest.fixture
def both(tmp_path: Path, record: Path) -> Iterator[Both]:
    """A class server that believes the systems."""
    folder = tmp_path / "audio"
    folder.mkdir()
    with Store.open(record) as store:
        library = FakeLibrary(folder)
        systems = SystemsHouse(store, library)
        systems.open()
        trainer = ClassHouse(store, library, systems=systems.settings)
        trainer.open()
        systems.trainer = trainer.url
        yield Both(trainer, systems)
        trainer.close()
        systems.close()


def make_assignment(both: Both) -> str:
    """An assignment of the course's class that has opened; its uid."""
    store, clock = both.trainer.store, both.trainer.clock
    issuer = both.systems.url.rstrip("/")
    teacher = store.identities.account_of(issuer, "T1")
    class_id = store.lti.class_of(issuer, "1", "choir")
    assert teacher is not None
    assert class_id is not None
    learner, found = store.learners.by_id(teacher.learner_id), store.classes.get(class_id)
    assert learner is not None
    assert found is not None
    assignments = Assignments(store, teacher, learner, clock)
    settings = AssignmentSettings("Week 3", opens_at=clock(), results="at once")
    return assignments.make(found.uid, settings, [ItemPlan("level", "home-four-five")]).uid


def test_signing_in_by_the_schools_system(both: Both, open_page: Opened) -> None:
    """From the sign-in page to the provider and back, signed in; the pages on the way pass
    axe-core; a failure leads back to where it can be tried again."""
    page = open_page(f"{both.trainer.url}sign-in")
    check(page, "sign-in page with a provider")
    page.get_by_role("link", name="Sign in with Lockgate School", exact=True).click()
    page.wait_for_url(both.trainer.url + "hearing*")
    page.goto(f"{both.trainer.url}account")
    expect(page.get_by_text("Connected")).to_be_visible()
    check(page, "account that is connected")
    page.get_by_role("button", name="Sign out", exact=True).click()
    page.wait_for_url("**/sign-in*")
    page.goto(f"{both.trainer.url}sign-in/school/back?error=access_denied")
    check(page, "a failed sign-in")
    page.get_by_role("link", name="Try again with Lockgate School").click()
    page.wait_for_url(both.trainer.url + "hearing*")


def test_connecting_an_account(both: Both, open_page: Opened) -> None:
    """Somebody with a password connects their account on its page."""
    both.trainer.account("moss", "Moss Ferry")
    page = open_page(f"{both.trainer.url}sign-in")
    page.get_by_label("Name to sign in with").fill("moss")
    page.get_by_role("textbox", name="Password").fill(WORDS)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.goto(f"{both.trainer.url}account")
    check(page, "account that can be connected")
    section = page.get_by_role("region", name="Signing in by your school")
    section.get_by_label("Password").fill(WORDS)
    section.get_by_role("button", name="Connect with Lockgate School").click()
    page.get_by_role("link", name="Go on to Lockgate School").wait_for()
    check(page, "on the way to the provider")
    page.get_by_role("link", name="Go on to Lockgate School").click()
    expect(page.get_by_text("Your account is connected.")).to_be_visible()


def test_a_course_opens_the_trainer(both: Both, open_page: Opened) -> None:
    """A teacher comes from a course by a form of another site, and gets its class; a learner comes
    to the assignment; neither needs a cookie that other sites may have sent."""
    page = open_page(f"{both.systems.url}course?who=T1.teacher.")
    page.get_by_role("button", name="Open").click()
    page.wait_for_url(re.compile("/classes/[0-9a-f-]{36}$"))
    expect(page.get_by_role("heading", name="Choir, first year")).to_be_visible()
    cookies = {each["name"]: each["sameSite"] for each in page.context.cookies()}
    assert cookies == {"session": "Lax"}
    uid = make_assignment(both)
    learner = open_page(f"{both.systems.url}course?who=W1.learner.{uid}")
    learner.get_by_role("button", name="Open").click()
    learner.wait_for_url("**/hearing*")
    learner.get_by_role("button").last.click()
    learner.goto(f"{both.trainer.url}assigned/{uid}")
    expect(learner.get_by_role("heading", name="Week 3")).to_be_visible()


def test_a_frame_leads_to_a_window(both: Both, open_page: Opened) -> None:
    """In a frame of the course there is a link; it opens the trainer in a window, signed in."""
    page = open_page(f"{both.systems.url}framed?who=T1.teacher.")
    link = page.frame_locator("iframe").get_by_role("link", name="Open the trainer in a new window")
    with page.context.expect_page() as opened:
        link.click()
    opened.value.wait_for_url(re.compile("/classes/[0-9a-f-]{36}$"))
    shown = open_page(f"{both.trainer.url}lti/login")
    check(shown, "a course that nobody knows")


def test_a_teacher_chooses_for_a_course(both: Both, open_page: Opened) -> None:
    """The choice goes back to the platform by a form that the page's policy allows."""
    page = open_page(f"{both.systems.url}course?who=T1.teacher.choose")
    page.get_by_role("button", name="Open").click()
    page.get_by_text("has no assignments yet").wait_for()
    make_assignment(both)
    page.goto(f"{both.systems.url}course?who=T1.teacher.choose")
    page.get_by_role("button", name="Open").click()
    page.get_by_label("Week 3").check()
    check(page, "choosing an assignment for a course")
    page.get_by_role("button", name="Put it into").click()
    expect(page.get_by_role("heading", name="The course")).to_be_visible()
    (token,) = both.systems.sent_back
    payload = token.split(".")[1]
    claims = json.loads(base64.urlsafe_b64decode(payload + "=" * (-len(payload) % 4)))
    assert claims[f"{DEEP_LINK}content_items"][0]["title"] == "Week 3"
