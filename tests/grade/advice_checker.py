"""A second program that reads advice and finds out whether it is true.

It knows the two charts, the text of the advice and the places that the advice cites, and does its
own arithmetic; nothing of grading is used. A sentence that it does not know is an error, so advice
cannot say what nobody checks.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Protocol

from trainer.chart import Bar, Chart

from .checker.bars import BAR_SENTENCES
from .checker.chords import CHORD_SENTENCES
from .checker.facts import CitedPlace, FalseSentence, Reading, demand
from .checker.recounting import recounted_bars
from .checker.signs import SIGN_SENTENCES
from .checker.splits import SPLIT_SENTENCES
from .checker.summary import check_summary as check_sentences
from .checker.whole import WHOLE_SENTENCES

__all__ = ["FalseSentence", "GivenAdvice", "check_advice", "check_summary", "missing_cases"]

SENTENCES = [
    (re.compile(pattern), check)
    for pattern, check in (
        *WHOLE_SENTENCES,
        *BAR_SENTENCES,
        *SPLIT_SENTENCES,
        *CHORD_SENTENCES,
        *SIGN_SENTENCES,
    )
]
# What is said where the answer is compared as read from another 1.
OTHER_ONE = re.compile(
    r"counted (?:this minor song )?from|counted in the old key|fit another key|You moved the key at"
)
COUNTED = re.compile(r"ou wrote (two bars|one bar) for every")
OTHER_COUNT = re.compile(r"ou wrote (two bars|one bar) for every|as two bars each|two to a bar")
SINGLE = re.compile(r"^(Of the \d+ bars you wrote|You haven't written)")


class GivenAdvice(Protocol):
    """A piece of advice: what it says, and the places that it cites."""

    @property
    def text(self) -> str:
        """What it says."""

    @property
    def cases(self) -> Sequence[CitedPlace]:
        """The places that it cites."""


def check_advice(advice: Sequence[GivenAdvice], reference: Chart, answer: Chart) -> None:
    """Check all advice on an answer. Raises FalseSentence with the text and what is not so."""
    all_cases = [case for one in advice for case in one.cases]
    shifted = any(OTHER_ONE.search(one.text) for one in advice)
    recounted: dict[int, Bar] = {}
    for one in advice:
        if COUNTED.search(one.text):
            recounted |= recounted_bars(one.text, one.cases, answer)
    more_bars = 0
    for one in advice:
        reading = Reading(reference, answer, one.cases, all_cases, is_shifted=shifted)
        reading.recounted = recounted
        try:
            _read(one.text, reading)
        except FalseSentence as error:
            raise FalseSentence(f"{one.text}\n  {error}") from None
        more_bars += reading.more_bars
    if not recounted and not any(SINGLE.match(one.text) for one in advice):
        longer = len(answer.bars()) - len(reference.bars())
        demand(more_bars == longer, f"{more_bars} bars more are said, {longer} are written")


def check_summary(
    summary: tuple[str, ...], advice: Sequence[GivenAdvice], reference: Chart, answer: Chart
) -> None:
    """Check the two sentences that sum an answer up. Raises FalseSentence."""
    cases = [case for one in advice for case in one.cases]
    reading = Reading(reference, answer, cases, cases)
    reading.is_shifted = any(OTHER_ONE.search(one.text) for one in advice)
    reading.is_recounted = any(OTHER_COUNT.search(one.text) for one in advice)
    try:
        check_sentences(summary, reading)
    except FalseSentence as error:
        raise FalseSentence(f"{' '.join(summary)}\n  {error}") from None


def _read(text: str, reading: Reading) -> None:
    """Read a text sentence by sentence."""
    demand(text == text.strip() and text, "no text")
    while text:
        text = text[_read_one(text, reading) :].lstrip()


def _read_one(text: str, reading: Reading) -> int:
    """Check the sentence that a text begins with, and return its length.

    One that reads in two ways is true if it is true in one of them.
    """
    error: FalseSentence | None = None
    for pattern, check in SENTENCES:
        found = pattern.match(text)
        if found and found.end():
            try:
                check(reading, found)
            except FalseSentence as failed:
                error = error or failed
            else:
                return found.end()
    raise error or FalseSentence(f"not known: {text}")


def missing_cases(
    advice: Sequence[GivenAdvice], wrong: Sequence[tuple[int | None, int | None]]
) -> list[tuple[int | None, int | None]]:
    """Of bars that lost something, of the song and of the answer, those that no advice cites."""
    song = {case.reference for one in advice for case in one.cases}
    own = {case.answer for one in advice for case in one.cases}
    return [
        (one, other)
        for one, other in wrong
        if (one not in song if one is not None else other not in own)
    ]
