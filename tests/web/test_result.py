from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from html import unescape
from statistics import median
from urllib.parse import unquote

import pytest
from fastapi.testclient import TestClient

from tests.web.fakes import FakeLibrary
from tests.web.helpers import begin, hand_in, hear_out, key_of
from trainer.chart import Chart, excerpt, format_chart, parse, parse_tolerant
from trainer.drill import State
from trainer.grade import grade, report_to_json, weights_for
from trainer.store import Store, read_report
from trainer.store.reports import StoredSpeed
from trainer.web.context import LearnerContext
from trainer.web.views.result import BarRange, ResultView, lag_plot, result_view, wrote_along

REFERENCE = parse("Verse:\n1 4 5 1 . 6- 2- 5/7 1\n\nTag:\n4 5 1d")


def view_of(answer: str, ask: str = "everything", reference: Chart = REFERENCE) -> ResultView:
    """The view of an answer to a reference."""
    draft = parse_tolerant(answer)
    report = report_to_json(grade(reference, draft.chart, weights=weights_for(ask)))
    return result_view(read_report(report, "a report"), reference, draft)


def words(view: ResultView) -> list[list[str]]:
    """What stands under the bars, phrase by phrase."""
    return [[pair.word for pair in phrase] for row in view.rows for phrase in row.phrases]


def test_a_right_chart_has_no_words_under_it() -> None:
    """Every bar stands over its like, in the song's phrases, under its sections' names."""
    view = view_of(format_chart(REFERENCE))
    assert words(view) == [[""] * 4, [""] * 4, [""] * 3]
    assert [row.label for row in view.rows] == ["Verse", "Tag"]
    assert view.verdict == "Every bar is right."


def test_each_mistake_has_its_word() -> None:
    """Wrong root, quality, bass and articulation each have a word; so do missed and added bars."""
    view = view_of("Verse:\n1 2 5 1 . 6 2- 5 1\n\nTag:\n4 5 1")
    assert words(view) == [
        ["", "chord", "", ""],
        ["quality", "", "bass", ""],
        ["", "", "articulation"],
    ]
    assert view.verdict == "Look at 4 places."
    view = view_of("Verse:\n1 4 5 . 6- 2- 5/7 1 3\n\nTag:\n4 5 1d")
    assert words(view) == [["", "", "", "missed"], ["", "", "", "", "extra"], ["", "", ""]]


def test_bars_too_many_are_said_to_cost() -> None:
    """Where all that was played is right, what took the score away is said."""
    view = view_of("1 4 5 1 1", reference=parse("1 4 5 1"))
    assert view.verdict == (
        "Look at 1 place. You wrote 1 bar that wasn't played. Extra bars cost points too."
    )


def test_an_added_first_bar_stands_in_the_first_row() -> None:
    """What was added before the song stands before its first bar, under the section's name."""
    view = view_of("Verse:\n3 1 4 5 1 . 6- 2- 5/7 1\n\nTag:\n4 5 1d")
    assert words(view)[0] == ["extra", "", "", "", ""]
    assert view.rows[0].label == "Verse"


# What was played, two bars for one, one for two, from another 1, and half of it.
PLAIN = parse("1 4 5 1 . 6- 2- 5 1 . 4 4 1 1")
OTHER_WAYS = {
    "double": ("1 1 4 4 5 5 1 1 . 6- 6- 2- 2- 5 5 1 1 . 4 4 4 4 1 1 1 1", State.OTHERWISE, (1, 2)),
    "half": ("(1 4) (5 1) . (6- 2-) (5 1) . 4 1", State.OTHERWISE, (2, 1)),
    "other 1": ("4 b7 1 4 . 2- 5- 1 4 . b7 b7 4 4", State.OTHERWISE, (1, 1)),
}


@pytest.mark.parametrize("word", OTHER_WAYS)
def test_what_is_right_in_another_way_is_not_called_wrong(word: str) -> None:
    """Bars that are right but counted double, half or from another 1 stand side by side under a
    word that says so."""
    answer, state, (played, written) = OTHER_WAYS[word]
    view = view_of(answer, reference=PLAIN)
    assert {(pair.word, pair.state) for pair in view.pairs} == {(word, state)}
    assert {(len(pair.references), len(pair.answers)) for pair in view.pairs} == {(played, written)}
    assert view.verdict == f"{len(view.pairs)} bars are right but counted differently."


def test_what_is_not_written_is_no_mistake() -> None:
    """Bars after the end of what was written are not written, and nothing to look at."""
    view = view_of("1 2- 5 1 . 6- 2- 5 1", reference=PLAIN)
    assert words(view) == [["", "chord", "", ""], [""] * 4, ["not written"] * 4]
    assert {pair.state for pair in view.pairs[8:]} == {State.NOT_WRITTEN}
    assert view.verdict == "Look at 1 place. You left out 4 bars."


def test_a_repeated_phrase_and_a_split_written_as_two() -> None:
    """What is written again is called repeated; two bars for a split stand under the one played."""
    view = view_of("1 4 5 1 . 1 4 5 1 . 6- 2- 5 1 . 4 4 1 1", reference=PLAIN)
    assert words(view)[0] == [""] * 4 + ["repeated"] * 4
    view = view_of("1 4 5 1 1 . 6- 2- 5 1", reference=parse("1 4 (5 1) 1 . 6- 2- 5 1"))
    assert words(view)[0] == ["", "", "two bars", ""]
    assert view.pairs[2].spoken == (
        "Bar 3: the band played five, then one, two beats each; you wrote five, then one (two bars)"
    )


def test_every_wrong_bar_has_its_advice() -> None:
    """Each place to look at leads to the advice that cites it; the costliest is chosen first."""
    view = view_of("Verse:\n1 2 5 1 . 6 2- 5 1\n\nTag:\n4 5 1")
    mistakes = [pair for pair in view.pairs if pair.is_mistake]
    assert len(mistakes) == 4
    assert all(pair.advice for pair in mistakes)
    assert view.worst == 0
    assert len(view.advice) >= 4


def test_a_report_that_cites_no_bars_shows_its_advice_at_those_to_hear() -> None:
    """In an older report without cases, the wrong bars of the stretch to hear have the advice."""
    draft = parse_tolerant("1 2- 5 1 . 6- 2- 5 1 . 4 4 1 1")
    plain = report_to_json(grade(PLAIN, draft.chart))
    for one in plain["advice_details"]:
        del one["cases"]
    for name in ("happenings", "summary", "meter_renamed"):
        del plain[name]
    view = result_view(read_report(plain, "a report"), PLAIN, draft)
    assert [pair.advice for pair in view.pairs if pair.advice] == [(0,)]
    assert view.pairs[1].advice == (0,)
    assert view.summary == ()


def test_each_pair_is_said_as_a_musician_says_it() -> None:
    """What was played, what was written, and what differs, in one sentence."""
    view = view_of("Verse:\n1 4 5 1 . 6- 2- 5 1\n\nTag:\n4 5 1d")
    said = [pair.spoken for row in view.rows for phrase in row.phrases for pair in phrase]
    assert said[0] == "Bar 1: one, right"
    assert said[6] == "Bar 7: the band played five over seven; you wrote five (bass)"


def test_a_bar_is_heard_after_the_one_before_it() -> None:
    """A bar's sound starts a bar earlier, the first bar's with itself; each side its own bars."""
    view = view_of("Verse:\n1 4 4 5 1 . 6- 2- 5/7 1\n\nTag:\n4 5 1d")
    pairs = [pair for row in view.rows for phrase in row.phrases for pair in phrase]
    assert (pairs[0].played, pairs[0].written) == (BarRange(1, 1), BarRange(1, 1))
    last = pairs[-1]
    assert (last.played, last.written) == (BarRange(10, 11), BarRange(11, 12))


def test_only_what_was_asked_is_shown() -> None:
    """Parts that count nothing in this exercise are left out."""
    assert [part.name for part in view_of("1", "roots").parts] == ["Root", "Phrases", "Form"]
    one_phrase = view_of("1", "roots", parse("1 4 5 1"))
    assert [part.name for part in one_phrase.parts] == ["Root"]
    names = [part.name for part in view_of("1").parts]
    assert names == [
        "Root", "Quality", "Bass", "Placement", "Articulation", "Phrases", "Form",
    ]  # fmt: skip


def test_nothing_readable_is_a_result_all_the_same() -> None:
    """A text without a bar misses every bar."""
    view = view_of("Verse:")
    assert {word for row in words(view) for word in row} == {"missed"}
    assert view.score == 0


@pytest.mark.parametrize(
    ("lags", "said", "drawn", "listed"),
    [
        ((2.0, None, 4.0), "You were usually about 3.0 beats behind, and at most 4.0 beats.",
         2, ["2.0", "–", "4.0"]),
        ((87.0, 99.4), "You were usually about 93 beats behind, and at most 99 beats.",
         2, ["87.0", "99.4"]),
        ((-6.0, -1.0, 1.0),
         "You wrote most bars before they were played, and were at most 1.0 beat behind.",
         1, ["6.0 ahead", "1.0 ahead", "1.0"]),
    ],
)  # fmt: skip
def test_how_close_it_was_written(
    lags: tuple[float | None, ...], said: str, drawn: int, listed: list[str]
) -> None:
    """What was written behind the band is said and drawn; what was written ahead is not behind."""
    known = [lag for lag in lags if lag is not None]
    plot = lag_plot(StoredSpeed(lags, median(known)))
    assert plot is not None
    assert plot.summary == said
    assert sum(box.height > 1 for box in plot.boxes) == drawn
    assert [row[1] for row in plot.rows] == listed


@pytest.mark.parametrize(
    ("listens", "is_paused", "lag_beats", "is_along"),
    [(1, False, 3.0, True), (1, False, 60.0, False), (1, True, 3.0, False), (2, False, 3.0, False),
     (1, False, None, False)],
)  # fmt: skip
def test_a_lag_is_told_of_those_who_wrote_along(
    client: TestClient,
    context: LearnerContext,
    listens: int,
    is_paused: bool,
    lag_beats: float | None,
    is_along: bool,
) -> None:
    """Whoever listens first and writes afterwards is always behind, so that is not told."""
    place = hand_in(client, begin(client, level="1", seed="1"), "1 4 5 1")
    detail = context.store.attempts.get(int(place.rpartition("/")[2]))
    assert detail is not None
    attempt = detail.record
    assert not attempt.first_pass
    attempt = replace(attempt, listens=listens, paused=is_paused)
    assert wrote_along(attempt, StoredSpeed((lag_beats,), lag_beats)) == is_along
    assert not wrote_along(attempt, None)
    assert wrote_along(replace(attempt, first_pass=True), None)


def test_what_was_written_ahead_has_no_plot() -> None:
    """Where nothing was written after it sounded there is nothing to plot."""
    assert lag_plot(StoredSpeed((-6.0, None, -9.0), -7.5)) is None
    assert lag_plot(None) is None


def test_the_lag_of_swapped_sections_alone_is_drawn() -> None:
    """Where no bar stood in its place there is no usual lag in the report; the plot is there."""
    plot = lag_plot(StoredSpeed((2.0, 6.0), None))
    assert plot is not None
    assert plot.summary == "You were usually about 4.0 beats behind, and at most 6.0 beats."


def test_the_result_page(client: TestClient, context: LearnerContext) -> None:
    """It shows both charts, the score, the parts, advice to hear, and the next step."""
    exercise_id = begin(client, level="1", seed="1")
    page = client.get(hand_in(client, exercise_id, "6- 6- 6- 6-")).text
    exercise = context.exercise(exercise_id).exercise
    for text in (
        "Score by part",
        "What to listen for",
        "Hear what was played",
        "Another song on level 1",
    ):
        assert text in page
    assert format_chart(exercise.chart).strip() in unescape(page)
    exercise_id = begin(client, level="1", seed="2")
    exercise = context.exercise(exercise_id).exercise
    perfect = client.get(hear_out(client, exercise_id, format_chart(exercise.chart))).text
    assert "100%" in perfect
    assert "Go to level 2" in perfect


def test_bars_are_heard_by_the_same_band(
    client: TestClient, library: FakeLibrary, context: LearnerContext
) -> None:
    """Both sides of a bar are played by the exercise's band, in its key and tempo."""
    exercise_id = begin(client, song="second-street-strut")
    exercise = context.exercise(exercise_id).exercise
    place = hand_in(client, exercise_id, "key: C\ntempo: 60\nVerse:\n1 4 5 1")
    played, written = (
        client.get(f"{place}/sound?side={side}&first=2&last=3&like=3").json()
        for side in ("played", "written")
    )
    one, two = (library.registered[key_of(s["url"])] for s in (played, written))
    assert [part.name for part in one.parts] == [part.name for part in two.parts]
    assert len(one.bars) == len(two.bars) == 2
    assert one.tempo_map == two.tempo_map
    assert one.keys[0].tonic == two.keys[0].tonic == exercise.chart.key.pitch_class


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("side=played&first=0&last=2", 422),
        ("side=played&first=3&last=2", 422),
        ("side=played&first=1&last=999", 422),
        ("side=played&first=one&last=2", 422),
        ("side=other", 404),
        ("", 422),
        ("side=played", 200),
    ],
)
def test_bars_that_are_not_there(client: TestClient, query: str, status: int) -> None:
    """A stretch that the chart does not have is told, not made."""
    place = hand_in(client, begin(client, level="1", seed="1"), "1 4 5 1")
    answer = client.get(f"{place}/sound?{query}", headers={"accept": "application/json"})
    assert answer.status_code == status
    assert bool(answer.json()["error"]) == (status != 200)


def test_nobody_sees_anothers_result(
    client: TestClient, store: Store, context: LearnerContext, fixed_now: datetime
) -> None:
    """A result of another learner in the same record is not there."""
    place = hand_in(client, begin(client, level="1", seed="1"), "1 4 5 1")
    other = store.learners.add("somebody else", fixed_now)
    store.learners.caution_shown(other, fixed_now)
    client.post("/learners/choose", data={"uid": other.uid})
    assert client.get(place).status_code == 404
    assert client.get(f"{place}/sound?side=played").status_code == 404


def test_an_excerpt_sounds_in_its_own_key() -> None:
    """Bars after a key change are in the new key, the change itself is not made again."""
    chart = parse("key: D\nVerse:\n1 4 [up 2] 5 1\nTag:\n4 1")
    part = excerpt(chart, 4, 6)
    assert str(part.key) == "E"
    assert part.bars() == chart.bars()[3:]
    assert excerpt(chart, 3, 3).bars()[0].key_change == 0
    assert [section.name for section in part.sections] == ["Verse", "Tag"]


def test_a_chart_is_kept_as_sheet_and_text(client: TestClient, context: LearnerContext) -> None:
    """After grading both charts have a page to print, and the text parses back to the chart."""
    exercise_id = begin(client, level="20", seed="2")
    exercise = context.exercise(exercise_id).exercise
    place = hand_in(client, exercise_id, "Verse:\n1 (4 5) 1").replace("result", "handout")
    assert parse(client.get(f"{place}/played/text").text) == exercise.chart
    assert exercise.chart.title in unescape(client.get(f"{place}/played").text)
    assert "as written by me" in client.get(f"{place}/written").text
    assert client.get(f"{place}/other").status_code == 404


def test_both_charts_are_offered_as_sheets_to_print(
    client: TestClient, context: LearnerContext
) -> None:
    """The handout leads to PDFs named by the song, on A4 or US letter, in numbers, letters, or
    blank, and is itself printed as the same sheet."""
    exercise_id = begin(client, level="20", seed="2")
    title = context.exercise(exercise_id).exercise.chart.title
    result = hand_in(client, exercise_id, "Verse:\n1 (4 5) 1")
    handout = result.replace("result", "handout")
    assert f'href="{handout}/played"' in client.get(result).text
    page = client.get(f"{handout}/written").text
    assert f'action="{handout}/written/sheet.pdf"' in page
    assert f'src="{handout}/written/sheet.svg"' in page
    drawn = client.get(f"{handout}/written/sheet.svg")
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert drawn.content.startswith(b"<svg")
    for side, paper, names in (("played", "a4", "blank"), ("written", "letter", "both")):
        sent = client.get(f"{handout}/{side}/sheet.pdf?paper={paper}&names={names}")
        assert sent.headers["content-type"] == "application/pdf"
        assert unquote(sent.headers["content-disposition"]).endswith(".pdf")
        assert sent.content.startswith(b"%PDF-")
    named = client.get(f"{handout}/played/sheet.pdf").headers["content-disposition"]
    assert title in unquote(named)
    assert client.get(f"{handout}/played/sheet.pdf?paper=a5").status_code == 422
    assert client.get(f"{handout}/played/sheet.png").status_code == 404
    assert client.get(f"{handout}/other/sheet.pdf").status_code == 404
