"""The teacher's rules at the head of docs/grading.md, each with its weight and an example."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from trainer.chart import parse
from trainer.grade import Weights, grade, whole_percent

__all__ = ["RULES", "Rule", "rules_table"]

TUNE = """Verse:
1 5/7 6- 4 . 1 4 2- 5
1 5/7 6- 4 . 2- 5 1 1
"""
MINOR = """key: A minor
Verse:
1- 1- b6 b7 . 1- 4- 5 5
b6 b7 1- 1- . 4- 5 1- 1-
"""


@dataclass(frozen=True)
class Rule:
    """What a writer did, which fields of `Weights` rate it, why so, and an example."""

    what: str
    weights: tuple[str, ...]
    reason: str
    song: str
    answer: str

    @property
    def score(self) -> float:
        """The grade of the example, 0 to 1."""
        return grade(parse(self.song), parse(self.answer)).score


RULES = (
    Rule(
        "Bars left out in two places",
        ("lost_place",),
        "the writer has lost the place as well, the second time",
        TUNE,
        TUNE.replace("1 4 2- 5\n1", "1 4 2-\n1").replace("2- 5 1 1", "2- 5 1"),
    ),
    Rule(
        "Holds missed throughout",
        ("slip", "articulation"),
        "it is one habit, but each hold is heard alone, so it costs up to three times one slip",
        TUNE.replace("6- 4 .", "6-d 4d .").replace("5\n", "5d\n").replace("1 1\n", "1 1d\n"),
        TUNE,
    ),
    Rule(
        "A bar left out at the end of a phrase",
        (),
        "it costs that bar, and the bars around it lose nothing",
        TUNE,
        TUNE.replace("1 4 2- 5\n1", "1 4 2-\n1"),
    ),
    Rule(
        "A bar too many",
        ("added",),
        "the band would play a bar too many, which is as bad as one too few",
        TUNE,
        TUNE.replace("6- 4 . 1", "6- 4 4 . 1", 1),
    ),
    Rule(
        "A phrase written twice that was played once",
        ("repeated",),
        "it is one slip in counting, and every chord was heard",
        TUNE,
        TUNE.replace("1 4 2- 5\n", "1 4 2- 5 . 1 4 2- 5\n"),
    ),
    Rule(
        "Two phrases in the wrong order",
        ("swapped",),
        "it is one slip, and the bars inside the phrases are right",
        TUNE,
        TUNE.replace("1 5/7 6- 4 . 1 4 2- 5\n", "1 4 2- 5 . 1 5/7 6- 4\n"),
    ),
    Rule(
        "A split bar written as two bars",
        ("split",),
        "the chords are right, but the count of bars is not",
        TUNE.replace("2- 5 1 1", "(2- 5) 1 1 1"),
        TUNE.replace("2- 5 1 1", "2- 5 1 1 1"),
    ),
    Rule(
        "The chart stops half-way",
        (),
        "what is there is graded, and the rest counts as not written",
        TUNE,
        "Verse:\n1 5/7 6- 4 . 1 4 2- 5\n",
    ),
    Rule(
        "Everything right, counted double throughout",
        ("other_count",),
        "every chord was heard, but every bar line is in the wrong place",
        TUNE,
        "Verse:\n1 1 5/7 5/7 6- 6- 4 4 . 1 1 4 4 2- 2- 5 5\n"
        "1 1 5/7 5/7 6- 6- 4 4 . 2- 2- 5 5 1 1 1 1",
    ),
    Rule(
        "Everything right from another 1",
        ("other_home",),
        "the shape is right, but the band would play it in another key",
        TUNE,
        "Verse:\n5 2/#4 3- 1 . 5 1 6- 2\n5 2/#4 3- 1 . 6- 2 5 5",
    ),
    Rule(
        "A minor song counted from its relative major",
        ("relative_home",),
        "musicians use both ways, but the chart uses the other one",
        MINOR,
        "Verse:\n6- 6- 4 5 . 6- 2- 3 3\n4 5 6- 6- . 2- 3 6- 6-",
    ),
    Rule(
        "A key change without its sign, the numbers right",
        ("key_sign",),
        "the band would stay in the old key, so only that section loses",
        TUNE.replace("\n1 5/7 6- 4 . 2-", "\n[up 2] 1 5/7 6- 4 . 2-"),
        TUNE,
    ),
    Rule(
        "The same pulse under another meter",
        ("other_pulse",),
        "12/8 sounds the same as a slow 4/4 with triplets",
        "meter: 12/8\n" + TUNE,
        TUNE,
    ),
    Rule(
        "Another meter throughout",
        ("other_meter",),
        "it is one thing to learn, so it is counted once",
        "meter: 3/4\n" + TUNE,
        TUNE,
    ),
    Rule(
        "Another root over the same bass, one note more or less",
        ("nearly_same",),
        "the two sound nearly the same: 7o is 5^7/7 without the 5",
        TUNE,
        TUNE.replace("1 5/7 6- 4 . 1 4", "1 7o 6- 4 . 1 4"),
    ),
    Rule(
        "Another root over the same bass with one note changed",
        ("one_note_off",),
        "the two share two notes, as 3- and 1/3 do",
        TUNE.replace("1 4 2- 5", "1 1/3 4 5"),
        TUNE.replace("1 4 2- 5", "1 3- 4 5"),
    ),
    Rule(
        "Another chord that shares half of the notes",
        ("related",),
        "the ear came close: 4 for 2-, 1 for 6-, 3- for 5",
        TUNE,
        TUNE.replace("1 4 2- 5", "1 4 4 5"),
    ),
    Rule(
        "The same slip throughout",
        ("slip",),
        "it is one thing to learn, so it costs one and a half slips, however often it comes (if 4 "
        "and 5 are written for each other, each of the two does)",
        TUNE,
        TUNE.replace("6-", "1"),
    ),
    Rule(
        "A minor chord as a plain number, once",
        ("quality",),
        "the root and the bass are right",
        TUNE,
        TUNE.replace("1 4 2- 5", "1 4 2 5"),
    ),
    Rule(
        "A hold missed",
        ("articulation",),
        "it costs as much as a wrong quality, because the whole band would play on",
        TUNE.replace("1 1\n", "1 1d\n"),
        TUNE,
    ),
    Rule(
        "Right chords on the wrong beats",
        ("placement",),
        "the chords are right and keep their credit",
        TUNE.replace("2- 5 1 1", "2- (4 5) 1 1"),
        TUNE.replace("2- 5 1 1", "2- (4''' 5') 1 1"),
    ),
    Rule(
        "A 2/4 bar written as a full bar",
        ("meter",),
        "its chord keeps two thirds of its credit",
        TUNE.replace("2- 5 1 1", "2- [2/4] 5 1 1"),
        TUNE,
    ),
    Rule(
        "A fade not marked, or marked where the band plays on",
        (),
        "no bar is wrong because of it, so it costs nothing and is mentioned once",
        TUNE.replace("2- 5 1 1", "[fade] 2- 5 1 1"),
        TUNE,
    ),
    Rule(
        "Bars in one phrase that a shift might explain",
        ("moved",),
        "bars are compared one by one, unless shifting them explains the chart clearly better",
        "1 4 5 1",
        "1 5 4 5",
    ),
)


def rules_table() -> Iterator[str]:
    """Yield the lines of the table."""
    standard = Weights()
    yield "| what was written | weight | why | example: song, chart | grade |"
    yield "|---|---|---|---|---|"
    for rule in RULES:
        weights = ", ".join(f"`{name}` {getattr(standard, name):g}" for name in rule.weights)
        cell = f"{_cell(rule.song)}<br>→<br>{_cell(rule.answer)}"
        score = f"{whole_percent(rule.score)}%"
        kept = "nothing" if rule.score == 1.0 else "the bar itself"
        yield f"| {rule.what} | {weights or kept} | {rule.reason} | {cell} | {score} |"


def _cell(text: str) -> str:
    return "<br>".join(f"`{line}`" for line in text.strip().splitlines())
