"""Word what was done to whole bars: left out, added, swapped, counted double, not written.

Each function takes the mistake and the aligned charts. It says as a teacher would what it has
looked up there: which bars, what was played, what was written, what to do next time.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.grade.aligned import AlignedCharts
from trainer.grade.content import ChartContent
from trainer.grade.mistakes import Mistake, bar_text
from trainer.grade.report import AlignmentEdit
from trainer.grade.text_pieces import (
    bars_text,
    count_text,
    join_words,
    location_text,
    number_word,
    your_bars,
)

__all__ = ["BAR_WORDINGS"]

COUNT = "Count the bars of each phrase until the vocal starts over."
TAP = "Tap your foot to the drums: from one 1 to the next is one bar, however long a chord goes on."
GO_BY = "Count the bars as they go by."
LABELS = "Write the labels down first, in the order they come."
SHOWN = 4


def _bars(chart: ChartContent, bars: Sequence[int]) -> str:
    """Return the first bars of a run, in notation."""
    texts = [bar_text(chart.bars[bar - 1]) for bar in bars[:SHOWN]]
    return " ".join(texts) + (" …" if len(bars) > SHOWN else "")


def _was(bars: Sequence[object]) -> str:
    return "was" if len(bars) == 1 else "were"


def _is(bars: Sequence[object]) -> str:
    return "is" if len(bars) == 1 else "are"


def _section_names(chart: ChartContent, bars: Sequence[int]) -> list[str]:
    """Return the names of the sections that bars (from 1) stand in, in order, each once."""
    return list(dict.fromkeys(chart.sections[chart.section_of_bar[bar - 1]].name for bar in bars))


def _short_bars(chart: ChartContent, bars: Sequence[int]) -> str:
    """Say that bars are shorter or longer than the song's bars: ", a bar of 2/4,", or ""."""
    usual = max({bar.meter for bar in chart.bars}, key=[bar.meter for bar in chart.bars].count)
    meters = {chart.bars[bar - 1].meter for bar in bars}
    if len(bars) > 1 or meters == {usual}:
        return ""
    meter = meters.pop()
    return f", a {'short' if meter.quarters < usual.quarters else 'long'} bar of {meter},"


def _left_out(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars left out."""
    edit, chart = mistake.edits[0], aligned.reference
    if len(mistake.edits) > 1:
        at = location_text(chart, mistake.bars, capital=True)
        short = [bar for bar in mistake.bars if _short_bars(chart, [bar])]
        told = ""
        if short:
            kind = "a bar" if len(short) == 1 else "bars"
            told = f"; {bars_text(short)} {_is(short)} {kind} of another length"
        return f"{at} are left out{told}. {COUNT}"
    bars = edit.reference
    at = location_text(chart, bars, capital=True)
    played = _bars(chart, bars)
    if bars[-1] == len(chart) and len(bars) > 2 and bars[0] > 1:
        return _stops(chart, bars)
    names = join_words(_section_names(chart, bars))
    if edit.unit == "section" and all(_section_names(chart, bars)):
        return f"The whole of {names}, {bars_text(bars)}, is left out: {played} was played there."
    left_out = f"{at}{_short_bars(chart, bars)} {_is(bars)} left out"
    if edit.unit == "phrase":
        number = len({chart.phrase_of_bar[bar - 1] for bar in bars})
        whole = "a whole phrase" if number == 1 else f"{number_word(number)} whole phrases"
        return (
            f"{left_out}, {whole}: {played} was played there. Listen for each time the vocal "
            "starts over."
        )
    text = f"{left_out}: {played} was played there."
    phrases = {chart.phrase_of_bar[bar - 1] for bar in bars}
    if len(phrases) > 1:
        return text + " Count the bars, not the changes."
    phrase = phrases.pop()
    written = sum(
        one is not None and other is not None and chart.phrase_of_bar[one] == phrase
        for one, other in aligned.pairs
    )
    return f"{text} {_phrase_length(chart, phrase, written)}"


def _stops(chart: ChartContent, bars: Sequence[int]) -> str:
    """Word a chart that stops early."""
    return (
        f"Your chart stops after the song's bar {bars[0] - 1}: bars {bars[0]}–{bars[-1]} "
        f"({_bars(chart, bars)}) are not written. When you lose your place, leave those bars and "
        "go on with the song."
    )


def _phrase_length(chart: ChartContent, phrase: int, written: int) -> str:
    """Say how long a phrase of the song is, and how many bars are written for it."""
    first, end = chart.phrase_boundaries[phrase : phrase + 2]
    length = end - first
    bars = f"{first + 1}" if length == 1 else f"{first + 1}–{end}"
    return (
        f"The phrase has {count_text(length, 'bar')} ({bars}), and you wrote "
        f"{number_word(written)}: count until the vocal starts over."
    )


def _added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars too many, doubled or not."""
    edit = mistake.edits[0]
    own = edit.answer
    if len(mistake.edits) > 1:
        return _added_here_and_there(mistake, aligned)
    text = f"{your_bars(own)} ({_bars(aligned.answer, own)})"
    where = f"{_gap(aligned, own)}."
    if edit.kind == "doubled":
        repeats = "repeats" if len(own) == 1 else "repeat"
        if edit.unit in ("phrase", "section"):
            unit = f"a {edit.unit}"
            return (
                f"{text} {repeats} {unit} that was played once: {where} Listen for how the next "
                f"{edit.unit} begins before you write it."
            )
        bar = "the bar before" if len(own) == 1 else "the bars before"
        return f"{text} {repeats} {bar} and {_was(own)} not played again: {where} {GO_BY}"
    return f"{text} {_was(own)} not played: {where} {_added_to_phrase(aligned, own) or GO_BY}"


def _added_here_and_there(mistake: Mistake, aligned: AlignedCharts) -> str:
    own = [bar for one in mistake.edits for bar in one.answer]
    if mistake.kind != "doubled":
        return f"{your_bars(own)} were not played. {COUNT}"
    text = f"{your_bars(own)} repeat bars before them and were not played again."
    if 2 * len(own) < len(aligned.reference):
        return f"{text} {COUNT}"
    return f"{text} {TAP}"


def _gap(aligned: AlignedCharts, own: Sequence[int]) -> str:
    """Say where in the song bars of the answer do not belong."""
    row = next(k for k, (_, other) in enumerate(aligned.pairs) if other == own[0] - 1)
    before = next((one + 1 for one, _ in reversed(aligned.pairs[:row]) if one is not None), 0)
    if before == len(aligned.reference):
        return f"the song ends after bar {before}"
    if before == 0:
        return "the song starts after " + ("it" if len(own) == 1 else "them")
    return f"the song goes straight from bar {before} to bar {before + 1}"


def _added_to_phrase(aligned: AlignedCharts, own: Sequence[int]) -> str:
    """Say how long the phrase is that bars were added to, "" where they stand by themselves.

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
    return _phrase_length(song, played, len(inside))


def _not_written(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word stretches of the song that were not written, without blame."""
    chart, bars = aligned.reference, mistake.bars
    at = location_text(chart, bars, capital=True)
    text = f"{at} {_is(bars)} not written"
    written = [one + 1 for one, other in aligned.pairs if one is not None and other is not None]
    if len(mistake.edits) == 1 and written and bars[0] == max(written) + 1:
        return (
            f"{text}; your chart goes up to the song's bar {max(written)}. When you lose your "
            "place, leave those bars and go on with the song."
        )
    if len(mistake.edits) == 1 and written and bars[-1] == min(written) - 1:
        return (
            f"{text}; your chart begins at the song's bar {min(written)}. Have the first label on "
            "the sheet before the count-off, and leave a gap for what you miss."
        )
    return f"{text}. Listen once more to these bars alone, and fill the gap."


def _swapped(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars, phrases or sections in the other order."""
    edit = mistake.edits[0]
    song, own = edit.reference, edit.answer
    at = location_text(aligned.reference, song, capital=True)
    played, written = _bars(aligned.reference, song), _bars(aligned.answer, own)
    if edit.unit == "bar":
        return (
            f"{at}: the same bars in another order. {played} was played, {written} is written. "
            "Listen for which of them comes first."
        )
    if edit.unit == "section":
        first, second = _swapped_names(aligned, edit)
        if not all((*first, *second)):
            first = second = []
        if first != second and len(first) == len(second) == 1:
            names = f"{first[0]} and {second[0]}"
            return f"{at}: {names} are written in the other order; {first[0]} came first. {LABELS}"
        if first != second:
            came = "it came" if len(first) == 1 else "they came"
            return (
                f"{at}: {join_words(first)} {_is(first)} written after {join_words(second)}; "
                f"{came} before. {LABELS}"
            )
    return (
        f"{at}: two {edit.unit}s are written in the other order; the one that starts "
        f"{_bars(aligned.reference, song[:2])} came first. Listen to how each of them begins."
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
    at = location_text(aligned.reference, bars, capital=True)
    if len(mistake.edits) > 1:
        return f"{at} are written as two bars each. Count the beats: the chord changes inside."
    return (
        f"{at} is one bar, {_bars(aligned.reference, edit.reference)}; it is written as two, "
        f"{_bars(aligned.answer, edit.answer)}. Count the beats: the chord changes inside "
        "the bar."
    )


def _two_in_one(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word two bars written as one split bar."""
    edit = mistake.edits[0]
    bars = [bar for one in mistake.edits for bar in one.reference]
    at = location_text(aligned.reference, bars, capital=True)
    if len(mistake.edits) > 1:
        text = f"{at} are written two in one, as splits: each of them is a bar of its own."
        return f"{text} {'Count the beats.' if 2 * len(bars) < len(aligned.reference) else TAP}"
    if len(set(bars)) < 2:
        written = _bars(aligned.answer, sorted(set(edit.answer)))
        return (
            f"{at}: the beats are counted otherwise; {_bars(aligned.reference, bars[:1])} was "
            f"played, {written} is written. Count the beats."
        )
    return (
        f"{at} are two bars, {_bars(aligned.reference, edit.reference)}; they are written as one, "
        f"{_bars(aligned.answer, edit.answer)}. Count the beats: each of them lasts a bar."
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
    "added": _added,
    "doubled": _added,
    "not written": _not_written,
    "swapped": _swapped,
    "counted double": _counted,
    "counted half": _counted,
    "split written as two bars": _split_in_two,
    "two bars written as one": _two_in_one,
}
