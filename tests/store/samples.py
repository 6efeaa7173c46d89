"""A learner's evening at the Millrace school; shared by the tests of the store and the drill."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from typing import Any

from trainer import __version__
from trainer.chart import Chart, parse
from trainer.exercise import (
    Exercise,
    Recipe,
    chart_skills,
    first_id,
    read_answer,
    recipe_to_dict,
)
from trainer.grade import Timing, grade, weights_for
from trainer.practice import Conditions, attempt_tally, graded_bars, mean_lag
from trainer.store import (
    Assignment,
    AttemptDetail,
    AttemptRecord,
    ExerciseRecord,
    ItemWithSong,
    Learner,
    NewAttempt,
    Repositories,
    Store,
)
from trainer.store.sqlite import check_file

NOW = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)
# What was played, and what was written: 5/7 is heard as 1, 4 as 2-.
SONG = "1 (1 5/7) 6- 4"
TEXT = "1 1 6- 2-"
# The lag of each bar, in beats.
LAGS = (1.0, None, 3.0, None)
RECIPE = Recipe(size="phrase", chords=("1", "4", "5", "6-"), band="small", listens=2)


def chart(bars: str = SONG, title: str = "Second Lamp past the Sluice", **header: str) -> Chart:
    """A chart of one section, its bars in notation."""
    said = {"title": title, "meter": "4/4", "tempo": "96", "key": "D"} | header
    head = "".join(f"{name}: {value}\n" for name, value in said.items())
    return parse(f"{head}\nVerse 1:\n{bars}\n")


def exercise(
    number: int = 1, level: int | None = 3, song: Chart | None = None, **recipe: Any
) -> Exercise:
    """An exercise with another song for each number; `recipe` changes how it is played and asked.

    The evening's exercises ask for everything, whose weights are the standard ones.
    """
    title = "Second Lamp past the Sluice" + (f" ({number})" if number != 1 else "")
    made = song or chart(title=title)
    said = recipe_to_dict(RECIPE) | {"ask": "everything"} | recipe
    return Exercise(
        id=f"millrace-{number}",
        level=level,
        level_id=first_id(level),
        recipe=said,
        seed=number,
        generator_version="1",
        skills=chart_skills(made),
        chart=made,
        band=said["band"],
        help=RECIPE.help,
        listens=said["listens"],
        loop=said["loop"],
        ask=said["ask"],
    )


def timing(played: Chart, lags: tuple[float | None, ...]) -> Timing:
    """Bars that sound one after another, each written so many beats after it began."""
    beat = 60 / played.tempo
    starts = [4 * beat * number for number in range(len(played.bars()))]
    done = (
        None if lag is None else start + lag * beat
        for start, lag in zip(starts, lags, strict=False)
    )
    times = tuple((start, start + 4 * beat) for start in starts)
    return Timing(bar_done_s=tuple(done), bar_times_s=times, seconds_per_beat=beat)


def detail_of(store: Repositories, record: AttemptRecord) -> AttemptDetail:
    """All that belongs to an attempt that is stored."""
    detail = store.attempts.get(record.id)
    assert detail is not None
    return detail


def new_attempt(
    made: Exercise,
    now: datetime = NOW,
    text: str = TEXT,
    lags: tuple[float | None, ...] | None = LAGS,
    **changes: Any,
) -> NewAttempt:
    """A graded answer to an exercise, two minutes' work up to `now`, on its way into the store."""
    answer = read_answer(made, text)
    timed = timing(made.chart, lags) if lags is not None else None
    report = grade(made.chart, answer.chart, weights=weights_for(made.ask), timing=timed)
    bars = graded_bars(report, made, answer)
    values: dict[str, Any] = {
        "answer_text": text,
        "report": report,
        "bars": bars,
        "score": report.score,
        "started_at": now - timedelta(minutes=2),
        "finished_at": now,
        "day": now.date(),
        "worked_s": 120.0,
        "listens": 1,
        "paused": False,
        "tempo_ratio": 1.0,
        "first_pass": False,
        "lag_beats": mean_lag(bars),
        "seen": False,
        "token": None,
        "home_shift": report.home_shift.kind if report.home_shift is not None else None,
        "app_version": __version__,
    }
    return NewAttempt(**values | changes)


def hand_in(
    store: Repositories,
    learner: Learner,
    kept: ExerciseRecord,
    now: datetime = NOW,
    **changes: Any,
) -> AttemptRecord:
    """Store an answer to a kept exercise with its sums, in one transaction.

    `changes` are those of `new_attempt`.
    """
    attempt = new_attempt(kept.exercise, now, **changes)
    how = Conditions(
        attempt.finished_at,
        attempt.listens,
        attempt.paused,
        attempt.tempo_ratio,
        attempt.seen,
        attempt.home_shift,
    )
    with store.transaction() as within:
        record = within.attempts.add(learner, kept, attempt)
        tally = attempt_tally(kept.exercise, attempt.bars, how)
        within.progress.add(learner, attempt.day, tally)
    return record


def check_store(store: Store) -> None:
    """Read the whole file of a store and raise StoreBroken if any of it is damaged.

    A database server's data is for the server to check.
    """
    if store.path is None:
        return
    with closing(sqlite3.connect(store.path)) as connection:
        check_file(connection, str(store.path))


def new_assignment(class_id: int, account_id: int | None = None, **changes: Any) -> Assignment:
    """An assignment of a class that opened a day ago and is due in a week, not stored yet."""
    values: dict[str, Any] = {
        "id": 0,
        "uid": "",
        "class_id": class_id,
        "title": "Week 3: split bars",
        "opens_at": NOW - timedelta(days=1),
        "closes_at": NOW + timedelta(days=7),
        "late_until": None,
        "late_cost": 0.0,
        "scheme": None,
        "pass_mark": 0.85,
        "tries": 1,
        "counts": "best",
        "results": "at once",
        "shown_at": None,
        "made_by": account_id,
        "made_at": NOW,
    }
    return Assignment(**values | changes)


def new_item(number: int = 1, **changes: Any) -> ItemWithSong:
    """An item with the song of the exercise of that number for everybody, not stored yet."""
    values: dict[str, Any] = {
        "id": 0,
        "uid": "",
        "assignment_id": 0,
        "position": number,
        "kind": "level",
        "title": "Level 3",
        "source": {"level": "splits", "seed": 123_456_789_012},
        "same_song": True,
        "listens": 2,
        "tempo": 100,
        "one_pass": False,
        "points": 1.0,
        "take": f"take-{number}",
        "expected": 0.7,
        "exercise": exercise(number),
    }
    return ItemWithSong(**values | changes)
