"""What a teacher would say about whole bars.

Each saying takes the finding and the aligned charts, and says only what it has looked up there:
which bars, what was played, what was written, what the two share, what to listen for.
"""

from __future__ import annotations

from trainer.grade.chord_sayings import place
from trainer.grade.findings import Finding
from trainer.grade.scoring import Scored
from trainer.grade.words import bar_text, bars_text, count, interval_text, listing, place_text

__all__ = [
    "added",
    "as_one",
    "as_two",
    "key_change",
    "left_out",
    "meter",
    "swapped",
]


COUNT = "Count the bars of each phrase until the vocal starts over."
TAP = "tap the beats of one bar, and see how many the band plays before its next 1."
GO_BY = "Count the bars as they go by."
LABELS = "Write the labels down first, in the order they come."


def meter(finding: Finding, scored: Scored) -> str:
    """A bar of another length."""
    first = finding.cases[0]
    assert first.reference is not None
    assert first.answer is not None
    played = scored.reference.bars[first.reference - 1].meter
    written = scored.answer.bars[first.answer - 1].meter
    return (
        f"{place(finding, scored)}: {played} was played, {written} is written. Count the beats "
        "from one bar line to the next."
    )


def key_change(finding: Finding, scored: Scored) -> str:
    """A key change that is missing, made up or too far."""
    case = finding.cases[0]
    assert case.reference is not None
    assert case.answer is not None
    played = scored.reference.bars[case.reference - 1].key_change
    written = scored.answer.bars[case.answer - 1].key_change
    at = place(finding, scored)
    if not played:
        return f"{at}: a key change is written, but the key stays. Sing the 1 across the bar line."
    moved = f"the key moves {'up' if played > 0 else 'down'} {interval_text(abs(played))} here"
    wrong = f"{written:+d} is written" if written else "that is not written"
    return f"{at}: {moved}, and {wrong}. Write (key {played:+d}) before the bar."


def _bars(scored: Scored, bars: tuple[int, ...], own: bool = False) -> str:
    """The first bars of a run, in notation."""
    sheet = scored.answer if own else scored.reference
    texts = [bar_text(sheet.bars[bar - 1]) for bar in bars[:4]]
    return " ".join(texts) + (" …" if len(bars) > 4 else "")


def left_out(finding: Finding, scored: Scored) -> str:
    """Bars left out."""
    happening, sheet = finding.happenings[0], scored.reference
    if len(finding.happenings) > 1:
        at = place_text(sheet, finding.bars, capital=True)
        return f"{at} are left out. {COUNT}"
    bars = happening.reference
    at = place_text(sheet, bars, capital=True)
    played = _bars(scored, bars)
    if bars[-1] == len(sheet) and len(bars) > 2 and bars[0] > 1:
        return (
            f"The chart stops after bar {bars[0] - 1}: bars {bars[0]}–{bars[-1]} ({played}) are "
            "not written. When you lose your place, leave those bars and go on with the song."
        )
    if happening.unit == "section":
        names = listing(list(dict.fromkeys(sheet.parts[sheet.sections[b - 1]].name for b in bars)))
        return f"The whole of {names}, {bars_text(bars)}, is left out: {played} was played there."
    left_out = f"{at} {'is' if len(bars) == 1 else 'are'} left out"
    if happening.unit == "phrase":
        number = len({sheet.phrases[bar - 1] for bar in bars})
        whole = "a whole phrase" if number == 1 else f"{count(number)} whole phrases"
        return (
            f"{left_out}, {whole}: {played} was played there. Listen for each time the vocal "
            "starts over."
        )
    text = f"{left_out}: {played} was played there."
    phrases = {sheet.phrases[bar - 1] for bar in bars}
    if len(phrases) > 1:
        return text + " Count the bars, not the changes."
    phrase = phrases.pop()
    length = sheet.limits[phrase + 1] - sheet.limits[phrase]
    left = sum(
        row.reference is not None
        and row.answer is not None
        and sheet.phrases[row.reference - 1] == phrase
        for row in scored.rows
    )
    return (
        f"{text} The phrase has {count(length)} bars and {count(left)} of them "
        f"{'is' if left == 1 else 'are'} written: count the bars until the vocal starts over."
    )


def added(finding: Finding, scored: Scored) -> str:
    """Bars too many."""
    happening = finding.happenings[0]
    own = happening.answer
    if len(finding.happenings) > 1:
        bars = bars_text([bar for one in finding.happenings for bar in one.answer])
        if happening.kind != "doubled":
            return f"Your {bars} were not played. {COUNT}"
        text = f"Your {bars} repeat bars before them and were not played again."
        if 2 * len(finding.happenings) < len(scored.reference):
            return f"{text} {COUNT}"
        return f"{text} You count twice as many bars as the band plays: {TAP}"
    row = next(k for k, (_, other) in enumerate(scored.pairs) if other == own[0] - 1)
    before = next((one + 1 for one, _ in reversed(scored.pairs[:row]) if one is not None), 0)
    if before == len(scored.reference):
        where = f"the song ends after bar {before}"
    elif before == 0:
        where = "the song starts after it"
    else:
        where = f"the song goes straight from bar {before} to bar {before + 1}"
    your = f"Your bar {own[0]}" if len(own) == 1 else f"Your bars {own[0]}–{own[-1]}"
    text = f"{your} ({_bars(scored, own, own=True)})"
    if happening.kind == "doubled":
        whole = f", a {happening.unit}," if happening.unit != "bar" and len(own) > 1 else ""
        number = "repeats the bar" if len(own) == 1 else "repeat the bars"
        return f"{text}{whole} {number} before and {_was(own)} not played again: {where}. {GO_BY}"
    return f"{text} {_was(own)} not played: {where}. {GO_BY}"


def _was(bars: tuple[int, ...]) -> str:
    return "was" if len(bars) == 1 else "were"


def swapped(finding: Finding, scored: Scored) -> str:
    """Bars, phrases or sections in the other order."""
    happening = finding.happenings[0]
    song, own = happening.reference, happening.answer
    at = place_text(scored.reference, song, capital=True)
    played, written = _bars(scored, song), _bars(scored, own, own=True)
    if happening.unit == "bar":
        return (
            f"{at}: the same bars in another order. {played} was played, {written} is written. "
            "Follow the bass from bar to bar."
        )
    if happening.unit == "section":
        first, second = _swapped_names(scored, song[0])
        if first != second and len(first) == len(second) == 1:
            names = f"{first[0]} and {second[0]}"
            return f"{at}: {names} are written in the other order; {first[0]} came first. {LABELS}"
        if first != second:
            came = "it came" if len(first) == 1 else "they came"
            return (
                f"{at}: {listing(first)} {'is' if len(first) == 1 else 'are'} written after "
                f"{listing(second)}; {came} before. {LABELS}"
            )
    return (
        f"{at}: two {happening.unit}s are written in the other order; the one that starts "
        f"{_bars(scored, song[:2])} came first. Listen to how each of them begins."
    )


def _swapped_names(scored: Scored, first_bar: int) -> tuple[list[str], list[str]]:
    """The names of the sections on either side of the swap that begins at a bar."""
    swap = next(one for one in scored.swaps if one.first[0] == first_bar - 1)
    sheet = scored.reference
    return (
        list(dict.fromkeys(sheet.parts[sheet.sections[bar]].name for bar in range(*swap.first))),
        list(dict.fromkeys(sheet.parts[sheet.sections[bar]].name for bar in range(*swap.second))),
    )


def as_two(finding: Finding, scored: Scored) -> str:
    """A split bar written as two bars."""
    happening = finding.happenings[0]
    if len(finding.happenings) > 1:
        bars = [bar for one in finding.happenings for bar in one.reference]
        at = place_text(scored.reference, bars, capital=True)
        return f"{at} are written as two bars each. Count the beats: the chord changes inside."
    at = place_text(scored.reference, happening.reference, capital=True)
    return (
        f"{at} is one bar, {_bars(scored, happening.reference)}; it is written as two, "
        f"{_bars(scored, happening.answer, own=True)}. Count the beats: the chord changes inside "
        "the bar."
    )


def as_one(finding: Finding, scored: Scored) -> str:
    """Two bars written as one split bar."""
    happening = finding.happenings[0]
    if len(finding.happenings) > 1:
        bars = [bar for one in finding.happenings for bar in one.reference]
        at = place_text(scored.reference, bars, capital=True)
        text = f"{at} are written two in one, as splits: each of these chords lasts a bar."
        if 2 * len(bars) < len(scored.reference):
            return f"{text} Count the beats."
        return f"{text} You count half as many bars as the band plays: {TAP}"
    at = place_text(scored.reference, happening.reference, capital=True)
    return (
        f"{at} are two bars, {_bars(scored, happening.reference)}; they are written as one, "
        f"{_bars(scored, happening.answer, own=True)}. Count the beats: each of them lasts a bar."
    )
