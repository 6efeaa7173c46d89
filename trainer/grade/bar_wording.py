"""Word what is wrong with whole bars, and the pieces that all advice is worded with.

Each function for a kind of mistake takes the mistake and the aligned charts. It says as a teacher
would what it has looked up there: which bars, what was played, what was written, what to listen
for.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from trainer.grade.content import ChartContent
from trainer.grade.mistakes import Mistake, bar_text
from trainer.grade.scoring import AlignedCharts

__all__ = [
    "added",
    "bar_ranges",
    "bars_text",
    "beats_text",
    "interval_text",
    "join_words",
    "key_change",
    "left_out",
    "location_text",
    "merged",
    "meter",
    "number_word",
    "place",
    "split",
    "swapped",
]

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
INTERVALS = (
    "nothing",
    "a half step",
    "a whole step",
    "a minor third",
    "a major third",
    "a fourth",
    "a tritone",
    "a fifth",
    "a minor sixth",
    "a major sixth",
    "a minor seventh",
    "a major seventh",
)
MOST_LISTED = 6
COUNT = "Count the bars of each phrase until the vocal starts over."
TAP = "tap the beats of one bar, and see how many the band plays before its next 1."
GO_BY = "Count the bars as they go by."
LABELS = "Write the labels down first, in the order they come."


def number_word(number: int) -> str:
    """Return a number as a word, from 11 on in digits."""
    return NUMBERS[number] if number < len(NUMBERS) else str(number)


def interval_text(semitones: int) -> str:
    """Return the usual name of an interval, taken modulo an octave."""
    return INTERVALS[semitones % 12]


def join_words(items: Sequence[str]) -> str:
    """Join words with commas and a last "and"."""
    return ", ".join(items[:-1]) + " and " + items[-1] if len(items) > 1 else "".join(items)


def bar_ranges(bars: Sequence[int]) -> list[tuple[int, int]]:
    """Return the runs of bars next to each other, first and last bar of each."""
    found: list[tuple[int, int]] = []
    for bar in sorted(set(bars)):
        if found and found[-1][1] == bar - 1:
            found[-1] = (found[-1][0], bar)
        else:
            found.append((bar, bar))
    return found


def bars_text(bars: Sequence[int], capital: bool = False) -> str:
    """Name bars by number: "bar 3", "bars 3 and 7", "bars 3–6, 9 and 3 more"."""
    bars = sorted(set(bars))
    runs = bar_ranges(bars)
    shown = runs[:MOST_LISTED]
    parts = []
    for first, last in shown:
        parts += [str(first)] if first == last else [f"{first}–{last}"]
    hidden = sum(last - first + 1 for first, last in runs[MOST_LISTED:])
    if hidden:
        parts.append(f"{hidden} more")
    word = "bar" if len(bars) == 1 else "bars"
    return f"{word.capitalize() if capital else word} {join_words(parts)}"


def location_text(chart: ChartContent, bars: Sequence[int], capital: bool = False) -> str:
    """Name bars by number, and say where in which section they stand if they all stand in one.

    Bars count from 1.
    """
    text = bars_text(bars, capital)
    sections = {chart.section_of_bar[bar - 1] for bar in bars}
    if len(sections) != 1 or len(chart.sections) < 2:
        return text
    section = sections.pop()
    name, start = chart.sections[section].name, chart.section_boundaries[section]
    if not name:
        return text
    if start == 0 or len(bars) > 1:
        return f"{text} ({name})"
    return f"{text} (bar {bars[0] - start} of {name})"


def beats_text(beats: Sequence[Fraction]) -> str:
    """Say how long each chord of a bar lasts: "two beats each", "three beats and then one"."""
    if len(set(beats)) == 1:
        beat = beats[0]
        if beat.denominator != 1:
            return "the bar divided evenly"
        return f"{number_word(int(beat))} beat{'' if beat == 1 else 's'} each"
    words = [number_word(int(beat)) for beat in beats]
    if len(words) > 2:
        return f"{words[0]} beat{'' if beats[0] == 1 else 's'}, {join_words(words[1:])}"
    return f"{words[0]} beat{'' if beats[0] == 1 else 's'} and then {join_words(words[1:])}"


def place(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Return where a mistake is, to start a sentence."""
    return location_text(aligned.reference, mistake.bars, capital=True)


def meter(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars of another length."""
    first = mistake.cases[0]
    assert first.reference is not None
    assert first.answer is not None
    played = aligned.reference.bars[first.reference - 1].meter
    written = aligned.answer.bars[first.answer - 1].meter
    return (
        f"{place(mistake, aligned)}: {played} was played, {written} is written. Count the beats "
        "from one bar line to the next."
    )


def key_change(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a key change that is missing, made up or by another interval."""
    case = mistake.cases[0]
    assert case.reference is not None
    assert case.answer is not None
    played = aligned.reference.bars[case.reference - 1].key_change
    written = aligned.answer.bars[case.answer - 1].key_change
    at = place(mistake, aligned)
    if not played:
        return f"{at}: a key change is written, but the key stays. Sing the 1 across the bar line."
    moved = f"the key moves {'up' if played > 0 else 'down'} {interval_text(abs(played))} here"
    wrong = f"{written:+d} is written" if written else "that is not written"
    return f"{at}: {moved}, and {wrong}. Write (key {played:+d}) before the bar."


def _bars(aligned: AlignedCharts, bars: tuple[int, ...], own: bool = False) -> str:
    """Return the first bars of a run, in notation; of the answer with `own`."""
    chart = aligned.answer if own else aligned.reference
    texts = [bar_text(chart.bars[bar - 1]) for bar in bars[:4]]
    return " ".join(texts) + (" …" if len(bars) > 4 else "")


def left_out(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars left out."""
    edit, chart = mistake.edits[0], aligned.reference
    if len(mistake.edits) > 1:
        at = location_text(chart, mistake.bars, capital=True)
        return f"{at} are left out. {COUNT}"
    bars = edit.reference
    at = location_text(chart, bars, capital=True)
    played = _bars(aligned, bars)
    if bars[-1] == len(chart) and len(bars) > 2 and bars[0] > 1:
        return (
            f"The chart stops after bar {bars[0] - 1}: bars {bars[0]}–{bars[-1]} ({played}) are "
            "not written. When you lose your place, leave those bars and go on with the song."
        )
    if edit.unit == "section":
        names = join_words(
            list(dict.fromkeys(chart.sections[chart.section_of_bar[b - 1]].name for b in bars))
        )
        return f"The whole of {names}, {bars_text(bars)}, is left out: {played} was played there."
    left_out = f"{at} {'is' if len(bars) == 1 else 'are'} left out"
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
    length = chart.phrase_boundaries[phrase + 1] - chart.phrase_boundaries[phrase]
    left = sum(
        row.reference is not None
        and row.answer is not None
        and chart.phrase_of_bar[row.reference - 1] == phrase
        for row in aligned.rows
    )
    return (
        f"{text} The phrase has {number_word(length)} bars and {number_word(left)} of them "
        f"{'is' if left == 1 else 'are'} written: count the bars until the vocal starts over."
    )


def added(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars too many."""
    edit = mistake.edits[0]
    own = edit.answer
    if len(mistake.edits) > 1:
        bars = bars_text([bar for one in mistake.edits for bar in one.answer])
        if edit.kind != "doubled":
            return f"Your {bars} were not played. {COUNT}"
        text = f"Your {bars} repeat bars before them and were not played again."
        if 2 * len(mistake.edits) < len(aligned.reference):
            return f"{text} {COUNT}"
        return f"{text} You count twice as many bars as the band plays: {TAP}"
    row = next(k for k, (_, other) in enumerate(aligned.pairs) if other == own[0] - 1)
    before = next((one + 1 for one, _ in reversed(aligned.pairs[:row]) if one is not None), 0)
    if before == len(aligned.reference):
        where = f"the song ends after bar {before}"
    elif before == 0:
        where = "the song starts after it"
    else:
        where = f"the song goes straight from bar {before} to bar {before + 1}"
    your = f"Your bar {own[0]}" if len(own) == 1 else f"Your bars {own[0]}–{own[-1]}"
    text = f"{your} ({_bars(aligned, own, own=True)})"
    if edit.kind == "doubled":
        whole = f", a {edit.unit}," if edit.unit != "bar" and len(own) > 1 else ""
        number = "repeats the bar" if len(own) == 1 else "repeat the bars"
        return f"{text}{whole} {number} before and {_was(own)} not played again: {where}. {GO_BY}"
    return f"{text} {_was(own)} not played: {where}. {GO_BY}"


def _was(bars: tuple[int, ...]) -> str:
    return "was" if len(bars) == 1 else "were"


def swapped(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word bars, phrases or sections in the other order."""
    edit = mistake.edits[0]
    song, own = edit.reference, edit.answer
    at = location_text(aligned.reference, song, capital=True)
    played, written = _bars(aligned, song), _bars(aligned, own, own=True)
    if edit.unit == "bar":
        return (
            f"{at}: the same bars in another order. {played} was played, {written} is written. "
            "Follow the bass from bar to bar."
        )
    if edit.unit == "section":
        first, second = _swapped_names(aligned, song[0])
        if first != second and len(first) == len(second) == 1:
            names = f"{first[0]} and {second[0]}"
            return f"{at}: {names} are written in the other order; {first[0]} came first. {LABELS}"
        if first != second:
            came = "it came" if len(first) == 1 else "they came"
            return (
                f"{at}: {join_words(first)} {'is' if len(first) == 1 else 'are'} written after "
                f"{join_words(second)}; {came} before. {LABELS}"
            )
    return (
        f"{at}: two {edit.unit}s are written in the other order; the one that starts "
        f"{_bars(aligned, song[:2])} came first. Listen to how each of them begins."
    )


def _swapped_names(aligned: AlignedCharts, first_bar: int) -> tuple[list[str], list[str]]:
    """Return the names of the sections on either side of the swap that begins at a bar."""
    swap = next(one for one in aligned.swaps if one.first[0] == first_bar - 1)
    chart = aligned.reference
    return (
        list(
            dict.fromkeys(
                chart.sections[chart.section_of_bar[bar]].name for bar in range(*swap.first)
            )
        ),
        list(
            dict.fromkeys(
                chart.sections[chart.section_of_bar[bar]].name for bar in range(*swap.second)
            )
        ),
    )


def split(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word a split bar written as two bars."""
    edit = mistake.edits[0]
    if len(mistake.edits) > 1:
        bars = [bar for one in mistake.edits for bar in one.reference]
        at = location_text(aligned.reference, bars, capital=True)
        return f"{at} are written as two bars each. Count the beats: the chord changes inside."
    at = location_text(aligned.reference, edit.reference, capital=True)
    return (
        f"{at} is one bar, {_bars(aligned, edit.reference)}; it is written as two, "
        f"{_bars(aligned, edit.answer, own=True)}. Count the beats: the chord changes inside "
        "the bar."
    )


def merged(mistake: Mistake, aligned: AlignedCharts) -> str:
    """Word two bars written as one split bar."""
    edit = mistake.edits[0]
    if len(mistake.edits) > 1:
        bars = [bar for one in mistake.edits for bar in one.reference]
        at = location_text(aligned.reference, bars, capital=True)
        text = f"{at} are written two in one, as splits: each of these chords lasts a bar."
        if 2 * len(bars) < len(aligned.reference):
            return f"{text} Count the beats."
        return f"{text} You count half as many bars as the band plays: {TAP}"
    at = location_text(aligned.reference, edit.reference, capital=True)
    return (
        f"{at} are two bars, {_bars(aligned, edit.reference)}; they are written as one, "
        f"{_bars(aligned, edit.answer, own=True)}. Count the beats: each of them lasts a bar."
    )
