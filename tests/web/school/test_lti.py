"""Launches from a course of a learning platform (LTI Core 1.3; 1EdTech Security Framework 1.0)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.web.classroom.school import School
from tests.web.school.platform import (
    INSTRUCTOR,
    ISSUER,
    LEARNER,
    LTI,
    ROLE,
    TOOL,
    WeirPlatform,
)
from tests.web.school.provider import signed
from tests.web.school.test_openid import REFUSED, is_signed_in
from tests.web.test_reading import contents
from trainer.store import Account, Role

TEACHERS = (INSTRUCTOR,)


def account(school: School, subject: str) -> Account:
    """The account of somebody at the platform."""
    found = school.store.identities.account_of(ISSUER, subject)
    assert found is not None
    return found


def role_in_course(school: School, subject: str, context: str = "choir") -> str | None:
    """What somebody is in the class of a course; None if they are not in it."""
    class_id = school.store.lti.class_of(ISSUER, "1", context)
    assert class_id is not None
    member = school.store.classes.member(class_id, account(school, subject).id)
    return None if member is None or member.left_at else member.role


class TestLaunching:
    def test_a_teacher_makes_the_class_of_a_course(
        self, college: School, platform: WeirPlatform
    ) -> None:
        """The first teacher who comes from a course gets its class, called like the course."""
        client = college.browser()
        answer = platform.launch(client, "T-1", TEACHERS)
        place = answer.headers["location"]
        assert place.startswith("/classes/")
        assert "Choir, first year" in client.get(place).text
        assert role_in_course(college, "T-1") == "teacher"

    def test_a_learner_joins_it(self, college: School, platform: WeirPlatform) -> None:
        """Who learns in the course learns in the class, with an account of their own."""
        platform.launch(college.browser(), "T-1", TEACHERS)
        client = college.browser()
        answer = platform.launch(client)
        assert answer.headers["location"] == "/assigned"
        assert is_signed_in(client)
        found = account(college, "W-1")
        assert (found.role, found.shown_name) == (Role.LEARNER, "Person W-1")
        assert role_in_course(college, "W-1") == "learner"
        platform.launch(college.browser())
        assert college.store.accounts.count() == 2

    def test_a_form_begins_it_as_well(self, college: School, platform: WeirPlatform) -> None:
        """Platforms may begin by GET or by POST (Security Framework 1.0, section 5.1.1.1)."""
        client = college.browser()
        asked = platform.begin(client, "post")
        claims = platform.message(asked["nonce"], "T-1", TEACHERS)
        answer = platform.bring(client, signed(claims, platform.keys[0]), asked["state"])
        assert answer.status_code == 303

    def test_a_course_without_a_class_is_told(
        self, college: School, platform: WeirPlatform
    ) -> None:
        """A learner who comes before any teacher reads that, and nothing is stored."""
        before = contents(college.store)
        answer = platform.launch(college.browser())
        assert answer.status_code == REFUSED
        assert "Your teacher hasn&#39;t opened the trainer" in answer.text
        assert contents(college.store) == before

    def test_each_course_has_its_class(self, college: School, platform: WeirPlatform) -> None:
        """Who teaches one course is nothing in another, and learns where they learn."""
        platform.launch(college.browser(), "T-1", TEACHERS)
        band = {f"{LTI}context": {"id": "band"}}
        platform.launch(college.browser(), "T-2", TEACHERS, **band)
        platform.launch(college.browser(), "T-1", (LEARNER,), **band)
        assert role_in_course(college, "T-1") == "teacher"
        assert role_in_course(college, "T-1", "band") == "learner"
        assert role_in_course(college, "T-2") is None
        (found,) = college.store.classes.of_account(account(college, "T-2").id)
        assert found[0].name == "Course"

    @pytest.mark.parametrize(
        "roles",
        [
            (),
            (f"{ROLE}Mentor",),
            ("http://purl.imsglobal.org/vocab/lis/v2/institution/person#Instructor", LEARNER),
            ("http://purl.imsglobal.org/vocab/lis/v2/system/person#Administrator",),
            ("instructor", f"{ROLE}Instructor2"),
        ],
    )
    def test_only_teachers_of_the_course_teach(
        self, college: School, platform: WeirPlatform, roles: tuple[str, ...]
    ) -> None:
        """What somebody is in the institution or the system counts for nothing (LTI Core 1.3,
        appendix A.2)."""
        platform.launch(college.browser(), "T-1", TEACHERS)
        platform.launch(college.browser(), "W-1", roles)
        assert role_in_course(college, "W-1") == "learner"
        assert account(college, "W-1").role is Role.LEARNER

    def test_roles_follow_the_course(self, college: School, platform: WeirPlatform) -> None:
        """Whose role changes there has another one here at the next launch; the last teacher of a
        class stays one."""
        platform.launch(college.browser(), "T-1", TEACHERS)
        platform.launch(college.browser(), "T-1", (LEARNER,))
        assert role_in_course(college, "T-1") == "teacher"
        platform.launch(college.browser(), "W-1")
        platform.launch(college.browser(), "W-1", TEACHERS)
        assert role_in_course(college, "W-1") == "teacher"
        platform.launch(college.browser(), "W-1")
        assert role_in_course(college, "W-1") == "learner"

    def test_a_session_by_a_course_is_short(self, college: School, platform: WeirPlatform) -> None:
        """It ends an hour after its last use; what the browser had before ends at once."""
        client = college.signed_in("wren")
        before = client.cookies["session"]
        platform.launch(client, "T-1", TEACHERS)
        other = college.browser()
        other.cookies.set("session", before)
        assert not is_signed_in(other)
        college.clock.passes(minutes=61)
        assert not is_signed_in(client)

    def test_an_account_that_is_switched_off_stays_closed(
        self, college: School, platform: WeirPlatform
    ) -> None:
        """The platform's word does not open it."""
        platform.launch(college.browser(), "T-1", TEACHERS)
        college.server.accounts.switch_off(account(college, "T-1"), None)
        assert platform.launch(college.browser(), "T-1", TEACHERS).status_code == REFUSED

    def test_a_closed_class_takes_nobody_new(self, college: School, platform: WeirPlatform) -> None:
        """Whoever is in it still gets in."""
        client = college.browser()
        uid = platform.launch(client, "T-1", TEACHERS).headers["location"].rpartition("/")[2]
        platform.launch(college.browser(), "W-1")
        client.post(f"/classes/{uid}/close")
        assert platform.launch(college.browser(), "W-2").status_code == REFUSED
        assert platform.launch(college.browser(), "W-1").status_code == 303

    def test_the_published_example_is_understood(
        self, make_college: Callable[..., School], platform: WeirPlatform
    ) -> None:
        """A message with all that "LTI Core 1.3", appendix E, has in its full example: an audience
        in a list with `azp`, several roles, and claims that nobody here needs."""
        college = make_college(deployments=("07940580-b309-415e-a37c-914d387c1150",))
        full: dict[str, Any] = {
            "aud": [TOOL],
            "azp": TOOL,
            "name": "Ms Odile Marie Weir", "given_name": "Odile", "family_name": "Weir",
            "middle_name": "Marie", "picture": "https://learn.weir.example/odile.jpg",
            "email": "odile@learn.weir.example", "locale": "en-US",
            f"{LTI}deployment_id": "07940580-b309-415e-a37c-914d387c1150",
            f"{LTI}roles": [
                "http://purl.imsglobal.org/vocab/lis/v2/institution/person#Student",
                f"{ROLE}Learner", f"{ROLE}Mentor",
            ],
            f"{LTI}role_scope_mentor": ["fad5fb29-a91c-770-3c110-1e687120efd9"],
            f"{LTI}context": {
                "id": "c1d887f0-a1a3-4bca-ae25-c375edcc131a", "label": "ECON 1010",
                "title": "Economics as a Social Science",
                "type": ["http://purl.imsglobal.org/vocab/lis/v2/course#CourseOffering"],
            },
            f"{LTI}resource_link": {
                "id": "200d101f-2c14-434a-a0f3-57c2a42369fd",
                "description": "Assignment to introduce who you are",
                "title": "Introduction Assignment",
            },
            f"{LTI}tool_platform": {"guid": "ex/48bbb541", "name": "Example Tool Platform"},
            f"{LTI}launch_presentation": {"document_target": "iframe", "height": 320, "width": 240},
            f"{LTI}custom": {"xstart": "2017-04-21T01:00:00Z"},
            f"{LTI}lis": {"course_offering_sourcedid": "example.edu:SI182-F16"},
            "http://www.ExamplePlatformVendor.com/session": {"id": "89023sj890dju080"},
        }  # fmt: skip
        teacher: dict[str, Any] = full | {f"{LTI}roles": [INSTRUCTOR]}
        assert platform.launch(college.browser(), "T-1", **teacher).status_code == 303
        assert platform.launch(college.browser(), "W-1", **full).status_code == 303
        found = account(college, "W-1")
        assert (found.shown_name, found.role) == ("Ms Odile Marie Weir", Role.LEARNER)
