from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest
from sqlalchemy import event, text

from tests.store.samples import NOW, PLAYED, SKILLS, TEXT, WRITTEN, exercise, hand_in, report
from tests.store.samples import chart as make_chart
from tests.store.samples import sitting as make_sitting
from trainer.errors import StoreError
from trainer.store import ExerciseRecord, Learner, Store
from trainer.store.tables import metadata


def rows(store: Store) -> dict[str, int]:
    """How many rows each table has."""
    with store._database.reading() as connection:
        return {
            name: connection.execute(text(f"SELECT count(*) FROM {name}")).scalar_one()
            for name in metadata.tables
        }


def test_an_attempt_comes_back_whole(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """What was recorded is read back the same: text, report, bars, skills, timing."""
    recorded = hand_in(fresh_store, learner, kept, token="t1")
    detail = fresh_store.attempts.get(recorded.id)
    assert detail is not None
    assert detail.record == recorded
    assert detail.answer_text == TEXT
    assert detail.report == report()
    assert detail.exercise == kept
    assert detail.exercise.data == exercise()
    assert [bar.played for bar in detail.bars] == list(PLAYED)
    assert [bar.written for bar in detail.bars] == list(WRITTEN)
    assert tuple(bar.skills for bar in detail.bars) == SKILLS
    assert [bar.score for bar in detail.bars] == [1.0, 0.5, 1.0, 0.0]
    assert [bar.mixed for bar in detail.bars] == [(), (("5/7", "1"),), (), (("4", "2-"),)]
    assert [bar.lag_beats for bar in detail.bars] == [1.0, None, 3.0, None]
    assert (recorded.duration_s, recorded.lag_beats, recorded.bars) == (120.0, 2.0, 4)
    assert (recorded.level, recorded.title) == (3, "Lantern on the Levee")
    assert recorded.finished_at == NOW
    assert recorded.finished_at.tzinfo is UTC


def test_missing_and_added_bars_are_kept_as_such(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A bar left out has no answer and no written text, a bar added no reference."""
    left_out: dict[str, Any] = {"reference": 2, "answer": None, "score": 0.0, "root": None}
    added: dict[str, Any] = {"reference": None, "answer": 1, "score": 0.0}
    recorded = fresh_store.attempts.record(
        learner,
        kept,
        "2-",
        {"score": 0.0, "bars": [left_out, added]},
        make_sitting(),
        NOW,
        answer_chart=make_chart("2-"),
        bar_skills=SKILLS,
    )
    detail = fresh_store.attempts.get(recorded.id)
    assert detail is not None
    first, second = detail.bars
    assert (first.played, first.written, first.root) == ("1_5/7", "", None)
    assert first.skills == SKILLS[1]
    assert (second.played, second.written, second.skills) == ("", "2-", ())
    assert recorded.bars == 1
    pairs = {(c.played, c.written): c.chords for c in fresh_store.progress.confusions(learner)}
    assert pairs == {("1", ""): 1, ("5/7", ""): 1, ("", "2-"): 1}


@pytest.mark.parametrize("location", ["sqlite"], indirect=True)
def test_an_answer_that_cannot_be_read_is_stored(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """With no answer chart every bar is one left out, and the text typed is kept."""
    bars = [{"reference": n, "answer": None, "score": 0.0} for n in range(1, 5)]
    recorded = fresh_store.attempts.record(
        learner, kept, "?? ♯\u0000é\n", {"score": 0.0, "bars": bars}, make_sitting(), NOW
    )
    detail = fresh_store.attempts.get(recorded.id)
    assert detail is not None
    assert detail.answer_text == "?? ♯\u0000é\n"
    assert {bar.written for bar in detail.bars} == {""}


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"reference": 5, "answer": 1, "score": 1.0}, "found reference bar 5, expected 1 to 4"),
        ({"reference": 1, "answer": 0, "score": 1.0}, "found answer bar 0, expected 1 to 4"),
        ({"reference": 1, "answer": 1, "score": 1.5}, "found score 1.5, expected 0 to 1"),
        ({"reference": 1, "answer": 1, "root": "x"}, "found root 'x', expected 0 to 1"),
    ],
)
def test_a_report_that_does_not_fit_is_refused(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, bad: dict[str, Any], said: str
) -> None:
    """A bar that is not in the chart, or a score out of range, is told and stores nothing."""
    with pytest.raises(ValueError, match=said):
        fresh_store.attempts.record(
            learner,
            kept,
            TEXT,
            {"score": 1.0, "bars": [bad]},
            make_sitting(),
            NOW,
            answer_chart=make_chart(*WRITTEN),
        )
    assert rows(fresh_store)["attempts"] == 0


@pytest.mark.parametrize("where", ["now", "started_at"])
def test_naive_times_are_refused(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, where: str
) -> None:
    """A time without a zone is refused before anything is stored."""
    naive = NOW.replace(tzinfo=None)
    now, started = (naive, NOW) if where == "now" else (NOW, naive)
    with pytest.raises(ValueError, match="without a time zone"):
        fresh_store.attempts.record(
            learner,
            kept,
            TEXT,
            report(),
            make_sitting(started),
            now,
            answer_chart=make_chart(*WRITTEN),
        )
    assert rows(fresh_store)["attempts"] == 0


def test_other_zones_become_utc(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> None:
    """The same moment told in another zone is the same moment stored."""
    far = NOW.astimezone(timezone(timedelta(hours=-7)))
    recorded = fresh_store.attempts.record(
        learner, kept, "", {"score": 0.0, "bars": []}, make_sitting(far), far
    )
    assert recorded.finished_at == NOW
    assert recorded.finished_at.utcoffset() == timedelta(0)


def test_a_clock_set_back_loses_nothing(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """An attempt that seems to end before it began is stored, with no negative time."""
    late = make_sitting(NOW + timedelta(hours=1))
    recorded = fresh_store.attempts.record(learner, kept, TEXT, {"score": 1, "bars": []}, late, NOW)
    assert recorded.duration_s == 0
    assert recorded.started_at > recorded.finished_at


def test_the_learners_own_day_counts(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """The day given is the one that sums are kept under, else that of UTC."""
    own = date(2026, 3, 3)
    fresh_store.attempts.record(
        learner, kept, "", report(), make_sitting(day=own), NOW, answer_chart=make_chart(*WRITTEN)
    )
    hand_in(fresh_store, learner, kept)
    assert [day.day for day in fresh_store.progress.days(learner)] == [NOW.date(), own]


def test_handing_in_twice_stores_once(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """The same token again gives the first attempt and changes nothing."""
    first = hand_in(fresh_store, learner, kept, token="once")
    before = rows(fresh_store)
    again = hand_in(fresh_store, learner, kept, NOW + timedelta(seconds=1), score=0.1, token="once")
    assert again == first
    assert rows(fresh_store) == before


@pytest.mark.parametrize(
    "table", ["attempts", "papers", "bar_results", "skill_days", "confusion_days", "drafts"]
)
def test_a_fault_in_the_middle_leaves_nothing(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, table: str
) -> None:
    """Wherever recording breaks off, no row of it is stored and the draft is still there."""
    fresh_store.drafts.save(learner, kept, TEXT, NOW)
    before = rows(fresh_store)

    def break_off(connection: Any, cursor: Any, statement: str, *_: Any) -> None:
        if statement.startswith((f"INSERT INTO {table} ", f"DELETE FROM {table} ")):
            raise RuntimeError("the power went")

    engine = fresh_store._database.engine
    event.listen(engine, "after_cursor_execute", break_off)
    with pytest.raises(RuntimeError, match="the power went"):
        hand_in(fresh_store, learner, kept)
    event.remove(engine, "after_cursor_execute", break_off)

    assert rows(fresh_store) == before
    draft = fresh_store.drafts.load(learner, kept)
    assert draft is not None
    assert draft.text == TEXT
    hand_in(fresh_store, learner, kept)
    assert fresh_store.drafts.load(learner, kept) is None


def test_history_is_newest_first_in_pages(fresh_store: Store, learner: Learner) -> None:
    """History goes from the newest back, by pages, by level, and shows no one else's."""
    other = fresh_store.learners.get_or_add("Odell Pruitt", NOW)
    low, high = (fresh_store.exercises.keep(exercise(n, level=n)) for n in (1, 2))
    made = [
        hand_in(fresh_store, learner, (low, high)[n % 2], NOW + timedelta(minutes=n // 2))
        for n in range(10)
    ]
    hand_in(fresh_store, other, low)
    history = fresh_store.attempts.history
    assert list(history(learner)) == made[::-1]
    assert [*history(learner, 4), *history(learner, 4, 4), *history(learner, 4, 8)] == made[::-1]
    assert list(history(learner, level=2)) == made[1::2][::-1]
    assert history(learner, level=9) == ()
    assert fresh_store.attempts.count(learner) == 10
    assert fresh_store.attempts.count(learner, level=1) == 5


def test_best_by_level(fresh_store: Store, learner: Learner) -> None:
    """Each level tried has its best score, its number of attempts and its last time."""
    low, high, song = (
        fresh_store.exercises.keep(exercise(n, level=n if n < 3 else None)) for n in (1, 2, 3)
    )
    for minutes, (kept, score) in enumerate(((low, 0.5), (low, 0.9), (low, 0.7), (high, 0.2))):
        hand_in(fresh_store, learner, kept, NOW + timedelta(minutes=minutes), score=score)
    hand_in(fresh_store, learner, song, score=1.0)
    best = fresh_store.attempts.best_by_level(learner)
    assert {level: (b.score, b.attempts) for level, b in best.items()} == {
        1: (0.9, 3),
        2: (0.2, 1),
    }
    assert best[1].last_at == NOW + timedelta(minutes=2)


def test_the_log_is_every_bar_in_order(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """The log gives every attempt with its bars, oldest first, across batches."""
    made = [hand_in(fresh_store, learner, kept, NOW + timedelta(minutes=n)) for n in range(205)]
    log = list(fresh_store.attempts.log(learner))
    assert [record for record, _ in log] == made
    assert all([bar.position for bar in bars] == [1, 2, 3, 4] for _, bars in log)


def test_there_is_no_such_attempt(fresh_store: Store) -> None:
    """An id that was never given finds nothing."""
    assert fresh_store.attempts.get(12) is None


def test_a_learner_deleted_meanwhile_is_told(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Recording for a learner who is gone says so."""
    fresh_store.learners.delete(learner)
    with pytest.raises(StoreError, match="Was the learner deleted meanwhile"):
        hand_in(fresh_store, learner, kept)


def test_records_are_frozen(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> None:
    """What the store hands out cannot be changed by accident."""
    recorded = hand_in(fresh_store, learner, kept)
    with pytest.raises(AttributeError):
        recorded.score = 1.0  # type: ignore[misc]
    assert asdict(recorded)["started_at"] == datetime(2026, 3, 2, 19, 28, tzinfo=UTC)
