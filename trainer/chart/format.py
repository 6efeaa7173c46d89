"""Charts written as notation, in one canonical layout."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from trainer.chart.hits import format_hits
from trainer.chart.model import Articulation, Bar, Chart, Event, Phrase
from trainer.chart.notes import COMMENT_SIGN
from trainer.chart.typed.question import bar_of

__all__ = [
    "ARTICULATION_LETTERS",
    "FADE",
    "OPEN_BAR",
    "format_bar",
    "format_chart",
    "format_count_off",
    "format_key_change",
    "format_tempo",
    "format_with",
    "format_words",
    "join_chords",
]

ARTICULATION_LETTERS = {Articulation.HOLD: "d", Articulation.PUSH: "p", Articulation.CHOKE: "c"}
OPEN_BAR = "?"
FADE = "[fade]"
# Two phrases share a line while both are short and plain, easily taken in at a glance.
SHORT_PHRASE_BARS = 5
SHORT_PHRASE_CHORDS = 6


def format_chart(chart: Chart) -> str:
    """Write a chart as notation that `parse` reads back as the same chart."""
    return format_with(chart, _writer(chart))


def format_tempo(tempo: float) -> str:
    """Write a tempo as 92 or 92.5, exactly."""
    return repr(float(tempo)).removesuffix(".0")


def format_bar(bar: Bar, chart: Chart) -> str:
    """Write one bar of a chart, with its fade, key move, own meter, notes and hits before it."""
    before = f"{FADE} " if bar.fades else ""
    if bar.key_change:
        before += f"{format_key_change(bar.key_change)} "
    if bar.meter != chart.meter:
        before += f"[{bar.meter}] "
    before += format_words(bar)
    if bar.is_open:
        return f"{before}{OPEN_BAR}"
    if len(bar.events) == 1:
        return before + bar_of(_event(bar.events[0], False))
    ticked = not bar.is_even
    return before + join_chords([_event(event, ticked) for event in bar.events])


def format_words(bar: Bar) -> str:
    """Write the notes and the hits that stand before a bar, with a space after each."""
    notes = "".join([f"[{note}] " for note in bar.notes])
    return f"{notes}{format_hits(bar.hits, bar.meter)} " if bar.hits else notes


def format_count_off(bars: int) -> str:
    """Write how many bars are counted off: 2 bars, or none."""
    return f"{bars} bar{'s' * (bars != 1)}" if bars else "none"


def format_key_change(semitones: int) -> str:
    """Write a move of the key as [up 2] or [down 3]."""
    return f"[{'up' if semitones > 0 else 'down'} {abs(semitones)}]"


def join_chords(chords: Sequence[str]) -> str:
    """Join the chords of one bar: several stand in round brackets, with a space between."""
    return chords[0] if len(chords) == 1 else f"({' '.join(chords)})"


def format_with(chart: Chart, write: Callable[[Bar], str]) -> str:
    """Lay out header, sections and phrases, with each bar as `write` gives it."""
    blocks = ["\n".join(_header(chart))]
    for section in chart.sections:
        notes = "".join([f" [{note}]" for note in section.notes])
        lines = [f"{section.name}:{notes}"] if section.name else []
        lines.extend(f"{COMMENT_SIGN} {comment}" for comment in section.comments)
        lines.extend(_lines(section.phrases, write))
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def _writer(chart: Chart) -> Callable[[Bar], str]:
    return lambda bar: format_bar(bar, chart)


def _header(chart: Chart) -> Iterator[str]:
    if chart.title:
        yield f"title: {chart.title}"
    yield f"meter: {chart.meter}"
    yield f"tempo: {format_tempo(chart.tempo)}"
    yield f"feel: {chart.feel}"
    yield f"key: {chart.key}"
    if chart.capo is not None:
        yield f"capo: {chart.capo or 'none'}"
    if chart.count_off != 1:
        yield f"count-off: {format_count_off(chart.count_off)}"
    for comment in chart.comments:
        yield f"{COMMENT_SIGN} {comment}"


def _lines(phrases: tuple[Phrase, ...], write: Callable[[Bar], str]) -> Iterator[str]:
    """The lines of a section's phrases, one or two phrases to a line.

    A comment ends the line of its phrase, and further ones have lines of their own below it.
    """
    waiting = ""
    for phrase in phrases:
        text = " ".join([write(bar) for bar in phrase.bars])
        plain = _is_plain(phrase)
        if waiting and not plain:
            yield waiting
            waiting = ""
        text = f"{waiting} . {text}" if waiting else text
        is_full = bool(waiting) or not plain or bool(phrase.comments)
        if phrase.comments:
            text += f" {COMMENT_SIGN} {phrase.comments[0]}"
        waiting = "" if is_full else text
        if is_full:
            yield text
        yield from (f"{COMMENT_SIGN} {comment}" for comment in phrase.comments[1:])
    if waiting:
        yield waiting


def _is_plain(phrase: Phrase) -> bool:
    """Whether a phrase is short enough to share its line with another."""
    bars = phrase.bars
    return (
        len(bars) <= SHORT_PHRASE_BARS
        and sum([len(bar.events) for bar in bars]) <= SHORT_PHRASE_CHORDS
        and all(bar.meter == bars[0].meter and _is_unmarked(bar) for bar in bars)
    )


def _is_unmarked(bar: Bar) -> bool:
    """Whether nothing stands before a bar but perhaps its meter."""
    return not (bar.key_change or bar.fades or bar.notes or bar.hits)


def _event(event: Event, ticked: bool) -> str:
    text = "0" if event.chord is None else str(event.chord)
    if ticked:
        text += "'" * int(event.beats)
    if event.articulation is not None:
        text += ARTICULATION_LETTERS[event.articulation]
    return text
