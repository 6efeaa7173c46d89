"""One chord written in words, with spaces in it: flat 7, 6 minor, 2 min 7, 5 over 7."""

from __future__ import annotations

import re

from trainer.chart.typed.words import ChordPiece, Reading, WordDoubt, read_numbers

__all__ = ["SAID", "read_said"]

SIGN = r"(?i:flat|sharp)[ -]*|[b#] +"
QUALITY = (
    r"(?i:major|minor|maj|min|mi|diminished|dim|augmented|aug|half[ -]?diminished|half[ -]?dim)|m"
)
# A pattern for such a chord; at least one of its spaces or words must be there.
SAID = (
    rf"(?<![^\s(|,;])"
    rf"(?={SIGN}|[b#]?[1-7](?: +(?:{QUALITY}|(?i:sus|over)|7th|9th)|(?i:major|minor)))"
    r"(?P<sign>" + SIGN + r")?(?P<root>[b#]?[1-7])"
    rf"(?: *(?P<sus>(?i:sus))(?P<step> *)(?P<fourth>[42])?(?![A-Za-z\d])"
    rf"|(?: *(?P<quality>{QUALITY})(?![A-Za-z]))?(?:(?P<gap> *)(?P<figure>[79](?:th)?)(?![\w^]))?)"
    rf"(?:(?: +(?i:over) +(?i:the +)?|/)(?P<bass>(?:{SIGN})?[b#]?[1-7]))?(?=[\s)|,.;]|$)"
)


def read_said(match: re.Match[str], is_major: bool) -> Reading | None:
    """Read what SAID has matched as one chord; None if there is no such chord.

    A figure that stands apart, as in 2 min 7, may be the next bar: that is asked about.
    """
    end, figure = match.end() - match.start(), match["figure"] or match["fourth"] or ""
    root = _sign(match["sign"]) + match["root"]
    quality = _quality(match["quality"] or match["sus"] or "")
    bass = match["bass"] or ""
    over = f"/{_sign(bass[:-1])}{bass[-1]}" if bass else ""
    caret = "^" if figure and not quality else ""
    whole = _chord(root + quality + caret + figure.removesuffix("th") + over, is_major, end)
    is_apart = bool(match["step"] if match["sus"] else match["gap"])
    if whole is None or not figure or figure.endswith("th") or not is_apart:
        return None if whole is None else Reading((whole,))
    alone = _chord(root + quality, is_major, end)
    if alone is None:
        return Reading((whole,))
    apart = (alone.text, f"{figure}{over}")
    asked = f"{whole.text}, or {apart[0]} and then {apart[1]}?"
    return Reading((whole,), (WordDoubt(0, end, asked, ((whole.text,), apart)),))


def _sign(said: str | None) -> str:
    """A flat or a sharp as its sign, "" for neither."""
    first = (said or "").strip()[:1].lower()
    return {"f": "b", "b": "b", "s": "#", "#": "#"}.get(first, "")


def _quality(said: str) -> str:
    """A quality in words as the short spellings have it."""
    said = said if said == "m" else said.lower()
    return "hdim" if said.startswith("half") else said


def _chord(text: str, is_major: bool, end: int) -> ChordPiece | None:
    """The only chord of a text, as long as what was said; None if it is no chord or several."""
    reading = read_numbers(text, is_major)
    if reading is None or len(reading.chords) != 1:
        return None
    return reading.chords[0]._replace(start=0, end=end)
