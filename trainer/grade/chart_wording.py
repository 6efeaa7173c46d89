"""Word what is said of the chart as a whole: its 1, its phrases and sections, the speed, a fresh
start.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.grade.aligned import AlignedCharts
from trainer.grade.content import note_name
from trainer.grade.text_pieces import (
    bars_text,
    interval_text,
    location_text,
    percent_text,
)

__all__ = [
    "CountedFrom",
    "empty_text",
    "fade_text",
    "far_off_text",
    "home_text",
    "other_meter_text",
    "phrases_text",
    "respelled_meter_text",
    "speed_text",
]

RELATIVE = {
    "relative major": "You counted this minor song from its relative major: you wrote its home "
    "chord as 6-, and here it's 1-.",
    "own minor 1": "You counted from the minor chord as 1-, but here the song is counted from its "
    "relative major, and that chord is 6-.",
}
MAJOR_SIXTH = 9
BOTH_WAYS = "Musicians do it both ways, so agree on one with the band."


@dataclass(frozen=True, slots=True)
class CountedFrom:
    """Some bars of the song, in order, whose numbers stand in another key.

    `kind` is that of a `HomeShift`. The numbers stand `semitones` above those played; `right` of
    the `compared` bars have the right root once that is undone. `score` is what the bars score so,
    None if that says something of other bars too. `is_relative` is whether the other 1 is that
    of the relative major or minor of the song's.
    """

    kind: str
    semitones: int
    bars: tuple[int, ...]
    right: int
    compared: int
    score: float | None
    is_relative: bool = False


def home_text(counted: CountedFrom, aligned: AlignedCharts) -> str:
    """Say from which 1 a chart, or a part of it, is counted."""
    noun = "bar has" if counted.compared == 1 else "bars have"
    evidence = (
        f"Counted from the song's 1, {counted.right} of {counted.compared} {noun} the right root"
    )
    if counted.score is not None:
        evidence += f", and your bars score {percent_text(counted.score)}"
    evidence += "."
    if counted.kind in RELATIVE:
        return f"{RELATIVE[counted.kind]} {evidence} {BOTH_WAYS}"
    if counted.kind.startswith(("key", "numbers")):
        return _key_text(counted, aligned, evidence)
    up = interval_text(counted.semitones)
    if counted.kind == "section from another home":
        return _section_text(counted, aligned, evidence)
    return (
        f"You counted from the wrong 1: your numbers are {up} above what the band played, "
        f"{note_name(counted.semitones)} for 1. {evidence} Before you write, find the note where "
        "the song comes to rest. That's 1."
    )


def _section_text(counted: CountedFrom, aligned: AlignedCharts, evidence: str) -> str:
    """Say that a part is counted from another 1 while the song's 1 stays."""
    song, first = aligned.reference, counted.bars[0]
    where = location_text(song, counted.bars, capital=True)
    up, from_one = interval_text(counted.semitones), "another 1"
    if counted.is_relative:
        from_one = f"the relative {'major' if counted.semitones == MAJOR_SIXTH else 'minor'}"
    text = (
        f"{where}: you counted from {from_one}, so your numbers are {up} above what the band "
        f"played. {evidence}"
    )
    if first == 1:
        return f"{text} Find the note where the song comes to rest. That's 1."
    sections = {song.section_of_bar[bar - 1] for bar in counted.bars}
    into = "the section" if len(sections) == 1 and len(song.sections) > 1 else f"bar {first}"
    return f"{text} The 1 stays where it was: keep singing it into {into}."


def _key_text(counted: CountedFrom, aligned: AlignedCharts, evidence: str) -> str:
    """Say how numbers go wrong at a change of key."""
    up, first = interval_text(counted.semitones), counted.bars[0]
    if counted.kind == "key change not written":
        return (
            f"From bar {first} on, you counted in the old key: your numbers are {up} above those "
            f"of the new key. {evidence} After the change, count from the new 1, and mark the "
            "change where it happens."
        )
    if counted.kind == "numbers of the old key":
        return (
            f"From bar {first} on, you marked the key change but still counted in the old key: "
            f"your numbers are {up} above those of the new key. {evidence} After the change, count "
            "from the new 1."
        )
    if counted.kind == "key change not played":
        return (
            f"You moved the key at {location_text(aligned.reference, [first])}: the chords sound "
            f"right, but the song stays in its key, so your numbers are {up} above the song's. "
            f"{evidence} Leave the key change out and keep counting from the same 1."
        )
    if counted.kind == "key change late":
        return (
            f"The key moves at {location_text(aligned.reference, [first])}, but you moved it at "
            f"bar {counted.bars[-1] + 1}. Until then you counted in the old key: your numbers are "
            f"{up} above those of the new key. {evidence} After the change, count from the new 1."
        )
    return (
        f"From bar {first} on, your numbers fit another key than the one you marked. {evidence} "
        "Find the note that feels like home, and mark a key change only when home moves."
    )


def respelled_meter_text(played: str, written: str) -> str:
    """Say that the meter's pulse goes by another name in the answer."""
    return (
        f"The song is in {played}, and you wrote it in {written}: the pulse is the same, so your "
        "bars still line up. Ask the band which meter they call it."
    )


def other_meter_text(played: str, written: str) -> str:
    """Say that the answer is in another meter throughout."""
    return (
        f"The song is in {played}, and you wrote the whole chart in {written}. Count the beats "
        "from one downbeat to the next."
    )


def phrases_text(missed: Sequence[int], extra: Sequence[int]) -> str:
    """Say after which bars of the song a phrase ends that is not marked, and after which of the
    answer an end is marked where there is none.
    """
    parts = []
    if missed:
        end = "phrase end" if len(missed) == 1 else "phrase ends"
        parts.append(f"ou didn't mark the {end} after {bars_text(missed)} of the song")
    if extra:
        end = "a phrase end" if len(extra) == 1 else "phrase ends"
        there = "there is" if len(extra) == 1 else "there are"
        parts.append(f"ou marked {end} after your {bars_text(extra)}, where {there} none")
    return f"Y{', and y'.join(parts)}. Listen for where the vocal starts over."


def fade_text(played: int | None, written: int | None) -> str:
    """Say that the fade from bar `played` on is not marked, or that one is marked and not played.

    Both count from 1; one of them is None.
    """
    if played is not None:
        return (
            f"The band fades out from bar {played} on, and you didn't mark it. Write [fade] before "
            "the bar where the fade begins."
        )
    return (
        f"You wrote [fade] before your bar {written}, but the band doesn't fade: it plays to the "
        "last bar."
    )


def speed_text(bar: int) -> str:
    """Say where the writing fell behind the song."""
    return (
        f"You fell behind at bar {bar}. When that happens, let those bars go, stay with the song "
        "and fill the gap afterwards."
    )


def far_off_text(written: int, right: Sequence[int]) -> str:
    """Advise the writer to start again; of the bars written, only `right` have the right root."""
    have = "has" if len(right) < 2 else "have"
    where = f" ({bars_text(right)})" if right else ""
    return (
        f"Of the {written} bars you wrote, {len(right) or 'none'} {have} the right root{where}. "
        "Start again with one phrase: count its bars, find the 1, then follow just the bass."
    )


def empty_text(bars: int) -> str:
    """Say that nothing is written, and where to start."""
    number = "the bar" if bars == 1 else f"any of the {bars} bars"
    return (
        f"You haven't written {number} yet. Count the bars of the first phrase, and start with "
        "the ones where the bass is on 1."
    )
