"""What is put on finished sections: passing chords, silent bars, a pickup, a fade, a moved bridge.

They are drawn last, so a song without them is the same as if they did not exist.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from trainer.chart import Bar, Chord, Event, Meter, Phrase, Section
from trainer.generate.settings import Features
from trainer.generate.weighted_choice import happens

__all__ = ["PASSING_CHORDS", "finish_sections"]

# The roots that lead to the first bar, best first (common practice, no source).
LEADING_ROOTS = (7, 10, 5)
# The diminished chords that pass between two others a step apart.
PASSING = {("1", "2-"): Chord(1, 1, "o"), ("4", "5"): Chord(4, 1, "o")}
PASSING_CHORDS = tuple(str(chord) for chord in PASSING.values())
# A phrase shorter than this has no bar to spare.
LEAST_BARS = 3


def finish_sections(
    rng: random.Random, sections: tuple[Section, ...], features: Features
) -> tuple[Section, ...]:
    """The sections with what was asked for, each as often as asked."""
    if features.silent_bars > 0:
        sections = _silenced(rng, sections, features.silent_bars)
    if features.passing > 0:
        sections = _passed_through(rng, sections, features.passing)
    if features.bridge_key > 0 and happens(rng, features.bridge_key):
        sections = _bridge_moved(rng, sections)
    if features.fade > 0 and happens(rng, features.fade):
        sections = _faded(sections)
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


def _passed_through(
    rng: random.Random, sections: tuple[Section, ...], rate: float
) -> tuple[Section, ...]:
    """The sections with the diminished chord between two chords a step apart, in the second half of
    the bar before the upper one, at a share `rate` of the different places for it."""
    drawn: dict[tuple[Phrase, int], bool] = {}
    made = []
    for section in sections:
        phrases = []
        for phrase in section.phrases:
            bars = list(phrase.bars)
            for at, (bar, after) in enumerate(pairwise(phrase.bars)):
                between = _between(bar, after)
                if between is None:
                    continue
                if (phrase, at) not in drawn:
                    drawn[phrase, at] = happens(rng, rate)
                if drawn[phrase, at]:
                    half = Fraction(bar.meter.beats, 2)
                    chords = (bar.events[0].chord, between)
                    bars[at] = replace(bar, events=tuple(Event(each, half) for each in chords))
            phrases.append(Phrase(tuple(bars)))
        made.append(replace(section, phrases=tuple(phrases)))
    return tuple(made)


def _between(bar: Bar, after: Bar) -> Chord | None:
    """The diminished chord that leads from a bar of one plain chord to the next; None where none
    does."""
    event, target = bar.events[0], after.events[0].chord
    plain = len(bar.events) == 1 and event.articulation is None and bar.meter.beats % 2 == 0
    if not plain or event.chord is None or target is None or bar.is_open or after.key_change:
        return None
    if event.chord.bass is not None or target.bass is not None:
        return None
    ends = (str(event.chord.root) + event.chord.quality, str(target.root) + target.quality)
    return PASSING.get(ends)


def _silent_end(phrase: Phrase) -> Phrase:
    last = phrase.bars[-1]
    silence = replace(last, events=(Event(None, Fraction(last.meter.beats)),))
    return Phrase((*phrase.bars[:-1], silence))


def _bridge_moved(rng: random.Random, sections: tuple[Section, ...]) -> tuple[Section, ...]:
    """The sections with the first bridge one or two semitones up, and what follows it in the old
    key; a bridge at the end, or beside another change of key, stays."""
    rise = 1 + int(rng.random() * 2)
    for at, section in enumerate(sections[:-1]):
        after = sections[at + 1]
        moves = any(each.phrases[0].bars[0].key_change for each in (section, after))
        if section.kind == "bridge" and at and after.kind != "bridge" and not moves:
            moved = (_opened_in(section, rise), _opened_in(after, -rise))
            return (*sections[:at], *moved, *sections[at + 2 :])
    return sections


def _opened_in(section: Section, key_change: int) -> Section:
    """A section whose first bar moves the key."""
    first = section.phrases[0]
    bars = (replace(first.bars[0], key_change=key_change), *first.bars[1:])
    return replace(section, phrases=(Phrase(bars), *section.phrases[1:]))


def _faded(sections: tuple[Section, ...]) -> tuple[Section, ...]:
    """The song up to its last verse or chorus, which ends as it did before, and then an outro: the
    first of its lines in which the chord changes, four times, fading out from the third."""
    kinds = [section.kind for section in sections]
    sung = [at for at, kind in enumerate(kinds) if kind in ("verse", "chorus")]
    if not sung:
        return sections
    last = sections[sung[-1]]
    before = [section for section in sections[: sung[-1]] if section.kind == last.kind]
    if before:
        change = last.phrases[0].bars[0].key_change
        last = _opened_in(replace(before[-1], name=last.name), change)
    lines = [tuple(replace(bar, key_change=0) for bar in each.bars) for each in last.phrases]
    line = next((bars for bars in lines if len({bar.events for bar in bars}) > 1), lines[0])
    fading = (replace(line[0], fades=True), *line[1:])
    vamp = Section("Outro", tuple(Phrase(bars) for bars in (line, line, fading, line)))
    return (*sections[: sung[-1]], last, vamp)


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
    """The chord of the song that leads to its first bar: a 5, b7 or 4 without its slash bass, or
    else the first chord itself."""
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
