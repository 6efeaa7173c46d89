"""Articulations written out after a chord: hold, push and stop as words, in brackets or not."""

from __future__ import annotations

from collections.abc import Iterable

from trainer.chart.notes import ARTICULATION_WORDS
from trainer.chart.typed.pieces import Kind, Piece

__all__ = ["attach_articulations"]

# Kinds of pieces after which the chord before is the only one that a push can be meant for.
AFTER_LAST = (Kind.LINE, Kind.DOUBLE, Kind.END, Kind.COMMA, Kind.CLOSE)


def attach_articulations(pieces: Iterable[Piece]) -> list[Piece]:
    """Write the letter of an articulation on the chord before its word.

    A push without brackets between two chords may be meant for either, and is left as it is.
    """
    given = list(pieces)
    found: list[Piece] = []
    at = 0
    while at < len(given):
        letter, end = _word_at(given, at)
        bracketed = end - at > 1
        last = end >= len(given) or given[end].kind in AFTER_LAST
        chord = found[-1] if found else None
        takes_it = (
            chord is not None
            and chord.kind is Kind.CHORD
            and chord.text != "0"
            and chord.text[-1] not in "dpc"
        )
        if chord is not None and letter and takes_it and (letter != "p" or bracketed or last):
            found[-1] = chord._replace(text=chord.text + letter, end=given[end - 1].end)
            at = end
        else:
            found.append(given[at])
            at += 1
    return found


def _word_at(pieces: list[Piece], at: int) -> tuple[str, int]:
    """The letter of an articulation word at an index, "" if there is none, and the index after."""
    kinds = [piece.kind for piece in pieces[at : at + 3]]
    bracketed = kinds == [Kind.OPEN, Kind.OTHER, Kind.CLOSE]
    word = pieces[at + 1] if bracketed else pieces[at]
    letter = ARTICULATION_WORDS.get(word.text.lower(), "") if word.kind is Kind.OTHER else ""
    return letter, at + (3 if bracketed else 1)
