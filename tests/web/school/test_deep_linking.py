"""A teacher chooses which assignment a link of a course leads to (LTI Deep Linking 2.0)."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.web.classroom.school import School
from tests.web.school.platform import (
    DEEP_LINK,
    INSTRUCTOR,
    ISSUER,
    LEARNER,
    LTI,
    NAME,
    TOOL,
    WeirPlatform,
    form_of,
)
from tests.web.school.test_openid import REFUSED

TEACHERS = (INSTRUCTOR,)


class TestChoosing:
    def chosen(self, college: School, platform: WeirPlatform) -> tuple[TestClient, str]:
        """A teacher with an assignment who is asked to choose; the browser, and the page."""
        client = college.browser()
        place = platform.launch(client, "T-1", TEACHERS).headers["location"]
        data = {"title": "Week 3", "closes_at": "", "pass_mark": "80", "tries": "1",
                "counts": "best", "results": "at once", "scheme": ""}  # fmt: skip
        made = client.post(f"{place}/assignments/new", data=data, follow_redirects=False)
        assert made.status_code == 303
        page = platform.choose(client)
        assert page.status_code == 200
        return client, page.text

    def test_what_is_chosen_is_sent_back(self, college: School, platform: WeirPlatform) -> None:
        """The platform gets a link to the assignment with a line item, signed, with what it wanted
        to have back (Deep Linking 2.0, sections 2.2.3, 3.2 and 4.5, and appendix B)."""
        client, page = self.chosen(college, platform)
        (assignment,) = college.store.assignments.of_class(1)
        wish = page.partition('name="wish" value="')[2].partition('"')[0]
        form = {"wish": wish, "assignment": assignment.uid}
        answer = client.post("/lti/choose", data=form)
        assert f"form-action 'self' {ISSUER};" in answer.headers["content-security-policy"]
        place, sent = form_of(answer.text)
        assert place == "https://learn.weir.example/courses/choir/links"
        claims = platform.chosen(sent["JWT"])
        assert (claims["iss"], claims["aud"]) == (TOOL, ISSUER)
        assert claims[f"{LTI}message_type"] == "LtiDeepLinkingResponse"
        assert claims[f"{LTI}version"] == "1.3.0"
        assert claims[f"{LTI}deployment_id"] == "1"
        assert claims[f"{DEEP_LINK}data"] == "opaque-9"
        assert claims.keys() >= {"iat", "exp", "nonce"}
        (item,) = claims[f"{DEEP_LINK}content_items"]
        assert item["type"] == "ltiResourceLink"
        assert item["url"] == "http://testserver/lti/launch"
        assert item["title"] == item["lineItem"]["label"] == "Week 3"
        assert item["custom"] == {"assignment": assignment.uid}
        assert item["lineItem"]["scoreMaximum"] == 100

    def test_a_link_leads_to_its_assignment(self, college: School, platform: WeirPlatform) -> None:
        """A learner comes to the work, a teacher to the gradebook; a link to another class's
        assignment leads to nothing of it."""
        self.chosen(college, platform)
        (assignment,) = college.store.assignments.of_class(1)
        custom: dict[str, Any] = {f"{LTI}custom": {"assignment": assignment.uid}}
        learner = platform.launch(college.browser(), "W-1", **custom)
        assert learner.headers["location"] == f"/assigned/{assignment.uid}"
        teacher = platform.launch(college.browser(), "T-1", TEACHERS, **custom)
        assert teacher.headers["location"] == f"/gradebook/{assignment.uid}"
        band = {f"{LTI}context": {"id": "band", "title": "Band"}}
        other = platform.launch(college.browser(), "T-2", TEACHERS, **custom | band)
        assert other.headers["location"].startswith("/classes/")

    def test_only_the_teacher_who_was_asked_chooses(
        self, college: School, platform: WeirPlatform
    ) -> None:
        """A choice is the account's whose wish it was, within an hour, and of its own class."""
        client, page = self.chosen(college, platform)
        (assignment,) = college.store.assignments.of_class(1)
        wish = page.partition('name="wish" value="')[2].partition('"')[0]
        form = {"wish": wish, "assignment": assignment.uid}
        other = college.browser()
        platform.launch(other, "T-2", TEACHERS, **{f"{LTI}context": {"id": "band"}})
        assert other.post("/lti/choose", data=form).status_code == REFUSED
        assert client.post("/lti/choose", data=form | {"wish": wish[:-9]}).status_code == REFUSED
        nothing = client.post("/lti/choose", data=form | {"assignment": "0"})
        assert nothing.status_code == 404

    def test_learners_choose_nothing(self, college: School, platform: WeirPlatform) -> None:
        """Only teachers of the course are asked."""
        platform.launch(college.browser(), "T-1", TEACHERS)
        answer = platform.choose(college.browser(), subject="W-1", roles=(LEARNER,))
        assert answer.status_code == REFUSED
        assert "Only teachers" in answer.text

    @pytest.mark.parametrize(
        "changed",
        [
            {"deep_link_return_url": "http://learn.weir.example/back"},
            {"deep_link_return_url": "javascript:alert(1)"},
            {"accept_types": ["file"]},
            {"accept_types": None},
        ],
    )
    def test_what_cannot_be_answered_is_refused(
        self, college: School, platform: WeirPlatform, changed: dict[str, Any]
    ) -> None:
        """A request that takes no link, or wants its answer over no TLS, is refused."""
        asked = {
            "deep_link_return_url": "https://learn.weir.example/back",
            "accept_types": ["ltiResourceLink"],
        } | changed
        wish = {f"{DEEP_LINK}deep_linking_settings": asked}
        assert platform.choose(college.browser(), **wish).status_code == REFUSED

    def test_a_class_without_assignments_is_told(
        self, college: School, platform: WeirPlatform
    ) -> None:
        """The teacher is led to make one."""
        page = platform.choose(college.browser())
        assert "has no assignments yet" in page.text
        assert NAME in page.text
