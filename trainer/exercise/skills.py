"""Skills: what a bar can teach, by name.

===============  ==================================================================
name             the bar that teaches it
===============  ==================================================================
chord 6-         has that degree and quality
extension 7      has a chord with that extension
bass 5/7         has that chord over that bass, numbers as written
even split       several chords, the bar divided evenly
uneven split     several chords, the bar divided otherwise
hold, push,      has a chord so articulated
choke
no chord         has silence
short bar        fewer beats than the song's meter, after the first bar
pickup           the first bar, if it has fewer beats than the song's meter
long bar         more beats than the song's meter
odd phrase       ends a phrase of other than 2, 4, 8 or 16 bars, a pickup not counted; not in a
                 chart of one phrase, which shows no boundary
vamp             stands in a phrase that is the same as the two before it
key change       moves the key
section start    opens a section after the first
changed return   differs from the same place the last time this kind of section was heard
tag              stands in a tag
minor home       stands in a song that lives on a minor 1
away opening     stands in a song whose first chord is not its 1
relative home    stands in a song in a major key that begins and ends on its 6-
twelve-bar form  opens a phrase of a section of three phrases of four bars, of which the first opens
                 on the 1, the second on the 4, and the third on the 5 or a 2
meter 6/8        stands in a song in that meter
feel shuffle     stands in a song with that feel
===============  ==================================================================

Each graded bar is evidence for every skill it has.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from difflib import SequenceMatcher

from trainer.chart import Bar, Chart, Chord, Feel, Phrase, Section, parse_tolerant
from trainer.chart.chords import EXTENSIONS, QUALITIES

__all__ = [
    "PLAIN_SKILLS",
    "articulation_skills",
    "bar_skills",
    "chart_skills",
    "has_pickup",
    "is_skill",
]

PLAIN_SKILLS = (
    "even split",
    "uneven split",
    "hold",
    "push",
    "choke",
    "no chord",
    "short bar",
    "long bar",
    "odd phrase",
    "key change",
    "section start",
    "changed return",
    "tag",
    "minor home",
    "away opening",
    "relative home",
    "twelve-bar form",
    "pickup",
    "vamp",
)
SQUARE_PHRASES = (2, 4, 8, 16)
MINOR_SIX = (9, "-")

_ROOT = "[b#]?[1-7]"
_QUALITY = "[" + "".join(map(re.escape, filter(None, QUALITIES))) + "]?"
_EXTENSION = "|".join(sorted({re.escape(e) for each in EXTENSIONS.values() for e in each}))
_FEEL = "|".join(map(re.escape, Feel))
_WITH_A_NAME = re.compile(
    f"chord {_ROOT}{_QUALITY}|bass {_ROOT}{_QUALITY}/{_ROOT}|extension ({_EXTENSION})"
    rf"|meter \d+/\d+|feel ({_FEEL})"
)


def is_skill(name: str) -> bool:
    """Whether a name is that of a skill that `bar_skills` can find."""
    return name in PLAIN_SKILLS or _WITH_A_NAME.fullmatch(name) is not None


def bar_skills(chart: Chart) -> tuple[frozenset[str], ...]:
    """The skills of each bar, in the order of the bars."""
    everywhere = _song_skills(chart)
    changed = _changed_bars(chart)
    found: list[frozenset[str]] = []
    for number, section in enumerate(chart.sections):
        start = len(found)
        whole = everywhere | ({"tag"} if section.kind == "tag" else set())
        is_twelve = _has_twelve_bars(section)
        for at, phrase in enumerate(section.phrases):
            inside = whole | ({"vamp"} if _is_vamp(section.phrases, at) else set())
            for turn, bar in enumerate(phrase.bars):
                skills = inside | _own_skills(bar, chart)
                if is_twelve and not turn:
                    skills.add("twelve-bar form")
                if number and len(found) == start:
                    skills.add("section start")
                if len(found) + 1 in changed:
                    skills.add("changed return")
                found.append(frozenset(skills))
            if _is_odd(chart, number, at):
                found[-1] |= {"odd phrase"}
    if has_pickup(chart):
        found[0] = found[0] - {"short bar"} | {"pickup"}
    return tuple(found)


def has_pickup(chart: Chart) -> bool:
    """Whether a chart begins with a bar of fewer beats than its meter has."""
    first, *others = chart.bars()
    return first.meter.quarters < chart.meter.quarters and bool(others)


def _is_odd(chart: Chart, section: int, phrase: int) -> bool:
    """Whether a phrase has an odd length and is not the only one."""
    is_alone = len(chart.sections) == len(chart.sections[section].phrases) == 1
    led_in = section == phrase == 0 and has_pickup(chart)
    length = len(chart.sections[section].phrases[phrase].bars) - led_in
    return length not in SQUARE_PHRASES and not is_alone


def _is_vamp(phrases: Sequence[Phrase], at: int) -> bool:
    """Whether a phrase is the same as the two before it, whatever fades."""
    if at < 2:
        return False
    first, second, third = map(_without_fade, phrases[at - 2 : at + 1])
    return first == second == third


def _without_fade(phrase: Phrase) -> tuple[Bar, ...]:
    """The bars of a phrase, none of which begins a fade."""
    return tuple(replace(bar, fades=False) if bar.fades else bar for bar in phrase.bars)


def _has_twelve_bars(section: Section) -> bool:
    """Whether a section has the twelve-bar form."""
    if [len(phrase.bars) for phrase in section.phrases] != [4, 4, 4]:
        return False
    first, second, third = (_first_root(phrase.bars[0]) for phrase in section.phrases)
    return (first, second) == (0, 5) and third in (2, 7)


def _first_root(bar: Bar) -> int | None:
    """The root of a bar's first chord, in semitones above the 1; None for silence."""
    chord = bar.events[0].chord
    return chord.root.semitones if chord else None


def chart_skills(chart: Chart) -> tuple[str, ...]:
    """Every skill of a chart, each once, in alphabetical order."""
    return tuple(sorted(frozenset().union(*bar_skills(chart))))


def articulation_skills(text: str) -> frozenset[str]:
    """The skills of the articulations in a text of a few bars, as far as it can be read."""
    chart = parse_tolerant(text).chart
    events = [event for bar in chart.bars() for event in bar.events] if chart is not None else []
    return frozenset(event.articulation.value for event in events if event.articulation)


def _song_skills(chart: Chart) -> set[str]:
    """The skills of every bar of the song."""
    skills = {f"meter {chart.meter}", f"feel {chart.feel.value}"}
    if chart.key.minor:
        skills.add("minor home")
    first, *others = chart.bars()
    opening = others[0] if has_pickup(chart) else first
    if _first_root(opening) not in (0, None):
        skills.add("away opening")
    ends = [bar.events[at].chord for bar, at in ((opening, 0), (chart.bars()[-1], -1))]
    if not chart.key.minor and all(
        chord and (chord.root.semitones, chord.quality) == MINOR_SIX for chord in ends
    ):
        skills.add("relative home")
    return skills


def _own_skills(bar: Bar, chart: Chart) -> set[str]:
    """The skills of a bar that do not depend on its place in the song."""
    skills: set[str] = set()
    for event in bar.events:
        skills |= _chord_skills(event.chord) if event.chord else {"no chord"}
        if event.articulation:
            skills.add(event.articulation.value)
    if len(bar.events) > 1:
        skills.add("even split" if bar.is_even else "uneven split")
    if bar.meter != chart.meter:
        if bar.meter.quarters < chart.meter.quarters:
            skills.add("short bar")
        if bar.meter.quarters > chart.meter.quarters:
            skills.add("long bar")
    if bar.key_change:
        skills.add("key change")
    return skills


def _chord_skills(chord: Chord) -> set[str]:
    """The skills of one chord."""
    name = f"{chord.root}{chord.quality}"
    skills = {f"chord {name}"}
    if chord.extension:
        skills.add(f"extension {chord.extension}")
    if chord.bass is not None:
        skills.add(f"bass {name}/{chord.bass}")
    return skills


def _changed_bars(chart: Chart) -> frozenset[int]:
    """The numbers (from 1) of the bars that differ from the last section of the same kind.

    Where bars were left out, the next bar counts, or else the last one of the section.
    """
    last: dict[str, tuple[Bar, ...]] = {}
    changed: set[int] = set()
    first = 1
    for section in chart.sections:
        bars = _plain_bars(section)
        before = last.get(section.kind)
        if before is not None and before != bars and section.kind != "other":
            matcher = SequenceMatcher(None, before, bars, autojunk=False)
            for tag, _, _, start, end in matcher.get_opcodes():
                if tag == "delete":
                    start = min(start, len(bars) - 1)
                    end = start + 1
                if tag != "equal":
                    changed.update(range(first + start, first + end))
        last[section.kind] = bars
        first += len(bars)
    return frozenset(changed)


def _plain_bars(section: Section) -> tuple[Bar, ...]:
    """A section's bars without their key changes, which alter no number."""
    return tuple(
        Bar(bar.meter, bar.events) if bar.key_change else bar
        for phrase in section.phrases
        for bar in phrase.bars
    )
