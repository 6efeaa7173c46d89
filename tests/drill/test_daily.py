from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta, timezone
from typing import Any

import pytest

from tests.drill.evening import Clock, answered, shown, stored
from tests.store.samples import NOW, exercise
from trainer.drill import DailySets, Drills, NextItem, submit
from trainer.errors import SettingsError
from trainer.exercise import load_course
from trainer.practice import Aim, plan_set
from trainer.store import RatingUpdate, Store

COURSE = load_course()
Day = Callable[[], DailySets]


@pytest.fixture
def today(drills: Drills) -> Day:
    """The learner's day, as a window sees it that was just opened."""
    return lambda: DailySets(drills, COURSE)


def write(drills: Drills, given: NextItem) -> None:
    """Answer an item as it was played."""
    drills.listen(given.drill.record.key, token=given.drill.token)
    text = shown(given.drill.exercise)
    submit(drills, given.drill.record.key, text, token=given.drill.token)


def placed(today: Day, drills: Drills, clock: Clock) -> list[NextItem]:
    """Go through the placement; its items."""
    items: list[NextItem] = []
    for _ in range(10):
        given = today().next()
        assert given is not None
        if given.item.kind != "placement":
            return items
        items.append(given)
        clock.pass_(seconds=60)
        write(drills, given)
    raise AssertionError("placement did not end")


def finish(today: Day, drills: Drills, clock: Clock) -> None:
    """Answer whatever the present set still holds."""
    for _ in range(20):
        given = today().next()
        if given is None:
            return
        clock.pass_(minutes=1)
        write(drills, given)
    raise AssertionError("the set did not end")


def test_a_look_stores_nothing(today: Day, fresh_store: Store) -> None:
    """The set can be looked at before it begins; it begins as it was seen, and then is stored."""
    before = stored(fresh_store)
    seen = today().plan()
    assert [item.id for item in seen] == [0] * len(seen)
    assert today().plan() == seen
    assert stored(fresh_store) == before
    begun = today().start()
    assert [(item.kind, item.skills, item.reason) for item in begun] == [
        (item.kind, item.skills, item.reason) for item in seen
    ]
    assert today().plan() == begun == today().start()
    assert all(item.id > 0 for item in begun)


def test_a_set_begins_as_it_was_looked_at(today: Day, drills: Drills, clock: Clock) -> None:
    """What a learner with a history was shown of the day's set is what is stored, hours later."""
    answered(drills, exercise())
    seen = today().plan()
    assert len(seen) >= 3
    clock.pass_(hours=2)
    begun = today().start()
    assert [(item.skills, item.reason) for item in begun] == [
        (item.skills, item.reason) for item in seen
    ]


@pytest.fixture
def planned(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Grows by one with each set that is planned."""
    times: list[int] = []

    def plan(*args: Any, **kwargs: Any) -> tuple[Aim, ...]:
        times.append(len(times))
        return plan_set(*args, **kwargs)

    monkeypatch.setattr("trainer.drill.daily.plan_set", plan)
    return times


def test_a_set_that_was_looked_at_is_planned_once(
    today: Day, drills: Drills, clock: Clock, planned: list[int]
) -> None:
    """Looking again and beginning use the plan of the first look; the next day has its own."""
    answered(drills, exercise())
    seen = today().plan()
    clock.pass_(minutes=90)
    assert [item.reason for item in today().plan()] == [item.reason for item in seen]
    assert today().next() is not None
    assert len(planned) == 1
    clock.pass_(days=1)
    today().plan()
    assert len(planned) == 2


def test_a_plan_of_before_is_never_used(
    two_stores: tuple[Store, Store], clock: Clock, planned: list[int]
) -> None:
    """After an attempt made elsewhere, or ratings made otherwise, the set is planned again."""
    here, there = two_stores
    learner = here.learners.add("Wren Halloway", NOW)
    mine, other = (Drills(store, learner, clock, NOW.tzinfo) for store in two_stores)
    answered(other, exercise())
    DailySets(mine, COURSE).plan()
    clock.pass_(minutes=5)
    answered(other, exercise(), "1")
    DailySets(mine, COURSE).plan()
    assert len(planned) == 2
    state = there.ratings.state(learner)
    assert state is not None
    known = next(iter(state.skills))
    skills = {**state.skills, known: replace(state.skills[known], own=-3.0)}
    there.ratings.save(
        learner, RatingUpdate(replace(state, skills=skills), frozenset({known}), {}, ())
    )
    DailySets(mine, COURSE).plan()
    assert len(planned) == 3


def test_a_newcomer_is_placed_and_then_given_a_set(
    today: Day, drills: Drills, clock: Clock
) -> None:
    """The first session finds the level in two to five items; the day's first set follows."""
    items = placed(today, drills, clock)
    assert 2 <= len(items) <= 5
    assert len({given.drill.record.key for given in items}) == len(items)
    given = today().next()
    assert given is not None
    assert (given.item.number, given.item.position) == (2, 1)
    assert 3 <= given.total <= 8


def test_placement_can_be_skipped(today: Day) -> None:
    """Who does not want to be placed begins at the beginning of the course."""
    items = today().skip_placement()
    assert {item.kind for item in items} <= {"new", "mixed"}
    assert "chord 1" in {skill for item in items for skill in item.skills}
    given = today().next()
    assert given is not None
    assert given.item.kind != "placement"
    assert [item.id for item in today().skip_placement()] == [item.id for item in items]


def test_two_skips_end_the_placement(today: Day) -> None:
    """Skipping placement items one by one comes to the set, too."""
    kinds = []
    for _ in range(3):
        given = today().next()
        assert given is not None
        kinds.append(given.item.kind)
        today().skip(given.item)
    assert kinds[:2] == ["placement"] * 2
    assert kinds[2] != "placement"


def test_a_set_stays_as_it_was_planned(
    today: Day, drills: Drills, clock: Clock, fresh_store: Store
) -> None:
    """Another window at another moment finds the same set, the same item and the same drill."""
    placed(today, drills, clock)
    clock.pass_(hours=1)
    first = today().next()
    assert first is not None
    drills.listen(first.drill.record.key)
    clock.pass_(hours=2)
    second = today().next()
    assert second is not None
    assert second.item == first.item
    assert second.drill.token == first.drill.token
    assert second.drill.progress.speeds == (100,)
    before = stored(fresh_store)
    assert today().plan() == today().start()
    assert stored(fresh_store) == before


def test_stopping_half_way_and_going_on(today: Day, drills: Drills, clock: Clock) -> None:
    """What was done is done; the rest waits, and what was skipped does not come again."""
    placed(today, drills, clock)
    one = today().next()
    assert one is not None
    write(drills, one)
    two = today().next()
    assert two is not None
    today().skip(two.item)
    clock.pass_(hours=2)
    three = today().next()
    assert three is not None
    assert three.item.position == 3
    assert [item.status for item in today().plan()[:3]] == ["done", "skipped", "open"]


def test_a_second_set_follows_when_asked_for(today: Day, drills: Drills, clock: Clock) -> None:
    """A finished set gives nothing more until another is asked for, with other aims."""
    placed(today, drills, clock)
    open_set = today().start()
    assert today().another() == open_set
    finish(today, drills, clock)
    assert today().next() is None
    more = today().another()
    assert more[0].number == open_set[0].number + 1
    assert today().next() is not None
    aims = [{skill for item in items for skill in item.skills} for items in (open_set, more)]
    assert aims[0].isdisjoint(aims[1])


def test_the_next_day_has_a_new_set(today: Day, drills: Drills, clock: Clock) -> None:
    """A new day begins with a new set, even if yesterday's was left open; no placement again."""
    placed(today, drills, clock)
    today().start()
    clock.pass_(days=1)
    given = today().next()
    assert given is not None
    assert given.item.number == 1
    assert given.item.kind != "placement"
    assert given.item.day == NOW.date() + timedelta(days=1)


def test_the_day_is_the_learners_own(fresh_store: Store, drills: Drills, clock: Clock) -> None:
    """Half past seven in the evening in UTC is the next day already in Auckland."""
    assert drills.today == NOW.date()
    there = Drills(fresh_store, drills.learner, clock, timezone(timedelta(hours=13)))
    assert there.today == NOW.date() + timedelta(days=1)
    assert {item.day for item in DailySets(there, COURSE).start()} == {there.today}
    result = answered(there, exercise())
    assert result.attempt.day == there.today


def test_someone_with_a_history_is_not_placed(today: Day, drills: Drills, clock: Clock) -> None:
    """Attempts made before there were sets are enough to begin with one."""
    answered(drills, exercise())
    clock.pass_(days=2)
    given = today().next()
    assert given is not None
    assert given.item.kind != "placement"


def test_an_item_done_from_elsewhere_is_done(today: Day, drills: Drills, clock: Clock) -> None:
    """Skipping an item that was submitted meanwhile leaves it done."""
    placed(today, drills, clock)
    given = today().next()
    assert given is not None
    write(drills, given)
    today().skip(given.item)
    assert today().plan()[0].status == "done"


def test_ten_more_come_before_the_set_that_waits(today: Day, drills: Drills, clock: Clock) -> None:
    """More of one skill is the present set until it is done; then the day's own goes on."""
    placed(today, drills, clock)
    before = today().start()
    waiting = [item.id for item in before if item.status == "open"]
    items = today().more_of(COURSE[6], "bass 5/7")
    assert [item.kind for item in items] == ["more"] * 10
    assert today().start() == items
    for item in items[:-1]:
        given = today().next()
        assert given is not None
        assert (given.item.id, given.item.skills) == (item.id, ("bass 5/7",))
        assert "bass 5/7" in given.drill.exercise.skills
        clock.pass_(minutes=1)
        write(drills, given)
    today().skip(today().start()[-1])
    assert [item.id for item in today().start() if item.status == "open"] == waiting
    following = today().next()
    assert following is not None
    assert following.item.id == waiting[0]
    assert len({item.number for item in today().items}) == 3


def test_ten_more_before_the_day_has_a_set(today: Day, drills: Drills, clock: Clock) -> None:
    """Who begins the day with ten more gets the day's set after them, once."""
    placed(today, drills, clock)
    clock.pass_(days=1)
    for item in today().more_of(COURSE[6], "bass 5/7"):
        today().skip(item)
    following = today().start()
    assert (following[0].number, following[0].kind != "more") == (2, True)
    assert today().start() == following


def test_only_skills_of_a_level_are_given_more_of(today: Day, fresh_store: Store) -> None:
    """A skill that the level does not teach is refused, and nothing is stored."""
    before = stored(fresh_store)
    with pytest.raises(SettingsError, match="bass 5/7"):
        today().more_of(COURSE[6], "hold")
    assert stored(fresh_store) == before
