"""The notation of before revision 0007, rewritten in the signs of that revision.

This is frozen: it reads what older versions wrote or people typed into them, and it must not change
when the notation changes again. The old signs were `1_5` and `1'''_5'` for the chords of one bar,
`7h` for a half-diminished chord, `1s` for a chord that is choked ("stop"), `(2/4)` for a bar's own
meter and `(key +2)` for a move of the key. What is not understood is kept, character for character.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

__all__ = ["Piece", "new_chord", "new_sentence", "new_skill", "new_text", "pieces_of_text"]

LOOKALIKES = str.maketrans("♭♯−–—’‘′`´”“″°ºø", "b#---'''''\"\"\"ooh")
HEADER_WORDS = ("title", "meter", "tempo", "feel", "key")
EXTENSIONS = "7sus4|9sus4|maj7|maj9|add9|sus2|sus4|7b9|7#9|69|11|13|5|6|7|9"  # the longest first
CHORD = rf"(?:[b#]?[1-7](?P<quality>[-o+h]?)(?:\^(?:{EXTENSIONS}))?(?:/[b#]?[1-7])?|0)"
SUFFIX = r"['\"]*(?P<articulation>[dps]?)['\"]*"
# A chord, or something that was meant as one: what is joined by _ was one bar.
EVENT = re.compile(CHORD + SUFFIX, re.ASCII)
WRONG = re.compile(r"[b#]*\d(?P<quality>[-o+h]?)[^\s\d_.|()]*|[^\s\d_.|()]+", re.ASCII)
METER = re.compile(r"\(\s*(\d{1,3})\s*/\s*(\d{1,3})\s*\)", re.ASCII)
KEY_MOVE = re.compile(r"\(\s*key\s*([+-])\s*(\d{1,3})\s*\)", re.IGNORECASE | re.ASCII)
UNFINISHED_METER = re.compile(r"\((?=\s*(?:\d{1,3}\s*(?:/\s*\d{0,3}\s*)?)?\Z)", re.ASCII)
UNFINISHED_MOVE = re.compile(r"\(\s*key\s*([+-])(?=\s*\d{0,3}\s*\Z)", re.IGNORECASE | re.ASCII)
JOIN = re.compile(r"\s*_\s*")
PLAIN_SEVEN = re.compile(r"7(?![-o+h])")
# Bars that look like a meter, which they were not.
LIKE_METERS = frozenset(("2/4", "3/4", "6/4"))
LINE_END = re.compile(r"(\r\n|\r|\n)")
LABEL_WORD = re.compile(r"[^\W\d_][^\s\d_.|()]+")
LETTER_CHORD = re.compile(
    r"[A-G](?:#|b)?(?:maj|min|dim|aug|sus|add|[mM])?\d{0,2}(?:/[A-G](?:#|b)?)?(?=[\s._|]|$)"
)
# In a sentence only what cannot be anything else is a sign.
PLAIN_SUFFIX = SUFFIX.replace("?P<articulation>", "")
PLAIN_CHORD = CHORD.replace("?P<quality>", "")
IN_SENTENCE = re.compile(
    rf"(?<![\w^/]){CHORD}{SUFFIX}(?:_{CHORD}{SUFFIX})+(?!\w)".replace("?P<quality>", "").replace(
        "?P<articulation>", ""
    )
    + r"|\(\d{1,2}/(?:2|4|8|16)\)|\(key [+-]\d{1,2}\)"
    + r"|(?<![\w^/])[b#]?[1-7]h(?:\^7)?(?:/[b#]?[1-7])?(?!\w)"
    + rf"|(?<![\w^/]){PLAIN_CHORD}'*s'*(?= (?:was|is|were|are)\b)"
)


class Piece(NamedTuple):
    """A new text that stands for an old one; both are the same where nothing changed."""

    new: str
    old: str


OPENED, CLOSED = Piece("(", ""), Piece(")", "")


def new_text(text: str) -> str:
    """A chart's text, finished or not, in the new signs; headers and labels stay as they are."""
    return "".join(piece.new for piece in pieces_of_text(text))


def new_chord(text: str) -> str:
    """A chord, a bar or bars that stand alone, in the new signs."""
    return "".join(piece.new for piece in _bars(text))


def new_sentence(text: str) -> str:
    """A sentence in which chords are quoted: what is surely a chord, in the new signs."""
    return IN_SENTENCE.sub(lambda found: new_chord(found[0]), text)


def new_skill(name: str) -> str:
    """The name of a skill: "stop" is "choke", "chord 7h" is "chord 7ø"."""
    if name == "stop":
        return "choke"
    kind, _, chord = name.partition(" ")
    return f"{kind} {new_chord(chord)}" if kind in ("chord", "bass") else name


def pieces_of_text(text: str) -> Iterator[Piece]:
    """The new text in pieces, each with the old text that it stands for."""
    for line in LINE_END.split(text):
        at = _bars_start(line)
        if at:
            yield Piece(line[:at], line[:at])
        yield from _apart(_bars(line[at:]))


def _apart(pieces: Iterator[Piece]) -> Iterator[Piece]:
    """Keep bars apart that would be read as one chord, or as a meter, in the new notation.

    `57` was two bars, and so was `2-7`; `2/4` was a chord, and stands in brackets as a bar.
    """
    before, inside = Piece("", ""), False
    for piece in pieces:
        touch = EVENT.fullmatch(piece.old) and EVENT.fullmatch(before.old)
        if touch and (PLAIN_SEVEN.match(piece.old) or before.old.endswith("-")):
            yield Piece(" ", "")
        inside = (inside or piece == OPENED) and piece != CLOSED
        if piece.old in LIKE_METERS and not inside and before.old not in ("(", "["):
            yield from (OPENED, piece, CLOSED)
        else:
            yield piece
        before = piece


def _bars_start(line: str) -> int:
    """Where in a line bars begin: after the colon of a label, at the end of a line without bars."""
    text = line.removeprefix("\ufeff").strip()
    name, colon, rest = text.partition(":")
    if colon and text[:1].isalpha() and not rest.startswith("|"):
        is_header = " ".join(name.split()).lower() in HEADER_WORDS
        has_bars = not is_header and rest.strip()[:1] in tuple("0123456789b#(|♭♯")
        return line.index(":") + 1 if has_bars else len(line)
    word = LABEL_WORD.match(text)
    if colon and not rest.strip() and "|" not in text:
        return len(line)
    is_label = (
        word is not None
        and LETTER_CHORD.match(text) is None
        and re.match(r"[b#]+\d", text, re.ASCII) is None
        and word[0] != "NC"
    )
    return len(line) if is_label else 0


def _bars(typed: str) -> Iterator[Piece]:
    """The pieces of a line of bars."""
    line = typed.translate(LOOKALIKES)
    at = 0
    while at < len(line):
        end = _event_end(line, at)
        joined = []
        while end is not None:
            joined.append((at, end))
            join = JOIN.match(line, end)
            after = None if join is None else _event_end(line, join.end())
            if join is None or (after is None and join.end() < len(line)):
                break
            at, end = join.end(), after
        if joined:
            yield from _bar(line, typed, joined, unfinished=end is None)
            at = len(line) if end is None else end
            continue
        piece = _directive(line, typed, at)
        yield piece
        at += len(piece.old)


def _bar(
    line: str, typed: str, events: list[tuple[int, int]], *, unfinished: bool
) -> Iterator[Piece]:
    """The pieces of one bar; several chords, or a first one with more to come, get brackets."""
    brackets = unfinished or len(events) > 1
    for number, (at, end) in enumerate(events):
        if number:
            yield Piece(" ", typed[events[number - 1][1] : at])
        if brackets and not number:
            yield Piece("(", "")
        yield Piece(_event(line, typed, at, end), typed[at:end])
    if unfinished:
        yield Piece(" ", typed[events[-1][1] :])
    elif brackets:
        yield Piece(")", "")


def _event_end(line: str, at: int) -> int | None:
    """Where a chord, or what was meant as one, that starts at an index ends; None without one."""
    match = EVENT.match(line, at)
    if match is not None and (match.end() == len(line) or not _goes_on(line[match.end()])):
        return match.end()
    wrong = WRONG.match(line, at)
    return None if wrong is None else wrong.end()


def _goes_on(sign: str) -> bool:
    """Whether a character belongs to the text before it."""
    return not sign.isspace() and sign not in "._()|:,;0123456789b#"


def _event(line: str, typed: str, at: int, end: int) -> str:
    """A chord in the new signs; only the signs of quality and articulation may change."""
    new = list(typed[at:end])
    match = EVENT.fullmatch(line, at, end) or WRONG.fullmatch(line, at, end)
    signs = {} if match is None else match.groupdict()
    for name, old, sign in (("quality", "h", "ø"), ("articulation", "s", "c")):
        if match is not None and signs.get(name) == old:
            new[match.start(name) - at] = sign
    return "".join(new)


def _directive(line: str, typed: str, at: int) -> Piece:
    """The meter or the move of the key at an index, or the one character that stands there."""
    meter = METER.match(line, at)
    if meter is not None and 1 <= int(meter[1]) <= 16 and int(meter[2]) in (2, 4, 8, 16):
        return Piece(f"[{typed[at + 1 : meter.end() - 1]}]", typed[at : meter.end()])
    move = KEY_MOVE.match(line, at)
    if move is not None:
        return Piece(f"[{_way(move[1])} {move[2]}]", typed[at : move.end()])
    unfinished = UNFINISHED_MOVE.match(line, at)
    if unfinished is not None:
        return Piece(f"[{_way(unfinished[1])} ", typed[at : unfinished.end()])
    unfinished = UNFINISHED_METER.match(line, at)
    if unfinished is not None:
        return Piece("[", typed[at : unfinished.end()])
    return Piece(typed[at], typed[at])


def _way(sign: str) -> str:
    return "up" if sign == "+" else "down"
