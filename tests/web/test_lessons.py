"""Lessons on the page: heard by name, asked without it, stored, and offered where they help."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.web.conftest import JSON
from tests.web.fakes import FakeLibrary
from tests.web.helpers import begin, hand_in, hear_out, keep_text, key_of
from trainer.chart import format_chart
from trainer.drill import lesson_records, play_example, play_question, run_questions
from trainer.exercise import QUESTIONS, Lesson, load_lessons
from trainer.store import LessonRun, Store
from trainer.web.context import LearnerContext

LESSONS = {lesson.id: lesson for lesson in load_lessons()}
SEVEN = LESSONS["five-over-seven"]


def begin_lesson(client: TestClient, lesson: Lesson = SEVEN, **fields: str) -> str:
    """Begin the questions of a lesson; the address they are at."""
    place = f"/lessons/{lesson.id}/begin"
    answer = client.post(place, data=fields, follow_redirects=False)
    assert answer.status_code == 303
    found: str = answer.headers["location"]
    return found


def run_of(context: LearnerContext) -> LessonRun:
    """The learner's only run."""
    (run,) = context.store.lesson_runs.all(context.learner)
    return run


def answer(client: TestClient, place: str, number: int, choice: int) -> Any:
    """Answer a question; what the page's script is told."""
    fields = {"number": str(number), "choice": str(choice)}
    told = client.post(place, data=fields, headers=JSON)
    assert told.status_code == 200, told.text
    return told.json()["html"]


def go_through(client: TestClient, context: LearnerContext, lesson: Lesson, wrong: int = 0) -> str:
    """Answer all five questions, the last `wrong` of them wrongly; the page then."""
    place = begin_lesson(client, lesson)
    run = context.store.lesson_runs.newest(context.learner, lesson.id)
    assert run is not None
    for question in run_questions(lesson, run):
        is_wrong = question.number > QUESTIONS - wrong
        answer(client, place, question.number, (question.right + is_wrong) % len(lesson.choices))
    return client.get(place).text


def test_what_is_heard_next_is_begun(
    client: TestClient, context: LearnerContext, library: FakeLibrary
) -> None:
    """A lesson's page begins its first sound, each sound the next one, and a question its own."""

    def begun() -> Any:
        return library.registered[library.prefetched[-1]]

    client.get(f"/lessons/{SEVEN.id}")
    assert begun() == play_example(SEVEN, 0)
    client.get(f"/lessons/{SEVEN.id}/sound?choice=0")
    assert begun() == play_example(SEVEN, 1)
    client.get(begin_lesson(client))
    assert begun() == play_question(run_questions(SEVEN, run_of(context))[0])


def test_all_lessons_are_listed_by_group(client: TestClient, context: LearnerContext) -> None:
    """The list has every lesson under its group, and what was done in it."""
    page = client.get("/lessons").text
    places = [page.index(title) for title in ("Signs on", "Chords that get", "Form and time")]
    assert places == sorted(places)
    assert all(f'href="/lessons/{name}"' in page for name in LESSONS)
    assert page.count(">new</span>") == len(LESSONS)
    go_through(client, context, SEVEN, wrong=1)
    answer(client, begin_lesson(client, LESSONS["hold"]), 1, 0)
    page = client.get("/lessons").text
    assert "best 4 of 5" in page
    assert "1 answered" in page


@pytest.mark.parametrize(("wrong", "is_ticked"), [(3, False), (2, False), (1, True), (0, True)])
def test_only_a_good_run_is_ticked(
    client: TestClient, context: LearnerContext, wrong: int, is_ticked: bool
) -> None:
    """A lesson has its tick in the list when at most one answer of five was wrong."""
    go_through(client, context, SEVEN, wrong=wrong)
    page = client.get("/lessons").text
    assert f"best {QUESTIONS - wrong} of 5" in page
    assert ("checkmark" in page) == is_ticked


def test_the_list_says_where_to_start(client: TestClient, context: LearnerContext) -> None:
    """A newcomer is sent to finding home, and no more once a lesson was done."""
    hint = 'Start with <a href="/lessons/finding-home">'
    assert hint in client.get("/lessons").text
    go_through(client, context, SEVEN)
    assert hint not in client.get("/lessons").text


@pytest.mark.parametrize(("wrong", "first"), [(3, "Hear them by name again"), (0, "Begin level 7")])
def test_what_a_finished_run_advises_is_its_first_button(
    client: TestClient, context: LearnerContext, wrong: int, first: str
) -> None:
    """The button that stands out is the one that the sentence above it names."""
    page = go_through(client, context, SEVEN, wrong=wrong)
    (primary,) = re.findall(r'class="(?:button )?primary"[^>]*>([^<]+)<', page)
    assert primary == first


@pytest.mark.parametrize("name", LESSONS)
def test_a_lesson_has_each_sound_by_name(
    client: TestClient, library: FakeLibrary, name: str
) -> None:
    """The page says what it is and what to listen for, draws every choice, and plays it."""
    lesson = LESSONS[name]
    page = client.get(f"/lessons/{name}").text
    assert "What to listen for:" in page
    assert page.count('class="hear"') == len(lesson.choices)
    for number, choice in enumerate(lesson.choices):
        assert choice.spoken in page
        sound = client.get(f"/lessons/{name}/sound?choice={number}").json()
        key = key_of(sound["url"])
        assert library.registered[key] == play_example(lesson, number)
        assert sound["error"] is None
    assert client.get(f"/lessons/{name}/sound?choice={len(lesson.choices)}").status_code == 404


def test_a_question_does_not_tell_its_answer(
    client: TestClient, context: LearnerContext, library: FakeLibrary
) -> None:
    """Before the answer the page has neither charts nor any other sound than the one played."""
    place = begin_lesson(client)
    page = client.get(place).text
    assert "chart-sheet" not in page
    assert "1 of 5: Which did you hear?" in page
    assert client.get(f"{place}/sound?number=1&choice=0").status_code == 404
    assert client.get(f"{place}/sound?number=2").status_code == 404
    sound = client.get(f"{place}/sound?number=1").json()
    key = key_of(sound["url"])
    question = run_questions(SEVEN, run_of(context))[0]
    assert library.registered[key] == play_question(question)


def test_the_answer_is_told_at_once(
    client: TestClient, context: LearnerContext, library: FakeLibrary
) -> None:
    """A right answer is called right; a wrong one says what it was, what was taken for it and what
    to listen for; both charts are drawn, and both can be heard again."""
    place = begin_lesson(client)
    questions = run_questions(SEVEN, run_of(context))
    right = answer(client, place, 1, questions[0].right)
    assert re.search(r"✓</span> Right:", right)
    assert SEVEN.listen_for not in right
    wrong = answer(client, place, 2, 1 - questions[1].right)
    assert "It was" in wrong
    assert SEVEN.listen_for in wrong
    assert wrong.count('class="chart-sheet"') == 2
    assert wrong.count("was played") == 1
    for choice in (0, 1):
        sound = client.get(f"{place}/sound?number=2&choice={choice}").json()
        key = key_of(sound["url"])
        assert library.registered[key] == play_question(questions[1], choice)
    assert client.get(f"{place}/sound?number=2&choice=2").status_code == 404


def test_five_answers_end_a_run(client: TestClient, context: LearnerContext, store: Store) -> None:
    """At the end the page says how many were right; five others are offered; all is stored."""
    page = go_through(client, context, SEVEN, wrong=2)
    assert "3 of 5 right" in page
    assert "Five more questions" in page
    record = lesson_records(store, context.learner)[SEVEN.id]
    assert (record.answered, record.right, record.best) == (5, 3, 3)
    lesson = client.get(f"/lessons/{SEVEN.id}").text
    assert "Your best: 3 of 5." in lesson
    assert "3 of 5 answers right in all." in lesson
    assert "3 of 5 quick questions right" in client.get("/progress").text


def test_without_scripts_a_run_goes_on_by_links(client: TestClient) -> None:
    """A form that is posted leads to the page with its answer, and from there to the next
    question."""
    place = begin_lesson(client)
    told = client.post(place, data={"number": "1", "choice": "0"})
    assert str(told.url).endswith(f"{place}?told=1")
    assert "Next question" in told.text
    assert "2 of 5: Which did you hear?" in client.get(place).text
    assert "2 of 5: Which did you hear?" in client.get(f"{place}?told=9").text


def test_a_run_goes_on_after_a_reload(client: TestClient, context: LearnerContext) -> None:
    """An answer that is sent twice counts once, and beginning again goes on with the run."""
    place = begin_lesson(client)
    answer(client, place, 1, 0)
    answer(client, place, 1, 1)
    assert len(run_of(context).answers) == 1
    assert begin_lesson(client) == place


@pytest.mark.parametrize(
    ("method", "place", "status"),
    [
        ("GET", "/lessons/nowhere", 404),
        ("GET", "/lessons/five-over-seven/99", 404),
        ("GET", "/lessons/five-over-seven/x", 422),
        ("GET", "/lessons/five-over-seven/sound?choice=-1", 422),
        ("GET", "/lessons/five-over-seven/99/sound?number=1", 404),
        ("POST", "/lessons/nowhere/begin", 404),
        ("POST", "/lessons/five-over-seven/99", 422),
    ],
)
def test_what_is_not_there_is_refused(
    client: TestClient, method: str, place: str, status: int
) -> None:
    """Lessons and runs that there are not have no page."""
    assert client.request(method, place).status_code == status


def test_a_run_belongs_to_its_lesson(client: TestClient) -> None:
    """The address of a run under another lesson leads nowhere, and neither does a wrong choice."""
    place = begin_lesson(client)
    number = place.rpartition("/")[2]
    assert client.get(f"/lessons/hold/{number}").status_code == 404
    assert client.post(place, data={"number": "1", "choice": "7"}).status_code == 422
    assert client.post(place, data={"number": "3", "choice": "0"}).status_code == 422


def test_the_caution_comes_before_lessons(stranger: TestClient) -> None:
    """A learner who has not read the hearing caution is sent to it from every page with a sound."""
    for place in ("/lessons", "/lessons/hold", "/signs", "/what-is-a-chart"):
        answer = stranger.get(place, follow_redirects=False)
        assert answer.headers["location"].startswith("/hearing"), place


def test_a_level_offers_its_lesson_before_the_first_exercise(
    client: TestClient, context: LearnerContext
) -> None:
    """The start page and the page to write on link to the lesson until it is done or the exercise
    is begun; it can be passed over."""
    link = '<a href="/lessons/five-over-seven'
    start = client.get("/").text
    assert link in start.partition('id="levels"')[2]
    first = begin(client, level="7", seed="1")
    page = client.get(f"/write/{first}").text
    assert f'{link}?then={first}">Five over seven</a>' in page
    keep_text(client, first, "1 4")
    assert link not in client.get(f"/write/{first}").text
    go_through(client, context, SEVEN)
    assert link not in client.get(f"/write/{begin(client, level='7', seed='2')}").text
    assert link not in client.get("/").text


def test_a_lesson_leads_back_to_the_exercise(client: TestClient, context: LearnerContext) -> None:
    """A learner who came from an exercise is led back to it from the lesson and from its end; what
    is no exercise's id is passed over.
    """
    exercise_id = begin(client, level="7", seed="1")
    back = f'href="/write/{exercise_id}"'
    assert back in client.get(f"/lessons/five-over-seven?then={exercise_id}").text
    place = begin_lesson(client, then=exercise_id)
    assert place.endswith(f"?then={exercise_id}")
    run = run_of(context)
    for question in run_questions(SEVEN, run):
        answer(client, place, question.number, question.right)
    assert back in client.get(place).text
    assert "evil" not in client.get("/lessons/hold?then=//evil.example").text
    assert "?" not in begin_lesson(client, LESSONS["hold"], then="//evil.example")


def test_the_end_of_a_lesson_leads_to_its_level(
    client: TestClient, context: LearnerContext
) -> None:
    """Who tells the sounds apart is offered the level that the lesson opens; others hear again."""
    done = go_through(client, context, SEVEN)
    assert "Begin level 7" in done
    assert "Begin level 7" not in go_through(client, context, LESSONS["five-bar-phrase"], wrong=3)


def test_advice_links_to_the_lesson_that_helps(client: TestClient, context: LearnerContext) -> None:
    """Chords mixed up on a result lead to the lesson that teaches the difference."""
    exercise_id = begin(client, level="3", seed="7")
    chart = format_chart(context.exercise(exercise_id).exercise.chart)
    head, bars = chart.rstrip().rsplit("\n", 1)
    assert "2-" in bars
    result = hear_out(client, exercise_id, f"{head}\n{bars.replace('2-', '4')}")
    page = client.get(result).text
    advice = page.partition('id="advice"')[2].partition("</ol>")[0]
    assert 'href="/lessons/four-or-two-minor"' in advice


def test_a_right_chart_needs_no_lesson(client: TestClient, context: LearnerContext) -> None:
    """Where everything is right no lesson is advised."""
    exercise_id = begin(client, level="3", seed="7")
    chart = format_chart(context.exercise(exercise_id).exercise.chart)
    assert "Lesson to hear" not in client.get(hand_in(client, exercise_id, chart)).text


def test_the_days_set_offers_lessons_for_what_is_new(client: TestClient) -> None:
    """A new skill of the day's set has its lesson beside its reason."""
    client.post("/today/unplaced")
    page = client.get("/today").text
    assert "Hear it first" in page
    assert re.search(r'class="reason"><p>[^<]*</p>\s*<p class="hear-first">', page)
