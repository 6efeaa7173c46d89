"""What a file says to the players, as the notes, hits and comments of a chart."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from trainer.chart import Bar, Section
from trainer.chart.hits import parse_hits
from trainer.chart.notes import MOST_NOTES, is_note, tidy_note
from trainer.errors import ChartError
from trainer.export.musicxml import OPEN_WORD
from trainer.export.names import one_line
from trainer.export.problems import ProblemList
from trainer.export.score import Measure, Score

__all__ = ["KEY_MOVE", "notes_of", "song_comments", "with_comments", "with_words"]

# A move of the key in words, which the key signatures say as well.
KEY_MOVE = re.compile(r"(up|down) (\d{1,2})")
MOST_CHARACTERS = 200


def notes_of(words: Sequence[str], measure: str, problems: ProblemList) -> tuple[str, ...]:
    """The notes in the words of a measure; what can be none is told."""
    found: list[str] = []
    for text in words:
        if text == OPEN_WORD or KEY_MOVE.fullmatch(text) is not None:
            continue
        note = tidy_note(one_line(text))
        if note and is_note(note) and len(found) < MOST_NOTES:
            found.append(note)
        elif note:
            problems.add(f"measure {measure}", f"the words {note[:40]!r}", "they are left out")
    return tuple(found)


def with_words(bar: Bar, measure: Measure, problems: ProblemList) -> Bar:
    """A bar with the notes and hits of its measure."""
    notes = notes_of(measure.words, measure.name, problems)
    bar = replace(bar, notes=notes) if notes else bar
    hits: tuple[Fraction, ...] = ()
    try:
        if measure.hits:
            hits = parse_hits(measure.hits, bar.meter)
        elif measure.accents and measure.accents == measure.slashes:
            hits = tuple(sorted(hit * bar.meter.unit / 4 for hit in measure.accents))
        return replace(bar, hits=hits) if hits else bar
    except ChartError as error:
        problems.add(f"measure {measure.name}", f"hits: {error.found}", "they are left out")
        return bar


def _comment(text: str, place: str, problems: ProblemList) -> tuple[str, ...]:
    """A comment as a chart can hold it; a longer one is cut, which is told."""
    line = one_line(text)
    if len(line) > MOST_CHARACTERS:
        problems.add(place, f"a comment of {len(line)} characters", f"{MOST_CHARACTERS} are kept")
    return (line[:MOST_CHARACTERS].strip(),) if line else ()


def song_comments(score: Score, problems: ProblemList) -> tuple[str, ...]:
    """The comments of the song itself."""
    return tuple(
        comment
        for section, _, text in score.placed_comments
        if section == 0
        for comment in _comment(text, "comments", problems)
    )


def with_comments(
    sections: Sequence[Section], score: Score, problems: ProblemList
) -> tuple[Section, ...]:
    """The sections with the comments that belong to them and to their phrases."""
    found = list(sections)
    for number, place, text in score.placed_comments:
        if not 1 <= number <= len(found):
            continue
        section = found[number - 1]
        comment = _comment(text, section.name, problems)
        try:
            if 1 <= place <= len(section.phrases):
                phrases = list(section.phrases)
                phrase = phrases[place - 1]
                phrases[place - 1] = replace(phrase, comments=phrase.comments + comment)
                found[number - 1] = replace(section, phrases=tuple(phrases))
            elif section.name:
                found[number - 1] = replace(section, comments=section.comments + comment)
        except ChartError as error:
            problems.add(section.name, error.found, "it is left out")
    return tuple(found)
