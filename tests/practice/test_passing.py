"""A pass means the skill: verdicts on charts of writers who are deaf to what a level introduces."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

import pytest

from tests.benchmarks.deaf import song, songs_for, write
from tests.benchmarks.deaf_charts import Deafness, deafnesses, with_slips
from tests.practice.samples import NOW
from trainer.chart import Bar, Event, Meter, Phrase, format_chart, parse
from trainer.exercise import LEAST_PLACES, Level, load_course, make_exercise
from trainer.practice import (
    Conditions,
    LearnerState,
    attempt_evidence,
    describe_verdict,
    passing,
    rating,
    update_state,
)

COURSE = load_course()
BY_ID = {level.id: level for level in COURSE}
INTRODUCING = [level for level in COURSE if level.introduced]
DEAF = [(level, way) for level in INTRODUCING for way in deafnesses(level)]
# Ratings are about bars that have the skill: writing it in every bar does not lower them.
UNHEARD = [(level, way) for level, way in DEAF if not way.name.startswith("every ")]
UNHEARD += [(level, way) for level, way in DEAF if way.name == "every bar in 4/4"]
SONGS = 3


def _name(value: object) -> str:
    if isinstance(value, Level):
        return f"level {value.number}"
    return value.name if isinstance(value, Deafness) else ""


def test_every_level_that_introduces_a_skill_has_a_deaf_writer() -> None:
    """Of all that levels introduce only home and the feels with a meter of their own or a shuffle
    have none: home is what the others are counted from, a feel is not written."""
    heard = {way.skill for _, way in DEAF}
    introduced = {skill for level in COURSE for skill in level.introduced}
    assert introduced - heard == {
        "chord 1", "feel waltz", "feel 6/8", "feel shuffle", "feel 12/8",
    }  # fmt: skip


@pytest.mark.many
@pytest.mark.parametrize(("level", "way"), DEAF, ids=_name)
def test_a_deaf_chart_does_not_pass(level: Level, way: Deafness) -> None:
    """With the skill ignored and all else right the level is not passed, and the skill is named
    with its bars."""
    for exercise in songs_for(level, way.skill, SONGS):
        verdict = write(level, exercise, way.write(exercise.chart)).verdict
        assert not verdict.passed
        missing = {each.skill: each for each in verdict.missing}
        if way.skill.startswith(("feel", "meter 12/8")):
            assert not verdict.reached
            continue
        assert missing[way.skill].places >= LEAST_PLACES
        assert missing[way.skill].missed or missing[way.skill].added
        assert any(" bar" in text for text in describe_verdict(verdict))


@pytest.mark.many
@pytest.mark.parametrize("level", COURSE, ids=_name)
def test_a_perfect_chart_passes(level: Level) -> None:
    """A chart as it was played passes every level."""
    for seed in range(SONGS):
        exercise = song(level, seed)
        verdict = write(level, exercise, exercise.chart).verdict
        assert verdict.passed
        assert all(each.credit == 1 for each in verdict.skills)
        promised = set(level.recipe.thrice)
        assert promised <= {each.skill for each in verdict.skills if each.is_there}


@pytest.mark.many
@pytest.mark.parametrize("level", INTRODUCING, ids=_name)
def test_slips_of_other_kinds_pass(level: Level) -> None:
    """Three slips of kinds that the level does not teach leave it passed."""
    rng = random.Random(level.number)
    for seed in range(SONGS):
        exercise = song(level, seed)
        assert write(level, exercise, with_slips(exercise, level, rng)).verdict.passed


@pytest.mark.many
@pytest.mark.parametrize(("level", "way"), UNHEARD, ids=_name)
def test_a_deaf_chart_lowers_the_rating(level: Level, way: Deafness) -> None:
    """The rating of a skill that was written before falls when a chart is deaf to it."""
    conditions = Conditions(NOW)
    state = LearnerState.fresh()
    exercises = songs_for(level, way.skill, 2)
    first = write(level, exercises[0], exercises[0].chart)
    state = update_state(state, attempt_evidence(exercises[0], first.bars, conditions))
    before = rating(state, way.skill).mean
    written = write(level, exercises[1], way.write(exercises[1].chart))
    shift = written.report.home_shift.kind if written.report.home_shift is not None else None
    later = Conditions(NOW + timedelta(minutes=5), home_shift=shift)
    state = update_state(state, attempt_evidence(exercises[1], written.bars, later))
    assert rating(state, way.skill).mean < before


def test_a_key_change_has_places_of_its_own() -> None:
    """One change of key has six places: its mark, its interval and four bars in the new key."""
    level = BY_ID["up-a-step"]
    exercise = make_exercise(level.recipe, 0, level)
    assert exercise.skills.count("key change") == 1
    (found,) = (
        each
        for each in write(level, exercise, exercise.chart).verdict.skills
        if each.skill == "key change"
    )
    assert found.places == 6


def test_a_skill_of_earlier_levels_may_slip() -> None:
    """A skill that a level only names again takes three fifths of its credit, a new one four."""
    level = BY_ID["minor-sections"]
    assert "minor home" not in level.introduced
    (exercise,) = songs_for(level, "chord b3", 1)
    judged = write(level, exercise, exercise.chart).verdict.skills
    needed = {each.skill: each.needed for each in judged}
    assert (needed["minor home"], needed["chord b3"]) == (0.6, 0.8)


def test_counted_from_the_relative_major_only_the_home_is_not_there() -> None:
    """Right but for its home, a minor song says nothing of the chords that the level introduces."""
    level = BY_ID["minor-phrases"]
    (exercise,) = songs_for(level, "minor home", 1)
    (way,) = (way for way in deafnesses(level) if way.skill == "minor home")
    written = write(level, exercise, way.write(exercise.chart))
    assert written.report.home_shift is not None
    assert written.report.home_shift.kind == "relative major"
    assert [each.skill for each in written.verdict.missing] == ["minor home"]


def test_another_meter_throughout_adds_no_short_bars() -> None:
    """A chart in three for a song in four misses the short bars; it has none of its own."""
    level = BY_ID["short-bars"]
    (exercise,) = songs_for(level, "short bar", 1)
    three = Meter(3, 4)
    answer = replace(
        exercise.chart,
        meter=three,
        sections=tuple(
            replace(
                section,
                phrases=tuple(
                    Phrase(tuple(Bar(three, (Event(bar.events[0].chord, Fraction(3)),))
                                 for bar in phrase.bars))
                    for phrase in section.phrases
                ),
            )
            for section in exercise.chart.sections
        ),
    )  # fmt: skip
    judged = {each.skill: each for each in write(level, exercise, answer).verdict.skills}
    assert judged["short bar"].missed
    assert judged["short bar"].added == ()


@pytest.mark.parametrize(
    ("places", "least", "said"),
    [
        (0, 3, "This came up not at all here; the level needs it three times."),
        (2, 3, "This came up twice here; the level needs it three times."),
        (3, 4, "This came up three times here; the level needs it four times."),
    ],
)
def test_a_skill_met_too_rarely_is_told_with_how_often_it_is_needed(
    places: int, least: int, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence counts what there was and what the course asks for, whatever that is."""
    monkeypatch.setattr(passing, "LEAST_PLACES", least)
    found = passing.SkillVerdict("hold", places, 1.0, 0.8, ())
    assert describe_verdict(passing.Verdict(True, (found,)))[0].endswith(said)


@pytest.mark.parametrize(
    ("bars", "said"),
    [
        ((3,), "Look at bar 3."),
        ((3, 7), "Look at bars 3 and 7."),
        (tuple(range(1, 11)), "Look at bars 1, 2, 3, 4, 5, 6, 7, 8 and 2 more."),
    ],
)
def test_missed_bars_are_listed_as_in_a_sentence(bars: tuple[int, ...], said: str) -> None:
    """The last bar, or how many more there are, follows an "and"."""
    found = passing.SkillVerdict("hold", 10, 0.0, 0.8, bars)
    assert describe_verdict(passing.Verdict(True, (found,)))[0].endswith(said)


def test_one_slip_throughout_is_said_to_cost_little_and_not_to_pass() -> None:
    """Level 2 with every 6- written as 1: the grade reaches the mark, the level is not passed, and
    the sentence says why in plain words.
    """
    level = COURSE[1]
    way = next(way for each, way in DEAF if each is level and way.skill == "chord 6-")
    reached = [
        written
        for exercise in songs_for(level, "chord 6-", 20)
        if (written := write(level, exercise, way.write(exercise.chart))).verdict.reached
    ]
    assert reached
    for written in reached:
        assert not written.verdict.passed
        (said,) = describe_verdict(written.verdict)
        assert said.startswith(
            "Needs work: 6-. You wrote 1 for every 6-. It's one slip, so your grade is still high "
            "enough; but this level is about 6-, so you haven't passed it yet. You got "
        )


def test_two_chords_written_for_one_are_not_said_to_be_one_slip() -> None:
    """With 1 for one 6- and 4 for the others no single slip is named."""
    level = COURSE[1]
    exercise = songs_for(level, "chord 6-", 1)[0]
    text = format_chart(exercise.chart)
    answer = parse(text.replace("6-", "1", 1).replace("6-", "4"))
    (said, *_) = describe_verdict(write(level, exercise, answer).verdict)
    assert "for every" not in said
