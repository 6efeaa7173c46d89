"""Two charts side by side, and one of both."""

from __future__ import annotations

import random

import pytest

from trainer.chart import Chart, format_chart, parse
from trainer.errors import InputError
from trainer.generate import Settings, generate
from trainer.songbook import Agreement, Side, Songbook, compare, merge

LEFT = "key: D\n\nVerse:\n1 4 5 1\n4 4 1 5\n\nChorus:\n1 5 6- 4\n"


def chart(text: str) -> Chart:
    """A chart from its text."""
    return parse(text)


def test_equal_charts_agree() -> None:
    """A chart beside itself has no difference, and a merge of the two is the chart."""
    found = compare(chart(LEFT), chart(LEFT))
    assert found.differences == ()
    assert found.facts == ()
    assert merge(found, {}) == chart(LEFT)


def test_differences_are_told_by_kind() -> None:
    """A bar that differs and bars on one side only are told from those that agree."""
    right = chart("key: E\n\nVerse:\n1 4 5/7 1\n4 4 1\n\nChorus:\n1 5 6- 4 4\n")
    found = compare(chart(LEFT), right)
    told = [(row.left, row.right, row.agreement) for row in found.rows]
    assert (3, 3, Agreement.DIFFERENT) in told
    assert (8, None, Agreement.ONLY_LEFT) in told
    assert (None, 12, Agreement.ONLY_RIGHT) in told
    assert len(found.differences) == 3
    assert [(each.name, each.left, each.right) for each in found.facts] == [("key", "D", "E")]


def test_a_merge_takes_the_chosen_side() -> None:
    """Each difference follows its choice; what is not chosen stays as the left one has it."""
    right = chart("key: E\n\nVerse:\n1 4 5/7 1\n4 4 1\n\nChorus:\n1 5 6- 4 4\n")
    found = compare(chart(LEFT), right)
    everything = dict.fromkeys(found.differences, Side.RIGHT)
    assert merge(found, everything, {"key": Side.RIGHT}) == right
    one = merge(found, {found.differences[0]: Side.RIGHT})
    assert one == chart(LEFT.replace("1 4 5 1", "1 4 5/7 1"))


def test_a_section_of_one_side_comes_in_whole() -> None:
    """A section that only the right chart has keeps its name and its phrases."""
    right = chart(LEFT + "\nBridge:\n2- 2- 3- 3-\n4 5 4 5\n")
    found = compare(chart(LEFT), right)
    assert merge(found, dict.fromkeys(found.differences, Side.RIGHT)) == right
    assert merge(found, {}) == chart(LEFT)


@pytest.mark.parametrize("seed", range(12))
def test_choosing_one_side_throughout_gives_its_bars(seed: int) -> None:
    """For any two songs, all choices to one side give just that side's bars."""
    rng = random.Random(seed)
    left, right = (generate(Settings(size="song"), rng) for _ in range(2))
    found = compare(left, right)
    everything = dict.fromkeys(found.differences, Side.RIGHT)
    assert [bar.events for bar in merge(found, everything).bars()] == [
        bar.events for bar in right.bars()
    ]
    assert merge(found, {}).bars() == left.bars()
    assert parse(format_chart(merge(found, everything))) == merge(found, everything)


def test_a_text_without_bars_is_on_one_side_only() -> None:
    """Beside nothing every bar is on one side; a merge of nothing is refused."""
    found = compare(None, chart("1 4"))
    assert [row.agreement for row in found.rows] == [Agreement.ONLY_RIGHT] * 2
    assert merge(found, {0: Side.RIGHT, 1: Side.RIGHT}) == chart("1 4")
    with pytest.raises(InputError, match="no bar"):
        merge(found, {})


def test_a_choice_where_nothing_differs_is_refused() -> None:
    """A choice for a row on which both agree is a mistake."""
    with pytest.raises(InputError, match="row 0"):
        merge(compare(chart(LEFT), chart(LEFT)), {0: Side.RIGHT})


def test_two_versions_become_a_third(book: Songbook) -> None:
    """What was chosen of two versions is saved as the next."""
    uid = book.new("1 4 5 1").uid
    book.save(uid, "1 4 5/7 6-")
    found = book.compare((uid, 1), (uid, 2))
    assert len(found.differences) == 2
    saved = book.merge(uid, found, {found.differences[0]: Side.RIGHT})
    assert saved.version.number == 3
    assert parse(saved.version.text).bars() == chart("1 4 5/7 1").bars()


def test_what_is_said_to_the_players_is_compared() -> None:
    """A changed note, a changed hit, other words about a section and another capo all show."""
    left = parse("capo: 3\n\nVerse: [drums out]\n1 4 5 1\n1 4 5 1 @ softly")
    right = parse("capo: 2\n\nVerse: [drums in]\n1 [build] 4 5 1\n1 4 *12 5 1")
    found = compare(left, right)
    assert found.differences == (1, 6)
    assert [(fact.name, fact.left, fact.right) for fact in found.facts] == [("capo", "3", "2")]
    assert [(each.name, each.left, each.right) for each in found.words] == [
        ("Verse", "drums out; softly", "drums in")
    ]
    merged = merge(found, {1: Side.RIGHT}, {"capo": Side.RIGHT})
    assert merged.capo == 2
    assert merged.sections[0].notes == ("drums out",)
    assert merged.sections[0].phrases[1].comments == ("softly",)
    assert [bar.notes for bar in merged.bars()[:2]] == [(), ("build",)]
