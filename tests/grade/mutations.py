"""Songs of the course, and answers to them with the mistakes that people make."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trainer.chart import Articulation, Bar, Chart, Chord, Degree, Event, Phrase, Section
from trainer.exercise import load_course, make_exercise

from .helpers import corrupt_bar

__all__ = ["MUTATIONS", "mutated", "songs"]

Bars = list[list[list[Bar]]]
Mutation = Callable[[Bars, random.Random], None]
SPELLED = ((1, 0), (2, -1), (2, 0), (3, -1), (3, 0), (4, 0), (4, 1), (5, 0), (6, -1), (6, 0),
           (7, -1), (7, 0))  # fmt: skip


def songs(rng: random.Random, count: int) -> list[Chart]:
    """Songs of all levels from the fifth on, the last levels more often."""
    levels = load_course()[4:]
    found = []
    for _ in range(count):
        level = max(rng.choice(levels), rng.choice(levels), key=lambda one: one.number)
        found.append(make_exercise(level.recipe, rng.randrange(10_000), level).chart)
    return found


def mutated(chart: Chart, rng: random.Random) -> Chart:
    """The chart with one to six mistakes; never empty."""
    while True:
        listed: Bars = [[list(phrase.bars) for phrase in one.phrases] for one in chart.sections]
        names = [section.name for section in chart.sections]
        for _ in range(rng.choice((1, 1, 2, 3, 4, 6))):
            rng.choice(MUTATIONS)(listed, rng)
            if sum(len(phrase) for section in listed for phrase in section) < 2:
                break
        if rng.random() < 0.05:
            names[rng.randrange(len(names))] = rng.choice(("Bridge", "Solo", "Verse 9"))
        if rng.random() < 0.05 and len(listed) > 1:
            k = rng.randrange(len(listed) - 1)
            listed[k], listed[k + 1] = listed[k + 1], listed[k]
            names[k], names[k + 1] = names[k + 1], names[k]
        sections = []
        for name, phrases in zip(names, listed, strict=True):
            kept = tuple(Phrase(tuple(phrase)) for phrase in phrases if phrase)
            if kept:
                sections.append(Section(name, kept))
        if sections and all(section.name for section in sections[1:]):
            return replace(chart, sections=_with_one_fade(sections))


def _with_one_fade(sections: list[Section]) -> tuple[Section, ...]:
    """The sections with the first fade alone, since a chart has one at most."""
    seen = False

    def kept(bar: Bar) -> Bar:
        nonlocal seen
        again, seen = seen and bar.fades, seen or bar.fades
        return replace(bar, fades=False) if again else bar

    return tuple(
        Section(one.name, tuple(Phrase(tuple(map(kept, phrase.bars))) for phrase in one.phrases))
        for one in sections
    )


def _phrase(listed: Bars, rng: random.Random) -> list[Bar]:
    return rng.choice([phrase for section in listed for phrase in section if phrase])


def _each_bar(listed: Bars, change: Callable[[Bar], Bar]) -> None:
    for section in listed:
        for phrase in section:
            phrase[:] = map(change, phrase)


def _each_chord(listed: Bars, change: Callable[[Chord], Chord]) -> None:
    def changed(event: Event) -> Event:
        return event if event.chord is None else replace(event, chord=change(event.chord))

    _each_bar(listed, lambda bar: replace(bar, events=tuple(map(changed, bar.events))))


def bar_left_out(listed: Bars, rng: random.Random) -> None:
    """One bar is missing."""
    phrase = _phrase(listed, rng)
    del phrase[rng.randrange(len(phrase))]


def bar_doubled(listed: Bars, rng: random.Random) -> None:
    """One bar stands twice."""
    phrase = _phrase(listed, rng)
    k = rng.randrange(len(phrase))
    phrase.insert(k, replace(phrase[k], key_change=0))


def bar_made_up(listed: Bars, rng: random.Random) -> None:
    """One bar was not played."""
    phrase = _phrase(listed, rng)
    new = Event(Chord(rng.randint(1, 7)), Fraction(phrase[0].meter.beats))
    phrase.insert(rng.randrange(len(phrase) + 1), Bar(phrase[0].meter, (new,)))


def phrase_left_out(listed: Bars, rng: random.Random) -> None:
    """One phrase is missing."""
    _phrase(listed, rng).clear()


def phrase_doubled(listed: Bars, rng: random.Random) -> None:
    """One phrase stands twice."""
    section = rng.choice([one for one in listed if any(one)])
    k = rng.randrange(len(section))
    section.insert(k, [replace(bar, key_change=0) for bar in section[k]])


def phrases_joined(listed: Bars, rng: random.Random) -> None:
    """One phrase end is not marked."""
    section = rng.choice(listed)
    if len(section) > 1:
        k = rng.randrange(len(section) - 1)
        section[k : k + 2] = [section[k] + section[k + 1]]


def phrase_cut(listed: Bars, rng: random.Random) -> None:
    """A phrase end is marked where none is."""
    section = rng.choice([one for one in listed if any(one)])
    k = rng.randrange(len(section))
    at = rng.randrange(len(section[k]) + 1)
    section[k : k + 1] = [section[k][:at], section[k][at:]]


def stopped_early(listed: Bars, rng: random.Random) -> None:
    """The end of the chart is missing."""
    keep = rng.randint(1, len(listed))
    for section in listed[keep:]:
        for phrase in section:
            phrase.clear()


def bars_corrupted(listed: Bars, rng: random.Random) -> None:
    """A few bars are anything."""
    for _ in range(rng.randint(1, 3)):
        phrase = _phrase(listed, rng)
        k = rng.randrange(len(phrase))
        phrase[k] = corrupt_bar(rng, phrase[k])


def one_chord_wrong(listed: Bars, rng: random.Random) -> None:
    """A few chords are another chord of the key."""
    for _ in range(rng.randint(1, 4)):
        phrase = _phrase(listed, rng)
        k = rng.randrange(len(phrase))
        bar = phrase[k]
        e = rng.randrange(len(bar.events))
        wrong = Chord(rng.randint(1, 7), quality=rng.choice(("", "-")))
        event = replace(bar.events[e], chord=wrong)
        phrase[k] = replace(bar, events=(*bar.events[:e], event, *bar.events[e + 1 :]))


def slip_throughout(listed: Bars, rng: random.Random) -> None:
    """One chord is written as another every time."""
    chords = [e.chord for s in listed for p in s for bar in p for e in bar.events if e.chord]
    if chords:
        slip, other = rng.choice(chords), Chord(rng.randint(1, 7), quality=rng.choice(("", "-")))
        _each_chord(listed, lambda one: other if one == slip else one)


def exchanged_throughout(listed: Bars, rng: random.Random) -> None:
    """4 and 5 (or 1 and 6-) are exchanged."""
    a, b = rng.choice(((4, 5), (1, 6), (4, 2)))
    swap = {a: b, b: a}

    def change(one: Chord) -> Chord:
        if one.degree not in swap or one.alteration:
            return one
        degree = swap[one.degree]
        return Chord(degree, quality="-" if degree in (2, 6) else "")

    _each_chord(listed, change)


def no_minus(listed: Bars, _: random.Random) -> None:
    """Minor chords are plain numbers."""
    _each_chord(
        listed, lambda one: replace(one, quality="", extension="") if one.quality == "-" else one
    )


def no_bass(listed: Bars, _: random.Random) -> None:
    """No slash is heard."""
    _each_chord(listed, lambda one: replace(one, bass=None))


def no_extension(listed: Bars, _: random.Random) -> None:
    """No seventh is heard."""
    _each_chord(listed, lambda one: replace(one, extension=""))


def no_split(listed: Bars, _: random.Random) -> None:
    """No bar is split."""
    _each_bar(listed, lambda bar: replace(
        bar, events=(replace(bar.events[0], beats=Fraction(bar.meter.beats)),)))  # fmt: skip


def beats_wrong(listed: Bars, rng: random.Random) -> None:
    """Changes inside bars are a beat early or late, also over the bar line."""
    for section in listed:
        for phrase in section:
            for k, bar in enumerate(phrase):
                beats = bar.meter.beats
                if len(bar.events) == 2 and beats > 2 and rng.random() < 0.5:
                    first = Fraction(rng.choice(list(range(1, beats))))
                    one, two = bar.events
                    events = replace(one, beats=first), replace(two, beats=beats - first)
                    phrase[k] = replace(bar, events=events)
                elif (
                    len(bar.events) == 1
                    and k + 1 < len(phrase)
                    and rng.random() < 0.1
                    and beats > 1
                ):
                    early = phrase[k + 1].events[0].chord
                    one = replace(bar.events[0], beats=Fraction(beats - 1))
                    phrase[k] = replace(bar, events=(one, Event(early, Fraction(1))))


def no_articulation(listed: Bars, rng: random.Random) -> None:
    """No hold (or push, or choke) is written."""
    deaf = rng.choice(tuple(Articulation))

    def plain(event: Event) -> Event:
        return replace(event, articulation=None) if event.articulation is deaf else event

    _each_bar(listed, lambda bar: replace(bar, events=tuple(map(plain, bar.events))))


def articulation_moved(listed: Bars, rng: random.Random) -> None:
    """A hold, push or choke stands a bar too early or on the wrong chord of its bar."""
    for section in listed:
        for phrase in section:
            for k, bar in enumerate(phrase):
                what = bar.events[-1].articulation
                if what is None or rng.random() < 0.5:
                    continue
                bare = replace(bar.events[-1], articulation=None)
                if len(bar.events) > 1 and bar.events[0].chord is not None:
                    first = replace(bar.events[0], articulation=what)
                    phrase[k] = replace(bar, events=(first, *bar.events[1:-1], bare))
                elif k and phrase[k - 1].events[-1].chord is not None:
                    phrase[k] = replace(bar, events=(*bar.events[:-1], bare))
                    before = phrase[k - 1]
                    last = replace(before.events[-1], articulation=what)
                    phrase[k - 1] = replace(before, events=(*before.events[:-1], last))


def meter_full(listed: Bars, _: random.Random) -> None:
    """Bars of another length are written full."""
    usual = listed[0][0][0].meter if listed[0] and listed[0][0] else None
    if usual is None:
        return

    def full(bar: Bar) -> Bar:
        if bar.meter == usual or len(bar.events) > 1:
            return bar
        return replace(
            bar, meter=usual, events=(replace(bar.events[0], beats=Fraction(usual.beats)),)
        )

    _each_bar(listed, full)


def no_key_sign(listed: Bars, _: random.Random) -> None:
    """Key changes are not marked; numbers are right in the new key."""
    _each_bar(listed, lambda bar: replace(bar, key_change=0))


def old_key(listed: Bars, _: random.Random) -> None:
    """After a key change the numbers are those of the old key."""
    shift = 0
    for section in listed:
        for phrase in section:
            for k, bar in enumerate(phrase):
                shift += bar.key_change
                phrase[k] = _moved(replace(bar, key_change=0), shift)


def other_home(listed: Bars, rng: random.Random) -> None:
    """All numbers are counted from another 1."""
    shift = rng.randrange(1, 12)
    _each_bar(listed, lambda bar: _moved(bar, shift))


def section_from_another_home(listed: Bars, rng: random.Random) -> None:
    """The numbers of one section are counted from another 1."""
    shift, section = rng.randrange(1, 12), rng.choice(listed)
    for phrase in section:
        phrase[:] = [_moved(bar, shift) for bar in phrase]


def _moved(bar: Bar, shift: int) -> Bar:
    def moved(degree: Degree) -> Degree:
        return Degree(*SPELLED[(degree.semitones + shift) % 12])

    def event(one: Event) -> Event:
        if one.chord is None:
            return one
        low = None if one.chord.bass is None else moved(one.chord.bass)
        root = moved(one.chord.root)
        low = None if low == root else low
        return replace(one, chord=replace(one.chord, degree=root.number, alteration=root.alteration,
                                          bass=low))  # fmt: skip

    return replace(bar, events=tuple(map(event, bar.events)))


def counted_double(listed: Bars, rng: random.Random) -> None:
    """Each bar of a section (or of all) is written as two."""
    for section in listed if rng.random() < 0.5 else [rng.choice(listed)]:
        for phrase in section:
            phrase[:] = [
                two for bar in phrase for two in ([bar, replace(bar, key_change=0)])
            ]  # fmt: skip


def counted_half(listed: Bars, _: random.Random) -> None:
    """Two bars are written as one."""
    for section in listed:
        for phrase in section:
            halves: list[Bar] = []
            for k in range(0, len(phrase), 2):
                bars = phrase[k : k + 2]
                beats = Fraction(bars[0].meter.beats, len(bars))
                events = tuple(replace(bar.events[0], beats=beats) for bar in bars)
                halves.append(replace(bars[0], events=events))
            phrase[:] = halves


def bars_swapped(listed: Bars, rng: random.Random) -> None:
    """Two bars next to each other change places."""
    phrase = _phrase(listed, rng)
    if len(phrase) > 1:
        k = rng.randrange(len(phrase) - 1)
        phrase[k], phrase[k + 1] = phrase[k + 1], phrase[k]


def phrases_swapped(listed: Bars, rng: random.Random) -> None:
    """Two phrases next to each other change places."""
    section = rng.choice(listed)
    if len(section) > 1:
        k = rng.randrange(len(section) - 1)
        section[k], section[k + 1] = section[k + 1], section[k]


def split_in_two(listed: Bars, rng: random.Random) -> None:
    """Split bars are written as two bars each."""
    for section in listed:
        for phrase in section:
            for k in reversed(range(len(phrase))):
                bar = phrase[k]
                if len(bar.events) == 2 and rng.random() < 0.5:
                    full = Fraction(bar.meter.beats)
                    one, two = (replace(event, beats=full) for event in bar.events)
                    phrase[k : k + 1] = [
                        replace(bar, events=(one,)),
                        replace(bar, events=(two,), key_change=0),
                    ]


def silence(listed: Bars, rng: random.Random) -> None:
    """A chord is written as silence, or one is written where the band was silent."""
    phrase = _phrase(listed, rng)
    k = rng.randrange(len(phrase))
    bar = phrase[k]
    e = rng.randrange(len(bar.events))
    chord = Chord(1) if bar.events[e].chord is None else None
    event = Event(chord, bar.events[e].beats)
    phrase[k] = replace(bar, events=(*bar.events[:e], event, *bar.events[e + 1 :]))


MUTATIONS: tuple[Mutation, ...] = (
    bar_left_out, bar_doubled, bar_made_up, phrase_left_out, phrase_doubled, phrases_joined,
    phrase_cut, stopped_early, bars_corrupted, one_chord_wrong, one_chord_wrong, slip_throughout,
    exchanged_throughout, no_minus, no_bass, no_extension, no_split, beats_wrong, no_articulation,
    articulation_moved, meter_full, no_key_sign, old_key, other_home, section_from_another_home,
    counted_double, counted_half, bars_swapped, phrases_swapped, split_in_two, silence,
)  # fmt: skip
