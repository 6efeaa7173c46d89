"""What is put on finished sections: silent bars where a line ends, and a pickup before bar one.

Both are drawn last, so a song without them is the same as ever.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from trainer.chart import Bar, Chord, Event, Meter, Phrase, Section
from trainer.generate.settings import Features
from trainer.generate.weighted_choice import happens

__all__ = ["finish_sections"]

# The roots that lead to the first bar, best first (common practice, no source).
LEADING_ROOTS = (7, 10, 5)
# A phrase shorter than this has no bar to spare.
LEAST_BARS = 3


def finish_sections(
    rng: random.Random, sections: tuple[Section, ...], features: Features
) -> tuple[Section, ...]:
    """The sections with silent bars and a pickup, each as often as asked for."""
    if features.silent_bars > 0:
        sections = _silenced(rng, sections, features.silent_bars)
    if features.pickup > 0 and happens(rng, features.pickup):
        sections = _led_in(rng, sections)
    return sections


def _silenced(
    rng: random.Random, sections: tuple[Section, ...], rate: float
) -> tuple[Section, ...]:
    """The sections with silence in the last bar of a share `rate` of their different phrases; the
    song's own last phrase keeps its end."""
    drawn: dict[tuple[Bar, ...], bool] = {}
    made = []
    for number, section in enumerate(sections):
        phrases = []
        for at, phrase in enumerate(section.phrases):
            ends = number == len(sections) - 1 and at == len(section.phrases) - 1
            if not ends and phrase.bars not in drawn:
                drawn[phrase.bars] = len(phrase.bars) >= LEAST_BARS and happens(rng, rate)
            phrases.append(_silent_end(phrase) if not ends and drawn[phrase.bars] else phrase)
        made.append(replace(section, phrases=tuple(phrases)))
    return tuple(made)


def _silent_end(phrase: Phrase) -> Phrase:
    last = phrase.bars[-1]
    silence = replace(last, events=(Event(None, Fraction(last.meter.beats)),))
    return Phrase((*phrase.bars[:-1], silence))


def _led_in(rng: random.Random, sections: tuple[Section, ...]) -> tuple[Section, ...]:
    """The sections with a bar of one beat or half a bar before the first, on a chord of the song
    that leads there."""
    first = sections[0].phrases[0]
    bar = first.bars[0]
    whole = bar.meter.beats
    least = 1 if bar.meter.unit == 4 else 3
    lengths = (least, whole // 2) if whole % 2 == 0 else (least,)
    beats = lengths[int(rng.random() * len(lengths))]
    event = Event(_leading_chord(sections), Fraction(beats))
    pickup = Bar(Meter(beats, bar.meter.unit), (event,))
    phrases = (Phrase((pickup, *first.bars)), *sections[0].phrases[1:])
    return (replace(sections[0], phrases=phrases), *sections[1:])


def _leading_chord(sections: Sequence[Section]) -> Chord | None:
    """The chord of the song that leads to its first bar: a plain 5, b7 or 4, or else the first
    chord itself."""
    events = [
        event
        for section in sections
        for phrase in section.phrases
        for bar in phrase.bars
        for event in bar.events
    ]
    first = events[0].chord
    for root in LEADING_ROOTS:
        for event in events:
            chord = event.chord
            if chord and chord.root.semitones == root and chord.root != (first and first.root):
                return replace(chord, bass=None)
    return first
