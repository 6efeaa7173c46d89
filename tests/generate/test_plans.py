"""Plans are joined from several songs, and chords are assigned to them by what real songs do."""

from __future__ import annotations

import random
from dataclasses import replace
from math import exp, log
from statistics import mean

import pytest

from tests.generate.draws import base, chords_of, everyday
from trainer.chart import Chart
from trainer.generate import Features, Settings, generate
from trainer.generate.assign import Assignment
from trainer.generate.crossed_plans import crossed_plan
from trainer.generate.likelihood import Values, odds, thousandths_of
from trainer.generate.plan_facts import changes_of, facts_of
from trainer.generate.plans import SILENT, Plan, all_plans, draw_world, read_plan

# A verse of two lines, the second like the first but for its end, and a chorus with a slash chord.
SMALL = {
    "minor": 0, "half": 0, "chords": 3, "fades": 0, "from": [-1, 0, -1], "marks": [0, 0, 0],
    "lines": ["0|0|1|0", "0|0|1|2", "1|2/t 0|0|-"], "sections": [["V", [0, 1]], ["C", [2, 2]]],
}  # fmt: skip


def numbers_of(plan: Plan) -> set[int]:
    """Return the chord numbers of a plan, silence left out."""
    found = {event.chord for line in plan.lines for bar in line for event in bar}
    return found - {SILENT}


def test_facts_say_what_a_plan_does() -> None:
    """A plan's facts have its changes, ends, kinds, basses and what a varied line has instead."""
    facts = set(facts_of(read_plan(SMALL)))
    assert {
        ("pair", (0, 1)),
        ("pair", (1, 0)),
        ("pair", (1, 2)),
        ("three", (0, 1, 2)),
        ("place l1", (1, 0)),
        ("place m2", (2, 0)),
        ("start L", (0, 0)),
        ("start S", (2, 1)),
        ("send verse chorus", (2,)),
        ("send chorus end", (0,)),
        ("kind chorus", (2,)),
        ("bass t", (2,)),
        ("bass to t", (2, 0)),
        ("bass from t", (2, 1)),
        ("split", (2, 0)),
        ("instead l", (0, 2)),
        ("first", (0,)),
    } <= facts
    assert ("pair", (0, 2)) not in facts


def test_silence_counts_to_the_chord_before_it() -> None:
    """A chord before a silent bar lasts through it."""
    plan = read_plan(SMALL)
    assert [(c.chord, c.quarters) for c in changes_of(plan.lines[2])] == [(1, 4), (2, 2), (0, 10)]


def test_joined_plans_keep_the_form() -> None:
    """A joined plan has the sections and line lengths of its form, and numbers without a gap."""
    rng = random.Random(3)
    joined = 0
    for plan in all_plans():
        made = crossed_plan(rng, plan)
        joined += made is not plan
        assert made.sections == plan.sections
        assert list(map(len, made.lines)) == list(map(len, plan.lines))
        assert numbers_of(made) | {0} == set(range(made.chords))
        assert len(made.forms) == made.chords <= plan.chords
        assert all(source < line for line, source in enumerate(made.derived))
    assert joined > len(all_plans()) / 3


def test_exchanges_make_chords_fit_better() -> None:
    """Chords fit a plan better after exchanges than before, on average."""
    rng = random.Random(5)
    gains = []
    for plan in all_plans()[:80]:
        home, *others = draw_world(rng, plan, (), 1.0, 1.0).forms
        made = Assignment(plan, home, others, {})
        before, chords = made.worth, sorted(made.tokens)
        made.exchange(rng, 8)
        assert sorted(made.tokens) == chords
        assert made.tokens[0] == home
        gains.append(made.worth - before)
    assert mean(gains) > 200


def test_a_style_moves_chords() -> None:
    """Of two chords, the one a style leans to takes the number that is moved to more."""
    plan = replace(read_plan(SMALL), forms=(1, 1, 1))
    worth = [
        Assignment(plan, "1", others, {"4": 2.0}).worth - Assignment(plan, "1", others, {}).worth
        for others in (["4", "5"], ["5", "6-"])
    ]
    assert worth[0] > 0 == worth[1]


@pytest.mark.parametrize("factor", [0.25, 0.9, 1.0, 2.0, 2.5])
def test_thousandths_are_those_of_a_logarithm(factor: float) -> None:
    """Factors and thousandths of their natural logarithm are turned into each other."""
    assert thousandths_of(factor) == pytest.approx(1000 * log(factor), abs=1.5)
    assert odds(-thousandths_of(min(factor, 1.0))) == pytest.approx(min(factor, 1.0), rel=0.002)
    assert odds(3000) == pytest.approx(exp(-3), rel=0.002)


def test_chords_without_a_value_have_that_of_the_star() -> None:
    """Chords that a table does not name have the value of its star, or 0 where it has none."""
    values = Values({("1", "4"): 7, ("1", "*"): -5})
    assert [values["1", "4"], values["1", "5"], values["2-", "5"]] == [7, -5, 0]


def test_the_five_takes_no_major_seventh() -> None:
    """No everyday song has a 5 with a major seventh, which does not lead home."""
    names = {str(chord) for chart in everyday(150) for chord in chords_of(chart.bars())}
    assert "5^7" in names
    assert "5^maj7" not in names


def blues(later_changes: float) -> list[Chart]:
    """Return twelve-bar songs."""
    settings = Settings(
        styles=("twelve-bar blues",), features=Features(splits=0.1, later_changes=later_changes)
    )
    return [generate(settings, random.Random(seed)) for seed in range(60)]


def different_verses(chart: Chart) -> int:
    """Return in how many ways the verses of a song but the last go."""
    return len({section.phrases for section in chart.sections[:-1] if section.kind == "verse"})


def test_later_verses_of_a_blues_differ() -> None:
    """Where a recipe lets later sections change, most twelve-bar songs have verses that differ, in
    bar 2, 10 or 12 only."""
    songs = [song for song in blues(1.0) if len(song.sections) > 3]
    assert mean(different_verses(song) > 1 for song in songs) > 0.5
    for song in songs:
        verses = [
            [base(chords_of((bar,))[0]) for phrase in section.phrases for bar in phrase.bars]
            for section in song.sections[:-1]
            if section.kind == "verse" and len(section.phrases) == 3
        ]
        for verse in verses:
            differing = {at + 1 for at in range(12) if verse[at] != verses[0][at]}
            assert differing <= {2, 10, 12}


def test_blues_verses_stay_where_nothing_may_change() -> None:
    """Where a recipe lets nothing change, all verses but the last are alike."""
    assert {different_verses(song) for song in blues(0.0)} <= {0, 1}
