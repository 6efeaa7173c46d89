"""A typed line cut into pieces: chords, brackets, bar lines and what else stands between them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from enum import Enum, auto
from typing import NamedTuple

from trainer.chart.hits import HITS
from trainer.chart.keys import Key
from trainer.chart.notes import ARTICULATION_WORDS
from trainer.chart.typed.other_names import LETTER_CHORD, looks_roman, read_letters, read_roman
from trainer.chart.typed.question import METER_OR_CHORD
from trainer.chart.typed.said import SAID, read_said
from trainer.chart.typed.words import Reading, WordDoubt, read_numbers
from trainer.errors import ChartError

__all__ = ["ARTICULATION_WORDS", "Kind", "Piece", "cut"]


class Kind(Enum):
    """What a piece of a line is."""

    CHORD = auto()
    GAP = auto()  # ? for a bar that is not known yet
    AGAIN = auto()  # % or - for the bar before
    BEAT = auto()  # / for one more beat of the chord before
    DIRECTIVE = auto()  # [2/4] or *12+4 before a bar
    OPEN = auto()
    CLOSE = auto()
    END = auto()  # the dot after a phrase
    COMMA = auto()
    LINE = auto()  # a bar line
    DOUBLE = auto()  # a double bar line
    OTHER = auto()  # left as it was typed for the tokenizer, which says what is wrong with it


class Piece(NamedTuple):
    """A piece from index `start` to `end` of the line, and its text in the notation.

    `doubts` are those that begin with this piece; `ticks` is the number of a chord's beat ticks.
    """

    kind: Kind
    text: str
    start: int
    end: int
    ticks: int = 0
    doubts: tuple[WordDoubt, ...] = ()


# A bar with another number right after it in brackets: the next bar, a bass, or a count.
COUNTED = r"(?<![^\s|,;])(?P<counted>[b#]?[1-7]-?)\((?P<count>[2-6])\)(?=[\s|),.;]|$)"
# An arrow or a dot between two bars, or a > with a bar and a space on either side.
ARROW = r"[-=]+>(?=\s*[b#(<\dIViv])|[→⇒➜·•]|(?<=[^\s(|,;.]\s)>(?=\s+[^\s)|,;.])"
PIECE = re.compile(
    r"(?P<space>\s+)|(?P<DIRECTIVE>\[[^\[\]]*\]?)|(?P<OPEN>\()|(?P<CLOSE>\))"
    rf"|(?P<hits>{HITS.pattern})"
    r"|(?P<OTHER>\|+:|:\|+:?)|(?P<LINE>\|(?!\|))|(?P<DOUBLE>\|+)|(?P<COMMA>[,;])"
    rf"|(?P<with_count>{COUNTED})|(?P<said>{SAID})|(?P<arrow>{ARROW})"
    r"|(?P<silence>(?<![^\s|(,])[nN][./]?[cC]\.?(?=[\s|),.]|$))|(?P<END>\.)"
    rf"|(?P<word>(?:(?!{ARROW})[^\s\[\]()|,;.:]"
    r"|(?<=[^\s(])\((?=(?i:add|maj|sus|no)|M|[679]\))[^()\s]*\))+)|(?P<odd>.)",
)
# A letter name in a diamond.
DIAMOND = re.compile(r"<(?P<framed>[A-G][^<>]*)>|[◇⬦◆♦](?P<after>[A-G].*)")
# A word that is a meter and can be no chord.
METER_WORD = re.compile(r"(?:3|6|9|12)/8")
# A chord with dashes after it that are no minus signs.
DASHED = re.compile(r"(.*[^-])(--+)")
SLASHED = re.compile(r"(.*[^/])(//+)")
KEY_CHANGE = re.compile(r"\[\s*(?:(up|down)\s*(\d{1,2})|key\s+(\S[^\]]*))\s*\]", re.IGNORECASE)
SIGNS = {"?": (Kind.GAP, "?"), "%": (Kind.AGAIN, "%"), "-": (Kind.AGAIN, "-"),
         "/": (Kind.BEAT, "/")}  # fmt: skip


def cut(line: str, typed: str, is_major: bool, key: Key | None) -> Iterator[Piece]:
    """Yield the pieces of a line.

    Parameters
    ----------
    line : the line with the plain signs of the notation.
    typed : the line as typed, character for character.
    is_major : whether the chart is in a major key.
    key : the key in which letter names are counted where the line begins; None if letter names
        are not to be read.
    """
    is_roman = _is_roman(line)
    for match in PIECE.finditer(line):
        name, text = match.lastgroup or "", match[0]
        start, end = match.span()
        if name == "word":
            reading = _read(text, is_major, is_roman, key)
            yield from _word(text, typed, start, reading)
        elif name == "said":
            reading = read_said(match, is_major)
            yield from _word(text, typed, start, reading)
        elif name == "with_count":
            yield from _with_count(match)
        elif name == "silence":
            yield Piece(Kind.CHORD, "0", start, end)
        elif name == "hits":
            yield Piece(Kind.DIRECTIVE, text, start, end)
        elif name == "odd":
            yield Piece(Kind.OTHER, typed[start:end], start, end)
        elif name == "DIRECTIVE" and (inside := _square_bar(text, typed, start, is_major, key)):
            yield from inside
        elif name not in ("space", "arrow"):
            key = _after_directive(key, text) if name == "DIRECTIVE" else key
            yield Piece(Kind[name], typed[start:end], start, end)


def _is_roman(line: str) -> bool:
    """Whether a line has Roman numerals and no other chords."""
    if not any(sign in "IVXiv" for sign in line):
        return False
    words = [match["word"] for match in PIECE.finditer(line) if match["word"]]
    chords = [
        word for word in words if word[0] not in "?%-/0" and word.lower() not in ARTICULATION_WORDS
    ]
    return bool(chords) and all(map(looks_roman, chords))


def _read(word: str, is_major: bool, is_roman: bool, key: Key | None) -> Reading | None:
    if is_roman:
        roman = read_roman(word, is_major)
        if roman is not None:
            return roman
    if key is not None and LETTER_CHORD.match(word) is not None:
        return read_letters(word, key)
    diamond = DIAMOND.fullmatch(word)
    if key is not None and diamond is not None:
        return _held(read_letters(diamond["framed"] or diamond["after"], key), len(word))
    return read_numbers(word, is_major)


def _with_count(match: re.Match[str]) -> Iterator[Piece]:
    """The pieces of 1(3): two bars, or one over a bass, or one that is played three times."""
    chord, number = match["counted"], match["count"]
    start, end = match.span()
    readings: tuple[tuple[str, ...], ...] = ((chord, number), (chord,) * int(number))
    labels: tuple[str, ...] = (f"{chord} then {number}", f"{number} bars of {chord}")
    if number != chord.rstrip("-"):
        readings = (*readings, (f"{chord}/{number}",))
        labels = (*labels, f"{chord} over {number}")
    doubt = WordDoubt(start, end, f"What does {match[0]} mean?", readings, labels)
    yield Piece(Kind.CHORD, chord, start, match.end("counted"), doubts=(doubt,))
    yield Piece(Kind.CHORD, number, match.end("counted"), end)


def _square_bar(
    text: str, typed: str, start: int, is_major: bool, key: Key | None
) -> tuple[Piece, ...]:
    """The pieces of a bar whose chords stand in square brackets, as in [1 5]; else none."""
    inside = text[1:-1]
    if not text.endswith("]") or len(inside.split()) < 2:
        return ()
    inside_pieces = cut(inside, typed[start + 1 :], is_major, key)
    pieces = tuple(each for each in inside_pieces if each.kind is not Kind.COMMA)
    if not all(each.kind is Kind.CHORD and each.text not in METER_OR_CHORD for each in pieces):
        return ()
    end = start + len(text)
    moved = tuple(_moved(piece, start + 1) for piece in pieces)
    opening, closing = Piece(Kind.OPEN, "(", start, start + 1), Piece(Kind.CLOSE, ")", end - 1, end)
    return (opening, *moved, closing)


def _moved(piece: Piece, by: int) -> Piece:
    """A piece further on in the line."""
    doubts = tuple(
        doubt._replace(start=doubt.start + by, end=doubt.end + by) for doubt in piece.doubts
    )
    return piece._replace(start=piece.start + by, end=piece.end + by, doubts=doubts)


def _held(reading: Reading | None, end: int) -> Reading | None:
    """A chord in a diamond, from the beginning of its word to `end`."""
    if reading is None or len(reading.chords) > 1 or reading.chords[0].articulation:
        return None
    return Reading((reading.chords[0]._replace(end=end, articulation="d"),))


def _after_directive(key: Key | None, directive: str) -> Key | None:
    """The key after a directive that may change it."""
    match = KEY_CHANGE.fullmatch(directive)
    if match is None or key is None:
        return key
    if match[3] is None:
        return key.shifted(int(match[2]) if match[1].lower() == "up" else -int(match[2]))
    try:
        return Key.parse(match[3])
    except ChartError:
        # The tokenizer reports it.
        return key


def _word(word: str, typed: str, at: int, reading: Reading | None) -> Iterator[Piece]:
    """The pieces of one word."""
    end = at + len(word)
    if reading is not None:
        yield from _chords(reading, at)
    elif word[0] in SIGNS and word == word[0] * len(word):
        for place in range(at, end):
            yield Piece(*SIGNS[word[0]], place, place + 1)
    elif METER_WORD.fullmatch(word) is not None:
        yield Piece(Kind.DIRECTIVE, f"[{word}]", at, end)
    elif (dashed := DASHED.fullmatch(word)) is not None:
        end = len(dashed[1])
        yield from _word(dashed[1], typed, at, read_numbers(dashed[1], True))
        yield from _word(dashed[2], typed, at + end, None)
    elif (slashed := SLASHED.fullmatch(word)) is not None:
        yield from _word(slashed[1], typed, at, read_numbers(slashed[1], True))
        yield from _word(slashed[2], typed, at + len(slashed[1]), None)
    else:
        yield Piece(Kind.OTHER, typed[at:end], at, end)


def _chords(reading: Reading, at: int) -> Iterator[Piece]:
    for chord in reading.chords:
        start, end = at + chord.start, at + chord.end
        doubts = tuple(
            doubt._replace(start=at + doubt.start, end=at + doubt.end)
            for doubt in reading.doubts
            if chord.start == doubt.start
        )
        yield Piece(Kind.CHORD, chord.text, start, end, chord.ticks, doubts)
