from __future__ import annotations

import random
import sqlite3
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select, update

from tests.store.samples import NOW, exercise, hand_in, sitting
from trainer.chart import Chart, chart_to_json
from trainer.exercise import bar_skills, exercise_to_json
from trainer.grade import Timing, grade, report_to_json
from trainer.practice import speed_history, speed_test
from trainer.practice.rating import MODEL_VERSION
from trainer.store import FILE_NAME, ExerciseRecord, Learner, Sitting, Store
from trainer.store.tables import exercises

TABLES = ("practice_states", "skill_states", "rating_days", "speed_results")
DUMP = Path(__file__).parent / "data" / "v1.sql"


def rows(store: Store) -> dict[str, list[tuple[object, ...]]]:
    """All that practice keeps, as it stands in the file."""
    with store._database.reading() as connection:
        return {
            table: sorted(
                map(tuple, connection.exec_driver_sql(f"SELECT * FROM {table}")), key=repr
            )
            for table in TABLES
        }


def practised(store: Store, learner: Learner, kept: ExerciseRecord, seed: int = 1) -> None:
    """Twenty attempts of all kinds, the clock set back once on the way."""
    rng = random.Random(seed)
    others = [store.exercises.keep(exercise(n, level=n)) for n in (2, 3)]
    moment = NOW
    for number in range(20):
        moment += timedelta(hours=rng.randint(1, 40))
        if number == 11:
            moment -= timedelta(days=90)
        hand_in(store, learner, rng.choice([kept, *others]), moment, token=f"p{number}")


def test_every_attempt_is_taken_in(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """The ratings move with the attempt that is stored, in its own transaction."""
    assert fresh_store.ratings.state(learner).attempts == 0
    hand_in(fresh_store, learner, kept)
    state = fresh_store.ratings.state(learner)
    assert state.attempts == 1
    assert set(state.skills) == {"chord 1", "chord 5", "chord 6-", "chord 4", "even split"}
    # 1 was right in both of its bars, 4 was written 2-, the split stood half in its place.
    assert state.skills["chord 1"].credit == 2.0
    assert state.skills["chord 4"].credit == 0.0
    assert state.skills["even split"].credit == 0.5
    assert state.last_at == NOW


def test_ratings_can_be_made_anew_from_the_attempts_alone(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """What a rebuild makes is what stood there, to the last bit."""
    practised(fresh_store, learner, kept)
    before, state = rows(fresh_store), fresh_store.ratings.state(learner)
    with fresh_store._database.writing() as connection:
        for table in TABLES:
            connection.exec_driver_sql(f"DELETE FROM {table}")
    assert fresh_store.ratings.rebuild(learner) == 20
    assert rows(fresh_store) == before
    assert fresh_store.ratings.state(learner) == state
    assert fresh_store.ratings.rebuild(learner) == 20
    assert rows(fresh_store) == before


def test_ratings_of_another_model_are_made_anew(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """When the way ratings are made has changed, the next look or attempt makes them anew."""
    practised(fresh_store, learner, kept)
    before = rows(fresh_store)
    for touch in (
        lambda: fresh_store.ratings.state(learner),
        lambda: hand_in(fresh_store, learner, kept, NOW + timedelta(days=99), token="more"),
    ):
        with fresh_store._database.writing() as connection:
            connection.exec_driver_sql(f"UPDATE practice_states SET model = {MODEL_VERSION + 1}")
            connection.exec_driver_sql("UPDATE skill_states SET own = 5.0")
        touch()
        now = rows(fresh_store)
        assert [row[1] for row in now["practice_states"]] == [MODEL_VERSION]
        if fresh_store.attempts.count(learner) == 20:
            assert now == before
    assert fresh_store.ratings.state(learner).attempts == 21


def test_a_file_of_an_older_version_has_ratings_at_once(folder: Path) -> None:
    """Attempts made before there were ratings count as soon as they are looked at."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.executescript(DUMP.read_text(encoding="utf-8"))
    with Store(folder) as store:
        for learner in store.learners.all():
            assert store.ratings.state(learner).attempts == 3
            assert len({day.day for day in store.ratings.days(learner)}) == 3


def test_a_home_shift_of_an_older_file_is_found(folder: Path) -> None:
    """Bringing a file up reads from its reports which attempts were counted from elsewhere."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.executescript(DUMP.read_text(encoding="utf-8"))
        connection.execute(
            "UPDATE papers SET report = json_set(report, '$.home_shift', "
            'json(\'{"kind": "relative major"}\')) WHERE attempt_id = 1'
        )
        connection.commit()
    with Store(folder) as store:
        kinds = [a.home_shift for who in store.learners.all() for a in store.attempts.history(who)]
    assert sorted(map(str, kinds)) == ["None"] * 5 + ["relative major"]


def test_a_clock_set_back_loses_nothing(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """An attempt dated before the last is stored, counts, and is never due before it was made."""
    hand_in(fresh_store, learner, kept, NOW, token="a")
    hand_in(fresh_store, learner, kept, NOW - timedelta(days=400), token="b")
    state = fresh_store.ratings.state(learner)
    assert (state.attempts, state.last_at) == (2, NOW)
    assert all(each.memory.due > NOW for each in state.skills.values())


@pytest.mark.parametrize("location", ["sqlite"], indirect=True)
def test_two_windows_at_once(two_stores: tuple[Store, Store]) -> None:
    """Attempts from two windows are all taken in, and a rebuild gives the same."""
    learner = two_stores[0].learners.get_or_add("Wren Halloway", NOW)
    kept = two_stores[0].exercises.keep(exercise())
    faults: list[Exception] = []

    def window(store: Store, name: str) -> None:
        try:
            for number in range(15):
                moment = NOW + timedelta(minutes=number)
                hand_in(store, learner, kept, moment, token=f"{name}{number}")
        except Exception as error:  # noqa: BLE001 - told to the test
            faults.append(error)

    threads = [
        threading.Thread(target=window, args=(store, name))
        for store, name in zip(two_stores, "ab", strict=True)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    store = two_stores[1]
    before = rows(store)
    assert store.ratings.state(learner).attempts == 30
    store.ratings.rebuild(learner)
    assert rows(store) == before


def test_learners_are_kept_apart(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """One learner's attempts leave another's ratings alone; deleting takes all that is theirs."""
    other = fresh_store.learners.get_or_add("Odell Pruitt", NOW)
    hand_in(fresh_store, other, kept)
    before = fresh_store.ratings.state(other)
    practised(fresh_store, learner, kept)
    assert fresh_store.ratings.state(other) == before
    fresh_store.learners.delete(learner)
    fresh_store.check()
    assert {row[0] for row in rows(fresh_store)["skill_states"]} == {other.id}
    assert fresh_store.ratings.state(other) == before


def test_an_import_brings_its_ratings(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, tmp_path: Path
) -> None:
    """What is imported is taken in: ratings as at home, but for the order of a clock set back."""
    for number in range(4):
        hand_in(fresh_store, learner, kept, NOW + timedelta(days=number), token=f"i{number}")
    data = fresh_store.transfer.export_json(learner)
    with Store(tmp_path / "other") as other:
        done = other.transfer.import_json(data)
        assert other.ratings.state(done.learner) == fresh_store.ratings.state(learner)


def test_an_export_of_an_older_version_comes_in(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, tmp_path: Path
) -> None:
    """An export without what was added since is taken as it is."""
    hand_in(fresh_store, learner, kept)
    data = fresh_store.transfer.export_json(learner)
    for attempt in data["attempts"]:
        del attempt["home_shift"]
        for bar in attempt["bar_results"]:
            del bar["phrase_end"], bar["section_start"]
    with Store(tmp_path / "other") as other:
        assert other.transfer.import_json(data).added == 1


def test_ratings_by_day(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> None:
    """Each day with practice keeps the ratings it ended with, for the range asked."""
    for number in range(3):
        hand_in(fresh_store, learner, kept, NOW + timedelta(days=number), token=f"d{number}")
    days = fresh_store.ratings.days(learner)
    assert len(days) == 3 * 5
    last = [day for day in days if day.day == (NOW + timedelta(days=2)).date()]
    assert fresh_store.ratings.days(learner, since=last[0].day) == tuple(last)
    first = fresh_store.ratings.days(learner, until=NOW.date())
    assert all(
        b.variance < a.variance for a, b in zip(first, last, strict=True) if a.skill == b.skill
    )


@pytest.mark.parametrize(("back", "step", "last_of"), [(0, 1, (0, 1, 2)), (0, 2, (1, 2)),
                                                       (1, 2, (0, 2)), (1, 30, (2,))])  # fmt: skip
def test_ratings_by_stretch(
    fresh_store: Store,
    learner: Learner,
    kept: ExerciseRecord,
    back: int,
    step: int,
    last_of: tuple[int, ...],
) -> None:
    """Of every stretch of days the last ratings are given."""
    for number in range(4):
        hand_in(fresh_store, learner, kept, NOW + timedelta(days=number), token=f"d{number}")
    since, until = NOW.date() - timedelta(days=back), NOW.date() + timedelta(days=2)
    wanted = {NOW.date() + timedelta(days=number) for number in last_of}
    days = tuple(
        day
        for day in fresh_store.ratings.days(learner)
        if day.day in wanted and day.skill != "chord 1"
    )
    skills = {day.skill for day in days}
    assert fresh_store.ratings.day_stretches(learner, skills, since, until, step) == days


@pytest.fixture
def self_test(fresh_store: Store, learner: Learner) -> Callable[..., None]:
    """Sits the speed self-test, every bar written so many beats after it began."""

    def sit(number: int, lag: float, **how: object) -> None:
        made = speed_test(number)
        chart: Chart = made.chart
        kept = fresh_store.exercises.keep(exercise_to_json(made), "generated")
        beat = 60 / chart.tempo
        times = tuple((4 * n * beat, 4 * (n + 1) * beat) for n in range(len(chart.bars())))
        timing = Timing(
            bar_done_s=tuple(start + lag * beat for start, _ in times),
            bar_times_s=times,
            seconds_per_beat=beat,
        )
        report = report_to_json(grade(chart, chart, timing=timing))
        moment = NOW + timedelta(days=number)
        how_ = {"started_at": moment, "listens": 1} | how
        fresh_store.attempts.record(
            learner,
            kept,
            "as played",
            report,
            Sitting(**how_),  # type: ignore[arg-type]
            moment,
            answer_chart=chart_to_json(chart),
            bar_skills=bar_skills(chart),
        )

    return sit


def test_rebuilding_keeps_old_self_tests(
    fresh_store: Store, learner: Learner, self_test: Callable[..., None]
) -> None:
    """A test stored before protocols were named, and given a key since, keeps its result."""
    self_test(1, lag=3.0)
    before = fresh_store.ratings.speed(learner)
    assert before
    with fresh_store._database.writing() as connection:
        (data,) = connection.execute(select(exercises.c.data)).scalars()
        recipe = {key: value for key, value in data["recipe"].items() if key != "protocol"}
        new = data | {"recipe": recipe | {"a later key": 0}}
        connection.execute(update(exercises).values(data=new))
    fresh_store.ratings.rebuild(learner)
    assert fresh_store.ratings.speed(learner) == before


def test_self_tests_are_found(
    fresh_store: Store, learner: Learner, self_test: Callable[..., None]
) -> None:
    """Attempts at the self-test give results that can be held against each other."""
    self_test(1, 9.0)
    self_test(2, 5.0)
    self_test(3, 3.0, listens=2)
    self_test(4, 4.0)
    results = fresh_store.ratings.speed(learner)
    assert [result.kept_up for result in results] == [0.0, 1.0, 1.0]
    history = speed_history(results)
    assert history.best is not None
    assert history.best.lag_beats == pytest.approx(4.0)
    assert (history.is_best, history.percentile) == (True, 100.0)
    before = rows(fresh_store)
    fresh_store.ratings.rebuild(learner)
    assert rows(fresh_store) == before


def test_an_odd_exercise_is_stored_all_the_same(fresh_store: Store, learner: Learner) -> None:
    """An exercise whose recipe says nothing that is known is still evidence."""
    data = exercise() | {"id": "strange", "recipe": {"ask": "nothing", "listens": None}}
    kept = fresh_store.exercises.keep(data)
    hand_in(fresh_store, learner, kept)
    assert fresh_store.ratings.state(learner).attempts == 1
    assert sitting().listens == 1
