"""Places: where in a song a skill is what is asked, and how often a song has it.

A level guarantees at least `LEAST_PLACES` places of each skill in its recipe's `thrice`; its
verdict (`trainer.practice.passing`) takes the mean credit over the same places.

==================  ==========================================================================
skill               one place of it
==================  ==========================================================================
chord, extension,   each bar that has that chord, extension, or chord over that bass
bass
even, uneven split  each bar so divided
hold, push, choke    each bar with a chord so articulated
no chord            each bar with silence
short bar, long     each bar of that length
bar
meter, feel,        each bar of a song that has it
minor home, away
opening, relative
home
twelve-bar form     the first bar of each of its three lines
vamp                each bar of the phrases that come once more
pickup              the short bar, its length, and the first bar after it: a song has one pickup
odd phrase          each phrase of such a length, counted at its last bar
section start       each section after the first, counted at its first bar
changed return      each bar that differs from the last time the section was heard; where bars were
                    left out, the bar that follows the gap
tag                 each bar of the tag
key change          the mark before the first bar of the new key, its interval, and each of the
                    first `KEY_BARS` bars in the new key: three key changes in one song would be no
                    music, so one change has several places
==================  ==========================================================================
"""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace

from trainer.chart import Chart, PlacedBar, excerpt
from trainer.exercise.skills import bar_skills

__all__ = ["KEY_BARS", "LEAST_PLACES", "bars_around", "count_places", "missing_places"]

LEAST_PLACES = 3
# The first bars in a new key, which show whether the numbers are counted from its 1.
KEY_BARS = 4
KEY_CHANGE, PICKUP = "key change", "pickup"


def count_places(skills: Sequence[AbstractSet[str]], skill: str) -> int:
    """How many places of a skill a song has; `skills` are those of each bar (`bar_skills`)."""
    at = [number for number, each in enumerate(skills) if skill in each]
    if skill == PICKUP:
        return LEAST_PLACES * len(at)
    if skill != KEY_CHANGE:
        return len(at)
    return sum(2 + min(KEY_BARS, len(skills) - number) for number in at)


def missing_places(chart: Chart, skills: Sequence[str]) -> tuple[str, ...]:
    """Those of some skills of which a chart has fewer than `LEAST_PLACES` places."""
    if not skills:
        return ()
    each = bar_skills(chart)
    return tuple(skill for skill in skills if count_places(each, skill) < LEAST_PLACES)


def bars_around(chart: Chart, skill: str, which: int = 0) -> Chart:
    """The phrase in which a skill has a place, with the phrase before, as a chart of its own.

    An odd first phrase comes with the one after, and a line of a vamp with the two before.

    `which` chooses among the places, counted round. For a section that comes back changed it is
    that section with the last one of its kind. The whole chart where it has no such place.
    """
    places = tuple(chart.placed_bars())
    skills = bar_skills(chart)
    found = [place for place, has in zip(places, skills, strict=True) if skill in has]
    if not found:
        return chart
    place = found[which % len(found)]
    if skill == "changed return":
        return _two_sections(chart, places, place)
    at = (place.section, place.phrase)
    own = [each.number for each in places if (each.section, each.phrase) == at]
    if skill == "tag":
        own = [each.number for each in places if each.section == place.section]
    first = own[0]
    if skill == "vamp":
        lines = (place.phrase - 2, place.phrase)
        return excerpt(chart, *_ends(places, place.section, lines))
    if first > 1:
        before = places[first - 2]
        beside = (before.section, before.phrase)
        first = min(each.number for each in places if (each.section, each.phrase) == beside)
    last = own[-1]
    if skill == "odd phrase" and first == own[0] and last < len(places):
        # A phrase by itself shows no boundary.
        after = places[last]
        beside = (after.section, after.phrase)
        last = max(each.number for each in places if (each.section, each.phrase) == beside)
    return excerpt(chart, first, last)


def _ends(places: Sequence[PlacedBar], section: int, phrases: tuple[int, int]) -> tuple[int, int]:
    """The first and the last bar, from 1, of some phrases of a section, the last included."""
    first, last = phrases
    numbers = [
        each.number for each in places if each.section == section and first <= each.phrase <= last
    ]
    return numbers[0], numbers[-1]


def _two_sections(chart: Chart, places: Sequence[PlacedBar], place: PlacedBar) -> Chart:
    """The section of a bar and the last one of its kind before it, without what is between."""
    kind = chart.sections[place.section].kind
    before = max(
        (at for at in range(place.section) if chart.sections[at].kind == kind),
        default=place.section,
    )
    whole = [each.number for each in places if before <= each.section <= place.section]
    heard = excerpt(chart, whole[0], whole[-1])
    ends = dict.fromkeys((0, len(heard.sections) - 1))
    return replace(heard, sections=tuple(heard.sections[at] for at in ends))
