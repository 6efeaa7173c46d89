"""The tokenizer: a line of bars cut into chords, separators and brackets.

Text that is none of them is reported and passed over, so that the rest of the line is still read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import NamedTuple

from trainer.chart.chords import EXTENSIONS
from trainer.chart.header import METER
from trainer.chart.invalid_tokens import BRACKET_USES, abbreviate, describe_invalid_token
from trainer.chart.model import Articulation, Chord, Degree, Meter
from trainer.errors import ChartError

__all__ = ["BracketToken", "ChordToken", "ReportProblem", "SeparatorToken", "Token", "tokenize"]

ReportProblem = Callable[[int, str, str], None]
"""Called with the index in the line (from 0), what was found and what was expected."""

# Signs that tablets and word processors put in place of the plain ones. Each stands for exactly one
# sign, so columns stay the same.
LOOKALIKES = str.maketrans("♭♯−–—’‘′`´”“″°ºø", "b#---'''''\"\"\"ooh")


class ChordToken(NamedTuple):
    """A chord as written, with the number of its beat ticks and its articulation.

    `start` and `end` are indices in the line. `valid` is False where the text is wrong or not
    finished. `chord` None means no chord (0) if `valid`, else that nothing could be understood.
    """

    chord: Chord | None
    ticks: int
    articulation: Articulation | None
    start: int
    end: int
    valid: bool = True


class SeparatorToken(NamedTuple):
    """A `_` between two chords of one bar, or the `.` after a phrase."""

    sign: str
    start: int


class BracketToken(NamedTuple):
    """A bracket before a bar: a meter for that bar, or a move of the key by semitones.

    `start` and `end` are indices in the line.
    """

    start: int
    end: int
    meter: Meter | None = None
    key_change: int = 0


Token = ChordToken | SeparatorToken | BracketToken


def _qualities() -> str:
    """A pattern for each quality with its extensions.

    The longest come first, but only those listed match: 1^75 is 1^7 and then 5.
    """
    choices = []
    for quality in sorted(EXTENSIONS, key=len, reverse=True):
        longest_first = sorted(EXTENSIONS[quality], key=len, reverse=True)
        extension = "|".join(map(re.escape, longest_first))
        choices.append(rf"{re.escape(quality)}(?:\^(?:{extension}))?")
    return "|".join(choices)


SUFFIX = r"(['\"]*)([dps]?)(['\"]*)"
EVENT = re.compile(rf"([b#]?[1-7](?:{_qualities()})(?:/[b#]?[1-7])?|0){SUFFIX}")
CHORD = re.compile(r"([b#]?)([1-7])([-o+h]?)(?:\^([^/]+))?(?:/([b#]?)([1-7]))?")
AFTER_WRONG = re.compile(rf"(?:/[b#]?[1-7])?{SUFFIX}")
BRACKET = re.compile(r"\(([^()]*)\)")
UNCLOSED = re.compile(r"\((?:\s*(?:key\b)?[\s+\-]*\d*(?:\s*/\s*\d*)?)", re.IGNORECASE | re.ASCII)
KEY_MOVE = re.compile(r"key\s*([+-])\s*(\d{1,3})", re.IGNORECASE | re.ASCII)
ALTERATIONS = {"": 0, "#": 1, "b": -1}
ARTICULATIONS = {
    "": None,
    "d": Articulation.HOLD,
    "p": Articulation.PUSH,
    "s": Articulation.STOP,
}
MAY_FOLLOW = frozenset("._()|:,;0123456789b#")


def tokenize(typed: str, report: ReportProblem) -> Iterator[Token]:
    """Yield the tokens of a typed line; what is not a token goes to `report` and is skipped."""
    line = typed.translate(LOOKALIKES)
    at = 0
    while at < len(line):
        sign = line[at]
        if sign.isspace():
            at += 1
            continue
        if sign in "._":
            yield SeparatorToken(sign, at)
            at += 1
            continue
        token = _bracket(line, at, report) if sign == "(" else _chord(line, typed, at, report)
        if isinstance(token, int):
            at = token
        else:
            yield token
            at = token.end


def _chord(line: str, typed: str, at: int, report: ReportProblem) -> ChordToken | int:
    """Read the chord at an index.

    Returns the token, or the index at which to go on after text that is not meant as a bar.
    """
    match = EVENT.match(line, at)
    if match is not None and _may_end(line, match.end()):
        chord = _read_chord(match[1])
        articulation = ARTICULATIONS[match[3]]
        if chord is None and articulation is not None:
            report(at, f"0 with {match[3]}", "0 alone: silence takes no hold, push or stop")
            return ChordToken(None, 0, None, at, match.end(), valid=False)
        return ChordToken(chord, _ticks(match), articulation, at, match.end())
    invalid = describe_invalid_token(line, typed, at)
    report(at, invalid.found, invalid.expected)
    if not invalid.is_bar:
        return invalid.end
    so_far = _read_chord(invalid.so_far) if invalid.so_far else None
    rest = AFTER_WRONG.match(line, invalid.end)
    end = rest.end() if rest is not None and not invalid.so_far else invalid.end
    return ChordToken(so_far, 0, None, at, end, valid=False)


def _may_end(line: str, end: int) -> bool:
    """Whether a chord may end at an index, by the character that follows it."""
    return end >= len(line) or line[end] in MAY_FOLLOW or line[end].isspace()


def _ticks(match: re.Match[str]) -> int:
    """The number of beat ticks of a matched chord; a double quote counts as two."""
    ticks = match[2] + match[4]
    return len(ticks) + ticks.count('"')


@lru_cache(maxsize=4096)
def _read_chord(text: str) -> Chord | None:
    """Make a chord from text that EVENT has matched; a bass equal to the root is dropped."""
    match = CHORD.fullmatch(text)
    if match is None:
        return None
    alteration, number, quality, extension, bass_alteration, bass_number = match.groups("")
    root = Degree(int(number), ALTERATIONS[alteration])
    bass = Degree(int(bass_number), ALTERATIONS[bass_alteration]) if bass_number else None
    return Chord(*root, quality, extension, None if bass == root else bass)


def _bracket(line: str, at: int, report: ReportProblem) -> BracketToken | ChordToken | int:
    """Read the bracket at an index; returns as `_chord` does."""
    match = BRACKET.match(line, at)
    if match is None:
        unclosed = UNCLOSED.match(line, at)
        end = unclosed.end() if unclosed else at + 1
        report(at, f"{abbreviate(line[at:end].rstrip())} without )", BRACKET_USES)
        return end
    inside = match[1].strip()
    meter, move = METER.fullmatch(inside), KEY_MOVE.fullmatch(inside)
    if meter is not None:
        try:
            return BracketToken(at, match.end(), Meter(int(meter[1]), int(meter[2])))
        except ChartError as error:
            report(at, abbreviate(match[0]), error.expected)
            return match.end()
    if move is not None:
        semitones = int(move[1] + move[2])
        if 1 <= abs(semitones) <= 11:
            return BracketToken(at, match.end(), key_change=semitones)
        report(at, abbreviate(match[0]), "a move of 1 to 11 semitones, as in (key +2) or (key -3)")
        return match.end()
    report(at, abbreviate(match[0]), BRACKET_USES)
    chord_inside = EVENT.match(inside) is not None
    return ChordToken(None, 0, None, at, match.end(), valid=False) if chord_inside else match.end()
