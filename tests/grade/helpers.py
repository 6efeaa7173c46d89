"""Charts for grading: random ones, and corruptions of every kind."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from trainer.chart import Articulation, Bar, Chart, Chord, Degree, Event, Meter, Phrase, Section
from trainer.chart.chords import EXTENSIONS, QUALITIES

METERS = tuple(Meter(*pair) for pair in ((4, 4), (3, 4), (6, 8), (12, 8), (2, 4), (2, 2), (5, 4)))
DEGREES = tuple(Degree(number, sign) for sign in (0, 0, 0, -1, 1) for number in range(1, 8))


def random_chord(rng: random.Random) -> Chord | None:
    """Any chord of the vocabulary, or silence."""
    if rng.random() < 0.1:
        return None
    root, quality = rng.choice(DEGREES), rng.choice(("", "", "-", *QUALITIES))
    extension = rng.choice(("", "", "", *EXTENSIONS[quality]))
    bass = rng.choice((None, None, None, rng.choice(DEGREES)))
    return Chord(*root, quality, extension, None if bass == root else bass)


def random_bar(rng: random.Random, meter: Meter) -> Bar:
    """A bar of one to four chords, divided evenly or in whole beats."""
    number = rng.choice((1, 1, 1, 2, 2, 3, 4))
    lengths = [Fraction(meter.beats, number)] * number
    if number <= meter.beats and rng.random() < 0.5:
        inner = sorted(rng.sample(range(1, meter.beats), number - 1))
        edges = [0, *inner, meter.beats]
        lengths = [Fraction(b - a) for a, b in itertools.pairwise(edges)]
    return Bar(meter, tuple(_event(rng, length) for length in lengths))


def _event(rng: random.Random, beats: Fraction) -> Event:
    chord = random_chord(rng)
    mark = None if chord is None else rng.choice((None, None, None, *Articulation))
    return Event(chord, beats, mark)


def corrupt_bar(rng: random.Random, bar: Bar) -> Bar:
    """The bar with something changed, or another bar altogether."""
    way = rng.randrange(5)
    if way == 0:
        return random_bar(rng, bar.meter)
    if way == 1:
        return random_bar(rng, rng.choice(METERS))
    if way == 2:
        return replace(bar, events=(Event(bar.events[0].chord, Fraction(bar.meter.beats)),))
    k = rng.randrange(len(bar.events))
    event = bar.events[k]
    chord = random_chord(rng) if way == 3 else _near(rng, event.chord)
    event = Event(chord, event.beats, None if chord is None else event.articulation)
    return replace(bar, events=(*bar.events[:k], event, *bar.events[k + 1 :]))


def _near(rng: random.Random, chord: Chord | None) -> Chord | None:
    if chord is None:
        return Chord(1)
    quality = rng.choice(QUALITIES)
    return rng.choice(
        (
            Chord(*chord.root, quality, "", chord.bass),
            Chord(*chord.root, chord.quality, chord.extension, None),
            Chord(*chord.root, chord.quality, "", chord.bass),
        )
    )


def with_bars(chart: Chart, bars: Iterable[Bar]) -> Chart:
    """The chart with its bars replaced one by one, phrases and sections as they are."""
    coming = iter(bars)
    return replace(
        chart,
        sections=tuple(
            replace(
                section,
                phrases=tuple(
                    Phrase(tuple(next(coming) for _ in phrase.bars)) for phrase in section.phrases
                ),
            )
            for section in chart.sections
        ),
    )


def without_bar(chart: Chart, number: int) -> Chart | None:
    """The chart without one bar, counted from 0; what is left empty goes with it."""
    at, sections = 0, []
    for section in chart.sections:
        phrases = []
        for phrase in section.phrases:
            bars = tuple(bar for k, bar in enumerate(phrase.bars) if at + k != number)
            at += len(phrase.bars)
            if bars:
                phrases.append(Phrase(bars))
        if phrases:
            sections.append(Section(section.name, tuple(phrases)))
    return replace(chart, sections=tuple(sections)) if sections else None
