"""Text that stands where a chord should, and what its writer probably meant.

`describe_invalid_token` is called by the tokenizer wherever no chord can be read, after `typed` has
read what it could. It recognises what musicians write elsewhere (repeat signs, letter names, the
signs of an older notation) and says what this notation expects instead, in a musician's words.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from trainer.chart.chords import EXTENSIONS

__all__ = [
    "DIRECTIVES",
    "FADE_WORDS",
    "LETTERS_REFUSED",
    "OLD_SPLIT",
    "InvalidToken",
    "abbreviate",
    "describe_invalid_token",
    "describe_old_directive",
    "looks_like_section_name",
]

DIRECTIVES = (
    "[2/4] for one bar's own meter, [up 2], [down 3] or [key D] to change the key, [fade], or "
    "words for the players such as [drums out]"
)
# What is read as [fade] between square brackets.
FADE_WORDS = r"fad(?:e|es|ing)(?:[\s-]*out)?"
SPLIT_BRACKETS = "round brackets around the chords of one bar"
LETTERS_REFUSED = (
    "a number (a flat is a small b); to write letters, begin with two lines that say key: G and "
    "chords: letters, with your own key"
)
ON_THE_CHORD = "it right after its chord, with no space between"
PUSH_EXPECTED = "p right after the chord that is pushed, as in 4p"
ARTICULATIONS = "hold|held|diamond|fermata|stop(?:ped)?|choked?"
ON_ITS_CHORD = "d for a hold or c for a choke right after its chord, as in 1d"
BEATS_EXPECTED = "slashes that count the beats of whole bars, as in 1 / / /"
NOT_BOTH = "numbers or Roman numerals, not both"
QUALITY_NAMES = {
    "": "a major chord",
    "-": "a minor chord",
    "o": "a diminished chord",
    "+": "an augmented chord",
    "ø": "a half-diminished chord",
}


class InvalidToken(NamedTuple):
    """Text that is not a chord.

    Attributes
    ----------
    found, expected : what to tell the writer.
    end : index in the line after the last character of the text.
    is_bar : whether a chord was meant there, so that it counts as a bar.
    so_far : the part of a chord that is written already, where the rest is only missing; else "".
    """

    found: str
    expected: str
    end: int
    is_bar: bool = True
    so_far: str = ""


def _either(extensions: Iterable[str]) -> str:
    return "|".join(map(re.escape, sorted(set(extensions), key=len, reverse=True)))


ANY_EXTENSION = _either(extension for listed in EXTENSIONS.values() for extension in listed)
KNOWN = {quality: re.compile(rf"\^(?:{_either(listed)})") for quality, listed in EXTENSIONS.items()}
BARE = re.compile(ANY_EXTENSION)
# The signs of an older notation, which are explained and not read: 1_5, 1s, (key +2), (6/8).
OLD_CHORD = rf"[b#]?[0-7][-o+h]?(?:\^(?:{ANY_EXTENSION}))?(?:/[b#]?[1-7])?['\"]*[dps]?['\"]*"
OLD_SPLIT = re.compile(rf"{OLD_CHORD}(?:\s*_\s*(?:{OLD_CHORD})?)+", re.ASCII)
OLD_CHOKE = re.compile(r"(?P<bass>/[b#]?[1-7])?['\"]*s['\"]*(?![a-zA-Z'\"])", re.ASCII)
OLD_KEY_MOVE = re.compile(
    r"\(\s*key\b\s*([+-]?)\s*([A-G][b#]?|\d*)\s*\)?", re.IGNORECASE | re.ASCII
)
OLD_METER = re.compile(r"\(\s*(\d{1,2})\s*/\s*(8|16)\s*\)", re.ASCII)
TAIL = re.compile(r"(?:/[b#]?[1-7])?['\"]*[dpc]?['\"]*")
REST_IS_EMPTY = re.compile(r"\s*\Z")
START = re.compile(r"([b#]*)(\d)([-o+ø]|hdim|)", re.ASCII)
EXTENSION = re.compile(rf"\^\s*({ANY_EXTENSION}|[A-Za-z]*[b#]?\d*)", re.ASCII)
BASS = re.compile(r"/([A-Za-z#]*\d?)", re.ASCII)
WORD = re.compile(r"[-o+ø]+|(?P<old>h(?:\^7)?(?![a-z]))", re.ASCII)
LETTER_CHORD = r"[A-G](?:#|b)?(?:maj|min|dim|aug|sus|add|[mM])?\d{0,2}(?:/[A-G](?:#|b)?)?"
RUN = re.compile(r"[^\s\d_.|()\[\]]+", re.ASCII)
ROMAN = "(?:VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i)"

# What else people type between chords: pattern (without groups of its own), what it is called ("":
# as typed), what is expected instead, and whether a chord was meant there.
STANDALONE: tuple[tuple[str, str, str, bool], ...] = (
    (r":\|+:?|\|+:", "repeat sign", "every bar written out, with no repeat signs", False),
    (r"/+(?:\s+/+)*(?=[\s)|]|$)", "", BEATS_EXPECTED, False),
    (r"(?i:push(?:ed)?)(?=[\s._|()\[\]]|$)", "", PUSH_EXPECTED, False),
    (rf"(?i:{ARTICULATIONS})(?=[\s._|()\[\]]|$)", "", ON_ITS_CHORD, False),
    (r"[xX](?=[\s._|()\[\]]|$)", "", "a number 1–7, or 0 for a bar with no chord", True),
    (rf"{LETTER_CHORD}(?=[\s._|()\[\]]|$)", "letter name", LETTERS_REFUSED, True),
    (r"[b#]+(?=[\s._|()\[\]]|$)", "", "a number 1–7 after the flat or sharp, as in b7", True),
    (r"['\"]+", "ticks", ON_THE_CHORD, False),
    (r"[%-](?=[\s._|()\[\]%-]|$)", "", "a bar before it that can be repeated", True),
    (rf"[b#]?{ROMAN}(?=[\s._|()\[\]]|$)", "Roman numeral", NOT_BOTH, True),
    (r"[o+ø](?=[\s._|()\[\]]|$)", "", ON_THE_CHORD, False),
    (r"[dpc](?=[\s._|()\[\]]|$)", "", ON_THE_CHORD, False),
    (rf"\^(?:{ANY_EXTENSION}|[A-Za-z]*\d*)|/[b#]?\d?", "", ON_THE_CHORD, False),
    (r"\]", "] without [", "brackets in pairs, as in [2/4]", False),
    (r"_+", "", f"{SPLIT_BRACKETS}, as in (1 5)", False),
    (r":", "", "a section name alone on its line, a letter first, as in Verse 1:", False),
)  # fmt: skip
# One alternative for each row, tried in that order; `lastindex` of a match is the row's number.
STANDALONE_PATTERN = re.compile("|".join(f"({row[0]})" for row in STANDALONE), re.ASCII)


def abbreviate(text: str) -> str:
    """Cut a text to at most 24 characters, so that it fits into a message."""
    return text if len(text) <= 24 else text[:23] + "…"


def looks_like_section_name(line: str) -> bool:
    """Whether a line without a colon looks like a section name whose colon is missing."""
    word = RUN.match(line)
    if (
        word is None
        or not line[0].isalpha()
        or re.match(rf"{LETTER_CHORD}(?=[\s._|()\[\]]|$)", line)
    ):
        return False
    return len(word[0]) > 1 and re.match(r"[b#]+\d", line) is None and word[0].lower() != "nc"


def describe_invalid_token(line: str, typed: str, at: int) -> InvalidToken:
    """Say what stands at index `at` of a line, where no chord can be read.

    `line` has the plain signs that the notation uses; `typed` is the same line, character for
    character, as it was typed, and is what messages quote.
    """
    split = OLD_SPLIT.match(line, at)
    if split is not None:
        return _old_split(line, typed, at, split.end())
    start = START.match(line, at)
    if start is not None:
        return _wrong_chord(line, typed, at, start)
    match = STANDALONE_PATTERN.match(line, at)
    if match is not None and match.lastindex is not None:
        _, name, expected, is_bar = STANDALONE[match.lastindex - 1]
        text = abbreviate(typed[at : match.end()])
        return InvalidToken(f"{name} {text}" if name else text, expected, match.end(), is_bar)
    run = RUN.match(line, at)
    end = run.end() if run is not None else at + 1
    return InvalidToken(abbreviate(typed[at:end]), "a number 1–7, or 0 for no chord", end)


def describe_old_directive(line: str, typed: str, at: int) -> InvalidToken | None:
    """What to say of a meter or a key move in round brackets at index `at`; None if there is none.

    What can be a chord over a bass, as in (2/4), is one.
    """
    move = OLD_KEY_MOVE.match(line, at)
    if move is not None:
        sign, said = move.groups()
        way = (
            f"{'down' if sign == '-' else 'up'} {said}" if not said[:1].isalpha() else f"key {said}"
        )
        instead = f"[{way}]" if said else "[up 2], [down 3] or [key D]"
        expected = f"{instead} in square brackets"
        return InvalidToken(abbreviate(typed[at : move.end()]), expected, move.end(), False)
    meter = OLD_METER.match(line, at)
    if meter is None:
        return None
    expected = f"[{meter[1]}/{meter[2]}] in square brackets for one bar's own meter"
    return InvalidToken(abbreviate(typed[at : meter.end()]), expected, meter.end(), False)


def _old_split(line: str, typed: str, at: int, end: int) -> InvalidToken:
    """Say how the chords of one bar are written that stand joined by `_`."""
    chords = " ".join(line[at:end].replace("_", " ").split())
    expected = f"{SPLIT_BRACKETS}: ({abbreviate(chords)})"
    return InvalidToken(abbreviate(typed[at:end]), expected, end)


def _wrong_chord(line: str, typed: str, at: int, start: re.Match[str]) -> InvalidToken:
    """Say what is wrong with a text that starts like a chord, with a number."""
    signs, digit, quality = start.groups()
    quality = "ø" if quality == "hdim" else quality
    end = start.end()
    if len(signs) > 1:
        return InvalidToken(
            abbreviate(typed[at:end]), "one flat b or sharp # before the number", end
        )
    if digit in "089":
        end = start.end(2)
        if digit != "0":
            return InvalidToken(abbreviate(typed[at:end]), "a number 1–7, or 0 for no chord", end)
        rest = RUN.match(line, end)
        end = end if rest is None else rest.end()
        return InvalidToken(abbreviate(typed[at:end]), "0 alone for no chord", end)
    written = KNOWN[quality].match(line, end)
    if written is not None:
        end = written.end()
    return _after_chord(line, typed, at, end, quality)


def _after_chord(line: str, typed: str, at: int, end: int, quality: str) -> InvalidToken:
    """Say what is wrong after a number, quality and known extension that end at `end`."""
    extensions = ", ".join(EXTENSIONS[quality])
    extension = EXTENSION.match(line, end)
    if extension is not None:
        return _wrong_extension(line, typed, at, end, quality)
    bass = BASS.match(line, end)
    if bass is not None and not re.fullmatch(r"[b#]?[1-7]", bass[1]):
        unfinished = bass[1] in ("", "b", "#") and REST_IS_EMPTY.match(line, bass.end()) is not None
        expected = "a bass number 1–7 after /, as in 5/7"
        so_far = line[at:end] if unfinished else ""
        return InvalidToken(abbreviate(typed[at : bass.end()]), expected, bass.end(), so_far=so_far)
    bare = BARE.match(line, end)
    if bare is not None and not bare[0].isdigit():
        found = abbreviate(typed[at : bare.end()])
        return InvalidToken(found, f"one of {extensions} on {QUALITY_NAMES[quality]}", bare.end())
    word = WORD.match(line, end)
    if word is not None:
        expected = (
            "ø or hdim as in 7ø, half-diminished"
            if word["old"]
            else f"one of - o + ø after the number; then ^ and {extensions}"
        )
        return InvalidToken(abbreviate(typed[at : word.end()]), expected, word.end())
    choke = OLD_CHOKE.match(line, end)
    if choke is not None:
        found = typed[at : choke.end()]
        chord, _, ticks = found.rpartition("s")
        so_far = line[at:end] + (choke["bass"] or "")
        return InvalidToken(found, f"c for a choke: {chord}c{ticks}", choke.end(), so_far=so_far)
    tail = TAIL.match(line, end)
    end = tail.end() if tail is not None else end
    run = RUN.match(line, end)
    stop = run.end() if run is not None else end
    expected = (
        "only these after the number: - o + ø, then ^ and an extension, then / and a bass, then "
        "ticks ', then d, p or c"
    )
    return InvalidToken(abbreviate(typed[at:stop]), expected, max(stop, at + 1))


def _wrong_extension(line: str, typed: str, at: int, end: int, quality: str) -> InvalidToken:
    """Say what is wrong with the extension that starts at `end`."""
    match = EXTENSION.match(line, end)
    assert match is not None
    if match[1] and match[0][1].isspace():
        # What follows a space is the next bar.
        sign = end + 1
        found, number = abbreviate(typed[at:sign]), line[at:end]
        expected = f"what is added right after ^, as in 5^7; for a choke {number}c"
        return InvalidToken(found, expected, sign)
    listed = ", ".join(EXTENSIONS[quality])
    found = abbreviate(typed[at : match.end()])
    name = QUALITY_NAMES[quality]
    if "^" in line[at:end]:
        return InvalidToken(found, "one extension to a chord", match.end())
    unfinished = REST_IS_EMPTY.match(line, match.end()) is not None and any(
        extension.startswith(match[1]) for extension in EXTENSIONS[quality]
    )
    so_far = line[at:end] if unfinished else ""
    return InvalidToken(found, f"one of {listed} after ^ on {name}", match.end(), so_far=so_far)
