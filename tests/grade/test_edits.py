"""Edits of whole bars: named once, charged once, and everything around keeps its credit."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.grade import SCHEMES, Report, Weights, grade

BARS = Weights(phrases=0.0, form=0.0)
VERSE, CHORUS, BRIDGE = (
    "Verse:\n1 5/7 6- 4 . 1 4 2- 5\n", "Chorus:\n4 5 (1 5) 6- . 2- 4 5 1\n",
    "Bridge:\n3- 6- 2- 2\n",
)  # fmt: skip


def report(song: str, answer: str, weights: Weights = BARS) -> Report:
    """The grade, by bars alone unless weights are given."""
    return grade(parse(song), parse(answer), weights=weights)


def lost(song: str, answer: str) -> float:
    """How many bars the answer lost."""
    return len(parse(song).bars()) * (1 - report(song, answer).score)


@pytest.mark.parametrize(
    ("song", "answer", "edit", "bars"),
    [
        ("1 4 2- 5", "1 2- 5", ("left out", "bar"), 1),
        ("1 4 5 1 . 2- 5 6- 6-", "1 4 5 1", ("not written", "stretch"), 4),
        (VERSE + CHORUS + BRIDGE, VERSE + BRIDGE, ("left out", "section"), 8),
        ("1 4 2- 5", "1 4 4 2- 5", ("doubled", "bar"), 1),
        ("1 4 2- 5 . 6- 6- 4 5", "1 4 2- 5 . 1 4 2- 5 . 6- 6- 4 5", ("doubled", "phrase"), 2),
        ("1 4 2- 5", "1 4 3- 2- 5", ("added", "bar"), 1),
        ("1 (4 5) 6- 1", "1 4 5 6- 1", ("split written as two bars", "bar"), 0.75),
        ("1 (4''' 5') 6- 1", "1 4 5 6- 1", ("split written as two bars", "bar"), 0.75),
        ("1 4 5 6- 1", "1 (4 5) 6- 1", ("two bars written as one", "bar"), 0.75),
        ("1 4 5 1 . 2- 5 6- 6-", "2- 5 6- 6- . 1 4 5 1", ("swapped", "phrase"), 2),
        (VERSE + CHORUS + BRIDGE, CHORUS + VERSE + BRIDGE, ("swapped", "section"), 2),
        (VERSE + CHORUS + BRIDGE, BRIDGE + CHORUS + VERSE, ("swapped", "section"), 2),
        (VERSE + CHORUS + BRIDGE, CHORUS + BRIDGE + VERSE, ("swapped", "section"), 2),
        ("1 4 5 6-", "1 5 4 6-", ("swapped", "bar"), 2),
    ],
)
def test_one_edit_is_named_once_and_charged_once(
    song: str, answer: str, edit: tuple[str, str], bars: float
) -> None:
    """One edit, one piece of advice, and the cost declared for it."""
    found = report(song, answer)
    assert [(one.kind, one.unit) for one in found.edits] == [edit]
    assert [one.kind for one in found.advice] == [edit[0]]
    assert lost(song, answer) == pytest.approx(bars)
    assert found.advice[0].cost == pytest.approx(1 - found.score)


def test_bars_of_swapped_sections_are_graded_against_their_own() -> None:
    """In the other order, with one chord wrong and one bar left out: three things said, each bar
    else at 1.
    """
    answer = (CHORUS + VERSE).replace("2- 4 5 1", "2- 4 5 6-").replace("1 4 2- 5", "1 4 5")
    found = report(VERSE + CHORUS, answer)
    assert [(one.kind, one.reference) for one in found.edits] == [
        ("swapped", tuple(range(1, 17))),
        ("left out", (7,)),
    ]
    assert [one.kind for one in found.advice] == ["swapped", "left out", "other chord"]
    assert [bar.reference for bar in found.bars if bar.score < 1] == [7, 16]
    assert [bar.reference for bar in found.bars] == list(range(1, 17))
    assert {bar.reference: bar.answer for bar in found.bars}[1] == 9


def test_swapped_sections_cost_their_order_in_form_too() -> None:
    """Two bars of sixteen and half of what form is worth; phrases keep their boundaries."""
    found = report(VERSE + CHORUS, CHORUS + VERSE, Weights())
    assert found.form.order == 0.5
    assert found.phrases.f == 1.0
    assert found.score == pytest.approx(1 - 0.9 * 2 / 16 - 0.03 * 0.5)


def test_two_swaps_are_two_edits() -> None:
    """Phrases the wrong way round in two sections."""
    turned = "Verse:\n1 4 2- 5 . 1 5/7 6- 4\n" + "Chorus:\n2- 4 5 1 . 4 5 (1 5) 6-\n"
    found = report(VERSE + CHORUS, turned)
    assert [(one.unit, one.reference[0]) for one in found.edits] == [
        ("phrase", 1),
        ("phrase", 9),
    ]
    assert lost(VERSE + CHORUS, turned) == pytest.approx(4)


def test_a_swap_is_not_seen_where_bars_are_merely_wrong() -> None:
    """A verse written where another was played is wrong bars, not a swap."""
    found = report(VERSE + CHORUS, VERSE + VERSE)
    assert not [one for one in found.edits if one.kind == "swapped"]


def test_chords_that_go_on_are_no_split() -> None:
    """One bar of 1 written as two bars of 1 is a doubled bar."""
    assert [one.kind for one in report("1 4 5", "1 1 4 5").edits] == ["doubled"]


def test_what_is_counted_half_is_one_edit_whatever_is_left_out_inside() -> None:
    """The halves of a bar find each other across bars that were left out between them."""
    song = "1 1 4 4 . 5 5 1 1 . 6- 6- 4 4 . 5 5 1 1 . 2- 2- 5 5 . 1 1 1 1"
    found = report(song, "1 4 . 5 1 . 6- 4 . 5 . 2- 5 . 1 1")
    assert [one.kind for one in found.edits if one.kind == "counted half"] == ["counted half"]
    named = [bar for one in found.edits for bar in one.reference]
    assert len(named) == len(set(named))


def test_a_chord_that_comes_early_is_not_forgiven_where_beats_are_not_asked_for() -> None:
    """Under a scheme without placement a wrong chord is wrong for as long as it stands."""
    found = report("1 4 5 1", "(1 4) 4 5 1", SCHEMES["roots"])
    assert found.bars[0].score == pytest.approx(0.5)
