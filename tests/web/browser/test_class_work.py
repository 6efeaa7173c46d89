"""A class in the browser: assigned, written, read bar by bar, graded again; and its pages under
axe-core."""

from __future__ import annotations

import re
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


def test_a_class_from_the_first_assignment_to_the_last_grade(
    lockside: Lockside, open_page: Opened
) -> None:
    """A teacher assigns a song, a learner hears and writes it, and the teacher reads what the class
    wrote, gives credit for a bar, and sees what other weights would do before using them."""
    base = url_of(lockside)
    teacher, learner = open_page(f"{base}/classes"), open_page(f"{base}/assigned")
    sign_in(teacher, "ada")
    sign_in(learner, "wren")
    assign(teacher)
    (assignment,) = lockside.assignments.of_class(lockside.school_class.uid)
    (item,) = lockside.store.assignments.items_with_songs(assignment)
    write(learner, wrong_first_bar(item.exercise.chart))
    read_bar_by_bar(teacher, f"{base}/gradebook/{assignment.uid}")
    give_credit(teacher)
    (attempt,) = lockside.store.assigned.attempts_of([item.id])
    assert attempt.grade.score == pytest.approx(1)
    grade_strictly(teacher, f"{base}/gradebook/{assignment.uid}/scheme")
    with teacher.expect_download() as file:
        teacher.get_by_role("link", name="Spreadsheet (XLSX)").click()
    assert file.value.suggested_filename == "Week 3.xlsx"
    teacher.get_by_role("button", name="Show the results now").click()
    learner.reload()
    expect(learner.get_by_text("your teacher gave it 100%. I heard it, too.")).to_be_visible()


def assign(teacher: Page) -> None:
    """Make an assignment of one song and open it."""
    teacher.get_by_role("link", name="Lock-side band").click()
    teacher.get_by_role("link", name="New assignment").click()
    teacher.get_by_label("Title").fill("Week 3")
    teacher.get_by_label("Learners see results").select_option("teacher")
    teacher.get_by_role("button", name="Go on to the songs").click()
    teacher.get_by_label("What").select_option("level:home-four-five")
    teacher.get_by_role("button", name="Add", exact=True).click()
    teacher.get_by_role("button", name="Open it now").click()
    expect(teacher.get_by_text("Open, no end")).to_be_visible()


def write(learner: Page, text: str) -> None:
    """Find the song among what is to do, hear it, write it, and hand in."""
    learner.get_by_role("link", name="Class work").click()
    learner.get_by_role("link", name="Week 3").click()
    learner.get_by_role("button", name="Begin song 1").click()
    learner.get_by_role("button", name="Play", exact=False).first.click()
    expect(learner.locator("#stop")).to_be_enabled()
    learner.locator("#text").fill(text)
    learner.get_by_role("button", name="Hand in").click()
    expect(learner.get_by_role("heading", name="You've handed it in")).to_be_visible()


def read_bar_by_bar(teacher: Page, gradebook: str) -> None:
    """Go to the song from the gradebook, and play it from the second bar."""
    teacher.goto(gradebook)
    expect(teacher.get_by_text("Learners don't see their results yet.")).to_be_visible()
    teacher.get_by_role("link", name=re.compile(r"^1\. Level 1")).first.click()
    teacher.get_by_role("link", name=re.compile("^2 ")).click()
    with teacher.expect_response(lambda answer: "/sound" in answer.url) as asked:
        teacher.get_by_role("button", name="Play from bar 2").click()
    assert "first=2" in asked.value.url
    expect(teacher.get_by_role("button", name="Stop")).to_be_enabled()


def give_credit(teacher: Page) -> None:
    """Give the learner all the credit for the first bar."""
    teacher.get_by_role("link", name=re.compile("^1 ")).click()
    heading = teacher.get_by_role("heading", name=re.compile("^Bar 1: the band played"))
    expect(heading).to_be_visible()
    teacher.get_by_text("Give credit or comment").first.click()
    teacher.get_by_label("Credit for bar 1 of Wren Halloway").fill("100")
    teacher.get_by_label("Comment for Wren Halloway on bar 1").fill("I heard it, too.")
    teacher.get_by_role("button", name="Save for Wren Halloway").first.click()
    expect(teacher.get_by_text("given by you")).to_have_count(1)


def grade_strictly(teacher: Page, scheme: str) -> None:
    """See what strict scoring would change, and use it."""
    teacher.goto(scheme)
    teacher.get_by_label("Scoring").select_option("strict")
    teacher.get_by_role("button", name="See what changes").click()
    expect(teacher.get_by_role("heading", name="What would change")).to_be_visible()
    teacher.get_by_role("button", name="Grade like this").click()
    expect(teacher.get_by_role("heading", name="Gradebook")).to_be_visible()


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
