"""Word what was done to whole bars: left out, added, swapped, counted double, not written.

Each function takes the mistake and the aligned charts. It says as a teacher would what it has
looked up there: which bars, what was played, what was written, what to do next time.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.chart.model import Meter
from trainer.grade.added_wording import word_added
from trainer.grade.aligned import AlignedCharts
from trainer.grade.content import ChartContent
from trainer.grade.mistakes import Mistake
from trainer.grade.report import AlignmentEdit
from trainer.grade.text_pieces import (
    bars_aside,
    bars_text,
    count_text,
    join_words,
    location_text,
    number_word,
    phrase_length_text,
    some_bars_text,
    usual_meter,
)

__all__ = ["BAR_WORDINGS"]

COUNT = "Count the bars of each phrase until the vocal starts over."
TAP = (
    "Tap your foot to the drums: a bar goes from one downbeat to the next, however long a chord "
    "lasts."
)
CARRY_ON = "When you lose your place, leave a gap and carry on with the song."
LABELS = "Write the section labels down first, in the order they come."


def _is(bars: Sequence[object]) -> str:
    return "is" if len(bars) == 1 else "are"


def _section_names(chart: ChartContent, bars: Sequence[int]) -> list[str]:
    """Return the names of the sections that bars (from 1) stand in, in order, each once."""
    return list(dict.fromkeys(chart.sections[chart.section_of_bar[bar - 1]].name for bar in bars))


def _short_bars(chart: ChartContent, bars: Sequence[int]) -> str:
    """Say that bars are shorter or longer than the song's bars: ", a short bar of 2/4", or ""."""
    usual = usual_meter(chart)
    meters = {chart.bars[bar - 1].meter for bar in bars}
    if len(bars) > 1 or meters == {usual}:
        return ""
    meter = meters.pop()
    return f", a {'short' if meter.quarters < usual.quarters else 'long'} bar of {meter}"


def _left_out(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars left out."""
    edit, chart = mistake.edits[0], aligned.reference
    if len(mistake.edits) > 1:
        at = location_text(chart, mistake.bars)
        return f"You left out {at}: {_each_left_out(mistake, chart)}. {COUNT}"
    bars = edit.reference
    at = location_text(chart, bars)
    played = some_bars_text(chart, bars)
    if bars[-1] == len(chart) and len(bars) > 2 and bars[0] > 1:
        return _stops(chart, bars)
    names = join_words(_section_names(chart, bars))
    if edit.unit == "section" and all(_section_names(chart, bars)):
        return (
            f"You left out the whole of {names} ({bars_text(bars)}): the band played {played} "
            "there."
        )
    left_out = f"You left out {at}{_short_bars(chart, bars)}"
    if edit.unit == "phrase":
        number = len({chart.phrase_of_bar[bar - 1] for bar in bars})
        whole = "a whole phrase" if number == 1 else f"{number_word(number)} whole phrases"
        return (
            f"{left_out}, {whole}: the band played {played} there. Listen for each time the vocal "
            "starts over."
        )
    text = f"{left_out}: the band played {played} there."
    phrases = {chart.phrase_of_bar[bar - 1] for bar in bars}
    if len(phrases) > 1:
        return text + " Count the bars, not the chord changes."
    phrase = phrases.pop()
    written = sum(
        one is not None and other is not None and chart.phrase_of_bar[one] == phrase
        for one, other in aligned.pairs
    )
    return f"{text} {phrase_length_text(chart, phrase, written)}"


def _each_left_out(mistake: Mistake, chart: ChartContent) -> str:
    """Say of bars left out in several places what each was, and how long its phrase is.

    Like bars of phrases of one length are put together.
    """
    groups: dict[tuple[str, str, int], list[int]] = {}
    for edit in mistake.edits:
        for bar in edit.reference:
            number = chart.phrase_of_bar[bar - 1]
            first, end = chart.phrase_boundaries[number : number + 2]
            key = some_bars_text(chart, [bar]), _short_bars(chart, [bar]), end - first
            groups.setdefault(key, []).append(bar)
    parts = []
    for (played, short, length), bars in groups.items():
        phrase = f"a phrase of {count_text(length, 'bar')}"
        if len(bars) > 1:
            phrase = f"phrases of {count_text(length, 'bar')}"
        if len(groups) == 1:
            return f"the band played {played}{short} in each ({phrase})"
        comma = "," if short else ""
        parts.append(f"{played}{short}{comma} in {bars_text(bars)} ({phrase})")
    return f"the band played {join_words(parts)}"


def _stops(chart: ChartContent, bars: Sequence[int]) -> str:
    """Word a chart that stops early."""
    rest = bars_aside(f"bars {bars[0]}–{bars[-1]}", chart, bars)
    return f"Your chart stops after bar {bars[0] - 1} of the song: {rest} are missing. {CARRY_ON}"


def _not_written(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word stretches of the song that were not written, without blame."""
    chart, bars = aligned.reference, mistake.bars
    at = location_text(chart, bars, capital=True)
    text = f"{at} {_is(bars)} missing"
    written = [one + 1 for one, other in aligned.pairs if one is not None and other is not None]
    if len(mistake.edits) == 1 and written and bars[0] == max(written) + 1:
        return f"{text}: your chart goes up to bar {max(written)} of the song. {CARRY_ON}"
    if len(mistake.edits) == 1 and written and bars[-1] == min(written) - 1:
        return (
            f"{text}: your chart begins at bar {min(written)} of the song. Write the first section "
            "label before the count-off, and leave a gap for what you miss."
        )
    return f"{text}. Listen to just these bars again and fill the gap."


def _swapped(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars, phrases or sections in the other order."""
    edit = mistake.edits[0]
    song, own = edit.reference, edit.answer
    at = location_text(aligned.reference, song, capital=True)
    played, written = some_bars_text(aligned.reference, song), some_bars_text(aligned.answer, own)
    if edit.unit == "bar":
        return (
            f"{at}: you wrote these bars in the wrong order. The band played {played}, and you "
            f"wrote {written}. Listen for which comes first."
        )
    if edit.unit == "section":
        first, second = _swapped_names(aligned, edit)
        if not all((*first, *second)):
            first = second = []
        if first != second and len(first) == len(second) == 1:
            names = f"{first[0]} and {second[0]}"
            return f"{at}: you swapped {names}. {first[0]} came first. {LABELS}"
        if first != second:
            came = "it came" if len(first) == 1 else "they came"
            return (
                f"{at}: you wrote {join_words(first)} after {join_words(second)}, but {came} "
                f"first. {LABELS}"
            )
    return (
        f"{at}: you swapped two {edit.unit}s. The one that starts "
        f"{some_bars_text(aligned.reference, song[:2])} came first. Listen to how each one begins."
    )


def _swapped_names(aligned: AlignedCharts, edit: AlignmentEdit) -> tuple[list[str], list[str]]:
    """Return the names of the sections on either side of a swap."""
    swap = next(one for one in aligned.swaps if one.first[0] == edit.reference[0] - 1)
    first, second = (
        _section_names(aligned.reference, [bar + 1 for bar in range(*block)])
        for block in (swap.first, swap.second)
    )
    return first, second


def _split_in_two(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a split bar written as two bars."""
    edit = mistake.edits[0]
    bars = [bar for one in mistake.edits for bar in one.reference]
    if len(mistake.edits) > 1:
        at = location_text(aligned.reference, bars)
        return f"You wrote {at} as two bars each. Count the beats: the chord changes inside."
    at = location_text(aligned.reference, bars, capital=True)
    return (
        f"{at} is one bar, {some_bars_text(aligned.reference, edit.reference)}, and you wrote two, "
        f"{some_bars_text(aligned.answer, edit.answer)}. Count the beats: the chord changes "
        "inside the bar."
    )


def _other_length(chart: ChartContent, bars: Sequence[int]) -> str:
    """Say which of some bars are shorter or longer than the song's: " (bar 3 is a bar of 2/4)"."""
    usual = usual_meter(chart)
    others: dict[Meter, list[int]] = {}
    for bar in bars:
        if chart.bars[bar - 1].meter != usual:
            others.setdefault(chart.bars[bar - 1].meter, []).append(bar)
    parts = [
        f"{bars_text(inside)} {'is a bar' if len(inside) == 1 else 'are bars'} of {meter}"
        for meter, inside in others.items()
    ]
    return f" ({join_words(parts)})" if parts else ""


def _two_in_one(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word two bars written as one split bar."""
    edit = mistake.edits[0]
    bars = [bar for one in mistake.edits for bar in one.reference]
    at = location_text(aligned.reference, bars, capital=True)
    if len(mistake.edits) > 1:
        at = location_text(aligned.reference, bars)
        other = _other_length(aligned.reference, bars)
        text = f"You wrote {at} two to a bar, as split bars{other}. Each one is a bar of its own."
        return f"{text} {'Count the beats.' if 2 * len(bars) < len(aligned.reference) else TAP}"
    if len(set(bars)) < 2:
        written = some_bars_text(aligned.answer, sorted(set(edit.answer)))
        return (
            f"{at}: you counted the beats differently. The band played "
            f"{some_bars_text(aligned.reference, bars[:1])}, and you wrote {written}. Count the "
            "beats."
        )
    return (
        f"{at} are two bars, {some_bars_text(aligned.reference, edit.reference)}"
        f"{_other_length(aligned.reference, bars)}, and you wrote one, "
        f"{some_bars_text(aligned.answer, edit.answer)}. Count the beats: each chord lasts a bar."
    )


def _counted(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a song or a section that is counted double or half."""
    edit, chart = mistake.edits[0], aligned.reference
    names = join_words([name for name in _section_names(chart, mistake.bars) if name])
    you = "You"
    if edit.unit != "song" and names:
        you = f"In {names} ({bars_text(mistake.bars)}) you"
    if edit.kind == "counted double":
        return f"{you} wrote two bars for every bar the band played. {TAP}"
    return f"{you} wrote one bar for every two bars the band played. {TAP}"


BAR_WORDINGS = {
    "left out": _left_out,
    "added": word_added,
    "doubled": word_added,
    "not written": _not_written,
    "swapped": _swapped,
    "counted double": _counted,
    "counted half": _counted,
    "split written as two bars": _split_in_two,
    "two bars written as one": _two_in_one,
}
