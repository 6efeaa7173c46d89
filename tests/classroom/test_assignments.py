from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from tests.classroom.lockside import FIRST_LEVEL, WEEK, Lockside
from tests.store.samples import NOW
from trainer.classroom.assignments import AssignmentSettings, subject_of
from trainer.classroom.items import (
    TOLERANCE,
    ItemPlan,
    another_song,
    draw_seed,
    level_of_item,
    make_items,
)
from trainer.drill import find_result
from trainer.errors import AssignmentError, ClassNotFound, ResultHidden, SettingsError, SongNotFound
from trainer.exercise import MOST_SEED, load_course, song_digest
from trainer.practice import expected_score
from trainer.store import Assignment

LATER = NOW + WEEK


def settings(assignment: Assignment, **changes: Any) -> AssignmentSettings:
    """The settings of an assignment with some changes."""
    names = AssignmentSettings.__dataclass_fields__
    return AssignmentSettings(**{name: getattr(assignment, name) for name in names} | changes)


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"title": " "}, "The title needs"),
        ({"opens_at": LATER, "closes_at": NOW}, "due before it opens"),
        ({"late_until": LATER}, "how late"),
        ({"closes_at": LATER, "late_until": LATER}, "ends after the work is due"),
        ({"results": "closed"}, "need an end"),
        ({"results": "never"}, "expected one of at once"),
        ({"late_cost": 1.1}, "0% to 100%"),
        ({"pass_mark": -0.1}, "0% to 100%"),
        ({"tries": 0}, "1 to 20 tries"),
        ({"counts": "worst"}, "expected one of best"),
    ],
)
def test_settings_that_cannot_be(wrong: dict[str, Any], said: str) -> None:
    """Each is refused with a sentence that says what is wrong."""
    values: dict[str, Any] = {"title": "Week 3", "results": "teacher"}
    with pytest.raises(AssignmentError, match=said):
        AssignmentSettings(**values | wrong)
    with pytest.raises(SettingsError):
        AssignmentSettings("Week 3", scheme={"scheme": "kind"}, results="teacher")


def test_tries_that_could_not_count_are_refused(lockside: Lockside) -> None:
    """One song for all, shown with the first result, allows one try; with another song for each, or
    results later, there may be more."""
    with pytest.raises(AssignmentError, match="further tries can't count"):
        lockside.assign(tries=2, results="at once")
    lockside.assign([replace(FIRST_LEVEL, same_song=False)], tries=2, results="at once")
    lockside.assign(tries=2, results="closed")


def test_before_it_opens_everything_changes(lockside: Lockside) -> None:
    """Settings, items, their order, songs and points of an assignment that has not opened change
    freely, and each change is logged."""
    assignments = lockside.assignments
    made, (one,) = lockside.assign(opens_at=NOW + timedelta(days=1))
    changed = assignments.change(made.uid, settings(made, title="Week 4", pass_mark=0.9, tries=1))
    assert (changed.title, changed.pass_mark) == ("Week 4", 0.9)
    (_, two) = assignments.add_items(made.uid, replace(FIRST_LEVEL, name="two-minor"))
    assert [each.uid for each in assignments.move_item(made.uid, two.uid, 1)] == [two.uid, one.uid]
    other = assignments.change_item(made.uid, one.uid, title="Warm-up", points=2, new_song=True)
    assert song_digest(other.exercise) != song_digest(one.exercise)
    kept = lockside.store.assignments.with_song(one)
    assert (kept.title, kept.points, kept.exercise) == ("Warm-up", 2, other.exercise)
    assert [each.uid for each in assignments.remove_item(made.uid, two.uid)] == [one.uid]
    log = [entry.what for entry in lockside.store.audit_log.of(subject_of(made))]
    assert log[::-1] == [
        "assignment made",
        "assignment changed",
        "item added",
        "item moved",
        "item changed",
        "item removed",
    ]


def test_what_may_change_after_it_opened(lockside: Lockside) -> None:
    """A title, a later end, more tries, a lower mark and more listens take nothing from anybody."""
    plan = replace(FIRST_LEVEL, listens=2)
    made, (item,) = lockside.assign([plan], results="teacher")
    assignments = lockside.assignments
    later = LATER + timedelta(days=1)
    changed = assignments.change(
        made.uid,
        settings(made, title="Week 3b", closes_at=later, tries=3, pass_mark=0.7, late_cost=0.0),
    )
    assert (changed.closes_at, changed.tries, changed.pass_mark) == (later, 3, 0.7)
    assert assignments.allow_listens(made.uid, item.uid, 3).listens == 3
    assert assignments.allow_listens(made.uid, item.uid, 0).listens == 0
    assert assignments.change_item(made.uid, item.uid, title="Song one").title == "Song one"
    entry = next(
        each
        for each in lockside.store.audit_log.of(subject_of(made))
        if each.what == "assignment changed"
    )
    assert entry.before is not None
    assert entry.after is not None
    assert (entry.before["tries"], entry.after["tries"]) == (1, 3)


@pytest.mark.parametrize(
    "change",
    [
        {"opens_at": NOW - timedelta(days=1)},
        {"closes_at": LATER - timedelta(days=1)},
        {"pass_mark": 0.9},
        {"tries": 1},
        {"counts": "last"},
        {"scheme": {"scheme": "strict"}},
        {"results": "closed"},
        {"late_until": None},
        {"late_cost": 0.5},
    ],
)
def test_what_may_not_change_after_it_opened(lockside: Lockside, change: dict[str, Any]) -> None:
    """Whatever could take something from a learner who has begun stays as it was."""
    made, _ = lockside.assign(
        results="teacher", tries=2, late_until=LATER + WEEK, late_cost=0.2, pass_mark=0.8
    )
    with pytest.raises(AssignmentError, match=r"has opened, so .*\. Learners who've begun"):
        lockside.assignments.change(made.uid, settings(made, **change))
    assert lockside.store.assignments.find(made.uid) == made


def test_items_stay_once_it_has_opened(lockside: Lockside) -> None:
    """Nothing is added, removed, moved or given another song, and listens do not become fewer."""
    made, (item,) = lockside.assign([replace(FIRST_LEVEL, listens=2)])
    assignments = lockside.assignments
    for change in (
        lambda: assignments.add_items(made.uid, FIRST_LEVEL),
        lambda: assignments.remove_item(made.uid, item.uid),
        lambda: assignments.move_item(made.uid, item.uid, 1),
        lambda: assignments.change_item(made.uid, item.uid, new_song=True),
        lambda: assignments.change_item(made.uid, item.uid, points=5),
    ):
        with pytest.raises(AssignmentError, match="has opened"):
            change()
    with pytest.raises(AssignmentError, match="not less"):
        assignments.allow_listens(made.uid, item.uid, 1)


def test_a_later_end_hides_results_for_longer(lockside: Lockside) -> None:
    """Results that come after the end wait for the new end; after they were shown there is none."""
    made, (item,) = lockside.assign(results="closed")
    done = lockside.write(lockside.pupils[0], item)
    longer = lockside.assignments.change(made.uid, settings(made, closes_at=LATER + WEEK))
    lockside.school.clock.passes(days=8)
    learner = lockside.learner(lockside.pupils[0])
    with pytest.raises(ResultHidden):
        find_result(lockside.store, learner, done.attempt.id, lockside.school.clock())
    lockside.school.clock.passes(days=7)
    assert find_result(lockside.store, learner, done.attempt.id, lockside.school.clock())
    with pytest.raises(AssignmentError, match="The results are shown"):
        lockside.assignments.change(made.uid, settings(longer, closes_at=LATER + 4 * WEEK))


def test_a_copy_has_songs_as_difficult_and_no_times(lockside: Lockside) -> None:
    """A copy for another class has other songs as difficult, and opens when told to."""
    song = lockside.songbook.new("title: Weir\n\nVerse:\n1 4 5 1\n")
    plans = [replace(FIRST_LEVEL, name="five-over-seven"), ItemPlan("song", song.uid)]
    made, items = lockside.assign(plans, results="closed", scheme={"scheme": "strict"})
    other = lockside.assignments.classes.make("Bridge band", "Autumn")
    copied = lockside.assignments.copy(made.uid, other.uid)
    assert (copied.opens_at, copied.closes_at, copied.results) == (None, None, "teacher")
    assert (copied.copied_from, copied.scheme) == (made.uid, made.scheme)
    new = lockside.store.assignments.items_with_songs(copied)
    assert song_digest(new[0].exercise) != song_digest(items[0].exercise)
    assert abs(new[0].expected - items[0].expected) <= TOLERANCE
    assert new[1].exercise.chart == items[1].exercise.chart
    assert {each.uid for each in new}.isdisjoint(each.uid for each in items)
    same = lockside.assignments.copy(made.uid, other.uid, new_songs=False)
    assert lockside.store.assignments.items_with_songs(same)[0].exercise == items[0].exercise


def test_worked_at_it_stays(lockside: Lockside) -> None:
    """An assignment is deleted only while nothing of it was handed out."""
    made, (item,) = lockside.assign()
    unused, _ = lockside.assign()
    lockside.work(lockside.pupils[0]).begin(item.uid)
    with pytest.raises(AssignmentError, match="so it stays"):
        lockside.assignments.delete(made.uid)
    lockside.assignments.delete(unused.uid)
    assert lockside.store.assignments.find(unused.uid) is None


def test_a_closed_class_gets_no_work(lockside: Lockside) -> None:
    """Nothing is assigned to a class that is closed."""
    lockside.assignments.classes.close(lockside.school_class.uid, closed=True)
    with pytest.raises(AssignmentError, match="is closed"):
        lockside.assign()


def test_only_those_who_teach_the_class_assign(lockside: Lockside) -> None:
    """A learner of the class and another teacher neither make nor change its assignments."""
    made, _ = lockside.assign()
    for other in (lockside.pupils[0], lockside.school.sign_up("bram")):
        lockside.teacher = other
        with pytest.raises(ClassNotFound):
            lockside.assign()
        with pytest.raises(ClassNotFound):
            lockside.assignments.change(made.uid, settings(made, title="Mine"))
        with pytest.raises(ClassNotFound):
            lockside.assignments.show_results(made.uid)


def test_ten_of_one_skill(lockside: Lockside) -> None:
    """A plan for a skill makes ten items, each of another song that has it."""
    plan = ItemPlan("skill", "five-over-seven", skill="bass 5/7")
    _, items = lockside.assign([plan])
    assert len(items) == 10
    assert len({song_digest(each.exercise) for each in items}) > 7
    assert all("bass 5/7" in each.exercise.skills for each in items)
    assert items[0].title == "5/7, from level 7"
    assert level_of_item(items[0]) is None


@pytest.mark.parametrize(
    ("plan", "error"),
    [
        (ItemPlan("level", "no-such-level"), AssignmentError),
        (ItemPlan("recipe", "no-such-recipe"), SettingsError),
        (ItemPlan("skill", "home-four-five", skill="bass 5/7"), SettingsError),
        (ItemPlan("song", "no-such-song"), SongNotFound),
    ],
)
def test_what_is_not_there_cannot_be_assigned(
    small_lockside: Lockside, plan: ItemPlan, error: type[Exception]
) -> None:
    """A level, recipe, skill or song that does not exist is refused."""
    with pytest.raises(error):
        small_lockside.assign([plan])


@pytest.mark.parametrize(
    "wrong",
    [{"kind": "dance"}, {"listens": 10}, {"tempo": 20}, {"points": 0.0},
     {"kind": "song", "same_song": False}],
)  # fmt: skip
def test_plans_that_cannot_be(wrong: dict[str, Any]) -> None:
    """Each is refused when it is made."""
    with pytest.raises(AssignmentError):
        ItemPlan(**{"kind": "level", "name": "home-four-five"} | wrong)


def test_seeds_are_drawn_over_all_there_are() -> None:
    """Nobody finds a song by trying seeds: drawn ones are spread up to the largest."""
    seeds = [draw_seed() for _ in range(200)]
    assert len(set(seeds)) == 200
    assert all(0 <= seed <= MOST_SEED for seed in seeds)
    assert max(seeds) > MOST_SEED * 0.9
    assert min(seeds) < MOST_SEED * 0.1


def test_songs_of_an_item_are_equally_difficult(small_lockside: Lockside) -> None:
    """Ten songs for one item of each of nine levels are predicted within the tolerance, nearly all
    of them; what is predicted is what practice predicts of the songs themselves."""
    apart = []
    for level in load_course()[::6]:
        plan = ItemPlan("level", level.id, same_song=False)
        (item,) = make_items(plan, small_lockside.songbook, small_lockside.seed)
        taken: set[str] = set()
        for _ in range(10):
            made = another_song(item, taken, small_lockside.seed)
            taken.add(song_digest(made))
            apart.append(abs(expected_score(made) - item.expected))
        assert len(taken) == 10
    assert sum(each <= TOLERANCE for each in apart) >= 0.95 * len(apart)


def test_an_end_is_the_later_of_two_moments() -> None:
    """Work is taken until the end of lateness, and without an end for good."""
    made = AssignmentSettings("Week 3", closes_at=NOW, late_until=LATER)
    values = {name: getattr(made, name) for name in AssignmentSettings.__dataclass_fields__}
    found = Assignment(
        id=1, uid="", class_id=1, shown_at=None, made_by=None, made_at=NOW, **values
    )  # fmt: skip
    moment: datetime = NOW + timedelta(days=1)
    assert (found.is_late(moment), found.has_ended(moment), found.ends_at) == (True, False, LATER)
    assert not replace(found, closes_at=None, late_until=None).has_ended(moment)
