"""Charts written as notation, in one canonical layout."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from trainer.chart.model import Articulation, Bar, Chart, Event, Phrase
from trainer.chart.typed.question import bar_of

__all__ = [
    "ARTICULATION_LETTERS",
    "FADE",
    "OPEN_BAR",
    "format_bar",
    "format_chart",
    "format_key_change",
    "format_tempo",
    "format_with",
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
    """Write one bar of a chart, with its fade, key move or own meter before it."""
    before = f"{FADE} " if bar.fades else ""
    if bar.key_change:
        before += f"{format_key_change(bar.key_change)} "
    if bar.meter != chart.meter:
        before += f"[{bar.meter}] "
    if bar.is_open:
        return f"{before}{OPEN_BAR}"
    if len(bar.events) == 1:
        return before + bar_of(_event(bar.events[0], False))
    ticked = not bar.is_even
    return before + join_chords([_event(event, ticked) for event in bar.events])


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
        lines = [f"{section.name}:"] if section.name else []
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


def _lines(phrases: tuple[Phrase, ...], write: Callable[[Bar], str]) -> Iterator[str]:
    """The lines of a section's phrases, one or two phrases to a line."""
    waiting = ""
    for phrase in phrases:
        text = " ".join([write(bar) for bar in phrase.bars])
        plain = _is_plain(phrase)
        if waiting and plain:
            yield f"{waiting} . {text}"
            waiting = ""
            continue
        if waiting:
            yield waiting
        waiting = text if plain else ""
        if not plain:
            yield text
    if waiting:
        yield waiting


def _is_plain(phrase: Phrase) -> bool:
    """Whether a phrase is short enough to share its line with another."""
    bars = phrase.bars
    return (
        len(bars) <= SHORT_PHRASE_BARS
        and sum([len(bar.events) for bar in bars]) <= SHORT_PHRASE_CHORDS
        and all(bar.meter == bars[0].meter and not bar.key_change and not bar.fades for bar in bars)
    )


def _event(event: Event, ticked: bool) -> str:
    text = "0" if event.chord is None else str(event.chord)
    if ticked:
        text += "'" * int(event.beats)
    if event.articulation is not None:
        text += ARTICULATION_LETTERS[event.articulation]
    return text
