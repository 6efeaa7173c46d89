"""How a dictation goes while it runs: who is here, how far they are, what they wrote for a bar.

Answers are graded on the bars that have sounded and that somebody has written. Grades and the times
of bars are kept for the texts that were asked for last, so that a class that is looked at once a
second costs little.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from trainer.chart import excerpt
from trainer.chart.format import format_bar
from trainer.drill import play_part
from trainer.exercise import Exercise, exercise_from_json, read_answer
from trainer.grade import grade, weights_for
from trainer.store import ItemWithSong

if TYPE_CHECKING:
    from trainer.store import Dictation, DictationAnswer, Repositories

__all__ = [
    "KEPT",
    "BarAnswers",
    "DictationTable",
    "SeatRow",
    "bar_answers",
    "dictation_table",
    "item_of",
    "sounding_bar",
    "whole_song",
]

# A page says at least this often that it is there.
HERE_S = 25
RIGHT = 1 - 1e-9
NOTHING = ""
# What is kept of the item that a dictation plays, besides its exercise.
KEPT = ("kind", "source", "tempo", "take", "expected")


@dataclass(frozen=True, slots=True)
class SeatRow:
    """A learner in a dictation: how many bars they have written, how many of the bars that were
    looked at (`of`) are right, whether their page is open and whether they have handed in."""

    name: str
    is_here: bool
    written: int
    right: int
    of: int
    is_handed_in: bool


@dataclass(frozen=True, slots=True)
class DictationTable:
    """Everybody in a dictation by name, and the bar that sounds (0 for none)."""

    sounding: int
    heard: int
    rows: tuple[SeatRow, ...]


@dataclass(frozen=True, slots=True)
class BarAnswers:
    """What the class wrote for a bar, without names: each text (`NOTHING` for no chord) with how
    many wrote it, the most frequent first."""

    bar: int
    counts: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class _Read:
    """What was read of an answer: its bars, and by bar of the song what was written and whether it
    is right."""

    written: int
    texts: Mapping[int, str]
    right: frozenset[int]


def whole_song(song: Mapping[str, Any]) -> str:
    """The exercise of a stored song as text, by which what is worked out of it is kept."""
    return json.dumps(song["exercise"], sort_keys=True)


def item_of(dictation: Dictation, song: Mapping[str, Any]) -> ItemWithSong:
    """A dictation's song as the one item of its assignment; it was heard as often as the band
    played."""
    return ItemWithSong(
        id=0,
        uid="",
        assignment_id=0,
        position=1,
        title=dictation.title,
        same_song=True,
        listens=0,
        one_pass=False,
        points=1.0,
        exercise=exercise_from_json(song["exercise"]),
        **{name: song[name] for name in KEPT},
    )


def sounding_bar(dictation: Dictation, song: str, now: datetime) -> int:
    """The bar that sounds now, the last one if the band has come to its end; 0 if it does not play.

    `song` is what `whole_song` gives.
    """
    if dictation.phase != "playing" or dictation.began_at is None:
        return 0
    elapsed_s = (now - dictation.began_at).total_seconds()
    starts = _starts_s(song, dictation.first_bar, dictation.last_bar)
    return max(
        (dictation.first_bar + place for place, at in enumerate(starts) if at <= elapsed_s),
        default=0,
    )


def dictation_table(store: Repositories, dictation: Dictation, now: datetime) -> DictationTable:
    """How everybody in a dictation is doing, in three reads."""
    song = whole_song(store.dictations.song(dictation))
    sounding = sounding_bar(dictation, song, now)
    heard = max(dictation.heard, sounding)
    answers = {each.account_id: each for each in store.dictations.answers(dictation)}
    members = store.classes.members(dictation.class_id)
    rows = [
        _row(each.shown_name, answers.get(each.account_id), song, heard, now)
        for each in members
        if each.role == "learner" and each.left_at is None
    ]
    return DictationTable(sounding, heard, tuple(rows))


def bar_answers(store: Repositories, dictation: Dictation, bar: int) -> BarAnswers:
    """What the class wrote for a bar, without names."""
    song = whole_song(store.dictations.song(dictation))
    counts = Counter(
        _read(song, each.text, dictation.bars).texts.get(bar, NOTHING)
        for each in store.dictations.answers(dictation)
    )
    ordered = sorted(counts.items(), key=lambda pair: (pair[0] == NOTHING, -pair[1], pair[0]))
    return BarAnswers(bar, tuple(ordered))


def _row(
    name: str, answer: DictationAnswer | None, song: str, heard: int, now: datetime
) -> SeatRow:
    if answer is None:
        return SeatRow(name, is_here=False, written=0, right=0, of=0, is_handed_in=False)
    read = _read(song, answer.text, heard)
    return SeatRow(
        name,
        now - answer.seen_at < timedelta(seconds=HERE_S),
        read.written,
        len(read.right),
        min(read.written, heard),
        answer.handed_in_at is not None,
    )


@lru_cache(maxsize=32)
def _exercise(song: str) -> Exercise:
    return exercise_from_json(json.loads(song))


@lru_cache(maxsize=256)
def _starts_s(song: str, first: int, last: int) -> tuple[float, ...]:
    """When bars begin to sound, in seconds after the band began."""
    times = play_part(_exercise(song), first, last).bar_times_s
    return tuple(start for start, _ in times)


def _read(song: str, text: str, heard: int) -> _Read:
    """Read an answer against the bars of the song that have been heard."""
    written = _bar_count(song, text)
    return _graded(song, text, written, min(written, heard))


@lru_cache(maxsize=2048)
def _bar_count(song: str, text: str) -> int:
    chart = read_answer(_exercise(song), text).chart
    return 0 if chart is None else len(chart.bars())


@lru_cache(maxsize=2048)
def _graded(song: str, text: str, written: int, count: int) -> _Read:
    """Grade the first bars of an answer against as many of the song."""
    exercise = _exercise(song)
    chart = read_answer(exercise, text).chart
    if chart is None or not count:
        return _Read(written, {}, frozenset())
    answer = excerpt(chart, 1, count)
    report = grade(excerpt(exercise.chart, 1, count), answer, weights=weights_for(exercise.ask))
    bars = answer.bars()
    texts = {
        row.reference: format_bar(bars[row.answer - 1], answer)
        for row in report.bars
        if row.reference is not None and row.answer is not None
    }
    right = (row.reference for row in report.bars if row.reference and row.score >= RIGHT)
    return _Read(written, texts, frozenset(right))
