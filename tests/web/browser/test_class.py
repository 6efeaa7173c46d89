"""Signing in, joining and links in a browser, and the pages of accounts under axe-core."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.classroom.people import OTHER_WORDS, WORDS
from tests.patience import waiting
from tests.web.browser.class_house import ClassHouse
from tests.web.browser.house import Opened, begin
from tests.web.browser.test_access import SCREENS, check
from tests.web.fakes import FakeLibrary
from trainer.store import Role, Store


@pytest.fixture
def school(tmp_path: Path, record: Path) -> Iterator[ClassHouse]:
    """A class server with an owner and a teacher."""
    folder = tmp_path / "audio"
    folder.mkdir()
    with Store.open(record) as store:
        made = ClassHouse(store, FakeLibrary(folder))
        made.open()
        made.account("odell", "Odell Pruitt", Role.OWNER)
        made.account("nora", "Nora Finch", Role.TEACHER)
        yield made
        made.close()


def sign_in(page: Page, name: str, password: str = WORDS) -> None:
    """Fill the form in and send it."""
    page.get_by_label("Name to sign in with").fill(name)
    page.get_by_label("Password", exact=True).fill(password)
    page.get_by_role("button", name="Sign in").click()


def drafts_kept(page: Page) -> int:
    """How many drafts the browser keeps."""
    keys = "Object.keys(localStorage).filter(key => key.startsWith('draft ')).length"
    found: int = page.evaluate(keys)
    return found


def test_a_learner_joins_writes_and_comes_back(school: ClassHouse, open_page: Opened) -> None:
    """With the teacher's code a learner makes an account and reads the caution; what they write is
    there when they sign in again, and not for the next person at this computer."""
    teacher = school.store.accounts.by_sign_in("nora")
    assert teacher is not None
    page = open_page(f"{school.url}join#{school.code(teacher)}")
    expect(page.get_by_label("The code from your teacher")).not_to_have_value("")
    assert page.url == f"{school.url}join"
    page.get_by_label("Your name, as others see it").fill("Wren Halloway")
    page.get_by_label("A name to sign in with").fill("wren")
    page.get_by_label("A password").fill(WORDS)
    page.get_by_role("button", name="Join with a new account").click()
    page.get_by_role("button", name="It's comfortable").click()
    expect(page.get_by_role("link", name="Wren Halloway")).to_be_visible()
    begin(page)
    with page.expect_response(lambda answer: answer.url.endswith("/draft") and answer.ok):
        page.locator("#text").fill("1 4 5")
    assert drafts_kept(page) == 1
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_text("You're signed out.")).to_be_visible()
    for _ in waiting("the browser keeps no draft"):
        if drafts_kept(page) == 0:
            break
    sign_in(page, "nora")
    expect(page.get_by_role("heading", name="Pick up where you left off")).to_have_count(0)
    page.get_by_role("button", name="Sign out").click()
    sign_in(page, "wren")
    page.get_by_role("link", name="Continue").click()
    expect(page.locator("#text")).to_have_value("1 4 5")


def test_what_is_typed_survives_the_end_of_a_session(school: ClassHouse, open_page: Opened) -> None:
    """Who is signed out while writing is told so, signs in in another window, and goes on."""
    school.account("wren", "Wren Halloway")
    page = open_page(school.url)
    sign_in(page, "wren")
    begin(page)
    account = school.store.accounts.by_sign_in("wren")
    assert account is not None
    assert school.server is not None
    school.server.sessions.end_all(account)
    page.locator("#text").fill("1 4 5")
    expect(page.get_by_text("Sign in again in another window").first).to_be_visible()
    other = page.context.new_page()
    other.goto(school.url)
    sign_in(other, "wren")
    other.get_by_role("link", name="Wren Halloway").wait_for()
    with page.expect_response(lambda answer: answer.url.endswith("/draft") and answer.ok):
        page.locator("#text").fill("1 4 5 1")


def test_a_forgotten_password(school: ClassHouse, open_page: Opened) -> None:
    """The owner makes a link; opened anywhere, even where such a page is open, it leads to a form,
    and nothing of it stays in the address."""
    school.account("wren", "Wren Halloway")
    owner = open_page(f"{school.url}people")
    sign_in(owner, "odell")
    owner.get_by_role("button", name="New password link for wren").click()
    link = owner.locator("code").inner_text()
    page = open_page(f"{school.url}link")
    page.goto(link)
    page.get_by_label("New password").fill(OTHER_WORDS)
    assert page.url == f"{school.url}link"
    page.get_by_role("button", name="Set it and sign in").click()
    expect(page.get_by_role("link", name="Wren Halloway")).to_be_visible()
    again = open_page(link)
    expect(again.get_by_role("alert")).to_contain_text("doesn't work any more")


@pytest.mark.parametrize("screen", SCREENS)
def test_the_pages_of_accounts(school: ClassHouse, open_page: Opened, screen: str) -> None:
    """No page of accounts, in no state, has a fault that axe-core knows, and nothing is wider than
    the screen."""
    wren = school.account("wren", "Wren Halloway")
    off = school.account("quill", "Quill Thackeray")
    assert school.server is not None
    school.server.accounts.switch_off(off, None)
    page = open_page(f"{school.url}today", **SCREENS[screen])
    check(page, "sign in")
    sign_in(page, "wren", OTHER_WORDS)
    expect(page.get_by_role("alert")).to_be_visible()
    check(page, "sign in, wrong")
    tokens = (school.server.accounts.owner_link(), school.server.accounts.reset_link(wren, None))
    for token in tokens:
        page.goto(f"{school.url}privacy")
        page.goto(f"{school.url}link#{token}")
        page.get_by_role("heading", name="Make your account").or_(
            page.get_by_role("heading", name="Set a new password")
        ).wait_for()
        check(page, "a link")
    for place in ("privacy", "link", "join"):
        page.goto(school.url + place)
        check(page, place)
        assert_fits(page, place)
    page.goto(f"{school.url}sign-in")
    sign_in(page, "odell")
    page.get_by_role("link", name="Odell Pruitt").wait_for()
    for place in ("account", "account/delete", "people", "people/log",
                  f"people/{wren.uid}/delete", "join"):  # fmt: skip
        page.goto(school.url + place)
        check(page, place)
        assert_fits(page, place)
    page.goto(f"{school.url}people")
    page.get_by_role("button", name="Invite a teacher").click()
    check(page, "an invitation")
    assert_fits(page, "an invitation")


def assert_fits(page: Page, place: str) -> None:
    """The page does not scroll sideways."""
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0, f"{place}: {wide} pixels too wide"
