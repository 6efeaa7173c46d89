"""A whole class in the browser, from the teacher's first sign-in to the spreadsheet of grades."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import load_workbook
from playwright.sync_api import Page, expect

from tests.classroom.people import WORDS
from tests.web.browser.class_house import ClassHouse
from tests.web.browser.house import Opened
from tests.web.browser.test_class import sign_in
from tests.web.browser.test_dictation import Ahead, begin_dictation, end, sit_down
from tests.web.fakes import FakeLibrary
from trainer.chart import Chart, format_chart
from trainer.classroom.demo_answers import from_another_home, without_last_bar
from trainer.classroom.dictation_answers import item_of
from trainer.store import Assignment, Role, Store

LEARNERS = ("Wren Halloway", "Zoe Sedgwick", "Quill Thackeray")
CLASS = "Lock-side band"


@pytest.fixture
def house(tmp_path: Path, record: Path) -> Iterator[ClassHouse]:
    """A server on which only a teacher has an account."""
    folder = tmp_path / "audio"
    folder.mkdir()
    with Store.open(record) as store:
        made = ClassHouse(store, FakeLibrary(folder), clock=Ahead())
        made.open()
        made.account("ada", "Ada Millpond", Role.TEACHER)
        yield made
        made.close()


def test_a_whole_class(house: ClassHouse, open_page: Opened) -> None:
    """A teacher makes a class and an assignment; three learners join and hand in a perfect answer,
    one without its last bar and one from another home; a dictation is played to them; the teacher
    reads the gradebook, gives credit for a bar, grades again by another scheme, exports the grades
    and shows the results."""
    teacher = open_page(f"{house.url}classes")
    sign_in(teacher, "ada")
    code = make_class(teacher)
    assign(teacher)
    learners = [join(open_page(f"{house.url}join"), name, code) for name in LEARNERS]
    assignment, chart = assigned(house)
    # The last chord of the third is minor besides: another scheme gives it less.
    third = f"{from_another_home(chart).rstrip()}-"
    texts = (format_chart(chart), without_last_bar(chart), third)
    for learner, text in zip(learners, texts, strict=True):
        write(learner, text)
    dictate(house, teacher, learners)
    gradebook = f"{house.url}gradebook/{assignment.uid}"
    before = scores(teacher, gradebook)
    assert before[0] == 100
    assert 0 < before[1] < 100
    assert 0 < before[2] < 100
    read_bar_by_bar(teacher, gradebook)
    give_credit(teacher, len(chart.bars()), "Zoe Sedgwick")
    credited = scores(teacher, gradebook)
    assert (credited[0], credited[2]) == (before[0], before[2])
    assert credited[1] > before[1]
    grade_strictly(teacher, f"{gradebook}/scheme")
    after = scores(teacher, gradebook)
    assert after[:2] == credited[:2]
    assert after[2] < credited[2]
    # The page cuts what the spreadsheet has exactly.
    assert exported(teacher) == pytest.approx(dict(zip(LEARNERS, after, strict=True)), abs=1)
    teacher.get_by_role("button", name="Show the results now").click()
    read_result(learners[1])


def make_class(teacher: Page) -> str:
    """Make a class; the code to join it."""
    teacher.get_by_label("Name", exact=True).fill(CLASS)
    teacher.get_by_label("Term").fill("Spring")
    teacher.get_by_role("button", name="Make the class").click()
    code = teacher.locator(".join-code").text_content()
    assert code
    teacher.get_by_role("link", name="Classes", exact=True).first.click()
    return code


def join(page: Page, name: str, code: str) -> Page:
    """A learner types the code, makes an account and reads the advice on hearing."""
    page.get_by_label("The code from your teacher").fill(code)
    page.get_by_label("Your name, as others see it").fill(name)
    page.get_by_label("A name to sign in with").fill(name.split(maxsplit=1)[0].lower())
    page.get_by_label("A password").fill(WORDS)
    page.get_by_role("button", name="Join with a new account").click()
    page.get_by_role("button", name="It's comfortable").click()
    expect(page.get_by_role("link", name=name)).to_be_visible()
    return page


def assigned(house: ClassHouse) -> tuple[Assignment, Chart]:
    """The assignment, and what its song is."""
    teacher = house.store.accounts.by_sign_in("ada")
    assert teacher is not None
    ((made, _),) = house.store.classes.of_account(teacher.id)
    (assignment,) = house.store.assignments.of_class(made.id)
    (item,) = house.store.assignments.items_with_songs(assignment)
    return assignment, item.exercise.chart


def dictate(house: ClassHouse, teacher: Page, learners: list[Page]) -> None:
    """Play a song to the room, of which two learners write all and one writes nothing."""
    teacher.goto(f"{house.url}classes")
    begin_dictation(teacher)
    dictation = house.store.dictations.find(teacher.url.rpartition("/")[2])
    assert dictation is not None
    chart = item_of(dictation, house.store.dictations.song(dictation)).exercise.chart
    for learner in learners:
        learner.get_by_role("link", name="Class work").click()
        sit_down(learner)
    teacher.get_by_role("button", name="Play the song").click()
    for learner in learners[:2]:
        expect(learner.locator("#phase")).to_have_text("Listen: the band is playing.")
        learner.locator("#text").fill(format_chart(chart))
    for name in LEARNERS[:2]:
        row = teacher.get_by_role("row", name=name)
        expect(row).to_contain_text(f"open{dictation.bars}")
    first = str(chart.bars()[0].events[0].chord)
    expect(teacher.locator("#answers li")).to_have_text([f"2 wrote {first}", "1 wrote nothing"])
    end(teacher)
    for learner in learners:
        expect(learner.locator("#phase")).to_contain_text("It's over.")
    teacher.get_by_role("link", name="Gradebook").click()
    expect(teacher.get_by_role("cell", name="100%").first).to_be_visible()


def scores(teacher: Page, gradebook: str) -> list[int]:
    """The score of each learner in the gradebook, in per cents."""
    teacher.goto(gradebook)
    table = teacher.get_by_role("region", name="Scores")
    rows = [table.get_by_role("row", name=name).inner_text() for name in LEARNERS]
    return [int(re.findall(r"(\d+)%", row)[-1]) for row in rows]


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


def give_credit(teacher: Page, bar: int, name: str) -> None:
    """Give a learner all the credit for a bar, and say why."""
    teacher.get_by_role("link", name=re.compile(f"^{bar} ")).click()
    panel = teacher.locator(f"#bar-{bar}")
    expect(panel.get_by_text(f"left out: {name}")).to_be_visible()
    panel.get_by_text("Give credit or comment").click()
    panel.get_by_label(f"Credit for bar {bar} of {name}").fill("100")
    panel.get_by_label(f"Comment for {name} on bar {bar}").fill("The band rings on here.")
    panel.get_by_role("button", name=f"Save for {name}").click()
    expect(teacher.get_by_text("given by you")).to_have_count(1)


def grade_strictly(teacher: Page, scheme: str) -> None:
    """See what strict scoring would change, and use it."""
    teacher.goto(scheme)
    teacher.get_by_label("Scoring").select_option("strict")
    teacher.get_by_role("button", name="See what changes").click()
    expect(teacher.get_by_role("heading", name="What would change")).to_be_visible()
    for name in LEARNERS:
        expect(teacher.get_by_role("row", name=name)).to_be_visible()
    teacher.get_by_role("button", name="Grade like this").click()
    expect(teacher.get_by_role("heading", name="Gradebook")).to_be_visible()


def exported(teacher: Page) -> dict[str, float]:
    """The score of each learner in the spreadsheet, in per cents."""
    with teacher.expect_download() as file:
        teacher.get_by_role("link", name="Spreadsheet (XLSX)").click()
    assert file.value.suggested_filename == "Week 3.xlsx"
    sheet = load_workbook(BytesIO(file.value.path().read_bytes())).worksheets[0]
    header, *rows = sheet.iter_rows(values_only=True)
    name, score = header.index("Name"), header.index("Score")
    return {str(row[name]): 100 * float(str(row[score])) for row in rows if row[name]}


def read_result(learner: Page) -> None:
    """A learner sees the result with the teacher's words."""
    learner.get_by_role("link", name="Class work", exact=True).click()
    learner.get_by_role("link", name="Week 3").click()
    learner.get_by_role("link", name=re.compile("result", re.IGNORECASE)).first.click()
    expect(learner.get_by_text("The band rings on here.")).to_be_visible()
