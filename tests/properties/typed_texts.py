"""Random texts of what people type, from nearly right to nonsense, made by a seed."""

from __future__ import annotations

import random

__all__ = ["random_text"]

PIECES = (
    *"0123456789 b#-o+ø^/'.()|:%?,;xX \n\tdpcDPC<>[]", "\n", "\n", " ", " ", " ", " ", "1", "4",
    "5", "6-", "2-", "5/7", "1/3", "(1 5/7)", "(1''' 5')", "1''' 5'", "6m", "2m7", "2min7", "2-7",
    "6-745", "57", "577", "5^7", "1maj7", "1M7", "1Δ", "5sus", "57sus4", "4add9", "7dim", "7o7",
    "3aug", "7hdim", "7m7b5", "59", "169", "57/4", "1-5-6-4", "1-5", "2-5", "1 - 5 - 6", "1 - - -",
    "2/4 5", "(2/4)", "[2/4] 5", "3/4", "6/8 1", "4/4", "12/8", "| ", " | ", "|", "||", "|:", ":|",
    "| 1 4 5 | 1 1 5 |", "| 1 5 | 4 |", ", ", "%", " % ", "/ / /", "1 / / /", "///", "x2", "(x2)",
    " 2x", "[Chorus]", "Chorus", "V1: ", "Chorus 2x:", "Verse 1:", "Tag:\n", "N.C.", "NC", "n.c.",
    "<1>", "◇1", "1◇", "1d^maj7", "1d/3", "１", "⁷", "ᵐᵃʲ⁷", "⁻", "♭7", "♯4o", "’", "″", "–", "—",
    "I", "IV", "vi", "V7", "ii7", "I6", "bVII", "I/III", "vii°", "G", "D/F#", "Em7", "C", "B7",
    "title: ", "meter: ", "meter: 3/4\n", "key: ", "key: E minor\n", "chords: letters\n", "[up 2]",
    "[key D]", "(key +2)", "1_5", "1s", "7h", "\r\n", "\ufeff", "ß", "½", "²", "\u2028", "\x00",
    "Intro：", "?", " ? ", "1!", "4!", ">1", "1>", "^1", "<4", "1<", "flat 7", "sharp 4", " b 7",
    "6 minor", "2 min 7", "5 sus 4", " over ", "5 over 7", "1---", "6--", "1 - - - 4", "->", " > ",
    "→", "{1 5}", "[1 5]", "1+5", "River Song\n", "River Song, key of D\n", "bar lines: bars\n",
    "bar lines: phrases\n", "[up 2]\n", "Chorus [up 2]\n", "| 1 4 5 1 | 4 4 1 1 |\n",
)  # fmt: skip


def random_text(rng: random.Random) -> str:
    """A text of up to thirty pieces, some of them after a usual beginning."""
    pieces = rng.choices(PIECES, k=rng.randrange(1, 30))
    begin = rng.choice(("", "", "1 4\n", "key: G\n", "Verse:\n1 5\n"))
    return begin + "".join(pieces)
