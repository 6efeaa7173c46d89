from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.practice.samples import NOW, after, graded_bar
from trainer.exercise import recipe_to_dict
from trainer.practice import (
    LearnerState,
    SpeedResult,
    credible_interval,
    describe_confusions,
    describe_mistakes,
    describe_skill,
    describe_standing,
    disqualification,
    is_speed_test,
    rating,
    skill_summaries,
    speed_history,
    speed_result,
    speed_test,
)
from trainer.practice.speed import FIRST_SPEED_RECIPE, PROTOCOL, SPEED_RECIPE


def test_a_confusion_is_said_with_its_rate() -> None:
    """A chord is explained by the chord most taken for it, basses and extensions left out."""
    pairs = [("4", "4", 6), ("4^maj7", "4", 2), ("4", "2-", 3), ("4", "2-^7", 1), ("4", "1", 2)]
    assert describe_confusions(pairs)["chord 4"] == "You tell 4 from 2- about two times in three."


def test_a_bass_is_explained_by_itself() -> None:
    """A slash chord is compared with what was written for it, including the bass."""
    said = describe_confusions([("5/7", "5", 3), ("5/7", "5/7", 1)])
    assert said["bass 5/7"] == "You tell 5/7 from 5 about one time in four."
    assert "chord 5" not in said


def test_too_little_is_not_explained() -> None:
    """One slip, or what was left out or added, explains nothing."""
    assert describe_confusions([("4", "4", 20), ("4", "5", 1)]) == {}
    assert describe_confusions([("4", "", 9), ("", "1", 9), ("0", "1", 5)]) == {}


@pytest.mark.parametrize(
    ("skill", "words"),
    [
        ("chord 6-", "6-"),
        ("bass 1/3", "1/3"),
        ("extension sus4", "chords with sus4"),
        ("meter 6/8", "6/8 time"),
        ("feel train beat", "the train beat feel"),
        ("even split", "evenly split bars"),
        ("minor home", "songs in minor"),
    ],
)
def test_skills_in_words(skill: str, words: str) -> None:
    """A skill is named as a musician would in a sentence."""
    assert describe_skill(skill) == words


def test_lines_are_ready_to_show() -> None:
    """Each skill met has a line, the weakest first, its guess inside its range, in words."""
    state = after({0: {"chord 4": [1.0] * 9, "chord 2-": [0.0] * 5}})
    lines = skill_summaries(state, NOW + timedelta(days=1))
    assert [line.skill for line in lines] == ["chord 2-", "chord 4"]
    for line in lines:
        assert line.low < line.right < line.high
        assert 0 < line.kept <= 1
        assert line.last_at == NOW
    assert lines[0].said.startswith("You get this right about ")
    assert skill_summaries(state, NOW, {"chord 4": "As said."})[1].said.endswith(". As said.")
    assert skill_summaries(LearnerState.fresh(), NOW) == ()


@pytest.mark.parametrize("bars", [1, 2, 4])
def test_few_bars_make_no_rate(bars: int) -> None:
    """A skill met in fewer than five bars has no rate and no confusion, and stands at the end."""
    state = after({0: {"chord b7": [0.0] * bars, "chord 4": [1.0] * 9}})
    four, seven = skill_summaries(
        state, NOW, {"chord b7": "You tell b7 from 4 about half the time."}
    )
    assert not four.is_early
    assert seven.said == f"Too few bars to tell: only {bars} so far."
    assert seven.high - seven.low > four.high - four.low


def test_a_flat_seven_is_never_a_letter() -> None:
    """No sentence makes the letter B of b7."""
    state = after({0: {skill: [1.0, 0.0] * 4 for skill in ("chord b7", "bass b7/1")}})
    pairs = [("b7", "4", 3), ("b7", "b7", 2), ("b7/1", "4", 5)]
    said = [line.said for line in skill_summaries(state, NOW, describe_confusions(pairs))]
    assert not [one for one in (*said, *describe_mistakes(pairs)) if "B7" in one]


def test_mistakes_are_said_plainly() -> None:
    """What is written for a chord is said with its share of all times it was played, left out ones
    too, the most often wrong first, and only from four chords on."""
    pairs = [("4", "4", 12), ("4", "2-", 4), ("4", "", 4), ("5/7", "5", 3), ("5/7", "5/7", 1)]
    assert describe_mistakes([*pairs, ("3-", "1", 3)]) == [
        "When the band plays 4, you write 2- about one time in five.",
        "When the band plays 5/7, you write 5 about three times in four.",
    ]


def test_the_range_holds_nine_in_ten() -> None:
    """The range is the normal distribution's 5% to 95%: 1.645 deviations each way (tables)."""
    low, high = credible_interval(rating(LearnerState.fresh(), "chord 6-"))
    mean, sd = (
        rating(LearnerState.fresh(), "chord 6-").mean,
        rating(LearnerState.fresh(), "chord 6-").sd,
    )
    for share, logit in ((low, mean - 1.645 * sd), (high, mean + 1.645 * sd)):
        assert share == pytest.approx(1 / (1 + 2.718281828459045**-logit))


def result(kept_up: float, minutes: int, protocol: str = PROTOCOL) -> SpeedResult:
    """A result of a self-test."""
    return SpeedResult(protocol, NOW + timedelta(minutes=minutes), kept_up, 0.9, 4.0)


@pytest.mark.parametrize("seed", range(12))
def test_the_self_test_is_always_of_the_same_length(seed: int) -> None:
    """Every seed gives sixteen bars in 4/4 at 96, one listen, no help."""
    exercise = speed_test(seed)
    assert len(exercise.chart.bars()) == 16
    assert exercise.chart.tempo == 96
    assert (exercise.listens, exercise.help.bass_lift_db, exercise.loop) == (1, 0.0, False)
    assert is_speed_test(exercise.recipe)


def test_another_recipe_is_no_self_test() -> None:
    """Only the protocol's own recipe counts."""
    assert is_speed_test(recipe_to_dict(SPEED_RECIPE))
    assert not is_speed_test(recipe_to_dict(SPEED_RECIPE) | {"listens": 2})
    assert not is_speed_test({})


def test_a_self_test_is_known_by_its_protocol() -> None:
    """An exercise carries its protocol's name; one of another protocol is no test of this one."""
    recipe = speed_test(1).recipe
    assert recipe["protocol"] == PROTOCOL
    assert is_speed_test(recipe | {"listens": 2, "another key": True})  # type: ignore[operator]
    assert not is_speed_test(recipe | {"protocol": "speed 0"})  # type: ignore[operator]


def test_an_old_self_test_stays_one() -> None:
    """A recipe of before protocols were named is known by its keys, whatever keys were added."""
    old = dict(FIRST_SPEED_RECIPE)
    present = recipe_to_dict(SPEED_RECIPE)
    # The light and some features came later; a self-test has none of them.
    later = dict.fromkeys(("silent_bars", "pickup", "fade", "bridge_key", "passing"), 0.0)
    assert present == old | {
        "help": old["help"] | {"light": "off"},
        "features": old["features"] | later,
    }
    more = old | {"swing": 0.5, "features": old["features"] | {"fills": 0.1}}
    assert is_speed_test(more)
    assert not is_speed_test(more | {"features": old["features"] | {"splits": 0.2}})
    assert not is_speed_test({key: value for key, value in old.items() if key != "bars"})


def test_only_what_keeps_the_protocol_counts() -> None:
    """Two listens, a pause, another tempo or no times give no result."""
    bars = [graded_bar(("chord 1",))] * 4
    kept = {"listens": 1, "paused": False, "tempo_ratio": 1.0}
    assert speed_result(bars, 4.0, NOW, **kept) is not None  # type: ignore[arg-type]
    for change in ({"listens": 2}, {"paused": True}, {"tempo_ratio": 0.8}):
        assert speed_result(bars, 4.0, NOW, **kept | change) is None
    late = [graded_bar(("chord 1",), lag_beats=None)] * 4
    assert speed_result(late, 4.0, NOW, **kept) is None  # type: ignore[arg-type]


def test_keeping_up_is_right_and_in_time() -> None:
    """Bars count that are wholly right and written before the next bar ends; added ones do not."""
    bars = [
        graded_bar(("chord 1",), lag_beats=4.0),
        graded_bar(("chord 1",), lag_beats=8.0),
        graded_bar(("chord 1",), lag_beats=8.1),
        graded_bar(("chord 1",), lag_beats=2.0, score=0.9),
        graded_bar(("chord 1",), reference=None, lag_beats=None),
    ]
    found = speed_result(bars, 4.0, NOW, listens=1, paused=False, tempo_ratio=1.0)
    assert found is not None
    assert (found.kept_up, found.right, found.lag_beats) == (0.5, 0.75, 6.0)


def test_what_was_written_ahead_is_a_guess() -> None:
    """A bar written more than a bar's length before it began to sound does not count as kept up
    with, and lags nothing."""
    bars = [graded_bar(("chord 1",), lag_beats=lag) for lag in (-4.0, -4.1, -60.0, 2.0)]
    found = speed_result(bars, 4.0, NOW, listens=1, paused=False, tempo_ratio=1.0)
    assert found is not None
    assert (found.kept_up, found.right, found.lag_beats) == (0.5, 1.0, 0.0)


@pytest.mark.parametrize(
    ("shares", "said"),
    [
        ([0.5], "This is your first test. Later ones are compared with it."),
        ([0.5] * 10, "This is as good as your earlier tests."),
        ([0.5, 0.7], "This is your best so far."),
        ([0.5, 0.7, 0.6], "This is better than 1 of your 2 earlier tests."),
        ([0.5, 0.6, 0.7, 0.6], "This is better than 1 of your 3 earlier tests and as good as 1."),
        ([0.5, 0.7, 0.5], "This is as good as your weakest test so far."),
        ([0.6, 0.7, 0.5], "This is below all your earlier tests."),
    ],
)
def test_the_standing_is_said_truly(shares: list[float], said: str) -> None:
    """The last result is compared with the earlier ones in words that are true among equals."""
    assert describe_standing(speed_history([result(s, n) for n, s in enumerate(shares)])) == said


def test_nothing_stands_nowhere() -> None:
    """Without a result there is no standing."""
    with pytest.raises(ValueError, match="no results"):
        describe_standing(speed_history([]))


def test_why_a_test_does_not_count() -> None:
    """Each breach of the protocol is named, and gives no result; none is no reason."""
    breaches: dict[str, dict[str, Any]] = {
        "didn't play": {"listens": 0},
        "2 times": {"listens": 2},
        "stopped": {"paused": True},
        "slowed": {"tempo_ratio": 0.8},
        "had seen": {"seen": True},
    }
    kept: dict[str, Any] = {"listens": 1, "paused": False, "tempo_ratio": 1.0, "seen": False}
    bars = [graded_bar(("chord 1",))] * 4
    assert disqualification(**kept, is_timed=True) == ""
    assert "after the band began" in disqualification(**kept, is_timed=False)
    for words, change in breaches.items():
        assert words in disqualification(**kept | change, is_timed=True)
        assert speed_result(bars, 4.0, NOW, **kept | change) is None


def test_history_of_self_tests() -> None:
    """The last result is compared with those before it: best, percentile, ties counted half."""
    history = speed_history([result(0.5, 1), result(0.7, 2), result(0.6, 3), result(0.6, 4)])
    assert history.best == result(0.7, 2)
    assert not history.is_best
    assert history.percentile == pytest.approx(100 * 1.5 / 3)
    assert speed_history([result(0.5, 1), result(0.7, 2)]).is_best
    assert speed_history([result(0.5, 1)]).percentile is None
    assert speed_history([]).best is None


def test_other_protocols_are_never_compared() -> None:
    """Results of an earlier protocol are left out."""
    history = speed_history([result(0.9, 1, "speed 0"), result(0.5, 2)])
    assert history.results == (result(0.5, 2),)
