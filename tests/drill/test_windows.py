"""Several windows of one learner at once, doing everything there is to do."""

from __future__ import annotations

import random
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.drill.evening import Clock, shown, stored
from tests.store.samples import NOW, TEXT, exercise
from trainer.drill import DailySets, Drills, import_record, rating_state, rebuild, submit
from trainer.errors import DrillReplaced, NoListenLeft
from trainer.exercise import load_course
from trainer.store import Store

COURSE = load_course()
WINDOWS, STEPS = 6, 12


def steps(drills: Drills, rng: random.Random) -> dict[str, Callable[[], object]]:
    """What a window may do next, mostly at the same few songs as the others."""
    made = exercise(rng.randint(1, 3))
    drill = drills.begin(made)
    key, token = drill.record.key, drill.token
    today = DailySets(drills, COURSE)

    def write_item() -> None:
        given = today.next() or (today.another() and today.next())
        assert given
        item = given.drill
        submit(drills, item.record.key, shown(item.exercise), token=item.token)

    return {
        "listen": lambda: drills.listen(key, token=token),
        "heard": lambda: drills.heard(key, 1.0, token=token),
        "text": lambda: drills.keep_text(key, TEXT, token=token),
        "submit": lambda: submit(drills, key, TEXT, token=token),
        "item": write_item,
        "skip": lambda: today.skip(today.start()[0]),
        "plan": today.plan,
        "ratings": lambda: rating_state(drills.store, drills.learner),
    }


@pytest.mark.many
def test_windows_never_fail_each_other(two_stores: tuple[Store, Store], clock: Clock) -> None:
    """In whatever order the steps of several windows come, each is done or refused as too late; the
    sums and ratings at the end are those that all attempts give.
    """
    learner = two_stores[0].learners.add("Wren Halloway", NOW)

    def window(number: int) -> int:
        rng = random.Random(number)
        drills = Drills(two_stores[number % 2], learner, clock)
        late = 0
        for _ in range(STEPS):
            possible = steps(drills, rng)
            try:
                possible[rng.choice(list(possible))]()
            except (DrillReplaced, NoListenLeft):
                late += 1
        return late

    with ThreadPoolExecutor(WINDOWS) as pool:
        late = sum(pool.map(window, range(WINDOWS)))
    assert late < WINDOWS * STEPS
    store = two_stores[0]
    attempts = store.attempts.count(learner)
    assert attempts >= 3
    songs = [each.exercise.song for each in store.attempts.log(learner) if not each.record.seen]
    assert len(set(songs)) == len(songs)
    before = stored(store)
    assert rebuild(store, learner) == attempts
    assert stored(two_stores[1]) == before


def test_imports_at_once_add_once(two_stores: tuple[Store, Store], clock: Clock) -> None:
    """The same export taken in by several programs at once is there once."""
    learner = two_stores[0].learners.add("Wren Halloway", NOW)
    drills = Drills(two_stores[0], learner, clock)
    for number in (1, 2, 3):
        token = drills.begin(exercise(number)).token
        submit(drills, exercise(number).id, TEXT, token=token)
    data = two_stores[0].transfer.export_json(learner)
    with ThreadPoolExecutor(4) as pool:
        done = list(pool.map(lambda s: import_record(s, data, "Odell Pruitt"), two_stores * 3))
    assert sorted(each.added for each in done) == [0] * 5 + [3]
    assert two_stores[1].attempts.count(done[0].learner) == 3
    assert rating_state(two_stores[1], done[0].learner).attempts == 3
