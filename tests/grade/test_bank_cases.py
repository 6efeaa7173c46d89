from __future__ import annotations

import pytest

from .bank_cases import BankError, bank_cases, parse_case

GOOD = """about: One bar is wrong.
fair: 70 to 80
says: bar 3
says: listen
never: left out
right: 1-2, 4

--- played
key: D
1 4 5 1
--- written
1 4 4 1
"""


def test_a_case_is_read() -> None:
    """Every line of a case's file arrives in its field."""
    case = parse_case("one", GOOD)
    assert (case.least, case.most) == (0.7, 0.8)
    assert [pattern.pattern for pattern in case.says] == ["bar 3", "listen"]
    assert [pattern.pattern for pattern in case.never] == ["left out"]
    assert case.right == (1, 2, 4)
    assert case.asks == "everything"
    assert case.may_add_errors
    assert len(case.played.bars()) == 4
    assert case.written is not None
    assert case.written.key == case.played.key


def test_an_answer_may_be_empty() -> None:
    """Nothing after the last line of dashes is an answer without a chart."""
    assert parse_case("none", GOOD.replace("1 4 4 1", "")).written is None


@pytest.mark.parametrize(
    ("good", "bad", "message"),
    [
        ("fair: 70 to 80\n", "", "no fair:"),
        ("70 to 80", "80 to 70", "the least first"),
        ("70 to 80", "many", "percents"),
        ("says: bar 3", "says: (bar", "a pattern"),
        ("says: bar 3", "says:", "nothing after it"),
        ("about", "abuot", "a line that starts with one of"),
        ("right: 1-2, 4", "right: 1-5", "bars from 1 to 4"),
        ("right: 1-2, 4", "right: one", "a bar or a range"),
        ("right: 1-2, 4", "asks: melody", "one of everything, chords, roots"),
        ("right: 1-2, 4", "fair: 1 to 2", "a second fair:"),
        ("--- written", "--- write", "0 lines '--- written'"),
    ],
)
def test_a_wrong_file_is_refused_with_its_reason(good: str, bad: str, message: str) -> None:
    """The error names the file, what was found and what was expected."""
    assert good in GOOD
    with pytest.raises(BankError, match="one") as caught:
        parse_case("one", GOOD.replace(good, bad))
    assert message in str(caught.value)


def test_every_file_of_the_bank_can_be_read() -> None:
    """The bank holds no file that is not a case, and each range is one a teacher could use."""
    cases = bank_cases()
    assert len(cases) >= 180
    for case in cases:
        assert case.most - case.least < 0.165, case.name


def test_the_bank_has_no_pair_twice() -> None:
    """No two cases hold the same song with the same answer for the same request."""
    pairs = [(case.played, case.written, case.asks) for case in bank_cases()]
    assert len(set(pairs)) == len(pairs)
