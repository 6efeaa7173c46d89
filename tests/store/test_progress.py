from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.store.samples import LAGS, NOW, exercise, hand_in, new_attempt
from trainer.practice import Tally
from trainer.store import ConfusionCount, DayRecord, ExerciseRecord, Learner, SkillDay, Store

DAY = NOW.date()
# What the grader gives the second and the fourth bar; see `tests.store.test_attempts`.
SCORES = sum(bar.score or 0.0 for bar in new_attempt(exercise()).bars)


@pytest.fixture
def three_days(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> Store:
    """Two attempts on the first day, one on each of the next two; another learner besides."""
    for days, score in ((0, 0.5), (0, 0.75), (1, 0.5), (2, 1.0)):
        hand_in(fresh_store, learner, kept, NOW + timedelta(days=days), score=score)
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    hand_in(fresh_store, other, fresh_store.exercises.keep(other, exercise()))
    return fresh_store


def test_skills_are_summed_by_day(three_days: Store, learner: Learner) -> None:
    """A day's sums are those of its bars, counted by hand: of (1 5/7) written as 1,
    the 1 is right, the 5, its bass and the split are not."""
    assert three_days.progress.skills(learner, until=DAY) == (
        SkillDay(DAY, "bass 5/7", bars=2, score_sum=0.0, right=0),
        SkillDay(DAY, "chord 1", bars=4, score_sum=4.0, right=4),
        SkillDay(DAY, "chord 4", bars=2, score_sum=0.0, right=0),
        SkillDay(DAY, "chord 5", bars=2, score_sum=0.0, right=0),
        SkillDay(DAY, "chord 6-", bars=2, score_sum=2.0, right=2),
        SkillDay(DAY, "even split", bars=2, score_sum=0.0, right=0),
        SkillDay(DAY, "feel straight", bars=8, score_sum=2 * SCORES, right=4),
        SkillDay(DAY, "meter 4/4", bars=8, score_sum=8.0, right=8),
    )
    assert len(three_days.progress.skills(learner)) == 24


@pytest.mark.parametrize(("back", "step"), [(0, 1), (0, 2), (1, 2), (30, 7), (365, 364)])
def test_skills_are_summed_by_stretch(
    three_days: Store, learner: Learner, back: int, step: int
) -> None:
    """Stretches of some days hold what their days hold, added up here."""
    since, until = DAY - timedelta(days=back), DAY + timedelta(days=1)
    sums: dict[tuple[date, str], list[float]] = {}
    for day in three_days.progress.skills(learner, since, until):
        first = since + timedelta(days=(day.day - since).days // step * step)
        found = sums.setdefault((first, day.skill), [0, 0.0, 0])
        for place, value in enumerate((day.bars, day.score_sum, day.right)):
            found[place] += value
    stretches = three_days.progress.skill_stretches(learner, since, until, step)
    assert {
        (each.day, each.skill): [each.bars, each.score_sum, each.right] for each in stretches
    } == {place: pytest.approx(values) for place, values in sums.items()}
    assert len(stretches) == len(sums) == (16 if step == 1 or back == 1 else 8)


def test_confusions_are_summed_over_the_days_asked(three_days: Store, learner: Learner) -> None:
    """What was played against what was written, most often first."""
    last_two = three_days.progress.confusions(learner, since=DAY + timedelta(days=1))
    assert last_two == (
        ConfusionCount("1", "1", 4),
        ConfusionCount("4", "2-", 2),
        ConfusionCount("5/7", "1", 2),
        ConfusionCount("6-", "6-", 2),
    )
    assert [c.chords for c in three_days.progress.confusions(learner)] == [8, 4, 4, 4]


def test_bars_left_out_and_added_are_confusions(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """What was left out was written as nothing, what was added was played as nothing."""
    hand_in(fresh_store, learner, kept, text="1 6- 4", lags=None)
    hand_in(fresh_store, learner, kept, text="1 (1 5/7) 6- 4 2-", lags=None)
    pairs = {(c.played, c.written): c.chords for c in fresh_store.progress.confusions(learner)}
    assert {pair: chords for pair, chords in pairs.items() if "" in pair} == {
        ("1", ""): 1,
        ("5/7", ""): 1,
        ("", "2-"): 1,
    }


def test_days_say_how_much_was_done(three_days: Store, learner: Learner) -> None:
    """A day has its attempts, minutes, mean score, first passes and mean lag."""
    days = three_days.progress.days(learner)
    assert days[0] == DayRecord(DAY, 2, 4.0, 0.625, 0, 2.0)
    assert [d.day for d in days] == [DAY + timedelta(days=n) for n in range(3)]
    assert three_days.progress.days(learner, date(2030, 1, 1)) == ()


def test_what_does_not_count_is_in_the_days_alone(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """A song seen before is work that was done, but shows nothing of any skill."""
    hand_in(fresh_store, learner, kept, seen=True)
    hand_in(fresh_store, learner, kept, listens=0, lags=None, first_pass=True)
    score = new_attempt(kept.exercise).score
    assert fresh_store.progress.days(learner) == (DayRecord(DAY, 2, 4.0, score, 1, 2.0),)
    assert fresh_store.progress.skills(learner) == ()
    assert fresh_store.progress.confusions(learner) == ()


def test_a_bar_written_ahead_lags_nothing(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """An attempt's lag takes what was written before it sounded as 0; without times it has none."""
    assert LAGS == (1.0, None, 3.0, None)
    ahead = hand_in(fresh_store, learner, kept, lags=(-8.0, None, 3.0, None))
    untimed = hand_in(fresh_store, learner, kept, lags=None)
    assert ahead.lag_beats == pytest.approx(1.5)
    assert untimed.lag_beats is None


def test_sums_are_added_and_cleared(three_days: Store, learner: Learner) -> None:
    """Adding goes on top of a day's sums; clearing takes one learner's and no one else's."""
    progress = three_days.progress
    other = three_days.learners.get("Odell Pruitt")
    assert other is not None
    theirs = (progress.skills(other), progress.confusions(other))
    bars = new_attempt(exercise()).bars
    before = {day.skill: day for day in progress.skills(learner, DAY, DAY)}
    progress.add(learner, DAY, Tally(bars))
    for day in progress.skills(learner, DAY, DAY):
        assert day.bars == before[day.skill].bars * 3 / 2
        assert day.right == before[day.skill].right * 3 / 2
    progress.clear(learner)
    assert (progress.skills(learner), progress.confusions(learner)) == ((), ())
    assert (progress.skills(other), progress.confusions(other)) == theirs
    assert theirs != ((), ())
