"""What was stored in the signs of before revision 0007, brought up and read in.

`data/signs-v6.sql` is a store that the program of revision 0006 wrote, in which every sign and word
of that time stands; `data/signs-export-v2.json` is the same record as it exported it.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.store.samples import NOW, chart, check_store
from trainer.chart import parse_tolerant
from trainer.drill import bring_ratings_up, import_record, rating_state
from trainer.exercise import song_digest
from trainer.store import FILE_NAME, Learner, Store
from trainer.store.migrations.signs import (
    new_chord,
    new_sentence,
    new_skill,
    new_text,
    pieces_of_text,
)
from trainer.store.migrations.stored_signs import new_stamps

DATA = Path(__file__).parent / "data"
FIRST = (
    "1 (1 5/7) (6-''' 5') 7ø . [2/4] (4 5) 1c 4 5d\n(4p 4) (2-' 5' 1''d) (0 5c) 7ø^7/1 #4ø (b7 4)"
)
SECOND = (
    "1 (1 5/7) (1'' 1/3' 4') 7ø^7 . 4 4c [2/4] (5' 1') 1\n"
    "[up 2] 1c (4 5c) 7ø 1 . [down 3] [2/4] 1 [3/4] (4'' 5'c) 0 1d"
)
ANSWERS = [
    "1 (1 5) (6-'' 5'') 7o . [2/4] 4 1 4 5d\n4 (2-' 5' 1''d) (0 5) 7ø 4o b7",
    "1 (1 5/7) 1 7ø^7 . 4 4 [2/4] (5' 1') 1\n1 (4 5) 7ø 1 . 1 [3/4] (4'' 5'c) 0 1d",
    "1 (1 5/7) (1'' 1/3' 4') 7ø^7 . 4 4d 5 1\n[up 2] (1c 4 5x) . 7ø 1 (key 2) 1 [2/4",
]
DRAFTS = [
    "Verse 1:\n1 (1 5/7) (6-’’’ 5’) 7ø . [2/4] (4 ",
    "title: A 7h (2/4) song_1\nTag 1_5:\n1c_ (2/4 5__x ~ . 7ø^ (1 5) (♭7 4c) (5) [up ",
]


@pytest.fixture
def store(folder: Path) -> Iterator[Store]:
    """The store of before, brought up."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.executescript((DATA / "signs-v6.sql").read_text(encoding="utf-8"))
    with Store(folder) as opened:
        yield opened


@pytest.fixture
def wren(store: Store) -> Learner:
    """The learner of that store."""
    (learner,) = store.learners.all()
    return learner


def assert_songs_and_answers(store: Store, learner: Learner) -> None:
    """The charts mean what they meant, the answers are written in the new signs."""
    log = list(store.attempts.log(learner))
    songs = [each.exercise.exercise for each in log]
    expected = [
        chart(FIRST, "The h in Bjørnøya (2/4)"),
        *[chart(SECOND, "Chalk on the Towpath")] * 2,
    ]
    assert [song.chart for song in songs] == expected
    assert [each.exercise.song for each in log] == [song_digest(song) for song in songs]
    assert "bass 7ø/1" in songs[0].skills
    assert list(songs[0].skills) == sorted(songs[0].skills)
    details = [store.attempts.get(each.record.id) for each in log]
    assert [detail.answer_text for detail in details if detail] == ANSWERS


def test_exercises_and_answers_are_rewritten(store: Store, wren: Learner) -> None:
    """Charts, recipes, skills and answers stand in the new signs and mean the same."""
    check_store(store)
    assert_songs_and_answers(store, wren)
    first, second, _ = (each.exercise.exercise.recipe for each in store.attempts.log(wren))
    assert first["features"] == {"splits": 0.2, "uneven_splits": 0.5, "chokes": 0.25}
    assert (first["chords"][-1], first["favour"], first["around"]) == ("7ø", ["7ø"], "bass 7ø/1")
    assert (first["needs"], second["thrice"]) == (["choke", "chord 7ø"], ["choke"])


def test_graded_bars_and_reports_are_rewritten(store: Store, wren: Learner) -> None:
    """Chords, skills and quoted bars are in the new signs; scores are as they were."""
    first, second, _ = store.attempts.log(wren)
    assert first.bars[3].played == ("7ø",)
    assert first.bars[11].confusions == (("7ø^7/1", "7ø"),)
    assert [bar.position for bar in first.bars if "choke" in bar.skills] == [6, 11]
    assert first.record.score == pytest.approx(0.7537789357879234)
    details = [store.attempts.get(each.record.id) for each in (first, second)]
    reports: list[Any] = [detail.report for detail in details if detail]
    assert reports[0]["slips"][0]["played"] == "choke"
    cases = [case["played"] for one in reports[0]["advice_details"] for case in one["cases"]]
    assert {"(4 5)", "1c", "(0 5c)", "(4p 4)", "7ø^7/1"} <= set(cases)
    assert "Write [up 2] before bar 9 and [down 3] before bar 13." in reports[1]["advice"][0]
    assert "7ø was played, 7o is written" in " ".join(reports[0]["advice"])


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("157 1", "15 7 1"),
        ("2-75_7", "2- 7(5 7)"),
        ("1-5-6-4", "1- 5- 6- 4"),
        ("2/4 5_2/4 7", "(2/4) (5 2/4) 7"),
        ("Verse 7: 57", "Verse 7: 5 7"),
    ],
)
def test_bars_stay_the_bars_that_they_were(old: str, new: str) -> None:
    """What the new notation would ask about, or read as one chord, is parted as it was meant."""
    assert new_text(old) == new
    assert parse_tolerant(new).questions == ()
    assert "".join(piece.old for piece in pieces_of_text(old)) == old


def test_drafts_keep_every_character_and_their_times(store: Store, wren: Learner) -> None:
    """What is typed so far stands in the new signs, and each character has the time it had."""
    drills = [drill for _, drill in store.open_drills.all(wren)]
    assert sorted(drill.text for drill in drills) == sorted(DRAFTS)
    for drill in drills:
        runs = json.loads(drill.stamps)
        assert sum(count for count, _ in runs) == len(drill.text)
        times = [moment for _, moment in runs]
        assert times == sorted(times)
    parsed = parse_tolerant(DRAFTS[0])
    assert parsed.chart is not None
    assert len(parsed.chart.bars()) == 5
    assert parsed.invalid_bars == {5}


def test_ratings_sums_and_sets_are_rewritten(store: Store, wren: Learner) -> None:
    """Skills have their new names, and what is known of them is what the attempts give."""
    known = rating_state(store, wren)
    assert {"choke", "chord 7ø", "bass 7ø/1"} <= known.skills.keys()
    assert not {"stop", "chord 7h"} & known.skills.keys()
    assert {("7ø", "7o"), ("#4ø", "4o")} <= {
        (each.played, each.written) for each in store.progress.confusions(wren)
    }
    assert {day.skill for day in store.ratings.days(wren)} >= {"choke", "chord 7ø"}
    items = store.sets.of_day(wren, NOW.date())
    assert [item.skills for item in items] == [("choke",), ("chord 7ø",), ("bass 7ø/1",)]
    assert items[1].reason == "New: the 7ø."
    assert bring_ratings_up(store, wren)
    assert rating_state(store, wren) == known
    assert {day.skill for day in store.ratings.days(wren)} >= {"choke", "chord 7ø"}


def test_damaged_rows_do_not_stop_it(folder: Path) -> None:
    """JSON that cannot be read stays as it is; the rest is rewritten."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection, connection:
        connection.executescript((DATA / "signs-v6.sql").read_text(encoding="utf-8"))
        connection.execute("UPDATE exercises SET data = '{\"1_5' WHERE id = 5")
        connection.execute("UPDATE bar_results SET skills = '[\"stop\"' WHERE position = 0")
    with Store(folder) as store, store._database.reading() as reading:
        read = reading.exec_driver_sql("SELECT data FROM exercises WHERE id = 5")
        assert read.scalar_one() == '{"1_5'


def test_an_export_of_then_is_read_like_the_store(
    store: Store, wren: Learner, tmp_path: Path
) -> None:
    """A record exported in the old signs comes in as the same record brought up leaves."""
    old = json.loads((DATA / "signs-export-v2.json").read_text(encoding="utf-8"))
    with Store(tmp_path / "elsewhere") as other:
        imported = import_record(other, old)
        assert imported.added == 3
        assert_songs_and_answers(other, imported.learner)
        again = other.transfer.export_json(imported.learner)
    leaves = store.transfer.export_json(wren)
    assert again["attempts"] == leaves["attempts"]
    assert again["exercises"] == leaves["exercises"]
    assert {draft["text"] for draft in leaves["drafts"]} == set(DRAFTS)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("1155_5 6", "115(5 5) 6"),
        ("1_5/76-", "(1 5/7)6-"),
        ("1 _ 5", "(1 5)"),
        ("1d5p4s1", "1d5p4c1"),
        ("7h7h^7#4o", "7ø7ø^7#4o"),
        ("7ø", "7ø"),
        ("(6/8)1 (key +2)(2/4) 1 (KEY - 11) 4", "[6/8]1 [up 2][2/4] 1 [down 11] 4"),
        ("(5/5) (key 2) (key +) (5)", "(5/5) (key 2) (key +) (5)"),
        ("1 (", "1 ["),
        ("1 (2/", "1 [2/"),
        ("1 (key -", "1 [down "),
        ("1_", "(1 "),
        ("1_ . 4", "1_ . 4"),
        ("_1 5__5", "_1 5__5"),
        ("5sus 1q_x", "5sus (1q x)"),
        (
            "key: 7h\nTag 1_5:\nVerse: 1_5\nChorus 1_2",
            "key: 7h\nTag 1_5:\nVerse: (1 5)\nChorus 1_2",
        ),
        ("G7 1_5", "G7 (1 5)"),
        ("1''\"_5’", "(1''\" 5’)"),
    ],
)
def test_old_texts_in_new_signs(old: str, new: str) -> None:
    """Signs that are understood are rewritten; everything else is kept."""
    assert new_text(old) == new


def test_chords_skills_and_sentences() -> None:
    """Names of chords and skills are rewritten, in a sentence only what is surely a chord."""
    assert new_chord("b7h/1s") == "b7ø/1c"
    assert [new_skill(each) for each in ("stop", "chord 7h", "push", "feel half-time")] == [
        "choke", "chord 7ø", "push", "feel half-time",
    ]  # fmt: skip
    said = "Bars 2_3: 1_5s was played in (2/4), 4s was written; 3 of 4s, bar 7, test_1."
    assert new_sentence(said).endswith(
        "(1 5c) was played in [2/4], 4c was written; 3 of 4s, bar 7, test_1."
    )


PIECES = st.lists(
    st.sampled_from([*"0123456789b#-o+h^/'_.()|:% \n♭’sdp", "(2/4)", "(key +2)", "7h", "1_5", "x"]),
    max_size=30,
).map("".join)


@given(st.one_of(PIECES, st.text(max_size=40)))
def test_no_character_is_lost(old: str) -> None:
    """The pieces of any text hold all of it, and letters and digits stay but for the signs."""
    pieces = list(pieces_of_text(old))
    assert "".join(piece.old for piece in pieces) == old
    changed = [piece for piece in pieces if piece.new != piece.old]
    for new, before in changed:
        kept = before.strip(" _()").replace("h", "ø").replace("s", "c")
        assert new in ("(", ")", " ", "[") or "key" in before.lower() or kept in new


def test_times_go_with_the_characters() -> None:
    """A new bracket has the time of what stands before it; a record that does not fit stays."""
    stamps = json.dumps([[1, 1.0], [1, 2.0], [1, 3.0]])
    runs = json.loads(new_stamps("1_5", stamps))
    assert [moment for _, moment in runs] == [None, 1.0, 2.0, 3.0, 3.0]
    for odd in ("", "x", "[[1, 2]]", '{"a": 1}', "[[null, 1]]"):
        assert new_stamps("1_5", odd) == odd
