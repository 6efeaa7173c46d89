"""Charts of a writer who is deaf to one skill and hears all else, and of one who slips."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from trainer.chart import (
    Articulation,
    Bar,
    Chart,
    Chord,
    Degree,
    Event,
    Feel,
    Meter,
    Phrase,
    PlacedBar,
    Section,
    excerpt,
    parse,
)
from trainer.exercise import Exercise, Level
from trainer.exercise.skills import bar_skills

__all__ = ["Deafness", "deafnesses", "with_slips"]

ChangeBar = Callable[[Bar], Bar]
# Nearest plain chords: what most often is written for a chord that is not known (common practice).
NEAREST = {
    "4": "1", "5": "1", "6-": "1", "2-": "4", "3-": "1", "b7": "5", "2": "2-", "4-": "4",
    "1-": "b3", "b6": "4-", "b3": "1-",
    "#4o": "2", "#1o": "6",
}  # fmt: skip
EVEN_PHRASE = 4
# The degrees by semitones above the 1.
DEGREES = (
    Degree(1), Degree(2, -1), Degree(2), Degree(3, -1), Degree(3), Degree(4), Degree(5, -1),
    Degree(5), Degree(6, -1), Degree(6), Degree(7, -1), Degree(7),
)  # fmt: skip
# Skills of a whole song: a slip in one of its bars leaves them as they are.
OF_SONGS = ("meter", "feel", "minor", "section", "away", "relative", "twelve-bar")
LIGHT_UNTIL = 32
SLIPS = 3


@dataclass(frozen=True, slots=True)
class Deafness:
    """What is not heard of a skill, in words, and the chart written then."""

    skill: str
    name: str
    write: Callable[[Chart], Chart]


def deafnesses(level: Level) -> tuple[Deafness, ...]:
    """The ways to be deaf to what a level introduces; none where it introduces nothing that a
    chart shows."""
    return tuple(each for skill in level.introduced for each in _of_skill(skill))


def _of_skill(skill: str) -> Iterator[Deafness]:
    kind, _, name = skill.partition(" ")
    if kind == "chord" and name in NEAREST:
        yield Deafness(skill, f"{name} as {NEAREST[name]}", _chords(_as_other(name, NEAREST[name])))
        if name.endswith("-"):
            yield Deafness(skill, f"{name} without its minus", _chords(_plain(name)))
    elif kind == "bass":
        yield Deafness(skill, "no slash", _chords(lambda chord: replace(chord, bass=None)))
    elif kind == "extension":
        yield Deafness(skill, f"no {name}", _chords(_without_extension(name)))
    elif skill == "meter 12/8":
        yield Deafness(skill, "two bars of 6/8 for each", _halved)
    elif kind == "meter":
        yield Deafness(skill, "every bar in 4/4", _in_four)
    else:
        yield from (Deafness(skill, *way) for way in WHOLE.get(skill, ()))


def _bars(change: ChangeBar) -> Callable[[Chart], Chart]:
    """A writer who changes each bar by itself."""

    def write(chart: Chart) -> Chart:
        return _rebuilt(chart, [(place, change(place.bar)) for place in chart.placed_bars()])

    return write


def _rebuilt(chart: Chart, bars: list[tuple[PlacedBar, Bar]]) -> Chart:
    """A chart with these bars in the places of others, sections and phrases as they were."""
    sections = []
    for at, inside in groupby(bars, key=lambda each: each[0].section):
        phrases = groupby(inside, key=lambda each: each[0].phrase)
        made = tuple(Phrase(tuple(bar for _, bar in each)) for _, each in phrases)
        sections.append(Section(chart.sections[at].name, made))
    return replace(chart, sections=tuple(sections))


def _chords(change: Callable[[Chord], Chord]) -> Callable[[Chart], Chart]:
    """A writer who changes each chord by itself."""

    def change_bar(bar: Bar) -> Bar:
        events = tuple(
            replace(event, chord=change(event.chord)) if event.chord else event
            for event in bar.events
        )
        return replace(bar, events=events)

    return _bars(change_bar)


def _as_other(name: str, other: str) -> Callable[[Chord], Chord]:
    (event,) = parse(other).bars()[0].events
    written = event.chord
    assert written is not None
    return lambda chord: written if f"{chord.root}{chord.quality}" == name else chord


def _plain(name: str) -> Callable[[Chord], Chord]:
    return lambda chord: (
        replace(chord, quality="") if f"{chord.root}{chord.quality}" == name else chord
    )


def _without_extension(name: str) -> Callable[[Chord], Chord]:
    return lambda chord: replace(chord, extension="") if chord.extension == name else chord


def _first_chord(bar: Bar) -> Bar:
    return replace(bar, events=(replace(bar.events[0], beats=Fraction(bar.meter.beats)),))


def _evened(bar: Bar) -> Bar:
    if bar.is_even:
        return bar
    beats = Fraction(bar.meter.beats, len(bar.events))
    return replace(bar, events=tuple(replace(event, beats=beats) for event in bar.events))


def _struck(bar: Bar) -> Bar:
    return replace(bar, events=tuple(replace(event, articulation=None) for event in bar.events))


def _all(articulation: Articulation) -> ChangeBar:
    """A writer who articulates the first chord of every bar, or where the band did so."""

    def change(bar: Bar) -> Bar:
        if any(event.articulation == articulation for event in bar.events):
            return bar
        first = bar.events[0]
        marked = replace(first, articulation=articulation if first.chord else None)
        return replace(bar, events=(marked, *bar.events[1:]))

    return change


def _full_length(chart: Chart) -> Chart:
    return _bars(lambda bar: bar if bar.meter == chart.meter else _stretched(bar, chart.meter))(
        chart
    )


def _stretched(bar: Bar, meter: Meter) -> Bar:
    beats = Fraction(meter.beats, len(bar.events))
    events = tuple(replace(event, beats=beats) for event in bar.events)
    return replace(bar, meter=meter, events=events)


def _in_four(chart: Chart) -> Chart:
    meter = Meter(4, 4)
    straight = replace(chart, feel=Feel.STRAIGHT, meter=meter)
    return _bars(lambda bar: _stretched(bar, meter))(straight)


def _halved(chart: Chart) -> Chart:
    """Every bar of 12/8 as two of 6/8; of a bar with several chords, each half has its first."""
    meter = Meter(6, 8)
    sections = []
    for section in chart.sections:
        phrases = []
        for phrase in section.phrases:
            bars = []
            for bar in phrase.bars:
                starts = [0.0, *(float(start) for start in bar.starts()[1:])]
                later = [at for at, start in enumerate(starts) if start <= meter.beats]
                halves = (bar.events[0], bar.events[later[-1]])
                beats = Fraction(meter.beats)
                bars += [Bar(meter, (replace(event, beats=beats),)) for event in halves]
            phrases.append(Phrase(tuple(bars)))
        sections.append(replace(section, phrases=tuple(phrases)))
    return replace(chart, feel=Feel.SIX_EIGHT, meter=meter, sections=tuple(sections))


def _even_phrases(chart: Chart) -> Chart:
    """Every section in phrases of four bars."""
    sections = []
    for section in chart.sections:
        bars = [bar for phrase in section.phrases for bar in phrase.bars]
        cuts = range(0, len(bars), EVEN_PHRASE)
        phrases = tuple(Phrase(tuple(bars[at : at + EVEN_PHRASE])) for at in cuts)
        sections.append(replace(section, phrases=phrases))
    return replace(chart, sections=tuple(sections))


def _one_section(chart: Chart) -> Chart:
    phrases = tuple(phrase for section in chart.sections for phrase in section.phrases)
    return replace(chart, sections=(Section(chart.sections[0].name, phrases),))


def _copied(chart: Chart) -> Chart:
    """Every section that comes back as it was the first time."""
    first: dict[str, Section] = {}
    sections = []
    for section in chart.sections:
        known = first.setdefault(section.kind, section)
        copies = section if section.kind == "other" else replace(known, name=section.name)
        sections.append(copies)
    return replace(chart, sections=tuple(sections))


def _one_key(bar: Bar) -> Bar:
    return replace(bar, key_change=0)


def _old_numbers(chart: Chart) -> Chart:
    """No mark, and the numbers counted on from the old 1."""
    return _rebuilt(
        chart,
        [(place, _shifted(_one_key(place.bar), place.key_shift)) for place in chart.placed_bars()],
    )


def _shifted(bar: Bar, semitones: int) -> Bar:
    def moved(degree: Degree) -> Degree:
        return DEGREES[(degree.semitones + semitones) % 12]

    def chord(one: Chord) -> Chord:
        root = moved(one.root)
        bass = moved(one.bass) if one.bass is not None else None
        return replace(one, degree=root.number, alteration=root.alteration, bass=bass)

    events = (replace(e, chord=chord(e.chord) if e.chord else None) for e in bar.events)
    return replace(bar, events=tuple(events))


def _without_tag(chart: Chart) -> Chart:
    return replace(chart, sections=tuple(each for each in chart.sections if each.kind != "tag"))


def _unnamed_tag(chart: Chart) -> Chart:
    sections: list[Section] = []
    for section in chart.sections:
        if section.kind == "tag" and sections:
            last = sections.pop()
            section = replace(last, phrases=last.phrases + section.phrases)
        sections.append(section)
    return replace(chart, sections=tuple(sections))


def _relative_major(chart: Chart) -> Chart:
    return _bars(lambda bar: _shifted(bar, 9))(chart)


def _half_as_many(chart: Chart) -> Chart:
    """Two bars written as one, split between them."""
    sections = []
    for section in chart.sections:
        phrases = []
        for phrase in section.phrases:
            pairs = [phrase.bars[at : at + 2] for at in range(0, len(phrase.bars), 2)]
            phrases.append(Phrase(tuple(map(_joined, pairs))))
        sections.append(replace(section, phrases=tuple(phrases)))
    return replace(chart, sections=tuple(sections))


def _joined(bars: tuple[Bar, ...]) -> Bar:
    beats = Fraction(bars[0].meter.beats, len(bars))
    events = tuple(replace(bar.events[0], beats=beats) for bar in bars)
    return replace(bars[0], events=events)


def _sung_through(chart: Chart) -> Chart:
    """Silent bars written as the chord that sounded last."""
    bars = []
    last: Event | None = None
    for place in chart.placed_bars():
        bar = place.bar
        if bar.events[0].chord is None and last is not None:
            events = (replace(last, beats=Fraction(bar.meter.beats), articulation=None),)
            bar = replace(bar, events=events)
        last = bar.events[-1]
        bars.append((place, bar))
    return _rebuilt(chart, bars)


def _without_pickup(chart: Chart) -> Chart:
    return excerpt(chart, 2, len(chart.bars()))


def _full_pickup(chart: Chart) -> Chart:
    """The pickup written as a bar of full length."""
    places = list(chart.placed_bars())
    first = _stretched(places[0].bar, chart.meter)
    return _rebuilt(chart, [(places[0], first), *((each, each.bar) for each in places[1:])])


def _from_first_chord(chart: Chart) -> Chart:
    """Every number counted as if the first chord was the 1."""
    first = chart.bars()[0].events[0].chord
    return _bars(lambda bar: _shifted(bar, -first.root.semitones if first else 0))(chart)


def _from_minor(chart: Chart) -> Chart:
    """A minor song counted from its own 1 where its relative major was asked for."""
    return _bars(lambda bar: _shifted(bar, 3))(chart)


def _line_again(chart: Chart) -> Chart:
    """Every section's second line written as its first."""
    sections = []
    for section in chart.sections:
        first, second, *others = section.phrases
        same = Phrase(first.bars[: len(second.bars)])
        sections.append(replace(section, phrases=(first, same, *others)))
    return replace(chart, sections=tuple(sections))


def _two_lines(chart: Chart) -> Chart:
    """Every section without its middle line."""
    return replace(
        chart,
        sections=tuple(
            replace(section, phrases=(section.phrases[0], section.phrases[-1]))
            for section in chart.sections
        ),
    )


def _line_twice(chart: Chart) -> Chart:
    """A line that is repeated is written twice, however often it comes."""
    sections = []
    for section in chart.sections:
        kept: list[Phrase] = []
        for phrase in section.phrases:
            plain = Phrase(tuple(replace(bar, fades=False) for bar in phrase.bars))
            if [plain, plain] != kept[-2:]:
                kept.append(plain)
        sections.append(replace(section, phrases=tuple(kept)))
    return replace(chart, sections=tuple(sections))


# The skills of whole bars, phrases, sections and songs: what is not heard, and how it is written.
WHOLE: dict[str, tuple[tuple[str, Callable[[Chart], Chart]], ...]] = {
    "even split": (("splits as their first chord", _bars(_first_chord)),),
    "uneven split": (("uneven splits even", _bars(_evened)),),
    "hold": (("no holds", _bars(_struck)), ("every bar held", _bars(_all(Articulation.HOLD)))),
    "push": (("no pushes", _bars(_struck)), ("every bar pushed", _bars(_all(Articulation.PUSH)))),
    "choke": (("no chokes", _bars(_struck)), ("every bar choked", _bars(_all(Articulation.CHOKE)))),
    "short bar": (("2/4 bars full", _full_length),),
    "odd phrase": (("phrases of four", _even_phrases),),
    "section start": (("no labels", _one_section),),
    "changed return": (("returns copied", _copied),),
    "minor home": (("from the relative major", _relative_major),),
    "key change": (("no mark", _bars(_one_key)), ("numbers of the old key", _old_numbers)),
    "tag": (("no tag", _without_tag), ("no name of its own", _unnamed_tag)),
    "no chord": (("silence as the chord before", _sung_through),),
    "pickup": (("left out", _without_pickup), ("a full bar", _full_pickup)),
    "away opening": (("the first chord as the 1", _from_first_chord),),
    "relative home": (("from the minor 1", _from_minor),),
    "twelve-bar form": (("the first line twice", _line_again), ("eight bars", _two_lines)),
    "vamp": (("a repeated line twice", _line_twice),),
    "feel train beat": (("two bars as one", _half_as_many),),
    "feel half-time": (("two bars as one", _half_as_many),),
}


def with_slips(exercise: Exercise, level: Level, rng: random.Random) -> Chart:
    """The chart of an exercise with three slips, each in a bar of its own where there are three.

    None is of a kind that the level teaches. In songs of fewer than `LIGHT_UNTIL` bars they are
    light (an extension or a slash that was not there, a minus too many or too few); in longer ones
    half of them are another chord.
    """
    chart = exercise.chart
    own = {skill for skill in level.skills if not skill.startswith(OF_SONGS)}
    ways = _light_slips(level)
    bars = [(place, place.bar) for place in chart.placed_bars()]
    skills = bar_skills(chart)
    # Beside a place of the level's skills, even another slip might touch how the place is read.
    free = [at for at, has in enumerate(skills) if not own & has]
    left = [at for at in range(len(bars)) if at not in free]
    rng.shuffle(free)
    rng.shuffle(left)
    for at in (*free, *left)[:SLIPS]:
        place, bar = bars[at]
        more = [] if at in left else [_other_minus]
        more += [_other_chord] * 3 if at in free and len(bars) >= LIGHT_UNTIL else []
        bars[at] = place, _slip(bar, rng.choice([*ways, *more]))
    return _rebuilt(chart, bars)


def _light_slips(level: Level) -> list[Callable[[Chord], Chord]]:
    """The slips that leave a chord's root and kind as they are, of kinds that a level does not
    teach."""
    kinds = {skill.partition(" ")[0] for skill in level.skills}
    ways = {"extension": _with_extension, "bass": _other_bass}
    return [way for kind, way in ways.items() if kind not in kinds]


def _slip(bar: Bar, change: Callable[[Chord], Chord]) -> Bar:
    """A bar with a slip in its first chord."""
    first = bar.events[0]
    if first.chord is None:
        return bar
    return replace(bar, events=(replace(first, chord=change(first.chord)), *bar.events[1:]))


def _with_extension(chord: Chord) -> Chord:
    return replace(chord, extension="" if chord.extension else "7")


def _other_bass(chord: Chord) -> Chord:
    third = DEGREES[(chord.root.semitones + (3 if chord.quality == "-" else 4)) % 12]
    return replace(chord, bass=None if chord.bass else third)


def _other_minus(chord: Chord) -> Chord:
    return replace(chord, quality="" if chord.quality == "-" else "-", extension="")


def _other_chord(chord: Chord) -> Chord:
    return Chord(2, quality="-") if chord.degree != 2 else Chord(4)
