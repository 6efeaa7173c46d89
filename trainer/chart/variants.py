"""A chart changed as a whole: without the words on it, or called in another key."""

from __future__ import annotations

from dataclasses import replace

from trainer.chart.keys import Key
from trainer.chart.model import Bar, Chart, Phrase

__all__ = ["called_in", "has_notes", "without_notes"]

# A capo higher than this leaves too little of the neck.
HIGHEST_MOVED_CAPO = 7


def has_notes(chart: Chart) -> bool:
    """Whether anything is said to the players of a chart, hits included."""
    return any(section.notes for section in chart.sections) or any(
        bar.notes or bar.hits for bar in chart.bars()
    )


def has_words(chart: Chart) -> bool:
    """Whether a chart has notes, hits or comments."""
    phrases = [phrase for section in chart.sections for phrase in section.phrases]
    return bool(
        chart.comments
        or [one for one in chart.sections if one.notes or one.comments]
        or [one for one in phrases if one.comments]
        or [bar for phrase in phrases for bar in phrase.bars if bar.notes or bar.hits]
    )


def without_notes(chart: Chart) -> Chart:
    """A chart without its notes, hits and comments; the same chart if it has none."""
    if not has_words(chart):
        return chart
    sections = tuple(
        replace(
            section,
            phrases=tuple(_bare(phrase) for phrase in section.phrases),
            notes=(),
            comments=(),
        )
        if section.notes or section.comments or any(map(_has_words, section.phrases))
        else section
        for section in chart.sections
    )
    return replace(chart, sections=sections, comments=())


def called_in(chart: Chart, key: Key) -> Chart:
    """A chart in another key.

    The guitarist keeps the shapes, so the capo moves with the key; where it would come too high on
    the neck, the chart says no fret.
    """
    capo = chart.capo
    if capo is not None and key.pitch_class != chart.key.pitch_class:
        moved = (capo + key.pitch_class - chart.key.pitch_class) % 12
        capo = moved if moved <= HIGHEST_MOVED_CAPO else None
    return replace(chart, key=key, capo=capo)


def _has_words(phrase: Phrase) -> bool:
    return bool(phrase.comments) or any(bar.notes or bar.hits for bar in phrase.bars)


def _bare(phrase: Phrase) -> Phrase:
    return Phrase(tuple(_bare_bar(bar) for bar in phrase.bars))


def _bare_bar(bar: Bar) -> Bar:
    return replace(bar, notes=(), hits=()) if bar.notes or bar.hits else bar
