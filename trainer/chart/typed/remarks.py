"""Words between the bars that say how a song goes on, such as key moves and repeats.

The notation has signs for key moves and writes every bar straight down, so that such words are not
read. One problem for each says what to write instead.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from trainer.chart.band_words import read_band_words
from trainer.chart.invalid_tokens import FADE_WORDS
from trainer.chart.section_names import OTHER, section_kind

__all__ = ["STRAIGHT_DOWN", "Remark", "find_remarks", "is_remark", "without_remarks"]

STRAIGHT_DOWN = "every bar written straight down, in the order they are played"
FADE_EXPECTED = "[fade] before the bar where the band begins to fade, and every bar you still hear"
STEPS = {
    "half": 1, "1/2": 1, "semitone": 1, "semi": 1, "whole": 2, "tone": 2, "step": 2,
    "minor third": 3, "major third": 4, "fourth": 5, "4th": 5, "fifth": 7, "5th": 7,
}  # fmt: skip
MOVING = r"(?:(?:the|new|key|change[sd]?|modulat(?:e[sd]?|ion)|mod|go(?:es)?|moves?)\b[\s:.]*)"
STEP = (
    r"(?:half|whole|1/2)(?:[\s-]*(?:steps?|tones?))?|semi-?(?:tones?)?|tone|step"
    r"|(?:minor|major)\s+third|fourth|fifth|4th|5th"
)
KEY_MOVE = re.compile(
    rf"(?:[(\[]\s*)?{MOVING}{{0,4}}(?P<way>up|down)\s+(?:by\s+)?(?:an?\s+|one\s+)?"
    rf"(?:(?P<count>\d{{1,2}})(?:\s*(?P<unit>(?:half[\s-]*|whole[\s-]*)?steps?|semi-?tones?|tones?))?"
    rf"|(?P<step>{STEP}))(?![^\s)\].,;|:])\s*[)\]]?",
    re.IGNORECASE,
)
NEW_KEY = re.compile(
    rf"(?:[(\[]\s*)?(?:(?:in|to)\s+(?:the\s+)?)?(?:{MOVING}{{1,4}}(?:of|to|into|is|=)?|in)[\s:]*"
    r"(?<![a-z])(?P<key>[A-Ga-g][b#♭♯]?)(?P<minor>m|\s*min(?:or)?)?(?:\s*maj(?:or)?)?"
    r"(?![^\s)\].,;|])\s*[)\]]?",
    re.IGNORECASE,
)
WAY_THROUGH = re.compile(
    r"(?<![^\s(|,;])\(?(?:(?:"
    r"D\.?\s?[SC]\.?(?:\s+al\s+(?:coda|fine))?|al\s+(?:coda|fine)|(?:go\s+)?to\s+(?:the\s+)?coda"
    r"|(?:1st|2nd|3rd|first|second|third|last)\s+(?:time|x|ending|end)"
    r"(?:\s+(?:only|through|thru))?:?|segno|fine|from\s+(?:the\s+)?top"
    r"|(?:repeat|rpt|same\s+as|back\s+to|go\s+to)\b[^|:]*|same|ditto|again|twice|(?:two|2|3)\s+times"
    r")(?![^\s).,;|:])[\s,]*)+\)?",
    re.IGNORECASE,
)
BEATS = re.compile(r"(?<![^\s|])(?:[(\[]\s*)?(?P<beats>[1-9])\s*beats?\s*[)\]]?", re.IGNORECASE)
SLOWING = re.compile(
    r"(?<![^\s|])\(?(?:rit(?:ard(?:ando)?)?\.?|slow(?:er|\s+down)|rall\.?)\)?(?![^\s.|])",
    re.IGNORECASE,
)
FADING_WORDS = rf"(?:(?:repeat|rpt|vamp)\s+(?:and|&|to|till|until)\s+)?(?:it\s+)?{FADE_WORDS}"
FADING = re.compile(
    rf"[(\[]\s*{FADING_WORDS}\s*[)\]]|(?<![^\s|.]){FADING_WORDS}(?![^\s.|])", re.IGNORECASE
)
# What the notation itself writes in square brackets, or once wrote in round ones.
NOTATION = re.compile(
    rf"\[\s*(?:(?:up|down)\s*\d{{1,3}}|key\s+\S+(?:\s+(?:minor|major))?|{FADE_WORDS})\s*\]"
    r"|\(\s*key\s+\S+\s*\)",
    re.IGNORECASE,
)

BRACKETS = re.compile(r"\[([^\[\]]*)\]")
HAS_WORDS = re.compile(r"[A-Za-z]{2}|[DdSs]\.")
KINDS = (KEY_MOVE, NEW_KEY, FADING, WAY_THROUGH, BEATS, SLOWING)


class Remark(NamedTuple):
    """Words from index `start` to `end` of a line, and what is expected instead."""

    start: int
    end: int
    expected: str


def is_remark(text: str) -> bool:
    """Whether a text in square brackets is a remark as a whole; a slower tempo is a note there."""
    if HAS_WORDS.search(text) is None:
        return False
    return any(kind.fullmatch(text) is not None for kind in KINDS if kind is not SLOWING)


def _is_free(text: str) -> bool:
    """Whether a text in square brackets may hold any words, since it is no remark and no name."""
    is_other = not is_remark(text) and section_kind(text) == OTHER
    return is_other or bool(read_band_words(text))


def find_remarks(line: str) -> Iterator[Remark]:
    """Yield the words in a line that tell of key, meter, tempo, a fade or the way through."""
    if HAS_WORDS.search(line) is None:
        return
    free = 0
    notes = [each.span() for each in BRACKETS.finditer(line) if _is_free(each[1].strip())]
    found = sorted(
        (match for kind in KINDS for match in kind.finditer(line)), key=lambda match: match.start()
    )
    for match in found:
        text = match[0].strip()
        if text[-1:] in (")", "]") and text[0] not in "([":
            text = text[:-1].rstrip()
        start = match.start() + match[0].index(text) if text else match.end()
        inside_word = start > 0 and line[start - 1].isalnum()
        if any(first < start < last for first, last in notes):
            continue
        if not text or start < free or inside_word or NOTATION.fullmatch(text) is not None:
            continue
        free = start + len(text)
        yield Remark(start, free, _expected(match))


def without_remarks(line: str) -> str:
    """A line with spaces in place of its remarks, so that the columns of the rest stay."""
    for remark in find_remarks(line):
        line = line[: remark.start] + " " * (remark.end - remark.start) + line[remark.end :]
    return line


def _expected(match: re.Match[str]) -> str:
    """What is written in place of a remark."""
    if match.re is WAY_THROUGH:
        return STRAIGHT_DOWN
    if match.re is SLOWING:
        return "a note in square brackets, as in [rit.] before the bar"
    if match.re is FADING:
        return FADE_EXPECTED
    if match.re is BEATS:
        return f"[{match['beats']}/4] before a bar that has {match['beats']} beats of its own"
    if match.re is NEW_KEY:
        letter, minor = match["key"], " minor" if match["minor"] else ""
        return f"[key {letter[0].upper()}{letter[1:]}{minor}] before the first bar in the new key"
    return f"[{match['way'].lower()} {_half_steps(match)}] before the first bar in the new key"


def _half_steps(match: re.Match[str]) -> int:
    if match["count"] is not None:
        unit = (match["unit"] or "half").lower()
        return int(match["count"]) * (1 if unit.startswith(("half", "semi")) else 2)
    step = " ".join(match["step"].lower().split())
    return next(size for name, size in STEPS.items() if step.startswith(name))
