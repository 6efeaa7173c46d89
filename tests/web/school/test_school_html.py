"""The pages of signing in by a school's own system, as HTML and as texts that people read."""

from __future__ import annotations

import html5lib
import pytest

from tests.classroom.people import WORDS
from tests.readability import flesch_kincaid_grade
from tests.web.classroom.school import School
from tests.web.school.platform import ISSUER, LTI, TOOL, WeirPlatform
from tests.web.school.provider import LockgateProvider
from tests.web.test_reading_level import HARDEST, main_of, sentences
from trainer.web.guard import Guard

EVIL = "<script>alert('1')</script>\" onclick=\"x"


@pytest.fixture
def pages(school: School, provider: LockgateProvider) -> dict[str, str]:
    """Every such page."""
    wren, nobody, zoe = school.signed_in("wren"), school.browser(), school.browser()
    provider.person |= {"sub": "L-0018", "name": EVIL}
    provider.sign_in(zoe)
    return {
        "sign-in": nobody.get("/sign-in?then=/history%3Fa=1%26b=2").text,
        "failed": nobody.get("/sign-in/school/back?error=%3Cb%3E").text,
        "failed, signed in": wren.get("/sign-in/school/back?code=1&state=1").text,
        "account, not connected": wren.get("/account").text,
        "go": wren.post("/account/school", data={"password": WORDS}).text,
        "refused": wren.post("/account/school", data={"password": "x"}).text,
        "account, connected": zoe.get("/account").text,
        "delete": zoe.get("/account/delete").text,
    }


def test_every_page_is_valid_and_easy_to_read(pages: dict[str, str]) -> None:
    """A strict parser finds no error, no name is markup, and the sentences keep to our grade."""
    for name, text in pages.items():
        html5lib.HTMLParser(strict=True).parse(text)
        assert "<script>alert" not in text, name
        assert flesch_kincaid_grade(" ".join(sentences(main_of(text)))) <= HARDEST, name


@pytest.fixture
def course_pages(college: School, platform: WeirPlatform) -> dict[str, str]:
    """Every page on the way from a course and back to it."""
    client, evil = college.browser(), {f"{LTI}context": {"id": "x", "title": EVIL}}
    found = {
        "failed": client.get("/lti/login").text,
        "frame": client.get(
            "/lti/login",
            params={"iss": ISSUER, "login_hint": EVIL},
            headers={"sec-fetch-dest": "iframe"},
        ).text,
        "pass on": client.post("/lti/launch", data={"id_token": EVIL, "state": EVIL}).text,
        "nothing to choose": platform.choose(client, **evil).text,
    }
    (school_class,) = college.store.classes.of_account(1)
    place = f"/classes/{school_class[0].uid}/assignments/new"
    form = {"title": EVIL, "closes_at": "", "pass_mark": "80", "tries": "1", "counts": "best",
            "results": "at once", "scheme": ""}  # fmt: skip
    assert client.post(place, data=form, follow_redirects=False).status_code == 303
    found["choose"] = platform.choose(client, **evil).text
    (assignment,) = college.store.assignments.of_class(school_class[0].id)
    college.store.lti.add_line_item(ISSUER, TOOL, f"{ISSUER}/1", assignment.id, college.clock())
    found["gradebook"] = client.get(f"/gradebook/{assignment.uid}").text
    wish = found["choose"].partition('name="wish" value="')[2].partition('"')[0]
    chosen = {"wish": wish, "assignment": assignment.uid}
    found["return"] = client.post("/lti/choose", data=chosen).text
    return found


def test_every_page_of_a_course_is_valid_and_easy_to_read(course_pages: dict[str, str]) -> None:
    """As the pages of signing in; what a platform calls things is text, and never markup."""
    assert "Your course has 0 scores from here." in course_pages["gradebook"]
    for name, text in course_pages.items():
        html5lib.HTMLParser(strict=True).parse(text)
        assert "<script>alert" not in text, name
        found = " ".join(sentences(main_of(text)))
        if found and name != "gradebook":
            assert flesch_kincaid_grade(found) <= HARDEST, name


def test_the_way_back_passes_the_guard(school: School, provider: LockgateProvider) -> None:
    """A browser that comes back says that another site sent it (Fetch Metadata); that is let in,
    and only as a link is."""
    browser = school.browser()
    back = provider.visit(browser)
    browser.app = Guard(school.app, origin=school.origin)
    browser._transport.app = browser.app  # type: ignore[attr-defined]  # Starlette's own
    fetched = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    refused = browser.get(back, headers=fetched | {"sec-fetch-dest": "iframe"})
    assert refused.status_code == 403
    answer = browser.get(
        back, headers=fetched | {"sec-fetch-dest": "document"}, follow_redirects=False
    )
    assert answer.status_code == 303
