"""Word bars of the answer that were not played: a bar, phrase or section once more, or new bars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.grade.aligned import AlignedCharts
from trainer.grade.content import BarContent
from trainer.grade.mistakes import Mistake, bar_text
from trainer.grade.text_pieces import (
    bars_aside,
    bars_text,
    number_word,
    phrase_length_text,
    your_bars,
)

__all__ = ["word_added"]

COUNT = "Count the bars of each phrase until the vocal starts over."
TAP = (
    "Tap your foot to the drums: a bar goes from one downbeat to the next, however long a chord "
    "lasts."
)
GO_BY = "Count the bars as they go by."
TIMES = ("never", "once", "twice")


def word_added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars too many, doubled or not."""
    edit = mistake.edits[0]
    own = edit.answer
    if len(mistake.edits) > 1:
        return _here_and_there(mistake, aligned)
    text = bars_aside(your_bars(own), aligned.answer, own)
    if edit.kind == "doubled":
        is_unit = edit.unit in ("phrase", "section")
        hint = GO_BY
        if is_unit:
            hint = f"Listen for how the next {edit.unit} begins before you write it."
        repeated = _repetition(aligned, own)
        if repeated is not None:
            unit = edit.unit if is_unit else "bar" if repeated.size == 1 else "bars"
            return f"Y{text[1:]} {_repeats(repeated, unit, aligned, own)} {hint}"
        like = _much_like(aligned, own)
        it_is = "it's" if len(own) == 1 else "they're"
        likeness = f": {it_is} much like your {bars_text(like)}, and" if like else ":"
        return f"{_not_played(text)}{likeness} {_gap(aligned, own)}. {hint}"
    where = f"{_gap(aligned, own)}."
    return f"{_not_played(text)}: {where} {_added_to_phrase(aligned, own) or GO_BY}"


def _not_played(bars: str) -> str:
    """Say that bars of the answer, named, were not played."""
    return f"The band didn't play {bars.removesuffix(',')}"


def _here_and_there(mistake: Mistake, aligned: AlignedCharts) -> str:
    own = [bar for one in mistake.edits for bar in one.answer]
    if mistake.kind != "doubled":
        return f"{_not_played(your_bars(own))}. {COUNT}"
    text = f"Y{your_bars(own)[1:]} repeat earlier bars, but the band didn't repeat them there."
    if 2 * len(own) < len(aligned.reference):
        return f"{text} {COUNT}"
    return f"{text} {TAP}"


@dataclass(frozen=True, slots=True)
class _Repetition:
    """A run of `size` bars that the band played `played` times and the answer has `written` times.

    `end` is the last bar of the song, from 1, that belongs to the run there.
    """

    size: int
    played: int
    written: int
    end: int


def _repetition(aligned: AlignedCharts, own: Sequence[int]) -> _Repetition | None:
    """Return how often what bars of the answer repeat was played, None if they repeat nothing."""
    answer, song = aligned.answer.contents, aligned.reference.contents
    first, before = own[0] - 1, _bar_before(aligned, own)
    for size in range(1, len(own) + 1):
        if len(own) % size or first < size:
            continue
        start, stop = _run(answer, first, size)
        if start == first or stop < own[-1]:
            continue
        ours, end = _run(song, before - size, size) if before >= size else (before, before)
        played, written = (end - ours) // size, (stop - start) // size
        if size == 1 and song[before - 1].progression != answer[first].progression:
            continue
        if played and written - played == len(own) // size:
            return _Repetition(size, played, written, end)
    return None


def _run(bars: Sequence[BarContent], at: int, size: int) -> tuple[int, int]:
    """Return from where to where the `size` bars from `at` on are repeated without a break."""
    block = bars[at : at + size]
    start, stop = at, at + size
    while start >= size and bars[start - size : start] == block:
        start -= size
    while bars[stop : stop + size] == block:
        stop += size
    return start, stop


def _repeats(repeated: _Repetition, unit: str, aligned: AlignedCharts, own: Sequence[int]) -> str:
    """Say what is repeated, how often it was played and written, and what comes next."""
    verb = "repeats" if len(own) == 1 else "repeat"
    after = _after(aligned, repeated.end)
    if repeated.size == 1:
        name = bar_text(aligned.reference.bars[repeated.end - 1])
        for_bars = f"{number_word(repeated.played)} bar{'s' * (repeated.played > 1)}"
        return (
            f"{verb} the bar before: the band played {name} for {for_bars} and you wrote it for "
            f"{number_word(repeated.written)}; {after}."
        )
    them = "them" if unit == "bars" else "it"
    return (
        f"{verb} the {unit} before: the band played {them} {_times(repeated.played)} and you wrote "
        f"{them} {_times(repeated.written)}; {after}."
    )


def _times(number: int) -> str:
    return TIMES[number] if number < len(TIMES) else f"{number_word(number)} times"


def _much_like(aligned: AlignedCharts, own: Sequence[int]) -> list[int]:
    """Return the bars of the answer before some that are at least half the same, none if none."""
    answer, first, size = aligned.answer.contents, own[0] - 1, len(own)
    here = answer[first : first + size]
    same, start = max(
        (
            (sum(one == other for one, other in zip(answer[at:], here, strict=False)), at)
            for at in range(first - size + 1)
        ),
        default=(0, 0),
    )
    return list(range(start + 1, start + size + 1)) if 2 * same >= size else []


def _bar_before(aligned: AlignedCharts, own: Sequence[int]) -> int:
    """Return the bar of the song, from 1, behind which bars of the answer stand; 0 for none."""
    row = next(k for k, (_, other) in enumerate(aligned.pairs) if other == own[0] - 1)
    return next((one + 1 for one, _ in reversed(aligned.pairs[:row]) if one is not None), 0)


def _gap(aligned: AlignedCharts, own: Sequence[int]) -> str:
    """Say where in the song bars of the answer do not belong."""
    before = _bar_before(aligned, own)
    if before == 0:
        return f"the song starts with {bar_text(aligned.reference.bars[0])}"
    return _after(aligned, before)


def _after(aligned: AlignedCharts, bar: int) -> str:
    """Say what comes after a bar of the song, from 1."""
    if bar == len(aligned.reference):
        return f"the song ends after bar {bar}"
    return f"after bar {bar} comes {bar_text(aligned.reference.bars[bar])}"


def _added_to_phrase(aligned: AlignedCharts, own: Sequence[int]) -> str:
    """Say how long the phrase is that bars were added to, "" if they stand by themselves.

    The phrase is the one whose bars, and no others, stand in the same phrase of the answer.
    """
    song, answer = aligned.reference, aligned.answer
    phrase = answer.phrase_of_bar[own[0] - 1]
    if {answer.phrase_of_bar[bar - 1] for bar in own} != {phrase}:
        return ""
    inside = range(*answer.phrase_boundaries[phrase : phrase + 2])
    beside = [one for one, other in aligned.pairs if other in inside and one is not None]
    phrases = {song.phrase_of_bar[bar] for bar in beside}
    if len(phrases) != 1:
        return ""
    played = phrases.pop()
    first, end = song.phrase_boundaries[played : played + 2]
    if len(beside) != end - first:
        return ""
    return phrase_length_text(song, played, len(inside))
