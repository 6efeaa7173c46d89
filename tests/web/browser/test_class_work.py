"""The pages of a class in the browser, under axe-core and without scripts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.classroom.lockside import FIRST_LEVEL, Lockside, found, missing_bar, wrong_first_bar
from tests.web.browser.class_house import ClassHouse
from tests.web.browser.house import Opened
from tests.web.browser.test_access import SCREENS, check
from tests.web.browser.test_class import assert_fits, sign_in
from tests.web.fakes import FakeLibrary
from trainer.chart import format_chart
from trainer.exercise import song_digest
from trainer.store import Account, Role, Store


@dataclass
class Place:
    """A class server as the ways through a class take it."""

    house: ClassHouse

    @property
    def store(self) -> Store:
        return self.house.store

    @property
    def clock(self) -> Any:
        return self.house.clock

    def sign_up(self, name: str = "wren", role: Role = Role.LEARNER) -> Account:
        return self.house.account(name, f"{name.title()} Halloway", role)


@pytest.fixture
def lockside(tmp_path: Path, record: Path) -> Iterator[Lockside]:
    """A class with a teacher and two learners on a server."""
    folder = tmp_path / "audio"
    folder.mkdir()
    with Store.open(record) as store:
        house = ClassHouse(store, FakeLibrary(folder))
        house.open()
        yield found(Place(house))
        house.close()


def url_of(lockside: Lockside) -> str:
    """Where the class's server is, without a slash."""
    assert isinstance(lockside.school, Place)
    return lockside.school.house.url.rstrip("/")


def test_without_scripts_every_bar_is_there(lockside: Lockside, open_page: Opened) -> None:
    """The class's bars are read without scripts as well; nothing is hidden then."""
    assignment, (item,) = lockside.assign()
    wren, zoe = lockside.pupils
    lockside.write(wren, item, wrong_first_bar(item.exercise.chart))
    lockside.write(zoe, item, missing_bar(item.exercise.chart))
    page = open_page(f"{url_of(lockside)}/gradebook/{assignment.uid}", java_script_enabled=False)
    sign_in(page, "ada")
    page.goto(f"{url_of(lockside)}/gradebook/songs/{item.uid}")
    expect(page.locator(".bar-panel:visible")).to_have_count(2)


def pages_of_a_teacher(lockside: Lockside) -> dict[str, str]:
    """Every page of a teacher, in a state that shows most of it."""
    assignment, (item, _) = lockside.assign([FIRST_LEVEL, FIRST_LEVEL])
    wren, zoe = lockside.pupils
    lockside.write(wren, item)
    done = lockside.write(zoe, item, wrong_first_bar(item.exercise.chart))
    lockside.regrading.override(done.attempt.id, 2, 0.5, "Nearly.")
    song = song_digest(item.exercise)
    lockside.regrading.accept_chart(item.uid, song, missing_bar(item.exercise.chart), "Also.")
    later = lockside.school.clock() + timedelta(days=1)
    waiting, _ = lockside.assign(opens_at=later, title="Week 4")
    room, book = f"/classes/{lockside.school_class.uid}", f"/gradebook/{assignment.uid}"
    return {
        "classes": "/classes",
        "class": room,
        "new assignment": f"{room}/assignments/new",
        "assignment": f"/assignments/{waiting.uid}",
        "opened assignment": f"/assignments/{assignment.uid}",
        "preview": f"/assignments/{waiting.uid}/preview",
        "gradebook": book,
        "skills": f"{book}/skills",
        "learner": f"{book}/learners/{zoe.uid}",
        "scheme": f"{book}/scheme",
        "song": f"/gradebook/songs/{item.uid}?song={song}",
    }


@pytest.mark.parametrize("screen", SCREENS)
def test_the_pages_of_a_class(lockside: Lockside, open_page: Opened, screen: str) -> None:
    """No page of a class has a fault that axe-core knows, and nothing is wider than the screen."""
    base, places = url_of(lockside), pages_of_a_teacher(lockside)
    page = open_page(f"{base}/classes", **SCREENS[screen])
    sign_in(page, "ada")
    page.get_by_role("heading", name="Classes you teach").wait_for()
    for name, place in places.items():
        page.goto(base + place)
        open_all(page)
        check(page, name)
        assert_fits(page, name)
    page.goto(base + places["scheme"])
    page.get_by_label("Scoring").select_option("strict")
    page.get_by_role("button", name="See what changes").click()
    check(page, "scheme, changes")
    _, (hidden,) = lockside.assign(results="teacher", title="Week 5")
    done = lockside.write(lockside.pupils[0], hidden, format_chart(hidden.exercise.chart))
    page.get_by_role("button", name="Sign out").click()
    sign_in(page, "wren")
    page.get_by_role("link", name="Wren Halloway").wait_for()
    assignment = places["gradebook"].rpartition("/")[2]
    for place in ("/assigned", f"/assigned/{assignment}", f"/result/{done.attempt.id}", "/history"):
        page.goto(base + place)
        open_all(page)
        check(page, place)
        assert_fits(page, place)


def open_all(page: Page) -> None:
    """Open everything that folds."""
    page.evaluate(
        "document.querySelectorAll('main details').forEach(each => { each.open = true; })"
    )
