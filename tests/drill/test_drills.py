"""Begin, listen, write and go on: what is kept of a drill, and by which rules."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path

import pytest

from tests.drill.evening import Clock, answered, stored
from tests.store.samples import NOW, TEXT, exercise
from trainer.drill import Drill, Drills, submit
from trainer.errors import DrillReplaced, InputError, NoListenLeft, SettingsError, StoreError
from trainer.store import Learner, Store

KEY = exercise().id


def test_an_exercise_is_begun_once(drills: Drills, clock: Clock) -> None:
    """Beginning again, by the exercise or by its id, goes on with the drill that is open."""
    first = drills.begin(exercise())
    assert (first.exercise, first.listens_left, first.speed) == (exercise(), 2, 100)
    assert (first.progress.started_at, first.progress.text, first.seen) == (NOW, "", False)
    clock.pass_(minutes=5)
    drills.listen(KEY, 80, first.token)
    again = drills.begin(exercise())
    assert again.token == first.token
    assert again.progress.started_at == NOW
    assert (again.listens_left, again.speed) == (1, 80)
    assert drills.begin_known(KEY) == again == drills.find(KEY)


def test_looking_begins_nothing(drills: Drills, fresh_store: Store) -> None:
    """Asking for a drill that is not open stores nothing."""
    assert drills.begin_known(KEY) is None
    assert drills.find(KEY) is None
    assert drills.latest() is None
    submitted = answered(drills, exercise())
    before = stored(fresh_store)
    assert drills.find(submitted.exercise.key) is None
    assert stored(fresh_store) == before
    assert drills.begin_known(KEY) is not None


def test_tokens_cannot_be_guessed(drills: Drills) -> None:
    """Every drill has another token of at least 128 random bits, in letters a URL takes."""
    tokens = [drills.begin(exercise(number)).token for number in range(20)]
    assert len(set(tokens)) == 20
    assert all(len(token) >= 22 and token.replace("-", "").replace("_", "").isalnum()
               for token in tokens)  # fmt: skip


def test_a_listen_may_change_its_speed(drills: Drills) -> None:
    """A listen that is slowed down on the way goes on at the same place, in seconds of its slowest
    speed, takes no other listen, and counts as paused and as slow as it was."""
    drills.begin(exercise(listens=2))
    drills.listen(KEY, 100)
    drills.heard(KEY, 12.0)
    slow = drills.change_speed(KEY, 60)
    assert (slow.progress.speeds, slow.progress.paused, slow.listens_left) == ((60,), True, 1)
    assert slow.position_s == pytest.approx(20.0)
    assert drills.change_speed(KEY, 80).progress == slow.progress
    drills.heard(KEY, None)
    assert drills.change_speed(KEY, 50).progress.speeds == (60,)
    with pytest.raises(SettingsError, match="speed"):
        drills.change_speed(KEY, 75)


def test_a_speed_before_the_first_listen_is_none(drills: Drills) -> None:
    """Nothing is kept of a speed that is chosen while nothing is heard."""
    drills.begin(exercise())
    drill = drills.change_speed(KEY, 50)
    assert (drill.progress.speeds, drill.progress.paused) == ((), False)


def test_listens_are_counted_up_to_the_limit(drills: Drills) -> None:
    """Each listen takes one of those allowed; with none left nothing is counted."""
    drill = drills.begin(exercise(listens=2))
    assert [drills.listen(KEY, speed).listens_left for speed in (100, 70)] == [1, 0]
    with pytest.raises(NoListenLeft, match="last listen"):
        drills.listen(KEY)
    found = drills.find(KEY)
    assert found is not None
    assert found.progress.speeds == (100, 70)
    assert found.token == drill.token


def test_without_a_limit_listens_go_on(drills: Drills) -> None:
    """An exercise that allows any number of listens counts them and ends none."""
    drills.begin(exercise(listens=0))
    heard = [drills.listen(KEY) for _ in range(5)]
    assert {drill.listens_left for drill in heard} == {None}
    assert heard[-1].progress.listens == 5


@pytest.mark.parametrize("speed", [0, -100, 55, 101, 10**9])
def test_a_speed_that_is_not_offered_is_refused(drills: Drills, speed: int) -> None:
    """No listen is counted at a speed that the band may not play at."""
    drills.begin(exercise())
    with pytest.raises(SettingsError, match="one of 100, 90"):
        drills.listen(KEY, speed)
    found = drills.find(KEY)
    assert found is not None
    assert found.progress.speeds == ()


def test_a_song_written_to_a_file_is_one_listen(drills: Drills) -> None:
    """The first file is a listen at times nobody knows; a second one, or one after a listen, costs
    nothing more."""
    token = drills.begin(exercise(listens=2)).token
    for _ in range(2):
        drill = drills.listen_to_file(KEY, token)
    assert (drill.progress.speeds, drill.listens_left, drill.position_s) == ((100,), 1, None)
    assert drill.progress.first_listen_at is None
    assert drills.listen(KEY).listens_left == 0
    assert drills.listen_to_file(KEY).progress.listens == 2
    with pytest.raises(DrillReplaced):
        drills.listen_to_file(KEY, "another")


def test_of_ten_listens_at_once_two_are_given(
    two_stores: tuple[Store, Store], clock: Clock
) -> None:
    """Windows that ask at the same time never get more listens than are allowed."""
    learner = two_stores[0].learners.add("Wren Halloway", NOW)
    windows = [Drills(store, learner, clock) for store in two_stores]
    windows[0].begin(exercise(listens=2))

    def listen(window: Drills) -> bool:
        try:
            window.listen(KEY)
        except NoListenLeft:
            return False
        return True

    with ThreadPoolExecutor(5) as pool:
        assert sum(pool.map(listen, windows * 5)) == 2
    found = windows[1].find(KEY)
    assert found is not None
    assert (found.progress.listens, found.listens_left) == (2, 0)


def test_windows_that_begin_at_once_share_a_drill(
    two_stores: tuple[Store, Store], clock: Clock
) -> None:
    """The same exercise begun from two connections at once is one drill with one token."""
    learner = two_stores[0].learners.add("Wren Halloway", NOW)
    windows = [Drills(store, learner, clock) for store in two_stores]
    with ThreadPoolExecutor(4) as pool:
        begun = list(pool.map(lambda window: window.begin(exercise()), windows * 4))
    assert len({drill.token for drill in begun}) == 1
    assert len({drill.record.id for drill in begun}) == 1


def test_a_listen_goes_only_forward(drills: Drills) -> None:
    """How far a listen has got is the furthest that was reported, in whatever order."""
    drills.begin(exercise())
    assert drills.listen(KEY).position_s == 0.0
    reported = [drills.heard(KEY, seconds).position_s for seconds in (3.5, 1.0, 7.25)]
    assert reported == [3.5, 3.5, 7.25]


def test_a_listen_that_ended_stays_ended(drills: Drills) -> None:
    """A report that comes late does not begin a listen again; the next listen begins anew."""
    drills.begin(exercise())
    drills.listen(KEY)
    assert drills.heard(KEY, None).position_s is None
    assert drills.heard(KEY, 4.0).position_s is None
    assert drills.listen(KEY).position_s == 0.0
    assert drills.heard(KEY, 4.0).position_s == 4.0


def test_nothing_is_heard_before_a_listen(drills: Drills) -> None:
    """A position without a listen that was begun gives nothing to go on from."""
    drills.begin(exercise())
    drill = drills.heard(KEY, 9.0)
    assert (drill.position_s, drill.listens_left) == (None, 2)


@pytest.mark.parametrize("position_s", [-1.0, 5 * 3600.0, math.nan, math.inf, 1e308])
def test_a_position_that_no_song_has_is_refused(drills: Drills, position_s: float) -> None:
    """What is not a number of seconds from 0 to four hours is told and not kept."""
    drills.begin(exercise())
    drills.listen(KEY)
    with pytest.raises(InputError, match="position"):
        drills.heard(KEY, position_s)
    found = drills.find(KEY)
    assert found is not None
    assert found.position_s == 0.0


def test_a_pause_is_remembered(drills: Drills) -> None:
    """Once the band was stopped on the way, that stays on record of the drill."""
    drills.begin(exercise())
    drills.listen(KEY)
    assert not drills.heard(KEY, 1.0).progress.paused
    assert drills.heard(KEY, 2.0, paused=True).progress.paused
    assert drills.heard(KEY, 3.0).progress.paused
    assert drills.listen(KEY).progress.paused


def test_a_text_is_kept_with_its_times(drills: Drills, clock: Clock) -> None:
    """The last text is kept in place of the one before, with when it was typed."""
    drill = drills.begin(exercise())
    drills.keep_text(KEY, "1 1", token=drill.token)
    clock.pass_(seconds=30)
    drills.keep_text(KEY, "1 1 6- ♭ 音\n\n", stamps="[[12,3.5]]", token=drill.token)
    found = drills.latest()
    assert found is not None
    assert found == drills.find(KEY)
    assert (found.progress.text, found.progress.stamps) == ("1 1 6- ♭ 音\n\n", "[[12,3.5]]")
    assert found.progress.text_at == NOW + timedelta(seconds=30)


def test_the_latest_is_what_was_typed_at_last(drills: Drills, clock: Clock) -> None:
    """Of several songs begun, the one last typed at is gone on with."""
    for number in (1, 2, 3):
        drills.begin(exercise(number))
    clock.pass_(minutes=1)
    drills.keep_text(exercise(2).id, "1")
    clock.pass_(minutes=1)
    drills.keep_text(exercise(1).id, "4")
    drills.listen(exercise(3).id)
    found = drills.latest()
    assert found is not None
    assert (found.record.key, found.progress.text) == (exercise(1).id, "4")


def test_a_text_longer_than_any_chart_is_refused(drills: Drills) -> None:
    """More than 20,000 characters are not kept; what was kept before stays."""
    drills.begin(exercise())
    drills.keep_text(KEY, "1 " * 10_000)
    with pytest.raises(InputError, match="more than 20,000 characters"):
        drills.keep_text(KEY, "1" * 20_001)
    found = drills.latest()
    assert found is not None
    assert found.progress.text == "1 " * 10_000


def test_stamps_longer_than_any_record_are_left_out(drills: Drills) -> None:
    """A text comes before its times: with too many of them it is kept without."""
    drills.begin(exercise())
    drill = drills.keep_text(KEY, "1 1", stamps="[" + "[1,1]," * 100_000)
    assert drill is not None
    assert (drill.progress.text, drill.progress.stamps) == ("1 1", "")


Change = Callable[[Drills, str], object]
CHANGES: dict[str, Change] = {
    "listen": lambda drills, token: drills.listen(KEY, token=token),
    "heard": lambda drills, token: drills.heard(KEY, 1.0, token=token),
    "text": lambda drills, token: drills.keep_text(KEY, "1", token=token),
    "submit": lambda drills, token: submit(drills, KEY, "1", token=token),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_another_learners_token_changes_nothing(
    fresh_store: Store, drills: Drills, clock: Clock, change: Change
) -> None:
    """A page that was opened for one learner does nothing to the drill of another."""
    other = Drills(fresh_store, fresh_store.learners.add("Odell Pruitt", NOW), clock)
    mine, theirs = drills.begin(exercise()), other.begin(exercise())
    assert mine.token != theirs.token
    before = stored(fresh_store)
    with pytest.raises(DrillReplaced, match=r"stays in the field|in another window"):
        change(other, mine.token)
    assert stored(fresh_store) == before


@pytest.mark.parametrize("change", list(CHANGES.values())[:2], ids=list(CHANGES)[:2])
def test_a_drill_that_ended_is_not_listened_to(
    fresh_store: Store, drills: Drills, change: Change
) -> None:
    """Listens of a window whose song was submitted from another count nowhere."""
    token = drills.begin(exercise()).token
    submit(drills, KEY, TEXT, token=token)
    drills.begin(exercise())
    before = stored(fresh_store)
    with pytest.raises(DrillReplaced):
        change(drills, token)
    assert stored(fresh_store) == before


def test_a_text_that_comes_after_its_submission_is_left(fresh_store: Store, drills: Drills) -> None:
    """The last keystrokes, sent before and arriving after, neither fail nor begin a new drill."""
    token = drills.begin(exercise()).token
    submit(drills, KEY, TEXT, token=token)
    assert drills.is_submitted(token)
    assert not drills.is_submitted("another")
    before = stored(fresh_store)
    assert drills.keep_text(KEY, "1 1 6- 2", token=token) is None
    assert stored(fresh_store) == before


def test_no_drill_of_an_exercise_that_is_not_there(drills: Drills) -> None:
    """What is done at an exercise that the learner does not have is told."""
    for change in CHANGES.values():
        with pytest.raises(DrillReplaced):
            change(drills, "token")


def test_a_drill_is_gone_on_with_after_a_restart(location: Path | str, clock: Clock) -> None:
    """Everything heard and typed is there when the program starts again, the next day too."""
    with Store(location) as store:
        learner = store.learners.add("Wren Halloway", NOW)
        drills = Drills(store, learner, clock)
        drills.begin(exercise())
        drills.listen(KEY, 80)
        drills.heard(KEY, 6.5, paused=True)
        left = drills.keep_text(KEY, "1 1", stamps="[[3,1.0]]")
    clock.pass_(days=1)
    with Store(location) as store:
        drills = Drills(store, learner, clock)
        assert drills.latest() == left
        again = drills.begin(exercise())
        assert again == left
        assert again.position_s == 6.5
        assert (again.listens_left, again.speed, again.progress.paused) == (1, 80, True)


def worked(drill: Drill | None) -> float:
    """Seconds of work that are on record of a drill."""
    assert drill is not None
    return drill.progress.worked_s


def test_who_is_away_does_not_work(drills: Drills, clock: Clock) -> None:
    """A night between two keystrokes counts as five minutes, a clock set back as nothing."""
    token = drills.begin(exercise()).token
    clock.pass_(seconds=40)
    assert worked(drills.keep_text(KEY, "1")) == 40
    clock.pass_(hours=9)
    assert worked(drills.keep_text(KEY, "1 4")) == 40 + 300
    clock.pass_(hours=-1)
    assert worked(drills.listen(KEY)) == 40 + 300
    clock.pass_(seconds=20)
    assert worked(drills.heard(KEY, 3.0)) == 40 + 300 + 20
    clock.pass_(seconds=5)
    submitted = submit(drills, KEY, TEXT, token=token)
    assert submitted.attempt.duration_s == 40 + 300 + 20 + 5


def test_looking_is_no_work(drills: Drills, clock: Clock) -> None:
    """Opening the page again changes nothing of when the learner was last at work."""
    drills.begin(exercise())
    clock.pass_(seconds=100)
    drills.begin(exercise())
    drills.find(KEY)
    clock.pass_(seconds=100)
    assert worked(drills.keep_text(KEY, "1")) == 200


def test_a_learner_who_is_gone_begins_nothing(
    fresh_store: Store, drills: Drills, learner: Learner
) -> None:
    """Beginning for a learner who was deleted in another window is our error."""
    fresh_store.learners.delete(learner)
    with pytest.raises(StoreError, match="deleted meanwhile"):
        drills.begin(exercise())


def test_the_first_listen_is_what_times_count_from(drills: Drills, clock: Clock) -> None:
    """Seconds count from the moment of the first listen, also after further ones and a restart;
    before it there are none."""
    drill = drills.begin(exercise())
    assert drill.elapsed_s(clock()) is None
    drills.listen(drill.record.key)
    clock.pass_(minutes=2)
    drills.listen(drill.record.key)
    found = drills.find(drill.record.key)
    assert found is not None
    assert found.elapsed_s(clock()) == 120
