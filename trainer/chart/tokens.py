"""The tokenizer: a line of bars cut into chords, separators and directives.

Text that is none of them is reported and passed over, so that the rest of the line is still read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import NamedTuple

from trainer.chart.chords import ALTERATIONS, EXTENSIONS
from trainer.chart.header import METER
from trainer.chart.hits import HITS
from trainer.chart.invalid_tokens import (
    DIRECTIVES,
    FADE_WORDS,
    OLD_SPLIT,
    abbreviate,
    describe_invalid_token,
    describe_old_directive,
)
from trainer.chart.keys import Key
from trainer.chart.lookalikes import LOOKALIKES
from trainer.chart.model import Articulation, Chord, Degree, Meter
from trainer.chart.notes import ARTICULATION_WORDS, is_note, names_a_section, tidy_note
from trainer.errors import ChartError

__all__ = [
    "ChordToken",
    "DirectiveToken",
    "ReportProblem",
    "SeparatorToken",
    "Token",
    "read_alone",
    "read_key_move",
    "tokenize",
]

ReportProblem = Callable[[int, str, str], None]
"""Called with the index in the line (from 0), what was found and what was expected."""


class ChordToken(NamedTuple):
    """A chord as written, with the number of its beat ticks and its articulation.

    `start` and `end` are indices in the line. `valid` is False where the text is wrong or not
    finished. `chord` None means no chord (0) if `valid`, else that nothing could be understood.
    `is_open` is whether it is the sign (?) for a bar that is not known yet.
    """

    chord: Chord | None
    ticks: int
    articulation: Articulation | None
    start: int
    end: int
    valid: bool = True
    is_open: bool = False


class SeparatorToken(NamedTuple):
    """A `(` or `)` around the chords of one bar, or the `.` after a phrase."""

    sign: str
    start: int


class DirectiveToken(NamedTuple):
    """What stands before a bar: its own meter, a change of key, a fade, a note, or its hits.

    `start` and `end` are indices in the line. A change of key is a move by semitones,
    `key_change`, or the `key` that holds from here on. `fades` is whether the band fades out from
    this bar on. `note` are words for the players, and `hits` the beats after the star as typed.
    `letter` is that of an articulation in words, which goes to a chord of the bar.
    """

    start: int
    end: int
    meter: Meter | None = None
    key_change: int = 0
    key: Key | None = None
    fades: bool = False
    note: str = ""
    hits: str = ""
    letter: str = ""

    @property
    def kind(self) -> str:
        """What the directive is, as a message calls it; a bar has one of each kind but notes."""
        named = {"fade": self.fades, "note": self.note, "row of hits": self.hits,
                 "articulation": self.letter}  # fmt: skip
        for name, is_there in named.items():
            if is_there:
                return name
        return "change of key" if self.meter is None else "meter"


Token = ChordToken | SeparatorToken | DirectiveToken


def _qualities() -> str:
    """A pattern for each quality with its extensions.

    The longest come first, but only those listed match: 1^75 is 1^7 and then 5.
    """
    choices = []
    for quality in sorted(EXTENSIONS, key=len, reverse=True):
        longest_first = sorted(EXTENSIONS[quality], key=len, reverse=True)
        extension = "|".join(map(re.escape, longest_first))
        sign = "(?:ø|hdim)" if quality == "ø" else re.escape(quality)
        choices.append(rf"{sign}(?:\^(?:{extension}))?")
    return "|".join(choices)


SUFFIX = r"(['\"]*)([dpc]?)(['\"]*)"
EVENT = re.compile(rf"([b#]?[1-7](?:{_qualities()})(?:/[b#]?[1-7])?|0){SUFFIX}")
CHORD = re.compile(r"([b#]?)([1-7])([-o+ø]|hdim|)(?:\^([^/]+))?(?:/([b#]?)([1-7]))?")
AFTER_WRONG = re.compile(rf"(?:/[b#]?[1-7])?{SUFFIX}")
DIRECTIVE = re.compile(r"\[([^\[\]]*)\]")
UNCLOSED = re.compile(
    r"\[(?:\s*(?:up|down|key|fade|)\s*(?:[A-G][b#]?|\d*)(?:\s*/\s*\d*)?)", re.IGNORECASE
)
KEY_MOVE = re.compile(r"(up|down)\s*(\d{1,3})", re.IGNORECASE | re.ASCII)
NEW_KEY = re.compile(r"key\s+(\S.*)", re.IGNORECASE)
FADE = re.compile(FADE_WORDS, re.IGNORECASE)
OPEN_SIGN = "?"
ARTICULATIONS = {
    "": None,
    "d": Articulation.HOLD,
    "p": Articulation.PUSH,
    "c": Articulation.CHOKE,
}
MAY_FOLLOW = frozenset("?._()[]|:,;0123456789b#")


def read_key_move(line: str) -> DirectiveToken | None:
    """Return the change of key that stands alone on a line; None if the line is anything else."""
    match = DIRECTIVE.fullmatch(line.strip().translate(LOOKALIKES))
    if match is None:
        return None
    try:
        directive = _read_directive(match[1].strip(), 0, 0)
    except ChartError:
        return None
    return directive if directive is not None and directive.kind == "change of key" else None


def read_alone(line: str) -> tuple[DirectiveToken, ...]:
    """Return the changes of key and notes that stand alone on a line; () if anything else does.

    A word such as [Build], which names a section where it stands alone, is no note here.
    """
    found = []
    at = 0
    for match in DIRECTIVE.finditer(line):
        if line[at : match.start()].strip():
            return ()
        move, note = read_key_move(match[0]), tidy_note(match[1])
        if move is not None:
            found.append(move._replace(start=match.start(), end=match.end()))
        elif is_note(note) and not names_a_section(note):
            found.append(DirectiveToken(match.start(), match.end(), note=note))
        else:
            return ()
        at = match.end()
    return tuple(found) if not line[at:].strip() else ()


def tokenize(typed: str, report: ReportProblem) -> Iterator[Token]:
    """Yield the tokens of a typed line; what is not a token goes to `report` and is skipped."""
    line = typed.translate(LOOKALIKES)
    at = 0
    while at < len(line):
        sign = line[at]
        if sign.isspace():
            at += 1
            continue
        old = describe_old_directive(line, typed, at) if sign == "(" else None
        if old is not None:
            report(at, old.found, old.expected)
            at = old.end
            continue
        if sign == OPEN_SIGN:
            yield ChordToken(None, 0, None, at, at + 1, is_open=True)
            at += 1
            continue
        if sign in ".()":
            yield SeparatorToken(sign, at)
            at += 1
            continue
        hits = HITS.match(line, at) if sign == "*" else None
        token: Token | int
        if hits is not None:
            token = DirectiveToken(at, hits.end(), hits=hits["beats"])
        elif sign == "[":
            token = _directive(line, typed, at, report)
        else:
            token = _chord(line, typed, at, report)
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
    joined = match is not None and "_" in line and OLD_SPLIT.match(line, at) is not None
    if match is not None and not joined and _may_end(line, match.end()):
        chord = _read_chord(match[1])
        articulation = ARTICULATIONS[match[3]]
        if chord is None and articulation is not None:
            report(at, f"0 with {match[3]}", "0 alone: silence takes no hold, push or choke")
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
    quality = "ø" if quality == "hdim" else quality
    return Chord(*root, quality, extension, None if bass == root else bass)


def _directive(
    line: str, typed: str, at: int, report: ReportProblem
) -> DirectiveToken | ChordToken | int:
    """Read the square brackets at an index; returns as `_chord` does."""
    match = DIRECTIVE.match(line, at)
    if match is None:
        unclosed = UNCLOSED.match(line, at)
        end = unclosed.end() if unclosed else at + 1
        report(at, f"{abbreviate(line[at:end].rstrip())} without ]", DIRECTIVES)
        return end
    inside = match[1].strip()
    try:
        directive = _read_directive(inside, at, match.end())
    except ChartError as error:
        report(at, abbreviate(match[0]), error.expected)
        return match.end()
    if directive is not None:
        return directive
    note = tidy_note(typed[at + 1 : match.end() - 1])
    if note.lower() in ARTICULATION_WORDS:
        return DirectiveToken(at, match.end(), letter=ARTICULATION_WORDS[note.lower()])
    if is_note(note):
        return DirectiveToken(at, match.end(), note=note)
    if EVENT.match(inside) is None:
        report(at, abbreviate(match[0]), DIRECTIVES)
        return match.end()
    report(at, abbreviate(match[0]), "round brackets around the chords of one bar, as in (1 5)")
    return ChordToken(None, 0, None, at, match.end(), valid=False)


def _read_directive(inside: str, start: int, end: int) -> DirectiveToken | None:
    """The directive that a text in square brackets is; None if it is none.

    Raises ChartError for a meter, a move or a key that cannot be.
    """
    meter, move = METER.fullmatch(inside), KEY_MOVE.fullmatch(inside)
    key = NEW_KEY.fullmatch(inside)
    if meter is not None:
        return DirectiveToken(start, end, Meter(int(meter[1]), int(meter[2])))
    if move is not None:
        semitones = int(move[2])
        if not 1 <= semitones <= 11:
            expected = "a move of 1 to 11 half steps, as in [up 2] or [down 3]"
            raise ChartError("key change", inside, expected)
        sign = 1 if move[1].lower() == "up" else -1
        return DirectiveToken(start, end, key_change=sign * semitones)
    if key is not None:
        return DirectiveToken(start, end, key=Key.parse(key[1]))
    if FADE.fullmatch(inside) is not None:
        return DirectiveToken(start, end, fades=True)
    return None
