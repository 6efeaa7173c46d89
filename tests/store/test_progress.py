from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import text

from tests.store.samples import NOW, hand_in
from trainer.store import Confusion, DayRecord, ExerciseRecord, Learner, SkillDay, Store

DAY = NOW.date()


@pytest.fixture
def three_days(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> Store:
    """Two attempts on the first day, one on each of the next two; another learner besides."""
    for days, score in ((0, 0.5), (0, 0.75), (1, 0.5), (2, 1.0)):
        hand_in(fresh_store, learner, kept, NOW + timedelta(days=days), score=score)
    hand_in(fresh_store, fresh_store.learners.get_or_add("Odell Pruitt", NOW), kept)
    return fresh_store


def test_skills_are_summed_by_day(three_days: Store, learner: Learner) -> None:
    """A day's sums are those of its bars, counted by hand: of 1_5/7 written as 1,
    the 1 is right, the 5 is not, and the split is half right."""
    assert three_days.progress.skills(learner, until=DAY) == (
        SkillDay(DAY, "chord 1", bars=4, score_sum=4.0, right=4),
        SkillDay(DAY, "chord 4", bars=2, score_sum=0.0, right=0),
        SkillDay(DAY, "chord 5", bars=2, score_sum=0.0, right=0),
        SkillDay(DAY, "chord 6-", bars=2, score_sum=2.0, right=2),
        SkillDay(DAY, "even split", bars=2, score_sum=1.0, right=0),
    )
    assert len(three_days.progress.skills(learner)) == 15


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
    } == sums
    assert len(stretches) == len(sums) == (10 if step == 1 or back == 1 else 5)


def test_confusions_are_summed_over_the_days_asked(three_days: Store, learner: Learner) -> None:
    """What was played against what was written, most often first."""
    last_two = three_days.progress.confusions(learner, since=DAY + timedelta(days=1))
    assert last_two == (
        Confusion("1", "1", 4),
        Confusion("4", "2-", 2),
        Confusion("5/7", "1", 2),
        Confusion("6-", "6-", 2),
    )
    assert [c.chords for c in three_days.progress.confusions(learner)] == [8, 4, 4, 4]


def test_days_say_how_much_was_done(three_days: Store, learner: Learner) -> None:
    """A day has its attempts, minutes, mean score, first passes and mean lag."""
    days = three_days.progress.days(learner)
    assert days[0] == DayRecord(DAY, 2, 4.0, 0.625, 0, 2.0)
    assert [d.day for d in days] == [DAY + timedelta(days=n) for n in range(3)]
    assert three_days.progress.days(learner, date(2030, 1, 1)) == ()


def test_sums_are_rebuilt_from_the_bars_alone(three_days: Store, learner: Learner) -> None:
    """Rebuilding after the sums were lost gives the same sums, and touches no one else's."""
    progress = three_days.progress
    other = three_days.learners.get("Odell Pruitt")
    assert other is not None
    before = [(progress.skills(who), progress.confusions(who)) for who in (learner, other)]
    with three_days._database.writing() as connection:
        mine = f"WHERE learner_id = {learner.id}"
        connection.execute(text(f"DELETE FROM skill_days {mine} AND skill = 'chord 1'"))
        connection.execute(text(f"UPDATE confusion_days SET chords = chords + 7 {mine}"))
    assert (progress.skills(learner), progress.confusions(learner)) != before[0]
    progress.rebuild(learner)
    assert [(progress.skills(who), progress.confusions(who)) for who in (learner, other)] == before
