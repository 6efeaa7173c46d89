"""Records as they leave the store, and as they are read back and checked.

What an import changes is tried in `tests.drill.test_importing`.
"""

from __future__ import annotations

import copy
import csv
import io
import json
import math
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.databases import put_store
from tests.store.samples import NOW, TEXT, chart, exercise, hand_in, new_attempt
from trainer.errors import FileError
from trainer.grade import Report, report_to_json
from trainer.store import ExerciseRecord, Learner, NewLessonRun, OpenDrill, Store, read_export


def exported(store: Store, learner: Learner) -> str:
    """An export as a file holds it: two exercises, three attempts, two texts begun."""
    kept = store.exercises.keep(learner, exercise())
    second = store.exercises.keep(learner, exercise(2, level=None))
    for minutes, what in enumerate((kept, second, kept)):
        hand_in(store, learner, what, NOW + timedelta(minutes=minutes), token=f"t{minutes}")
    secret = store.exercises.keep(learner, exercise(3, song=chart("2- 5", title="Secret")))
    for what in (second, secret):
        drill = OpenDrill("next", NOW, NOW, text="1 ♭7", text_at=NOW)
        store.open_drills.begin(learner, what, drill)
    return json.dumps(store.transfer.export_json(learner))


@pytest.fixture
def data(fresh_store: Store, learner: Learner) -> dict[str, Any]:
    """The export of a store of each kind."""
    whole: dict[str, Any] = json.loads(exported(fresh_store, learner))
    return whole


@pytest.fixture(scope="module")
def file_text(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> str:
    """The export of one store, for tests that only read it; the kind of store is not seen in it."""
    folder = put_store(sqlite_template, tmp_path_factory.mktemp("export") / "record")
    with Store(folder) as store:
        return exported(store, store.learners.add("Wren Halloway", NOW))


@pytest.fixture
def copied(file_text: str) -> dict[str, Any]:
    """A copy of that export, to be changed."""
    whole: dict[str, Any] = json.loads(file_text)
    return whole


def test_an_export_is_the_whole_record(
    data: dict[str, Any], learner: Learner, kept: ExerciseRecord
) -> None:
    """All that is stored of a learner is read back from the export as it was."""
    read = read_export(data)
    assert (read.learner.name, read.learner.uid) == (learner.name, learner.uid)
    assert read.learner.created_at == learner.created_at
    assert read.exercises == (exercise(1), exercise(2, level=None))
    assert [(entry.exercise_id, entry.token) for entry in read.attempts] == [
        ("millrace-1", "t0"),
        ("millrace-2", "t1"),
        ("millrace-1", "t2"),
    ]
    new = new_attempt(kept.exercise)
    first = read.attempts[0]
    assert first.graded_bars() == new.bars
    assert isinstance(new.report, Report)
    assert first.report == json.loads(json.dumps(report_to_json(new.report)))
    assert (first.answer_text, first.duration_s, first.seen) == (TEXT, 120.0, False)
    assert (first.started_at, first.finished_at) == (NOW - timedelta(minutes=2), NOW)


def test_what_is_not_answered_does_not_leave(data: dict[str, Any]) -> None:
    """An exercise that was begun leaves with what was typed, but without its chart."""
    assert [draft["exercise_id"] for draft in data["drafts"]] == ["millrace-2", "millrace-3"]
    assert {draft["text"] for draft in data["drafts"]} == {"1 ♭7"}
    assert [each["data"]["id"] for each in data["exercises"]] == ["millrace-1", "millrace-2"]
    assert '2-","degree' not in json.dumps(data, separators=(",", ":"))


def test_an_export_from_before_levels_had_ids_says_its_levels(copied: dict[str, Any]) -> None:
    """An exercise that names its level by number alone is of the level that had the number in the
    first course."""
    for each in copied["exercises"]:
        del each["data"]["level_id"]
    read = read_export(copied)
    assert [(each.level, each.level_id) for each in read.exercises] == [
        (3, "two-minor"),
        (None, None),
    ]


def version_1(data: dict[str, Any]) -> dict[str, Any]:
    """The export as the first version wrote it."""
    old = copy.deepcopy(data) | {"version": 1}
    del old["learner"]["uid"]
    for attempt in old["attempts"]:
        del attempt["seen"], attempt["home_shift"], attempt["passed"]
        for bar in attempt["bar_results"]:
            bar["mixed"] = bar.pop("confusions")
            for side in ("played", "written"):
                bar[side] = "_".join(bar[side])
            del bar["phrase_end"], bar["section_start"]
    return old


def test_an_export_of_the_first_version_is_read(copied: dict[str, Any]) -> None:
    """What was added since is absent; chords joined by "_" become lists."""
    old = version_1(copied)
    old["attempts"][0]["bar_results"][0]["played"] = ""
    read, today = read_export(old), read_export(copied)
    assert read.exercises == today.exercises
    assert read.learner.uid is None
    first = read.attempts[0]
    assert first.bar_results[0].played == ()
    assert first.bar_results[1].played == ("1", "5/7")
    assert first.bar_results[1].confusions == (("5/7", "1"),)
    assert not first.seen
    assert [bar.skills for bar in first.graded_bars()] == [
        bar.skills for bar in today.attempts[0].graded_bars()
    ]


ATTEMPT = ["attempts", 1]
BAR = ["attempts", 2, "bar_results", 0]
DEEP: list[Any] = []
for _ in range(60):
    DEEP = [DEEP]
BREAKS: dict[str, tuple[list[Any], Any, str]] = {
    "format": (["format"], "x", "found format 'x'"),
    "version": (["version"], 5, "version 5, expected"),
    "no list": (["attempts"], {}, "import, attempts: found dict, expected a list"),
    "no name": (["learner"], {"created_at": NOW.isoformat()}, "import, learner: .*name"),
    "a long name": (["learner", "name"], "x" * 81, "import, learner: .*80"),
    "a number": (ATTEMPT, 5, r"import, attempts\[1\]:"),
    "a text for a score": ([*ATTEMPT, "score"], "1", r"attempts\[1\].*score"),
    "a score of 7": ([*ATTEMPT, "score"], 7, r"attempts\[1\]: .*<= 1.*score"),
    "a score beyond all": ([*ATTEMPT, "score"], 1e308, r"attempts\[1\]: .*<= 1.*score"),
    "a score below 0": ([*ATTEMPT, "score"], -0.1, r"attempts\[1\]: .*>= 0.*score"),
    "no number": ([*ATTEMPT, "score"], math.nan, r"attempts\[1\]"),
    "truth for a number": ([*ATTEMPT, "listens"], True, r"attempts\[1\].*listens"),
    "listens beyond all": ([*ATTEMPT, "listens"], 10**30, r"attempts\[1\].*listens"),
    "work without end": ([*ATTEMPT, "duration_s"], math.inf, r"attempts\[1\]"),
    "standing still": ([*ATTEMPT, "tempo_ratio"], 0, r"attempts\[1\].*tempo_ratio"),
    "a long token": ([*ATTEMPT, "token"], "x" * 81, r"attempts\[1\].*token"),
    "null": ([*ATTEMPT, "paused"], None, r"attempts\[1\].*paused"),
    "no time": ([*ATTEMPT, "finished_at"], "soon", r"attempts\[1\].*finished_at"),
    "naive time": ([*ATTEMPT, "started_at"], "2026-01-01T00:00:00", r"attempts\[1\].*started_at"),
    "an early time": ([*ATTEMPT, "started_at"], "0001-01-01T00:00:00Z", "started_at: .*year 1,"),
    "an early day": ([*ATTEMPT, "day"], "0001-01-01", "day: found the year 1, expected one from"),
    "a late day": ([*ATTEMPT, "day"], "9999-12-31", "day: found the year 9999"),
    "no report": ([*ATTEMPT, "report"], {}, r"attempts\[1\], report: .*score"),
    "report of 2": ([*ATTEMPT, "report", "score"], 2, r"attempts\[1\], report: .*score"),
    "no form": ([*ATTEMPT, "report", "form"], {}, r"attempts\[1\], report: .*form"),
    "bar's score of 2": ([*BAR, "score"], 2, r"attempts\[2\].*bar_results"),
    "bad bar": ([*BAR, "root"], [], r"attempts\[2\].*bar_results\[0\]\.root"),
    "chords as one text": ([*BAR, "played"], "(1 5/7)", r"attempts\[2\].*played"),
    "no exercise": (["exercises", 1, "data"], {"id": "x"}, r"exercises\[1\]: .*level"),
    "no chart": (["exercises", 1, "data", "chart"], {}, r"exercises\[1\]: "),
    "an exercise of words": (["exercises", 0], "x", r"exercises\[0\]: found no exercise"),
    "no number in a report": ([*ATTEMPT, "report", "more"], math.nan, r"attempts\[1\]: found nan"),
    "too deep": (["drafts", 0, "text"], DEEP, "levels"),
    "draft": (["drafts", 0, "updated_at"], 3, r"import, drafts\[0\]: "),
}


@pytest.mark.parametrize(("path", "value", "said"), BREAKS.values(), ids=BREAKS)
def test_a_bad_export_is_told_with_its_place(
    copied: dict[str, Any], path: list[Any], value: object, said: str
) -> None:
    """Data that is not an export is refused with its place, what was found and expected."""
    place: Any = copied
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    with pytest.raises(FileError, match=said):
        read_export(copied)


@pytest.mark.parametrize(
    "path", [each for each, _, _ in BREAKS.values() if each[0] == "attempts" and each[-1] != "more"]
)
def test_a_bad_export_of_the_first_version_is_told(copied: dict[str, Any], path: list[Any]) -> None:
    """Nothing of an older export is passed over unread."""
    old = version_1(copied)
    place: Any = old
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = object()
    with pytest.raises(FileError, match="import"):
        read_export(old)


def test_history_as_csv(fresh_store: Store, learner: Learner, data: dict[str, Any]) -> None:
    """The CSV has a header and a row for each attempt, oldest first, as people read them."""
    assert len(data["attempts"]) == 3
    out = io.StringIO()
    csv.writer(out).writerows(fresh_store.transfer.csv_rows(learner))
    rows = list(csv.DictReader(io.StringIO(out.getvalue())))
    assert [row["exercise"] for row in rows] == ["millrace-1", "millrace-2", "millrace-1"]
    assert [row["level"] for row in rows] == ["3", "", "3"]
    assert rows[0] == {
        "finished_at": "2026-03-02T19:30:00+00:00",
        "title": "Second Lamp past the Sluice",
        "level": "3",
        "exercise": "millrace-1",
        "score": f"{new_attempt(exercise()).score:.4f}",
        "bars": "4",
        "minutes": "2.00",
        "listens": "1",
        "first_pass": "no",
        "paused": "no",
        "tempo_ratio": "1",
        "lag_beats": "2.00",
        "seen": "no",
        "level_id": "two-minor",
    }


def test_a_song_seen_before_is_marked_in_both(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """The mark of an attempt at a song that was seen leaves with it."""
    hand_in(fresh_store, learner, kept, seen=True)
    (entry,) = fresh_store.transfer.export_json(learner)["attempts"]
    assert entry["seen"] is True
    header, row = fresh_store.transfer.csv_rows(learner)
    assert dict(zip(header, row, strict=True))["seen"] == "yes"


def test_lessons_travel_with_the_record(fresh_store: Store, learner: Learner) -> None:
    """What was answered in lessons, and a run that was only begun, are read back as they were."""
    begun = NewLessonRun("hold", 3, NOW.date(), NOW, "1")
    answers = (("5/7", "5/7"), ("5", "5/7"))
    run = NewLessonRun("five-over-seven", 17, NOW.date(), NOW, "1", NOW, answers)
    for each in (begun, run):
        fresh_store.lesson_runs.add(learner, each)
    read = read_export(json.loads(json.dumps(fresh_store.transfer.export_json(learner))))
    assert [entry.run() for entry in read.lessons] == [begun, run]


def test_an_export_without_lessons_is_read(copied: dict[str, Any]) -> None:
    """Exports from before there were lessons have none."""
    del copied["lessons"]
    assert read_export(copied).lessons == ()


LESSON = {
    "lesson": "hold",
    "seed": 3,
    "day": "2026-03-02",
    "started_at": "2026-03-02T19:30:00+00:00",
    "app_version": "1",
    "answers": [["a hold", "a hold"]],
}


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"lesson": ""}, r"lessons\[0\]: .*length >= 1.*lesson"),
        ({"seed": -1}, r"lessons\[0\]: .*>= 0.*seed"),
        ({"answers": [["a hold"]]}, r"lessons\[0\]: .*length 2.*answers"),
        ({"started_at": "2026-03-02T19:30:00"}, r"lessons\[0\]: .*timezone.*started_at"),
        ({"day": "1812-03-02"}, r"lessons\[0\], day: found the year 1812, expected one from"),
        (
            {"answered_at": "2999-03-02T19:30:00Z"},
            r"lessons\[0\], answered_at: found the year 2999",
        ),
    ],
)
def test_a_wrong_lesson_is_refused(
    copied: dict[str, Any], changes: dict[str, Any], told: str
) -> None:
    """A run that cannot be is refused with its place and what was expected."""
    copied["lessons"] = [LESSON | changes]
    with pytest.raises(FileError, match=told):
        read_export(copied)
