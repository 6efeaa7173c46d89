"""Words on a chart that are not music: notes for the players, and comments for people only.

A note stands in square brackets, so it may not be what else stands there: a meter, a change of key,
a fade, a section's name or a bar of chords. A comment stands after the sign `@`.
"""

from __future__ import annotations

import re

from trainer.chart.band_words import read_band_words
from trainer.chart.invalid_tokens import FADE_WORDS, LETTER_CHORD, ROMAN
from trainer.chart.one_line import is_one_line
from trainer.chart.section_names import OTHER, section_kind
from trainer.chart.typed.remarks import is_remark
from trainer.errors import ChartError

__all__ = [
    "ARTICULATION_WORDS",
    "COMMENT_SIGN",
    "MOST_COMMENTS",
    "MOST_NOTES",
    "check_comments",
    "check_notes",
    "is_note",
    "names_a_section",
    "split_comment",
    "tidy_note",
]

COMMENT_SIGN = "@"
MOST_NOTES, MOST_COMMENTS = 6, 20
MOST_NOTE_CHARACTERS, MOST_COMMENT_CHARACTERS = 60, 200
# Articulations written out, with their letters in the notation.
ARTICULATION_WORDS = {
    "hold": "d", "held": "d", "diamond": "d", "fermata": "d", "ring": "d",
    "push": "p", "pushed": "p",
    "stop": "c", "stopped": "c", "choke": "c", "choked": "c",
}  # fmt: skip
COMMENT = re.compile(rf"(?:^|(?<=\s)){COMMENT_SIGN}")
# What else stands in square brackets, or was meant to.
OTHER_SIGNS = re.compile(
    rf"(?:up|down)\s*\d{{1,3}}|key\b.*|{FADE_WORDS}|[x×]\s*\d+|\d+\s*[x×]", re.IGNORECASE
)
CHORD_WORD = re.compile(rf"[b#]?\d\S*|{LETTER_CHORD}|[b#]?{ROMAN}|[%?/|-]+|[nN][./]?[cC]\.?")
ORDINAL = re.compile(r"\d+(?:st|nd|rd|th)\b", re.IGNORECASE)
NOTE_EXPECTED = (
    f"words for the players on one line of at most {MOST_NOTE_CHARACTERS} characters, with no "
    "square brackets, that are no chord, meter, change of key, fade or section name"
)
COMMENT_EXPECTED = f"a comment on one line of at most {MOST_COMMENT_CHARACTERS} characters"


def tidy_note(text: str) -> str:
    """A note as a chart holds it: single spaces, and the plain colon."""
    return " ".join(text.replace("：", ":").split())


def is_note(text: str) -> bool:
    """Whether a text in square brackets is a note for the players."""
    words = text.split()
    if not words or text != tidy_note(text) or not is_one_line(text):
        return False
    if len(text) > MOST_NOTE_CHARACTERS or "[" in text or "]" in text:
        return False
    if text.lower() in ARTICULATION_WORDS or OTHER_SIGNS.fullmatch(text):
        return False
    if text[0].isdigit() and ORDINAL.match(text) is None:
        return False
    if read_band_words(text):
        return True
    is_chords = all(CHORD_WORD.fullmatch(word) for word in words)
    has_word = re.search(r"[^\W\d_]{2}", text) is not None
    return has_word and not is_chords and not is_remark(text) and not _is_name(text)


def names_a_section(text: str) -> bool:
    """Whether words in square brackets are a section's name where they stand alone on a line.

    Words that the band knows are none, but for a single one such as Build.
    """
    return _is_name(text) and (" " not in text or not read_band_words(text))


def _is_name(text: str) -> bool:
    """Whether a section may be called so; who comes in or out is no intro and no outro."""
    player, _, way = text.lower().rpartition(" ")
    if way in ("in", "out") and player and section_kind(player) == OTHER:
        return False
    return section_kind(text) != OTHER


def check_notes(where: str, notes: tuple[str, ...]) -> None:
    """Raise ChartError unless every text may be a note of a bar or section."""
    if len(notes) > MOST_NOTES:
        raise ChartError(where, f"{len(notes)} notes", f"at most {MOST_NOTES}")
    for note in notes:
        if not is_note(note):
            raise ChartError(where, f"the note {note[:80]!r}", NOTE_EXPECTED)


def check_comments(where: str, comments: tuple[str, ...]) -> None:
    """Raise ChartError unless every text may be a comment."""
    if len(comments) > MOST_COMMENTS:
        raise ChartError(where, f"{len(comments)} comments", f"at most {MOST_COMMENTS}")
    for comment in comments:
        if not comment or len(comment) > MOST_COMMENT_CHARACTERS or not is_one_line(comment):
            raise ChartError(where, f"the comment {comment[:80]!r}", COMMENT_EXPECTED)


def split_comment(line: str) -> tuple[str, str, int]:
    """A line without its comment, the comment ("" for none), and the index where that begins."""
    match = COMMENT.search(line) if COMMENT_SIGN in line else None
    if match is None:
        return line, "", len(line)
    return line[: match.start()], " ".join(line[match.end() :].split()), match.start()
