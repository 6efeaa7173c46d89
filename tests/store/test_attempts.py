from __future__ import annotations

import math
from dataclasses import asdict, replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest
from sqlalchemy import func, select

from tests.store.samples import (
    NOW,
    SONG,
    TEXT,
    chart,
    detail_of,
    exercise,
    hand_in,
    new_attempt,
    timing,
)
from trainer.chart import format_chart
from trainer.errors import StoreError
from trainer.exercise import Recipe, bar_skills, make_exercise, read_answer, song_digest
from trainer.grade import grade, report_to_json
from trainer.store import ExerciseRecord, Learner, Store
from trainer.store.tables import metadata


def rows(store: Store) -> dict[str, int]:
    """How many rows each table has."""
    with store._database.reading() as connection:
        return {
            name: connection.execute(select(func.count()).select_from(table)).scalar_one()
            for name, table in metadata.tables.items()
        }


def test_an_attempt_comes_back_whole(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """What was stored is read back the same: text, report, bars, skills, timing."""
    new = new_attempt(kept.exercise, token="t1", listens=2, first_pass=True, tempo_ratio=0.8)
    added = fresh_store.attempts.add(learner, kept, new)
    detail = detail_of(fresh_store, added)
    assert detail.record == added
    assert detail.answer_text == TEXT
    assert detail.exercise == kept
    assert detail.exercise.exercise == exercise()
    assert detail.bars == new.bars
    graded = grade(
        chart(), read_answer(exercise(), TEXT).chart, timing=timing(chart(), (1, None, 3, None))
    )
    assert detail.report == report_to_json(graded)
    record = detail.record
    assert (record.duration_s, record.lag_beats, record.bars) == (120.0, 2.0, 4)
    assert (record.listens, record.first_pass, record.tempo_ratio) == (2, True, 0.8)
    assert (record.level, record.title) == (3, "Second Lamp past the Sluice")
    assert (record.exercise_id, record.origin, record.learner_id) == (
        "millrace-1",
        "generated",
        learner.id,
    )
    assert record.finished_at == NOW
    assert record.finished_at.tzinfo is UTC
    assert not record.seen
    assert record.counts


def test_bars_are_the_graders(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> None:
    """Each bar has its chords as lists, what was taken for what, its skills and its lag."""
    record = hand_in(fresh_store, learner, kept)
    detail = detail_of(fresh_store, record)
    assert [bar.played for bar in detail.bars] == [("1",), ("1", "5/7"), ("6-",), ("4",)]
    assert [bar.written for bar in detail.bars] == [("1",), ("1",), ("6-",), ("2-",)]
    assert [bar.confusions for bar in detail.bars] == [(), (("5/7", "1"),), (), (("4", "2-"),)]
    assert [bar.lag_beats for bar in detail.bars] == [1.0, None, 3.0, None]
    assert [set(bar.skills) for bar in detail.bars] == [set(each) for each in bar_skills(chart())]
    assert [bar.score for bar in detail.bars][::2] == [1.0, 1.0]


def test_missing_and_added_bars_are_kept_as_such(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A bar left out has no answer and nothing written, a bar added no reference."""
    left_out = hand_in(fresh_store, learner, kept, text="1 6- 4", lags=None)
    added = hand_in(fresh_store, learner, kept, text=f"{SONG} 5", lags=None)
    missing = detail_of(fresh_store, left_out).bars[1]
    extra = detail_of(fresh_store, added).bars[4]
    assert (missing.reference, missing.answer) == (2, None)
    assert (missing.played, missing.written, missing.score) == (("1", "5/7"), (), 0.0)
    assert missing.skills
    assert (extra.reference, extra.answer) == (None, 5)
    assert (extra.played, extra.written, extra.skills) == ((), ("5",), ())
    # Bars are counted of the song.
    assert (left_out.bars, added.bars) == (4, 4)


def test_an_answer_without_a_bar_is_stored(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Every bar of the song is then one left out, and the text typed is kept."""
    record = hand_in(fresh_store, learner, kept, text="Verse ♯é:\n", lags=None)
    detail = detail_of(fresh_store, record)
    assert detail.answer_text == "Verse ♯é:\n"
    assert {bar.written for bar in detail.bars} == {()}
    assert len(detail.bars) == 4


@pytest.mark.parametrize("where", ["started_at", "finished_at"])
def test_naive_times_are_refused(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, where: str
) -> None:
    """A time without a zone is refused, and nothing is stored."""
    naive: dict[str, Any] = {where: NOW.replace(tzinfo=None)}
    with pytest.raises(ValueError, match="without a time zone"):
        fresh_store.attempts.add(learner, kept, new_attempt(kept.exercise, **naive))
    assert rows(fresh_store)["attempts"] == 0


def test_figures_that_are_none_are_refused(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A report with "not a number" in it is refused whole: JSON has no such value."""
    report = {"score": math.nan}
    with pytest.raises((ValueError, StoreError), match="JSON"):
        fresh_store.attempts.add(learner, kept, new_attempt(kept.exercise, report=report))
    assert rows(fresh_store)["attempts"] == 0


def test_other_zones_become_utc(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> None:
    """The same moment told in another zone is the same moment stored."""
    far = NOW.astimezone(timezone(timedelta(hours=-7)))
    record = hand_in(fresh_store, learner, kept, far)
    assert record.finished_at == NOW
    assert record.finished_at.utcoffset() == timedelta(0)


def test_the_learners_own_day_counts(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """The day given is the one that an attempt is counted under, whatever UTC says."""
    own = date(2026, 3, 3)
    hand_in(fresh_store, learner, kept, day=own)
    hand_in(fresh_store, learner, kept)
    assert [day.day for day in fresh_store.progress.days(learner)] == [NOW.date(), own]


def test_a_token_names_one_attempt(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """The same token again is refused and changes nothing; another learner may have the same."""
    record = hand_in(fresh_store, learner, kept, token="once")
    before = rows(fresh_store)
    with pytest.raises(StoreError, match="nothing was stored"):
        hand_in(fresh_store, learner, kept, NOW + timedelta(seconds=1), token="once")
    assert rows(fresh_store) == before
    assert fresh_store.attempts.find_token(learner, "once") == record.id
    assert fresh_store.attempts.find_token(learner, "twice") is None
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    assert fresh_store.attempts.find_token(other, "once") is None
    theirs = hand_in(
        fresh_store, other, fresh_store.exercises.keep(other, exercise()), token="once"
    )
    assert fresh_store.attempts.find_token(other, "once") == theirs.id


def test_history_is_newest_first_in_pages(fresh_store: Store, learner: Learner) -> None:
    """History goes from the newest back, by pages, by level, and shows no one else's."""
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    low, high = (fresh_store.exercises.keep(learner, exercise(n, level=n)) for n in (1, 2))
    made = [
        hand_in(fresh_store, learner, (low, high)[n % 2], NOW + timedelta(minutes=n // 2))
        for n in range(10)
    ]
    hand_in(fresh_store, other, fresh_store.exercises.keep(other, exercise(1, level=1)))
    history = fresh_store.attempts.history
    assert list(history(learner)) == made[::-1]
    assert [*history(learner, 4), *history(learner, 4, 4), *history(learner, 4, 8)] == made[::-1]
    assert list(history(learner, level_id="six-minor")) == made[1::2][::-1]
    assert history(learner, level_id="one-over-three") == ()
    assert fresh_store.attempts.count(learner) == 10
    assert fresh_store.attempts.count(learner, level_id="home-four-five") == 5


def test_best_by_level(fresh_store: Store, learner: Learner) -> None:
    """Each level tried has its best score, its number of attempts and its last time."""
    low, high, song = (
        fresh_store.exercises.keep(learner, exercise(n, level=n if n < 3 else None))
        for n in (1, 2, 3)
    )
    for minutes, (kept, score) in enumerate(((low, 0.5), (low, 0.9), (low, 0.7), (high, 0.2))):
        hand_in(fresh_store, learner, kept, NOW + timedelta(minutes=minutes), score=score)
    hand_in(fresh_store, learner, song, score=1.0)
    best = fresh_store.attempts.best_by_level(learner)
    assert {level: (b.score, b.attempts) for level, b in best.items()} == {
        "home-four-five": (0.9, 3),
        "six-minor": (0.2, 1),
    }
    assert best["home-four-five"].last_at == NOW + timedelta(minutes=2)


def test_what_does_not_count_passes_no_level(fresh_store: Store, learner: Learner) -> None:
    """An attempt at a song seen before, or without a listen, is no best of its level."""
    kept = fresh_store.exercises.keep(learner, exercise(1, level=1))
    seen = hand_in(fresh_store, learner, kept, score=1.0, seen=True)
    deaf = hand_in(fresh_store, learner, kept, score=1.0, listens=0)
    assert not seen.counts
    assert not deaf.counts
    assert fresh_store.attempts.best_by_level(learner) == {}
    hand_in(fresh_store, learner, kept, score=0.5)
    best = fresh_store.attempts.best_by_level(learner)["home-four-five"]
    assert (best.score, best.attempts) == (0.5, 1)


def test_a_song_is_seen_once_it_has_a_result(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A learner has seen the songs of their own attempts, under any exercise, and no others."""
    song = song_digest(exercise())
    assert not fresh_store.attempts.has_seen(learner, song, NOW)
    hand_in(fresh_store, learner, kept)
    assert fresh_store.attempts.has_seen(learner, song, NOW)
    again = fresh_store.exercises.keep(learner, replace(exercise(2), chart=chart()))
    assert again.song == song
    other_song = fresh_store.exercises.keep(learner, exercise(3))
    assert not fresh_store.attempts.has_seen(learner, other_song.song, NOW)
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    assert not fresh_store.attempts.has_seen(other, song, NOW)


def test_the_log_is_every_attempt_in_order(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The log gives every attempt with its exercise and bars, as stored, across batches."""
    monkeypatch.setattr("trainer.store.attempts.BATCH", 3)
    second = fresh_store.exercises.keep(learner, exercise(2))
    made = [
        hand_in(fresh_store, learner, (kept, second)[n % 2], NOW - timedelta(minutes=n))
        for n in range(8)
    ]
    log = list(fresh_store.attempts.log(learner))
    assert [each.record for each in log] == made
    assert [each.exercise for each in log] == [(kept, second)[n % 2] for n in range(8)]
    assert all([bar.position for bar in each.bars] == [1, 2, 3, 4] for each in log)


@pytest.mark.parametrize("seed", range(5))
def test_a_generated_song_graded_and_kept(fresh_store: Store, learner: Learner, seed: int) -> None:
    """An exercise comes back equal, its bars with the skills and scores of the report."""
    made = make_exercise(Recipe(), seed)
    kept = fresh_store.exercises.keep(learner, made)
    record = hand_in(fresh_store, learner, kept, text=format_chart(made.chart), lags=None)
    detail = detail_of(fresh_store, record)
    assert detail.exercise.exercise == made
    assert record.bars == len(made.chart.bars())
    assert {bar.score for bar in detail.bars} == {1.0}
    assert all(bar.played == bar.written for bar in detail.bars)
    assert [set(bar.skills) for bar in detail.bars] == [
        set(each) for each in bar_skills(made.chart)
    ]
    assert fresh_store.exercises.keep(learner, made) == kept


def test_there_is_no_such_attempt(fresh_store: Store) -> None:
    """An id that was never given finds nothing."""
    assert fresh_store.attempts.get(12) is None


def test_a_learner_deleted_meanwhile_is_told(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """Storing for a learner who is gone says so."""
    fresh_store.learners.delete(learner)
    with pytest.raises(StoreError, match="Was the learner deleted meanwhile"):
        hand_in(fresh_store, learner, kept)


def test_records_are_frozen(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> None:
    """What the store hands out cannot be changed by accident."""
    record = hand_in(fresh_store, learner, kept)
    with pytest.raises(AttributeError):
        record.score = 1.0  # type: ignore[misc] # the point of the test
    assert asdict(record)["started_at"] == datetime(2026, 3, 2, 19, 28, tzinfo=UTC)
