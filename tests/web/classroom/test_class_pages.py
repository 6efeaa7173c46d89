from __future__ import annotations

import io
import re
import zipfile

import openpyxl
import pytest

from tests.classroom.lockside import missing_bar, wrong_first_bar
from tests.web.classroom.lockside import Lockside, said
from tests.web.classroom.school import School
from trainer.exercise import song_digest


@pytest.fixture
def lockside(school: School) -> Lockside:
    """A class whose two learners have joined."""
    return Lockside(school)


def test_a_class_from_its_making_to_its_gradebook(lockside: Lockside) -> None:
    """A teacher makes a class and an assignment, learners join and write, and the gradebook has
    what they did."""
    uid = lockside.assign()
    page = said(lockside.teacher, f"/classes/{lockside.class_uid}")
    assert "2 learners" in page
    assert "Wren H." in page
    assert "Week 3 due" in page
    assert "Week 3" in said(lockside.learners["wren"], "/assigned")
    assert "From your class Week 3 Lock-side band" in said(lockside.learners["wren"], "/today")
    result = lockside.write("wren", uid)
    chart = lockside.items(uid)[0].exercise.chart
    lockside.write("zoe", uid, missing_bar(chart))
    assert "From your class" not in said(lockside.learners["wren"], "/today")
    shown = said(lockside.learners["wren"], result)
    assert "For Week 3 this counts as 100%" in shown
    book = said(lockside.teacher, f"/gradebook/{uid}")
    assert re.search(r"Wren H\. 100% 1/1 100% 100% ✓ passed", book)
    assert "Learners see their results." in book
    work = said(lockside.learners["wren"], f"/assigned/{uid}")
    assert "100%: see the result" in work
    assert "✓ handed in" in work


def test_the_class_bar_by_bar(lockside: Lockside) -> None:
    """The page of a song says who missed which bar and what they wrote, and plays it from there."""
    uid = lockside.assign()
    (item,) = lockside.items(uid)
    lockside.write("wren", uid)
    lockside.write("zoe", uid, wrong_first_bar(item.exercise.chart, "2-"))
    page = said(lockside.teacher, f"/gradebook/songs/{item.uid}")
    assert "Bar 1: the band played" in page
    assert "1 of 2 got it right." in page
    assert "2- : Zoe H." in page
    place = f"/gradebook/songs/{item.uid}/sound?first=2"
    sound = lockside.teacher.get(place, headers={"accept": "application/json"}).json()
    assert sound["url"].startswith("/audio/")


def test_a_bar_is_given_credit_and_a_comment(lockside: Lockside) -> None:
    """What the teacher gives and says stands in the gradebook, on the learner's page for the
    teacher, and on the learner's own result."""
    uid = lockside.assign()
    (item,) = lockside.items(uid)
    place = lockside.write("zoe", uid, wrong_first_bar(item.exercise.chart, "2-"))
    attempt = place.rpartition("/")[2]
    back = f"/gradebook/songs/{item.uid}?song={song_digest(item.exercise)}"
    answer = lockside.post(
        f"/gradebook/attempts/{attempt}/bar", bar="1", credit="100", comment="Fair.", back=back
    )
    assert answer.headers["location"] == back
    zoe = lockside.account("zoe")
    learner = said(lockside.teacher, f"/gradebook/{uid}/learners/{zoe.uid}")
    assert "Bar 1: 100%. Fair." in learner
    assert "before you changed a bar" in learner
    shown = said(lockside.learners["zoe"], place)
    assert "this counts as 100%" in shown
    assert "your teacher gave it 100%. Fair." in shown
    evil = lockside.post(f"/gradebook/attempts/{attempt}/bar", bar="0", comment="x", back="//x.y")
    assert evil.headers["location"] == "/classes"


def test_a_scheme_is_shown_first(lockside: Lockside) -> None:
    """Other weights show each grade before and after, and change nothing until they are used."""
    uid = lockside.assign()
    (item,) = lockside.items(uid)
    place = lockside.write("zoe", uid, wrong_first_bar(item.exercise.chart))
    before = lockside.school.store.assigned.attempts_of([item.id])
    form = {"scheme": "strict", "do": "show"}
    shown = lockside.teacher.post(f"/gradebook/{uid}/scheme", data=form)
    assert "What would change" in shown.text
    assert "↓" in shown.text
    assert lockside.school.store.assigned.attempts_of([item.id]) == before
    lockside.post(f"/gradebook/{uid}/scheme", scheme="strict", do="change")
    (after,) = lockside.school.store.assigned.attempts_of([item.id])
    assert after.grade.score < before[0].grade.score
    assert said(lockside.learners["zoe"], place)
    wrong = lockside.teacher.post(f"/gradebook/{uid}/scheme", data={"weight-root": "-1"})
    assert wrong.status_code == 422
    assert 'role="alert"' in wrong.text


def test_a_second_chart_on_the_page(lockside: Lockside) -> None:
    """A second right chart is shown with what it would change, accepted, and taken back."""
    uid = lockside.assign()
    (item,) = lockside.items(uid)
    second = wrong_first_bar(item.exercise.chart)
    lockside.write("zoe", uid, second)
    song = song_digest(item.exercise)
    place = f"/gradebook/songs/{item.uid}"
    form = {"song": song, "text": second, "do": "show"}
    assert "Zoe H." in lockside.teacher.post(f"{place}/chart", data=form).text
    lockside.post(f"{place}/chart", song=song, text=second, do="accept", comment="Both.")
    page = said(lockside.teacher, f"{place}?song={song}")
    assert "graded by a second chart" in page
    (chart,) = lockside.school.store.class_grades.accepted([item.id])
    lockside.post(f"{place}/charts/{chart.id}/withdraw", song=song)
    assert lockside.school.store.class_grades.accepted([item.id]) == ()
    wrong = lockside.teacher.post(f"{place}/chart", data=form | {"text": "1 4 x", "do": "accept"})
    assert wrong.status_code == 422


def test_spreadsheets_open(lockside: Lockside) -> None:
    """The files have the assignment's name and its rows."""
    uid = lockside.assign(title="Week 3: =1+1")
    lockside.write("wren", uid)
    csv = lockside.teacher.get(f"/gradebook/{uid}/scores.csv")
    assert csv.headers["content-type"] == "text/csv; charset=utf-8"
    assert "Wren H." in csv.content.decode("utf-8-sig")
    xlsx = lockside.teacher.get(f"/gradebook/{uid}/scores.xlsx")
    assert "attachment" in xlsx.headers["content-disposition"]
    assert openpyxl.load_workbook(io.BytesIO(xlsx.content)).sheetnames[0] == "Scores"


def test_sheets_to_print(lockside: Lockside) -> None:
    """The page of an assignment leads to its sheets in one file, which no learner gets; where songs
    differ, it doesn't."""
    uid = lockside.assign()
    place = f"/assignments/{uid}/sheets.zip"
    assert place in lockside.teacher.get(f"/assignments/{uid}").text
    answer = lockside.teacher.get(place)
    assert "Week 3.zip" in answer.headers["content-disposition"].replace("%20", " ")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert "blank sheets.pdf" in archive.namelist()
    assert lockside.learners["wren"].get(place).status_code == 403
    made = lockside.post(
        f"/classes/{lockside.class_uid}/assignments/new",
        title="Week 4", results="at once", pass_mark="80", tries="1", counts="best",
    )  # fmt: skip
    other = made.headers["location"]
    lockside.post(f"{other}/items", what="level:six-minor", songs="different")
    page = lockside.teacher.get(other).text
    assert "Everybody gets a different song" in page
    assert "sheets.zip" not in page
    assert lockside.teacher.get(f"{other}/sheets.zip").status_code == 422


def test_results_come_when_the_teacher_shows_them(lockside: Lockside) -> None:
    """Until then the learner reads that it is handed in; nothing else of the result is there."""
    uid = lockside.assign(results="teacher")
    place = lockside.write("wren", uid)
    wren = lockside.learners["wren"]
    assert "when your teacher shows it" in said(wren, place)
    attempt = place.rpartition("/")[2]
    for hidden in (f"/result/{attempt}/song.wav", f"/result/{attempt}/sound?side=played",
                   f"/handout/{attempt}/played", f"/handout/{attempt}/played/text",
                   f"/handout/{attempt}/played/sheet.pdf", f"/result/{attempt}/code"):  # fmt: skip
        assert wren.get(hidden).status_code == 403, hidden
    assert wren.post(f"/result/{attempt}/practise").status_code == 403
    history = said(wren, "/history")
    assert "later" in history
    assert "100%" not in history
    assert "100%" not in said(wren, "/history?order=score")
    assert "100%" not in said(wren, "/progress")
    assert "100%" not in said(wren, f"/assigned/{uid}")
    (_, key) = lockside.items(uid)[0], wren.get("/history").text
    assert "see the result" not in key
    lockside.post(f"/assignments/{uid}/results")
    assert "this counts as 100%" in said(wren, place)
    assert "100%" in said(wren, "/history")


def test_an_assignment_is_changed_on_its_page(lockside: Lockside) -> None:
    """Before it opens, songs are added, moved, replaced and removed; what is wrong is said."""
    place = f"/classes/{lockside.class_uid}/assignments/new"
    wrong = lockside.teacher.post(place, data={"title": "Week 4", "results": "closed"})
    assert wrong.status_code == 422
    assert "need an end" in wrong.text
    made = lockside.post(place, title="Week 4", results="teacher", counts="best")
    uid = made.headers["location"].rpartition("/")[2]
    page = f"/assignments/{uid}"
    lockside.post(f"{page}/items", what="level:home-four-five", songs="same")
    lockside.post(f"{page}/items", what="skill:five-over-seven:bass 5/7", songs="each")
    items = lockside.items(uid)
    assert len(items) == 11
    lockside.post(f"{page}/items/{items[3].uid}/move", place="1")
    lockside.post(f"{page}/items/{items[0].uid}/song")
    lockside.post(f"{page}/items/{items[1].uid}/remove")
    now = lockside.items(uid)
    assert [each.uid for each in now][:2] == [items[3].uid, items[0].uid]
    assert song_digest(now[1].exercise) != song_digest(items[0].exercise)
    text = said(lockside.teacher, page)
    assert "Everybody gets a different song, equally hard" in text
    bad = lockside.teacher.post(f"{page}/items", data={"what": "level:none"})
    assert bad.status_code == 422
    lockside.post(page, title="Week 4b", results="teacher", tries="1", counts="best")
    assert "Week 4b" in said(lockside.teacher, page)
    lockside.post(f"{page}/copy", to=lockside.class_uid, songs="new")
    lockside.post(f"{page}/delete")
    assert lockside.teacher.get(page).status_code == 404


def test_saving_an_opened_assignment_as_it_is_changes_nothing(lockside: Lockside) -> None:
    """The form of an opened assignment, sent as it was shown, is no earlier end."""
    lockside.school.clock.passes(seconds=31)
    uid = lockside.assign()
    before = lockside.school.store.assignments.find(uid)
    page = lockside.teacher.get(f"/assignments/{uid}").text
    form = dict(re.findall(r'name="(\w+)"[^>]*value="([^"]*)"', page))
    form |= {"counts": "best", "results": "at once"}
    lockside.post(f"/assignments/{uid}", **form)
    assert lockside.school.store.assignments.find(uid) == before


def test_a_preview_is_in_no_gradebook(lockside: Lockside) -> None:
    """The teacher writes a song as a learner would; it is in their own history alone."""
    uid = lockside.assign()
    assert "This is what a learner sees" in said(lockside.teacher, f"/assignments/{uid}/preview")
    (item,) = lockside.items(uid)
    begun = lockside.post(f"/assignments/{uid}/items/{item.uid}/try")
    page = lockside.teacher.get(begun.headers["location"])
    assert page.status_code == 200
    assert lockside.school.store.assigned.songs_of(item.id) == frozenset()


def test_a_class_is_looked_after_on_its_page(lockside: Lockside) -> None:
    """Codes are renewed and ended, people taken out, the class renamed and closed."""
    page = f"/classes/{lockside.class_uid}"
    first = lockside.teacher.get(page).text
    lockside.post(f"{page}/code")
    assert lockside.teacher.get(page).text != first
    lockside.post(f"{page}/code/end")
    assert "Nobody can join just now" in said(lockside.teacher, page)
    lockside.post(f"{page}/name", name="Bridge band", term="")
    wren = lockside.account("wren")
    lockside.post(f"{page}/members/{wren.uid}/remove")
    text = said(lockside.teacher, page)
    assert "1 learner" in text
    assert "Bridge band" in text
    lockside.post(f"{page}/close")
    assert "New assignment" not in said(lockside.teacher, page)
    lockside.post(f"{page}/open")
    assert "New assignment" in said(lockside.teacher, page)
    wrong = lockside.teacher.post(f"{page}/teachers", data={"sign_in": "zoe"})
    assert "isn&#39;t the sign-in name of a teacher" in wrong.text
    assert lockside.teacher.post("/classes/new", data={"name": ""}).status_code == 422


def test_skills_of_the_class_on_a_page(lockside: Lockside) -> None:
    """The page of skills has the class and each learner."""
    uid = lockside.assign()
    assert "Nobody has handed in" in said(lockside.teacher, f"/gradebook/{uid}/skills")
    lockside.write("wren", uid)
    assert "100%" in said(lockside.teacher, f"/gradebook/{uid}/skills")


def test_a_learner_leaves_a_class(lockside: Lockside) -> None:
    """Whoever leaves sees none of its work any more."""
    uid = lockside.assign()
    zoe = lockside.learners["zoe"]
    zoe.post(f"/assigned/classes/{lockside.class_uid}/leave")
    assert "You're not in a class yet" in said(zoe, "/assigned").replace("&#39;", "'")
    assert zoe.get(f"/assigned/{uid}").status_code == 404
