"""Names of sections as people type them: with a colon, alone on a line, in square brackets."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import get_close_matches
from typing import NamedTuple

from trainer.chart.invalid_tokens import FADE_WORDS
from trainer.chart.keys import Key
from trainer.chart.lookalikes import LOOKALIKES
from trainer.chart.notes import is_note, names_a_section
from trainer.chart.section_names import OTHER, form_letter, section_kind, split_repeats
from trainer.chart.typed.other_names import looks_roman, read_letters, read_roman
from trainer.chart.typed.question import Choice
from trainer.chart.typed.words import read_numbers

__all__ = ["Label", "is_chord_name", "read_bare_label"]

BRACKETED = re.compile(r"\[\s*(?P<name>[^\W\d_][^\[\]]*?)\s*:?\s*\](?:\s*:)?")
# A name alone on its line, with one number at most, so that bars after it are not taken for it.
# Notes may follow: (guitar only), - band in, 4 bars.
LENGTH = re.compile(r"[\s,]*\(?\d{1,2} ?(?:bars?|measures?)\)?", re.IGNORECASE)
NOTE = rf"\s*\([^\d()]*\)|\s*[-–—,]+\s+[^\d:|.;%?()\[\]]+|{LENGTH.pattern}"
ALONE = re.compile(
    rf"[^\W\d_][^\d:|,.;%?()\[\]]*?(?:\d{{1,2}}[A-Za-z]?)?(?:{NOTE}){{0,2}}", re.IGNORECASE
)
NUMBER = re.compile(r"[b#]*\d")
FIRST_WORD = re.compile(r"[^\s.|:,;()\[\]]+")
# What people draw around a name: # Verse, **Verse**, -- Verse --, (Verse), Verse -.
DECORATION = re.compile(r"(?P<before>[#*=~_–—(<-]*\s*)(?P<name>.*?)(?P<after>\s*[#*=~_–—>-]*)")
ORDINAL = re.compile(r"([1-9])(?:st|nd|rd|th)\s+([^\W\d_]+)", re.IGNORECASE)
SHORT = re.compile(r"(?P<letter>[A-Za-z])(?P<space>\s*)(?P<number>\d?)")
# A name with bars after it: Tag 4 5 1, V1 1145, Verse 1 4 5 1.
FOLLOWED = re.compile(
    r"(?P<name>[^\W\d_](?:[^\W\d_]|[ -](?=[^\W\d_]))*)(?:(?P<space>\s*)(?P<number>\d))?(?!\S)"
    r"(?P<rest>\s+[(|<]*\s*(?P<bar>[^\s|()<>,.;:]+)[^:]*)"
)
# A name parted from its bars by a sign: V1 - 1 4 5 1, Ch) 4 5, Verse 1. 1 4, Intro = 1 4.
PARTED = re.compile(
    r"(?P<name>[^\W\d_](?:[^\W\d_]|[ -](?=[^\W\d_]))*\s*\d{0,2})"
    r"(?:\s*[-–—,(]*\s*\d{1,2} ?(?:bars?|measures?)\)?)?(?P<sign>\s+[-–—=]+\s+|\s*[)=.]\s+)"
    r"(?P<rest>(?:[(|<%]\s*)*(?P<bar>[^\s|()<>,.;:%-]+)[^:]*|%.*)"
)
TWO_DIGITS = re.compile(r"(?P<name>[^\W\d_].*?)\s+(?P<number>[1-7]{2})")
SPELLED_OUT = (
    "intro", "verse", "chorus", "bridge", "outro", "interlude", "turnaround", "prechorus",
    "pre-chorus", "instrumental", "refrain", "ending", "breakdown",
)  # fmt: skip
# A longer line is no name, with whatever notes.
MOST_CHARACTERS = 80
MOST_SEARCHED = 400
MISSPELT = re.compile(r"(?P<word>[A-Za-z-]{5,})(?P<rest>\s*\d?)")
KEY_OF_C = Key("C")


class Label(NamedTuple):
    """A section's name at the beginning of a line.

    `times` is how often the section is played by its name (`Chorus 2x`); `end` the index after the
    label. `choices` are the ways to read the text up to `end` if there are two, the label first.
    """

    name: str
    times: int
    end: int
    choices: tuple[Choice, ...] = ()


def is_chord_name(word: str) -> bool:
    """Whether a word is a chord in any writing, or the sign for no chord."""
    word = word.translate(LOOKALIKES)
    is_number = NUMBER.match(word) is not None
    is_silence = word.lower() in ("nc", "n/c")
    return is_number or is_silence or looks_roman(word) or read_letters(word, KEY_OF_C) is not None


def read_bare_label(line: str, key: Key | None = None) -> Label | None:
    """Read the name of a known kind of section that has no colon after it.

    In square brackets it may stand before bars; otherwise it is alone on its line, or bars follow
    that cannot be part of it. `line` has no spaces around it; `key` is the key in which letter
    names are read as chords, None if they are not.
    """
    bracketed = BRACKETED.match(line)
    if bracketed is not None:
        return _bracketed(line, bracketed)
    name, times = split_repeats(line)
    return next((label for label in _ways_to_read(line, name, times, key) if label), None)


def _ways_to_read(line: str, name: str, times: int, key: Key | None) -> Iterator[Label | None]:
    end = len(line)
    yield _short(name, times, end, key)
    ordinal = ORDINAL.fullmatch(name)
    if ordinal is not None and section_kind(ordinal[2]) != OTHER:
        yield Label(f"{ordinal[2].capitalize()} {ordinal[1]}", times, end)
    drawn = DECORATION.fullmatch(name) if len(name) <= MOST_CHARACTERS else None
    inner = name if drawn is None else drawn["name"]
    if drawn is not None and "(" in drawn["before"]:
        inner = inner.removesuffix(")")
    inner = inner.rstrip(".")
    if "(" not in inner:
        inner = inner.removesuffix(")")
    if _is_name(inner):
        yield _two_digits(inner, times, end) or Label(inner, times, end)
    yield _parted(line)
    yield _followed(line)
    yield _misspelt(inner, times, end)


def _bracketed(line: str, match: re.Match[str]) -> Label | None:
    """A name in square brackets, with a count in or after them.

    [fade] is a sign and no name. Words that the band knows are a note, but for a name like [Build]
    alone on its line.
    """
    if re.fullmatch(FADE_WORDS, match["name"], re.IGNORECASE) is not None:
        return None
    is_alone = match.end() == len(line)
    if is_note(match["name"]) and not (is_alone and names_a_section(match["name"])):
        return None
    name, times = split_repeats(match["name"])
    end = match.end()
    if times == 1:
        rest, times = split_repeats("x" + line[end:])
        end = len(line) if times > 1 and rest == "x" else end
        times = times if end == len(line) else 1
    return None if section_kind(name) == OTHER else Label(name, times, end)


def _is_name(name: str) -> bool:
    first = FIRST_WORD.match(name)
    return (
        first is not None
        and len(name) <= MOST_CHARACTERS
        and len(first[0]) > 1
        and ALONE.fullmatch(name) is not None
        and section_kind(LENGTH.sub("", name)) != OTHER
        and not is_chord_name(first[0])
    )


def _short(name: str, times: int, end: int, key: Key | None) -> Label | None:
    """A single letter with or without a number: V2, C, I 2, A.

    A numeral alone (V), with a seventh (V7) and the like is asked about, as is a letter that is a
    chord as well where letter names are read.
    """
    match = SHORT.fullmatch(name)
    if match is None:
        return None
    letter, number = match["letter"], match["number"]
    known = section_kind(name) != OTHER or (form_letter(name) is not None and letter in "ADEFH")
    # Small letters are signs of the notation: flats and articulations.
    is_sign = letter in "bdpc" if number else letter.islower() and letter not in "vi"
    if not known or is_sign:
        return None
    chord = _chord_of(letter, number, bool(match["space"]), key)
    if not chord:
        return Label(name, times, end)
    choices = (Choice(f"the section {name}", f"{name}:"), Choice(f"the chord {chord}", chord))
    return Label(name, times, end, choices)


def _chord_of(letter: str, number: str, is_spaced: bool, key: Key | None) -> str:
    """The chord that a short name may be as well, in the notation; "" if it is a name only."""
    if is_spaced:
        return ""
    if key is not None and letter in "ABCDEFG":
        reading = read_letters(letter + number, key)
        return "" if reading is None else reading.chords[0].text
    if letter in "VvIi" and number in ("", "6", "7", "9"):
        reading = read_roman(letter + number, True)
        return "" if reading is None else reading.chords[0].text
    return f"b{number}" if letter == "B" and number in ("3", "6", "7") else ""


def _two_digits(name: str, times: int, end: int) -> Label | None:
    """A name with a number such as 14, which may be two bars after the name."""
    match = TWO_DIGITS.fullmatch(name)
    if match is None or times > 1:
        return None
    return _asked(match["name"], f" {match['number']}", match["number"], end)


def _parted(line: str) -> Label | None:
    """A name with a dash, a bracket or the like after it, and then bars."""
    match = PARTED.fullmatch(line) if len(line) <= MOST_SEARCHED else None
    if match is None or section_kind(match["name"]) == OTHER:
        return None
    # V2 before numbers is no Roman numeral, but b7 is a flat seven.
    if NUMBER.match(match["name"]) is not None or match["name"].strip().lower() in ("nc", "n/c"):
        return None
    if match["bar"] and read_numbers(match["bar"].translate(LOOKALIKES), True) is None:
        return None
    return Label(match["name"].strip(), 1, match.end("sign"))


def _followed(line: str) -> Label | None:
    """A name with bars after it on the line; a number between them may belong to either."""
    match = FOLLOWED.fullmatch(line)
    if match is None or read_numbers(match["bar"], True) is None:
        return None
    name, number = match["name"], match["number"] or ""
    is_short = len(name) == 1 and name in "VvCI" and number in tuple("12345") and not match["space"]
    if not is_short and not _is_name(name):
        return None
    end = match.start("rest")
    is_single = match["rest"].lstrip().startswith(match["bar"]) and len(match["bar"]) < 3
    if number and match["space"] and is_single:
        return _asked(name, match["space"] + number, number, end)
    return Label(name + (match["space"] or "") + number, 1, end)


def _asked(name: str, numbered: str, number: str, end: int) -> Label:
    choices = (
        Choice(f"the section {name}{numbered}", f"{name}{numbered}:"),
        Choice(f"the section {name}, then {' '.join(number)}", f"{name}: {' '.join(number)}"),
    )
    return Label(name + numbered, 1, end, choices)


def _misspelt(name: str, times: int, end: int) -> Label | None:
    """A name with a slip of the fingers, as in chorsu."""
    match = MISSPELT.fullmatch(name)
    close = get_close_matches(match["word"].lower(), SPELLED_OUT, 1, 0.8) if match else []
    if match is None or not close:
        return None
    return Label(close[0].capitalize() + match["rest"], times, end)
