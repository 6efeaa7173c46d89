from __future__ import annotations

from datetime import timedelta

import pytest

from tests.practice.samples import NOW, Bar, after
from trainer.exercise import recipe_to_dict
from trainer.practice import (
    SpeedResult,
    State,
    explain,
    interval,
    is_speed_test,
    rating,
    say_skill,
    skill_lines,
    speed_history,
    speed_result,
    speed_test,
)
from trainer.practice.speed import PROTOCOL, SPEED_RECIPE


def test_a_confusion_is_said_with_its_rate() -> None:
    """A chord is explained by the chord most taken for it, basses and extensions left out."""
    pairs = [("4", "4", 6), ("4^maj7", "4", 2), ("4", "2-", 3), ("4", "2-^7", 1), ("4", "1", 2)]
    assert explain(pairs)["chord 4"] == "You hear 4 against 2- about two times in three."


def test_a_bass_is_explained_by_itself() -> None:
    """A slash chord is held against what was written for it, bass and all."""
    said = explain([("5/7", "5", 3), ("5/7", "5/7", 1)])
    assert said["bass 5/7"] == "You hear 5/7 against 5 about one time in four."
    assert "chord 5" not in said


def test_too_little_is_not_explained() -> None:
    """One slip, or what was left out or added, explains nothing."""
    assert explain([("4", "4", 20), ("4", "5", 1)]) == {}
    assert explain([("4", "", 9), ("", "1", 9), ("0", "1", 5)]) == {}


@pytest.mark.parametrize(
    ("skill", "words"),
    [
        ("chord 6-", "6-"),
        ("bass 1/3", "1/3"),
        ("extension sus4", "chords with sus4"),
        ("meter 6/8", "6/8 time"),
        ("feel train beat", "the train beat feel"),
        ("even split", "two chords in one bar"),
        ("minor home", "songs at home in minor"),
    ],
)
def test_skills_in_words(skill: str, words: str) -> None:
    """A skill is named as a musician would in a sentence."""
    assert say_skill(skill) == words


def test_lines_are_ready_to_show() -> None:
    """Each skill met has a line, the weakest first, its guess inside its range, in words."""
    state = after({0: {"chord 4": [1.0] * 9, "chord 2-": [0.0] * 3}})
    lines = skill_lines(state, NOW + timedelta(days=1))
    assert [line.skill for line in lines] == ["chord 2-", "chord 4"]
    for line in lines:
        assert line.low < line.right < line.high
        assert 0 < line.kept <= 1
        assert line.last_at == NOW
    assert lines[0].said.startswith("2-: right ")
    assert skill_lines(state, NOW, {"chord 4": "As said."})[1].said.startswith("As said.")
    assert skill_lines(State.fresh(), NOW) == ()


def test_a_guess_is_called_one() -> None:
    """A rating that rests on few bars is said to."""
    one = skill_lines(after({0: {"chord 4": [1.0]}}), NOW)[0]
    many = skill_lines(after({n: {"chord 4": [1.0, 0.0] * 20} for n in range(5)}), NOW)[0]
    assert "guess" in one.said
    assert "guess" not in many.said
    assert many.high - many.low < one.high - one.low


def test_the_range_holds_nine_in_ten() -> None:
    """The range is the normal distribution's 5 % to 95 %: 1.645 deviations each way (tables)."""
    low, high = interval(rating(State.fresh(), "chord 6-"))
    mean, sd = rating(State.fresh(), "chord 6-").mean, rating(State.fresh(), "chord 6-").sd
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


def test_only_what_keeps_the_protocol_counts() -> None:
    """Two listens, a pause, another tempo or no times give no result."""
    bars = [Bar(("chord 1",))] * 4
    kept = {"listens": 1, "paused": False, "tempo_ratio": 1.0}
    assert speed_result(bars, 4.0, NOW, **kept) is not None  # type: ignore[arg-type]
    for change in ({"listens": 2}, {"paused": True}, {"tempo_ratio": 0.8}):
        assert speed_result(bars, 4.0, NOW, **kept | change) is None
    late = [Bar(("chord 1",), lag_beats=None)] * 4
    assert speed_result(late, 4.0, NOW, **kept) is None  # type: ignore[arg-type]


def test_keeping_up_is_right_and_in_time() -> None:
    """Bars count that are wholly right and written before the next bar ends; added ones do not."""
    bars = [
        Bar(("chord 1",), lag_beats=4.0),
        Bar(("chord 1",), lag_beats=8.0),
        Bar(("chord 1",), lag_beats=8.1),
        Bar(("chord 1",), lag_beats=2.0, score=0.9),
        Bar(("chord 1",), reference=None, lag_beats=None),
    ]
    found = speed_result(bars, 4.0, NOW, listens=1, paused=False, tempo_ratio=1.0)
    assert found is not None
    assert (found.kept_up, found.right, found.lag_beats) == (0.5, 0.75, 6.0)


def test_history_of_self_tests() -> None:
    """The last result is held against those before it: best, percentile, ties half."""
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
