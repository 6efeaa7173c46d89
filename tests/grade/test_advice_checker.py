"""Every sentence of advice is true of the two charts, and every wrong bar is spoken of."""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import cache

import pytest

from tests.thorough import how_many
from trainer.chart import Chart, parse
from trainer.grade import SCHEMES, Advice, Report, Weights, grade
from trainer.grade.report import Case

from .advice_checker import FalseSentence, check_advice, check_summary, missing_cases
from .bank_cases import bank_cases
from .mutations import mutated, songs
from .worked import MISTAKES, WorkedMistake

SEEDS, THOROUGH_SEEDS = 400, 8000


def check(report: Report, reference: Chart, answer: Chart) -> None:
    """All that is said of an answer is true, and all that is wrong is said."""
    check_advice(report.advice, reference, answer)
    check_summary(report.summary, report.advice, reference, answer)
    wrong = [(bar.reference, bar.answer) for bar in report.bars if bar.score < 1.0]
    assert missing_cases(report.advice, wrong) == []


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda one: one.name)
def test_worked_mistakes_are_told_truly(mistake: WorkedMistake) -> None:
    """What is said of each worked mistake is true of its charts."""
    report = mistake.report()
    if mistake.written is not None:
        check(report, mistake.played, mistake.written)


@cache
def _songs() -> tuple[Chart, ...]:
    return tuple(songs(random.Random(11), 40))


def _answers(first: int, last: int) -> Iterator[tuple[int, Chart, Chart, Weights]]:
    for seed in range(first, last):
        rng = random.Random(seed)
        reference = rng.choice(_songs())
        scheme = rng.choice(("standard",) * 5 + tuple(SCHEMES))
        yield seed, reference, mutated(reference, rng), SCHEMES[scheme]


@pytest.mark.many
@pytest.mark.hypothesis
@pytest.mark.parametrize("block", range(10))
def test_advice_on_songs_written_as_people_err_is_true(block: int) -> None:
    """Generated songs with a few mistakes of every kind: no false sentence, no bar without one."""
    size = how_many(SEEDS, THOROUGH_SEEDS) // 10
    for seed, reference, answer, weights in _answers(block * size, (block + 1) * size):
        report = grade(reference, answer, weights=weights)
        try:
            check(report, reference, answer)
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error


def advice(text: str, *cases: tuple[int | None, int | None, str, str]) -> list[Advice]:
    """One piece of advice."""
    return [Advice("", text, 0.0, tuple(Case(*case) for case in cases))]


SONG = parse("Verse:\n1 4 2- 5 . 1 (4 5) 6- 1d\nTag:\n4 5 1")
ANSWER = parse("Verse:\n1 4 4 5 . 1 4 6- 1\nTag:\n4 5 1")
OTHER = (3, 3, "2-", "4")


@pytest.mark.parametrize(
    ("text", "case"),
    [
        ("Bar 4 (bar 4 of Verse): the band played 2- and you wrote 4.", OTHER),
        ("Bar 3 (bar 3 of Tag): the band played 2- and you wrote 4.", OTHER),
        ("Bar 3 (Verse): the band played 6- and you wrote 4.", OTHER),
        (
            (
                "Bar 3 (Verse): the band played 2- and you wrote 4. The chords share no notes. "
                "Listen to the bass: it's on 2, not 4."
            ),
            OTHER,
        ),
        (
            (
                "Bar 3 (Verse): the band played 2- and you wrote 4. The chords share two notes "
                "(4 and 1). Listen to the bass: it's on 2, not 4."
            ),
            OTHER,
        ),
        (
            (
                "Bar 3 (Verse): the band played 2- and you wrote 4. The chords share two notes "
                "(4 and 6). Listen to the bass: it's on 4, not 2."
            ),
            OTHER,
        ),
        ("Bar 3 (Verse): the band played 2- and you wrote 4 (1 of the 2 bars with 2-).", OTHER),
        ("Bar 3 (Verse): the band played 2- and you wrote 4. The root is right.", OTHER),
        ("You wrote 4 every time the band played 2-: bars 3 and 7.", OTHER),
        (
            (
                "Bar 6 (Verse): the band played 4 and 5, three beats and then one, and you "
                "wrote 4 for the whole bar."
            ),
            (6, 6, "(4 5)", "4"),
        ),
        (
            (
                "Bar 6 (Verse): the band played 4 and 5, two beats each, and you wrote 5 for "
                "the whole bar."
            ),
            (6, 6, "(4 5)", "4"),
        ),
        ("Bar 8 (Verse): the band played a push, 1d, and you missed it.", (8, 8, "1d", "1")),
        (
            (
                "Bar 8 (Verse): the band played a hold (diamond), 1d, and you missed it. "
                "Listen: on a push, the chord comes an eighth before the beat."
            ),
            (8, 8, "1d", "1"),
        ),
        ("You left out bar 3 (Verse): the band played 2- there.", (3, 3, "2-", "4")),
        ("You left out bar 3 (Verse): the band played 2- there.", (3, None, "2-", "")),
        ("You didn't mark the phrase end after bar 3 of the song.", (3, None, "", "")),
        ("All is well.", OTHER),
    ],
)
def test_false_sentences_are_found(text: str, case: tuple[int, int | None, str, str]) -> None:
    """The checker itself tells a wrong bar, section, chord, note, bass, count, length and sign."""
    with pytest.raises(FalseSentence):
        check_advice(advice(text, case), SONG, ANSWER)


def test_true_sentences_are_believed() -> None:
    """The same sentences, put right, pass."""
    report = grade(SONG, ANSWER)
    check_advice(report.advice, SONG, ANSWER)
    assert len(report.advice) == 3


@pytest.mark.many
def test_advice_on_the_bank_is_true() -> None:
    """Every pair of the bank: no false sentence, no wrong bar without one."""
    for case in bank_cases():
        if case.written is None:
            continue
        report = grade(case.played, case.written, weights=case.weights)
        try:
            check(report, case.played, case.written)
        except AssertionError as error:
            raise AssertionError(f"{case.name}: {error}") from error
