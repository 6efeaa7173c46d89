from __future__ import annotations

import random
import re
from datetime import timedelta
from itertools import pairwise

import pytest

from tests.practice.samples import NOW, after
from trainer.exercise import load_course
from trainer.practice.aims import FIRST_IN_LEVELS, STAGES
from trainer.practice.choice import (
    TARGET,
    ExerciseProfile,
    Predictions,
    best_profile,
    exercise_profile,
)
from trainer.practice.course_map import next_level
from trainer.practice.daily import (
    OVER,
    SET_MINUTES,
    Aim,
    describe_rate,
    due_skills,
    missed_skills,
    new_skills,
    plan_set,
    unsettled_basics,
    weak_skills,
)
from trainer.practice.items import candidate_profiles, choose_exercise, course_skills, known_chords
from trainer.practice.placement import (
    MOST_EXERCISES,
    describe_placement,
    is_placed,
    placement_aim,
)
from trainer.practice.rating import LearnerState, success_probability

COURSE = course_skills(load_course())
BASICS = {"chord 1": [1.0] * 12, "chord 4": [1.0] * 9, "chord 5": [1.0] * 9}
# Ten days in: three chords well, 6- less, 2- badly, and nothing since day 3.
LEARNER = after(
    {
        0: BASICS | {"chord 6-": [1.0, 0.0, 1.0, 1.0]},
        1: BASICS | {"chord 6-": [1.0] * 6},
        3: BASICS | {"chord 2-": [0.0, 0.0, 1.0, 0.0, 0.0]},
    }
)
TEN = NOW + timedelta(days=10)


def planned(state: LearnerState, seed: int = 1, **more: object) -> tuple[Aim, ...]:
    """A set for a learner, ten days in."""
    return plan_set(state, COURSE, candidate_profiles, TEN, random.Random(seed), **more)  # type: ignore[arg-type]


def test_what_is_due_is_what_fsrs_says() -> None:
    """A skill is due from half a day before its card is, and not on the day it was met."""
    due = due_skills(LEARNER, COURSE, TEN)
    assert set(due) == {
        skill for skill, each in LEARNER.skills.items() if each.memory.due <= TEN + timedelta(0.5)
    }
    assert "chord 2-" in due
    assert due_skills(LEARNER, COURSE, NOW + timedelta(days=3, hours=1)) == []


def test_the_weakest_comes_first() -> None:
    """Weak skills are those heard worse than about four times in five, in order."""
    weak = weak_skills(LEARNER, COURSE, TEN)
    chances = [success_probability(LEARNER, skill, (), TEN) for skill in weak]
    assert weak[0] == "chord 2-"
    assert chances == sorted(chances)
    assert max(chances) < 0.82


def test_new_things_come_in_the_order_of_the_course() -> None:
    """What was never met is new, in the order of the course."""
    assert new_skills(LEARNER, COURSE)[:2] == ["chord 3-", "even split"]
    assert new_skills(LearnerState.fresh(), COURSE) == [
        skill for skill in COURSE if skill not in FIRST_IN_LEVELS
    ]
    met = after({0: {"bass 4/1": [0.5] * 4}})
    assert "bass 4/1" in weak_skills(met, COURSE, TEN)


def test_a_set_mixes_due_weak_and_new() -> None:
    """A set brings back what is due and something new, each aim once, each with its reason."""
    aims = planned(LEARNER)
    assert {"due", "weak", "new"} <= {aim.kind for aim in aims}
    assert "chord 3-" in {skill for aim in aims for skill in aim.skills}
    skills = [skill for aim in aims for skill in aim.skills]
    assert len(skills) == len(set(skills))
    for aim in aims:
        assert aim.reason.endswith(".")
        assert aim.reason.startswith(
            ("Due again: ", "Needs work: ", "New to you: ", "The chords you've had so far")
        )


def test_reasons_say_what_is_confused() -> None:
    """A weak skill's reason is the sentence about its confusion, if there is one."""
    said = "You tell 2- from 4 about one time in five."
    reasons = {aim.skills: aim.reason for aim in planned(LEARNER, explanations={"chord 2-": said})}
    assert reasons["chord 2-",] == "Needs work: you tell 2- from 4 about one time in five."
    plain = {aim.skills: aim.reason for aim in planned(LEARNER)}
    assert plain["chord 2-",].startswith("Needs work: 2-. You get this right ")


def test_reasons_say_when_it_was() -> None:
    """A due skill's reason says how long ago it was last met."""
    state = after({n: {s: [1.0] * 12 for s in COURSE} for n in range(3)})
    aims = plan_set(state, COURSE, candidate_profiles, NOW + timedelta(days=90), random.Random(1))
    due = [aim for aim in aims if aim.kind == "due"]
    assert due
    assert all("88 days ago" in aim.reason for aim in due)


@pytest.mark.parametrize("seed", range(6))
def test_kinds_take_turns(seed: int) -> None:
    """No two aims at the same skill follow each other, and the set does not begin with the new."""
    aims = planned(LEARNER, seed)
    assert all(not a.skills or a.skills != b.skills for a, b in pairwise(aims))
    assert aims[0].kind != "new"


def test_a_set_takes_about_its_time() -> None:
    """The exercises that a set was planned with take between seven and twelve minutes."""
    for state in (LEARNER, after({0: BASICS}), after(dict.fromkeys(range(5), BASICS))):
        predictions = Predictions(state, TEN)
        minutes = 0.0
        for aim in planned(state):
            if aim.skills:
                candidates = candidate_profiles(aim.skills[0])
                minutes += candidates[best_profile(predictions, candidates, aim.skills)[0]].minutes
            else:
                minutes += 1.5
        assert 7 <= minutes <= SET_MINUTES + OVER


def test_a_second_set_has_other_aims() -> None:
    """What was aimed at earlier in the day is left out of the next set."""
    first = planned(LEARNER)
    done = frozenset(skill for aim in first for skill in aim.skills)
    second = planned(LEARNER, done=done)
    assert second
    assert done.isdisjoint(skill for aim in second for skill in aim.skills)


def test_the_same_state_and_randomness_plan_the_same() -> None:
    """A plan is a function of what it is given."""
    assert planned(LEARNER, 3) == planned(LEARNER, 3)


@pytest.mark.parametrize("count", range(6))
def test_what_is_new_is_not_called_known(count: int) -> None:
    """A set does not say that the learner has had a chord that it brings as new."""
    state = after({0: {skill: [1.0] * 10 for skill in COURSE[:count]}})
    reasons = [aim.reason for seed in range(4) for aim in planned(state, seed)]
    new = {one.removeprefix("New to you: ")[:-1] for one in reasons if one.startswith("New")}
    had = {one.partition(": ")[2] for one in reasons if one.startswith("The chords you've had")}
    assert new
    assert not [one for one in had if new & set(re.split(r", | and |\.", one))]
    assert not had or count >= 3
    assert count or "All together, as in a song: 1, 4 and 5." in reasons


def test_a_newcomer_begins_at_the_beginning() -> None:
    """Someone who has met nothing is given the first skill of the course."""
    assert "chord 1" in {skill for aim in planned(LearnerState.fresh()) for skill in aim.skills}


FAILED = ("chord 6-", "chord 2-", "chord 3-", "even split")
GOOD = {skill: [1.0] * 10 for skill in (*COURSE[:3], "meter 4/4", "feel straight")}


@pytest.mark.parametrize("days", [1, 4])
@pytest.mark.parametrize("hours", [1, 24])
def test_what_was_failed_comes_back(days: int, hours: int) -> None:
    """Who misses 6-, 2-, 3- and splits is given most of them again, the same day and the next."""
    failing = GOOD | {skill: [0.0] * 5 for skill in FAILED}
    state = after(dict.fromkeys(range(days), failing))
    now = NOW + timedelta(days=days - 1, hours=hours)
    aims = plan_set(state, COURSE, candidate_profiles, now, random.Random(1))
    again = [aim for aim in aims if set(aim.skills) & set(FAILED)]
    assert len(again) >= 3
    assert all(aim.reason.startswith("Needs work: ") for aim in again)
    assert sum(aim.kind == "mixed" for aim in aims) < len(aims) / 2
    assert len(again) >= sum(aim.kind == "new" for aim in aims)


def test_what_was_failed_in_one_set_is_in_the_next() -> None:
    """An aim that was missed in today's first set comes again in the second; one that was not met
    since does not."""
    state = after({0: GOOD | {skill: [0.0] * 5 for skill in FAILED}})
    now, done = NOW + timedelta(hours=1), frozenset(FAILED)
    assert set(missed_skills(state, COURSE, now, done)) == done
    assert missed_skills(state, COURSE, now + timedelta(days=1), done) == []


def test_a_gentler_exercise_for_what_was_missed() -> None:
    """What is missed nearly always comes with few chords beside it, with help, and many listens."""
    state = after(dict.fromkeys(range(4), GOOD | {"chord 3-": [0.0] * 8}))
    for seed in range(4):
        weak = Aim("weak", ("chord 3-",), "Weak.")
        made = choose_exercise(state, weak, NOW + timedelta(days=4), random.Random(seed)).exercise
        chords = {skill for skill in made.skills if skill.startswith("chord ")}
        assert "chord 3-" in chords
        assert len(chords) <= 4
        assert made.listens == 0 or made.listens >= 6
        assert made.help.bass_lift_db > 0


def test_a_missed_bar_or_two_are_told_as_such() -> None:
    """Fewer than five bars give no rate."""
    state = after({0: GOOD | {"chord 6-": [0.0, 0.5]}})
    aims = plan_set(state, COURSE, candidate_profiles, NOW + timedelta(hours=1), random.Random(1))
    reasons = {aim.skills: aim.reason for aim in aims}
    assert reasons["chord 6-",] == "Needs work: 6-. You've got 0 of 2 bars right so far."


def test_the_first_chords_come_first() -> None:
    """A newcomer's set begins with 1, 4, 5 in that order and brings one thing more; so does that of
    someone who missed them in a bar or two. What aims at nothing is less than half."""
    for state in (LearnerState.fresh(), after({0: {skill: [0.0, 0.5] for skill in COURSE[:5]}})):
        aims = plan_set(
            state, COURSE, candidate_profiles, NOW + timedelta(hours=1), random.Random(3)
        )
        assert [aim.skills[0] for aim in aims[:3]] == ["chord 1", "chord 4", "chord 5"]
        kinds = [aim.kind for aim in aims]
        assert kinds[3:].count("new") <= 1
        assert kinds.count("mixed") < len(aims) / 2
    assert unsettled_basics(after({0: GOOD}), COURSE, NOW) == []


def test_someone_with_much_unsettled_is_given_nothing_new() -> None:
    """As long as twenty skills are heard badly nothing new is added."""
    state = after({0: {skill: [0.0] * 6 for skill in COURSE[:24]}})
    assert "new" not in {aim.kind for aim in planned(state)}


@pytest.mark.many
@pytest.mark.parametrize("seed", range(5))
def test_items_are_about_85_percent_right(seed: int) -> None:
    """For a learner in the middle, items are expected near the target, at no step too hard."""
    state = after({n: {s: [1.0, 1.0, 1.0, 0.5] for s in COURSE[:12]} for n in range(3)})
    for aim in planned(state, seed):
        item = choose_exercise(state, aim, TEN, random.Random(seed))
        assert 0.7 < item.expected < 0.97
        assert item.exercise.recipe
        assert item.minutes <= 7
        if aim.skills:
            assert aim.skills[0] in item.exercise.skills


def test_a_better_learner_gets_less_help() -> None:
    """The better the learner, the harder the exercise for the same aim."""
    aim = Aim("due", ("chord 4",), "Due.")
    weak = after({0: {skill: [1.0, 0.0] * 6 for skill in COURSE[:5]}})
    strong = after({n: {skill: [1.0] * 20 for skill in COURSE} for n in range(10)})
    items = [
        choose_exercise(state, aim, TEN, random.Random(1)).exercise for state in (weak, strong)
    ]
    assert items[0].help.bass_lift_db > items[1].help.bass_lift_db
    assert len(items[0].chart.bars()) < len(items[1].chart.bars())


def test_an_item_is_the_same_for_the_same_randomness() -> None:
    """An item is a function of state, aim, moment and randomness."""
    aim = Aim("new", ("chord 3-",), "New.")
    one, two = (choose_exercise(LEARNER, aim, TEN, random.Random(4)) for _ in range(2))
    assert one == two


def test_items_keep_to_chords_that_were_met() -> None:
    """Beside the first three and the one aimed at, an item has chords the learner knows."""
    assert known_chords(LEARNER) == {"1", "4", "5", "6-", "2-"}
    item = choose_exercise(LEARNER, Aim("new", ("chord 3-",), "New."), TEN, random.Random(2))
    chords = {skill for skill in item.exercise.skills if skill.startswith("chord ")}
    assert chords <= {f"chord {name}" for name in (*known_chords(LEARNER), "3-")}


def profile(right: float, minutes: float = 1.0) -> ExerciseProfile:
    """A profile of one chord that a fresh learner should get right so often."""
    hard = {0.95: -1.0, 0.85: -0.6, 0.5: 0.8}[right]
    return ExerciseProfile((((((hard,) + (0.0,) * 8), ("chord 4",)), 10),), minutes)


def test_the_nearest_to_the_target_is_taken() -> None:
    """Among exercises the one expected nearest to the target is taken, long ones last."""
    predictions = Predictions(after({n: {"chord 4": [1.0, 1.0, 1.0, 0.0] * 5} for n in range(6)}))
    profiles = [profile(0.95), profile(0.85), profile(0.5)]
    scores = [predictions.of(each).score for each in profiles]
    assert scores == sorted(scores, reverse=True)
    place, found = best_profile(predictions, profiles)
    assert abs(found.score - TARGET) <= min(abs(score - TARGET) for score in scores) + 0.05
    long = [profile(0.85, 20.0), profile(0.5)]
    assert best_profile(predictions, long)[0] == 1
    assert best_profile(predictions, long[:1])[0] == 0
    assert place in range(3)


def test_the_minutes_of_an_exercise_follow_its_bars() -> None:
    """Four bars of 4/4 at 60 take 16 seconds a pass, with time to read once."""
    item = choose_exercise(LearnerState.fresh(), placement_aim(), NOW, random.Random(3))
    chart = item.exercise.chart
    seconds = len(chart.bars()) * 4 * 60 / chart.tempo
    passes = 2.5 if not item.exercise.listens else min(2.5, item.exercise.listens)
    assert exercise_profile(item.exercise).minutes == pytest.approx(0.3 + passes * seconds / 60)


def test_placement_ends_when_the_level_is_known() -> None:
    """It takes two to five items: fewer when the answers agree."""
    state = LearnerState.fresh()
    assert not is_placed(state, 1)
    assert is_placed(state, MOST_EXERCISES)
    assert is_placed(after({0: {skill: [1.0, 0.5, 0.0] * 6 for skill in BASICS}}), 2)


def test_placement_follows_the_answers() -> None:
    """After a good answer the next placement item is harder than after a bad one."""
    good = after({0: {skill: [1.0] * 10 for skill in COURSE[:5]}})
    bad = after({0: {skill: [0.0] * 10 for skill in COURSE[:5]}})
    aim = placement_aim()
    harder, easier = (choose_exercise(s, aim, NOW, random.Random(1)).exercise for s in (good, bad))
    assert harder.help.bass_lift_db <= easier.help.bass_lift_db
    assert len(harder.chart.bars()) > len(easier.chart.bars())


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "less than one time in ten"),
        (0.12, "about one time in ten"),
        (0.5, "about half the time"),
        (0.66, "about two times in three"),
        (0.76, "about three times in four"),
        (0.9, "about nine times in ten"),
        (1.0, "nearly every time"),
    ],
)
def test_shares_in_words(share: float, words: str) -> None:
    """A share is said as people say it."""
    assert describe_rate(share) == words


def test_there_are_four_steps() -> None:
    """The steps that offers and recipes count with are four."""
    assert len(STAGES) == 4


LEVELS = load_course()


def test_the_next_level_agrees_with_what_was_found() -> None:
    """Who is placed above the first chords does not begin with them; who tried a level and did not
    pass it stays there; a newcomer begins with level 1."""
    good = after({0: {skill: [1.0] * 8 for skill in COURSE[:6]}})
    level = next_level(LEVELS, good, NOW)
    assert new_skills(good, COURSE)[0] in level.skills
    assert next_level(LEVELS, good, NOW, tried={"six-minor"}).number == 2
    done = {"six-minor"}
    assert next_level(LEVELS, good, NOW, tried=done, passed=done) == level
    assert next_level(LEVELS, LearnerState.fresh(), NOW).number == 1
    everything = {each.id for each in LEVELS}
    assert next_level(LEVELS, good, NOW, passed=everything) == LEVELS[-1]


def test_what_a_placement_found_is_said() -> None:
    """The chords heard, those not yet, and the level to start at; nothing where nothing was met."""
    state = after({0: GOOD | {"chord 6-": [0.0] * 6, "chord 2-": [0.0] * 6}})
    assert describe_placement(state, LEVELS, NOW) == (
        "You hear 1, 4 and 5 well, but 6- and 2- still need work. "
        "You start the course at level 2: Six minor. You already hear what level 1 teaches."
    )
    nothing = after({0: {"chord 1": [0.0] * 6}})
    assert describe_placement(nothing, LEVELS, NOW).startswith(
        "You don't hear any chord reliably yet. "
    )
    assert describe_placement(LearnerState.fresh(), LEVELS, NOW) == ""
