"""Songs whose chart a result has shown: practice, which counts for nothing else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.drill.evening import Clock, answered, in_time, shown, stored
from tests.store.samples import NOW, SONG, TEXT, chart, exercise
from trainer.drill import Drills, Submitted, find_result, rating_state
from trainer.exercise import Exercise, load_course, make_exercise, recipe_from_dict, recipe_to_dict
from trainer.practice import speed_test
from trainer.store import Store

LEVEL = load_course()[2]
# Three listens and no help, graded by the chords.
RECIPE = recipe_from_dict(
    recipe_to_dict(LEVEL.recipe) | {"listens": 3, "loop": False, "help": {}}, "test"
)
# What an attempt that does not count must not change.
COUNTED = ("practice_states", "skill_states", "rating_days", "speed_results",
           "skill_days", "confusion_days")  # fmt: skip


def counted(store: Store) -> dict[str, object]:
    """All that attempts add up to, but for how many there are and when the last was."""
    found = {name: rows for name, rows in stored(store).items() if name in COUNTED}
    states = [(row[0], row[1], *row[4:]) for row in found.pop("practice_states")]
    return found | {"practice_states": states}


def copied(drills: Drills, exercise: Exercise) -> Submitted:
    """Paste what the result showed, after a listen, every bar in time."""
    return answered(drills, exercise, shown(exercise), stamps=in_time(exercise, shown(exercise)))


def test_pasting_the_shown_chart_counts_for_nothing(
    drills: Drills, fresh_store: Store, clock: Clock
) -> None:
    """Who plays a song again and pastes its chart gets it graded and stored, and no more."""
    song = make_exercise(LEVEL.recipe, 5, LEVEL)
    first = answered(drills, song, TEXT)
    assert not first.attempt.seen
    before = counted(fresh_store)
    clock.pass_(days=40)
    assert drills.begin(song).seen
    again = answered(drills, song, shown(song))
    assert again.attempt.score == 1.0
    assert again.attempt.seen
    assert not again.attempt.counts
    assert counted(fresh_store) == before
    best = fresh_store.attempts.best_by_level(drills.learner)[LEVEL.id]
    assert (best.score, best.attempts) == (first.attempt.score, 1)
    result = find_result(fresh_store, drills.learner, again.attempt.id)
    assert result is not None
    assert result.detail.record.seen
    assert result.passed is None
    assert [each.id for each in fresh_store.attempts.history(drills.learner)] == [
        again.attempt.id,
        first.attempt.id,
    ]


def test_a_first_answer_passes(drills: Drills, fresh_store: Store) -> None:
    """A song that was never shown passes its level at the mark, once listened to."""
    song = make_exercise(LEVEL.recipe, 5, LEVEL)
    done = answered(drills, song, shown(song))
    result = find_result(fresh_store, drills.learner, done.attempt.id)
    assert result is not None
    assert result.passed
    deaf = answered(drills, make_exercise(LEVEL.recipe, 6, LEVEL), "1", listens=0)
    silent = find_result(fresh_store, drills.learner, deaf.attempt.id)
    assert silent is not None
    assert silent.passed is None


def test_a_speed_test_again_is_no_speed_test(drills: Drills, fresh_store: Store) -> None:
    """The same test twice gives one result, and the second says why it does not count."""
    test = speed_test(3)
    first, second = (copied(drills, test) for _ in range(2))
    assert first.attempt.score == second.attempt.score
    (result,) = fresh_store.ratings.speed(drills.learner)
    assert result.at == NOW
    found = [find_result(fresh_store, drills.learner, each.attempt.id) for each in (first, second)]
    assert all(each is not None and each.is_speed_test for each in found)
    reasons = [each.why_no_test for each in found if each is not None]
    assert reasons == ["", "you had seen the chart of this song before"]


@pytest.mark.parametrize("change", [{"listens": 0}, {"loop": True}, {"ask": "roots"},
                                    {"help": {"tonic_first": True}}])  # fmt: skip
def test_the_same_song_under_another_recipe_is_seen(
    drills: Drills, fresh_store: Store, change: dict[str, object]
) -> None:
    """More listens, help or looser grading make another exercise, but no other song."""
    other = recipe_from_dict(recipe_to_dict(RECIPE) | change, "test")
    one, two = make_exercise(RECIPE, 5), make_exercise(other, 5)
    assert one.id != two.id
    assert one.chart == two.chart
    answered(drills, one)
    before = counted(fresh_store)
    assert answered(drills, two, shown(two)).attempt.seen
    assert counted(fresh_store) == before


@pytest.mark.parametrize("header", [{"title": "Barge Lamps"}, {"key": "E"}, {"tempo": "120"}])
def test_another_song_with_the_same_chords_is_not_seen(
    drills: Drills, fresh_store: Store, header: dict[str, str]
) -> None:
    """Chords come again in many songs; another title, key or tempo is another song."""
    answered(drills, exercise(1), SONG)
    other = exercise(2, song=chart(**header))
    assert not drills.begin(other).seen
    before = counted(fresh_store)
    assert not answered(drills, other, SONG).attempt.seen
    assert counted(fresh_store) != before


def test_a_drill_begun_before_is_seen_all_the_same(drills: Drills) -> None:
    """Two exercises of one song open side by side: the second to be submitted is practice."""
    same = replace(exercise(), id="millrace-again")
    drills.begin(same)
    answered(drills, exercise(), TEXT)
    opened = drills.find(same.id)
    assert opened is not None
    assert opened.seen
    assert answered(drills, same, SONG).attempt.seen


def test_others_have_not_seen_it(drills: Drills, fresh_store: Store) -> None:
    """What one learner was shown is new to another."""
    answered(drills, exercise(), SONG)
    other = Drills(fresh_store, fresh_store.learners.add("Odell Pruitt", NOW), drills.clock)
    assert not answered(other, exercise(), SONG).attempt.seen
    assert rating_state(fresh_store, other.learner).attempts == 1


def test_what_was_begun_and_left_is_not_seen(drills: Drills) -> None:
    """Listening and writing show no chart; only a result does."""
    drills.begin(exercise())
    drills.listen(exercise().id)
    drills.keep_text(exercise().id, SONG)
    opened = drills.find(exercise().id)
    assert opened is not None
    assert not opened.seen
