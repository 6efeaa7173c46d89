"""The map of the course: what is skipped, why, and where the learner goes on."""

from __future__ import annotations

from tests.practice.samples import NOW, after
from trainer.exercise import FIRST_IDS, load_course
from trainer.practice import CourseMap, LearnerState, LevelPlace, Standing, course_map

LEVELS = load_course()
BY_ID = {level.id: level for level in LEVELS}
FRESH = LearnerState.fresh()
CHORDS = tuple(skill for level in LEVELS[:4] for skill in level.skills)
HEARD = after({0: {skill: [1.0] * 10 for skill in CHORDS}})


def place(found: CourseMap, level_id: str) -> LevelPlace:
    """The place of a level on a map."""
    return found.places[BY_ID[level_id].number - 1]


def test_a_newcomer_has_everything_ahead() -> None:
    """Nothing is skipped, nothing heard, and level 1 is next."""
    found = course_map(LEVELS, FRESH, NOW)
    assert found.next.number == 1
    assert found.why == ""
    assert {each.standing for each in found.places} == {Standing.AHEAD}
    assert [name for name, _ in found.places[0].adds] == ["1", "4", "5"]
    assert not any(heard for each in found.places for _, heard in each.adds)


def test_what_is_heard_is_skipped_and_said() -> None:
    """Levels whose skills are all heard well are skipped, and the map says which and why."""
    found = course_map(LEVELS, HEARD, NOW)
    assert [each.standing for each in found.places[:5]] == [Standing.HEARD] * 5
    assert found.next.id == "even-splits"
    assert found.why == "You already hear what levels 1\N{EN DASH}5 teach."
    assert place(found, "three-minor").adds == (("3-", True),)
    assert place(found, "even-splits").adds == (("evenly split bars", False),)


def test_a_level_that_was_tried_is_not_skipped() -> None:
    """Who tried a level and did not pass it goes on there, whatever the ratings say."""
    found = course_map(LEVELS, HEARD, NOW, tried={"two-minor"})
    assert found.next.id == "two-minor"
    assert place(found, "two-minor").standing is Standing.TRIED
    assert found.why == "You already hear what levels 1 and 2 teach."


def test_a_check_that_is_passed_moves_the_course_on() -> None:
    """Whoever passes a later level goes on after it; what was not tried before it is skipped, and
    can still be seen to be."""
    found = course_map(LEVELS, FRESH, NOW, passed={"waltz"}, tried={"waltz"})
    assert found.next.id == "six-eight"
    assert found.why == "You've passed level 11, so levels 1\N{EN DASH}10 are skipped."
    assert place(found, "odd-phrases").standing is Standing.BEHIND


def test_levels_that_the_course_gained_send_nobody_back() -> None:
    """Who had passed the first so many levels of the first course goes on after the last of them;
    only levels that are new since are skipped."""
    for count in range(1, len(FIRST_IDS)):
        passed = set(FIRST_IDS[:count])
        found = course_map(LEVELS, FRESH, NOW, passed=passed, tried=passed)
        furthest = max(BY_ID[each].number for each in passed)
        assert found.next.number == furthest + 1
        skipped = {
            each.level.id for each in found.places if each.standing is not Standing.PASSED
        } - {each.level.id for each in found.places[furthest:]}
        assert skipped.isdisjoint(FIRST_IDS)


def test_the_end_of_the_course() -> None:
    """Whoever has passed everything stays with the last level."""
    everything = set(BY_ID)
    assert course_map(LEVELS, FRESH, NOW, passed=everything).next == LEVELS[-1]
