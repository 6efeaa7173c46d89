"""Weights and schemes."""

from __future__ import annotations

import math
from dataclasses import fields

import pytest

from trainer.chart import parse
from trainer.errors import SettingsError
from trainer.grade import SCHEMES, Weights, grade, weights_for, weights_from, weights_table


def score(reference: str, answer: str, scheme: str) -> float:
    """The grade under a named scheme."""
    return grade(parse(reference), parse(answer), weights=SCHEMES[scheme]).score


def test_the_strict_scheme_gives_nothing_for_nearly() -> None:
    """A wrong bass, quality or extension costs the whole chord."""
    for near in ("5", "5-/7", "5^7/7", "7-"):
        assert score("1 5/7 1 1", f"1 {near} 1 1", "strict") == pytest.approx(0.75)
    assert score("1 1^6 1 1", "1 6-^7/1 1 1", "strict") == 1.0


def test_the_roots_scheme_looks_at_roots_alone() -> None:
    """Quality, extension, bass and articulation do not matter; a wrong root costs the bar."""
    assert score("1 5^7/7 6- 1d", "1 5 6 1", "roots") == 1.0
    assert score("1 4 5 1", "1 2- 5 1", "roots") == pytest.approx(0.75)


def test_the_symbols_scheme_follows_the_published_rubric() -> None:
    """One point a symbol, half for the right numeral with wrong or missing figures.

    Source: College Board, AP Music Theory Scoring Guidelines 2016 question 3. Eight symbols, two
    with a figure missing and one wrong: 5 + 2/2 = 6 points of 8.
    """
    played, written = "1 5/7 1 4 2-^7 5 5^7 1", "1 5 1 2- 2- 5 5^7 1"
    assert 8 * score(played, written, "symbols") == pytest.approx(6.0)


def test_the_published_arithmetic_comes_out_on_whole_answers() -> None:
    """Source: as above. 16 pitches and 8 symbols make 24 points; one figure missing is 23½, which
    is 23; with one pitch wrong too it is 22½, which is 23; the case of a numeral is ignored.
    """
    played = "1 5/7 1 4 2-^7 5 5^7 1"
    for written, symbols in (
        (played, 8.0),
        ("1 5/7 1 4 2^7 5 5^7 1", 8.0),
        ("1 5/7 1 4 2- 5 5^7 1", 7.5),
        ("1 5/7 1 4 2- 5 5 1", 7.0),
        ("1 5/7 1 6- 2- 5 5 1", 6.0),
    ):
        assert 8 * score(played, written, "symbols") == pytest.approx(symbols)


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ({"roots": 3}, "unknown key 'roots'.*root"),
        ({"root": "much"}, "weights.root.*'much'.*a number"),
        ({"root": True}, "weights.root.*a number"),
        ({"plain_minor": 1}, "weights.plain_minor.*true or false"),
        ({"root": -1}, "weights.root.*0 to 1000"),
        ({"added": 0.2}, "weights.added.*0.5 to 1"),
        ({"swapped": 0}, "weights.swapped.*1 to 1000"),
        ({"shared_tones": 2}, "weights.shared_tones.*0 to 1"),
        ({"quality": math.inf}, "weights.quality.*inf"),
        ({"root": 0, "quality": 0, "bass": 0}, "at least one"),
        ({"scheme": "lax"}, "weights.scheme.*standard, strict"),
        ({"bars": 0}, "weights.bars"),
    ],
)
def test_bad_weights_are_refused_by_name(settings: dict[str, object], said: str) -> None:
    """The error names the key, what was found and what is allowed."""
    with pytest.raises(SettingsError, match=said):
        weights_from(settings)


def test_settings_change_the_scheme_they_start_from() -> None:
    """A teacher's table names a scheme and what differs."""
    weights = weights_from({"scheme": "strict", "articulation": 3, "plain_minor": True})
    assert (weights.all_or_nothing, weights.articulation, weights.plain_minor) == (True, 3, True)
    assert weights_from({}) == Weights()


def test_what_an_exercise_asks_decides_what_counts() -> None:
    """Roots, chords without articulation, or everything."""
    played, written = parse("1 5/7 6- 1d"), parse("1 5 6- 1")
    assert grade(played, written, weights=weights_for("roots")).score == 1.0
    chords = grade(played, written, weights=weights_for("chords"))
    assert [advice.kind for advice in chords.advice] == ["bass left out"]
    everything = grade(played, written, weights=weights_for("everything"))
    assert everything.score < chords.score < 1.0
    with pytest.raises(SettingsError, match="roots, chords, everything"):
        weights_for("all")


# This changes how other parts count, and is told with them.
NO_PARTS = ("all_or_nothing",)


@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_table_for_learners_names_all_that_counts(scheme: str) -> None:
    """Each weight above 0 is in it once with its meaning; nothing that does not count is."""
    weights = SCHEMES[scheme]
    rows = weights_table(weights)
    together = {"quality", "bass"} if weights.all_or_nothing else set()
    counted = {
        name
        for name in (field.name for field in fields(Weights))
        if getattr(weights, name) > 0 and name not in NO_PARTS
    }
    if counted & together:
        counted = counted - together | {"chord"}
    assert sorted(row.part for row in rows) == sorted(counted)
    assert all(row.meaning and row.weight > 0 for row in rows)


def test_a_bar_too_many_costs_what_a_bar_left_out_does() -> None:
    """Either takes one bar of the song away, so the account is the same from both sides."""
    weights = Weights(phrases=0.0, form=0.0)
    short, long = "1 5/7 6- 4", "1 5/7 2- 6- 4"
    assert grade(parse(short), parse(long), weights=weights).score == pytest.approx(3 / 4)
    assert grade(parse(long), parse(short), weights=weights).score == pytest.approx(4 / 5)


def test_guessing_twice_never_beats_the_likelier_guess() -> None:
    """With a bar too many at half a bar or more, a second guess of even odds gains nothing."""
    one = (
        grade(parse("1 4 5 1"), parse("1 4 5 1")).score
        + grade(parse("1 2- 5 1"), parse("1 4 5 1")).score
    )
    both = (
        grade(parse("1 4 5 1"), parse("1 4 2- 5 1")).score
        + grade(parse("1 2- 5 1"), parse("1 4 2- 5 1")).score
    )
    assert both <= one
