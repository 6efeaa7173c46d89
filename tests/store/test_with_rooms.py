"""The store with what the other rooms really make."""

from __future__ import annotations

import pytest

from tests.store.samples import NOW, sitting
from trainer.chart import chart_to_json, parse
from trainer.exercise import Recipe, exercise_from_json, exercise_to_json, make_exercise
from trainer.exercise.skills import bar_skills
from trainer.grade import Timing, grade, report_to_json
from trainer.store import Confusion, Learner, Store


@pytest.mark.parametrize("seed", range(5))
def test_a_generated_song_graded_and_kept(fresh_store: Store, learner: Learner, seed: int) -> None:
    """An exercise comes back equal, its bars with the skills and scores of the report."""
    exercise = make_exercise(Recipe(), seed)
    kept = fresh_store.exercises.keep(exercise_to_json(exercise))
    report = grade(exercise.chart, exercise.chart)
    made = fresh_store.attempts.record(
        learner,
        kept,
        "as played",
        report_to_json(report),
        sitting(),
        NOW,
        answer_chart=chart_to_json(exercise.chart),
        bar_skills=bar_skills(exercise.chart),
    )
    detail = fresh_store.attempts.get(made.id)
    assert detail is not None
    assert exercise_from_json(detail.exercise.data) == exercise
    assert detail.report == report_to_json(report)
    assert made.bars == len(exercise.chart.bars()) == len(detail.bars)
    assert {bar.score for bar in detail.bars} == {1.0}
    assert all(bar.played == bar.written for bar in detail.bars)
    assert [set(bar.skills) for bar in detail.bars] == [set(s) for s in bar_skills(exercise.chart)]
    assert all(c.played == c.written for c in fresh_store.progress.confusions(learner))
    assert fresh_store.exercises.keep(exercise_to_json(exercise)) == kept


def test_confusions_and_lags_are_the_graders(fresh_store: Store, learner: Learner) -> None:
    """Chords written for others, a bar left out and lags are stored as the grader found them."""
    played, written = parse("key: C\n1 1_5/7 6- 4 5 1"), parse("key: C\n1 1 6- 2- 1")
    times = tuple((2.0 * bar, 2.0 * bar + 2) for bar in range(6))
    timing = Timing(tuple(2.0 * bar + 3 for bar in range(5)), times, seconds_per_beat=0.5)
    report = report_to_json(grade(played, written, timing=timing))
    data = {"id": "by hand", "level": None, "seed": None, "chart": chart_to_json(played)}
    made = fresh_store.attempts.record(
        learner,
        fresh_store.exercises.keep(data),
        "1 1 6- 2- 1",
        report,
        sitting(),
        NOW,
        answer_chart=chart_to_json(written),
    )
    detail = fresh_store.attempts.get(made.id)
    assert detail is not None
    assert [bar.written for bar in detail.bars] == ["1", "1", "6-", "2-", "", "1"]
    assert [bar.lag_beats for bar in detail.bars] == [6.0, 6.0, 6.0, 6.0, None, 2.0]
    assert made.lag_beats == pytest.approx(26 / 5)
    assert set(fresh_store.progress.confusions(learner)) == {
        Confusion("1", "1", 3),
        Confusion("5/7", "1", 1),
        Confusion("6-", "6-", 1),
        Confusion("4", "2-", 1),
        Confusion("5", "", 1),
    }
