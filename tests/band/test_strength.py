"""The line of strength that the players follow, measured in the velocities of their strokes."""

from __future__ import annotations

from itertools import pairwise
from math import log10
from statistics import mean

import pytest

from tests.band.heard import Played, play
from tests.band.songs import river_song
from trainer.band.drums import SIDE_STICK, SNARE
from trainer.band.strength import strength_line
from trainer.band.timeline import Timeline
from trainer.chart import Feel, parse

PARTS = ("guitar", "bass", "drums", "keys")
SEEDS = range(4)
# The bars of the song that is played, from 0.
VERSE, CHORUS = slice(4, 20), slice(21, 36)


def _level_db(played: Played, name: str, bars: slice) -> float:
    """The level of what a part strikes in a bar: velocity v sounds 40·log10(v/127) dB (General MIDI
    Level 1 developer guidelines, from memory), so energies go with its fourth power."""
    times = played.arrangement.bars[bars]
    start, end = times[0].start_quarters, times[-1].start_quarters + times[-1].length_quarters
    struck = [n.velocity for _, n in played.notes(name) if start <= n.start_quarters < end]
    return 10 * log10(sum((velocity / 127) ** 4 for velocity in struck) / len(times))


@pytest.mark.many
@pytest.mark.parametrize("name", PARTS)
def test_choruses_lift_in_every_part(name: str) -> None:
    """Every player is 1.5 to 8 dB louder in the chorus than in the verse."""
    for seed in SEEDS:
        played = play(river_song(), seed)
        lift = _level_db(played, name, CHORUS) - _level_db(played, name, VERSE)
        assert 1.5 < lift < 8


def _stroke_db(played: Played, name: str, bars: slice) -> float:
    """The level of a mean stroke of a part."""
    times = played.arrangement.bars[bars]
    start, end = times[0].start_quarters, times[-1].start_quarters + times[-1].length_quarters
    struck = [n.velocity for _, n in played.notes(name) if start <= n.start_quarters < end]
    return 40 * log10(mean(struck) / 127)


@pytest.mark.many
@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("feel", [Feel.STRAIGHT, Feel.SHUFFLE, Feel.HALF_TIME])
def test_everybody_grows_into_the_chorus(feel: Feel, name: str) -> None:
    """In the last bar before a chorus a stroke of every player is louder than in the bars before
    it, by 1 dB or more on average."""
    rises = []
    for seed in SEEDS:
        played = play(river_song(feel), seed)
        last, before = (_stroke_db(played, name, bars) for bars in (slice(20, 21), slice(13, 19)))
        rises.append(last - before)
    assert mean(rises) > 1


def test_a_stretch_grows_towards_its_cadence() -> None:
    """The line rises through four bars by 1.6 dB and falls back in the fourth."""
    chart = parse("Verse:\n1 4 1 5 . 1 4 5 1\n")
    line = strength_line(Timeline.of(chart))
    decibels = [40 * log10(factor) for factor in line]
    for first in (0, 32):
        assert all(a < b for a, b in pairwise(decibels[first : first + 25]))
        assert decibels[first + 24] - decibels[first] == pytest.approx(1.6)
        assert all(a > b for a, b in pairwise(decibels[first + 24 : first + 32]))


def test_short_phrases_grow_together() -> None:
    """Four phrases of two bars are shaped as two of four bars are: phrases are the voice's to
    show."""
    twos, fours = (
        parse("Verse:\n" + text) for text in ("1 4 . 1 5 . 1 4 . 5 1", "1 4 1 5 . 1 4 5 1")
    )
    assert strength_line(Timeline.of(twos)) == strength_line(Timeline.of(fours))


FORM = """
Verse 1:
1 4 1 5 . 1 4 5 1
Chorus:
4 5 1 1 . 4 5 1 1
{bridge}
Verse 2:
1 4 1 5 . 1 4 5 1
Chorus:
4 5 1 1 . 4 5 1 1
"""
BRIDGE = "Bridge:\n6- 4 6- 5\n"


@pytest.mark.parametrize("between", ["", BRIDGE, BRIDGE.replace("Bridge", "Solo")])
def test_a_verse_after_a_high_point_comes_down(between: str) -> None:
    """The first half of a verse that follows a chorus, bridge or solo is quieter than the first
    verse, and the second half is not."""
    chart = parse(FORM.format(bridge=between))
    energies: dict[str, list[float]] = {}
    for bar in Timeline.of(chart).bars:
        energies.setdefault(chart.sections[bar.section].name, []).append(bar.energy)
    assert max(energies["Verse 2"][:4]) < min(energies["Verse 1"])
    assert min(energies["Verse 2"][4:]) >= min(energies["Verse 1"])


def test_a_verse_after_a_turnaround_does_not_come_down() -> None:
    """With a turnaround between chorus and verse the second verse is fuller than the first."""
    bars = Timeline.of(river_song()).bars
    first, second = (
        [bar.energy for bar in bars if bar.section == section and bar.kind == "verse"]
        for section in (1, 4)
    )
    assert min(second) > max(first)


def test_a_chorus_breaks_down_before_the_last_one() -> None:
    """Of two choruses after a bridge the first is played low and the second full."""
    text = FORM.format(bridge="") + "\n" + BRIDGE + "Chorus:\n4 5 1 1\nChorus:\n4 5 1 1\n"
    bars = Timeline.of(parse(text)).bars
    assert max(bar.energy for bar in bars[-8:-4]) < 0.7 < min(bar.energy for bar in bars[-4:])


def test_a_quiet_section_is_played_quietly() -> None:
    """A section whose name asks for it is soft, with the side stick for the snare."""
    played = play(parse("Chorus:\n4 5 1 1 . 4 5 1 1\nQuiet Chorus:\n4 5 1 1 . 4 5 1 1\n"))
    for name in PARTS:
        assert _level_db(played, name, slice(8, 16)) < _level_db(played, name, slice(0, 7)) - 1.5
    middle = played.arrangement.bars[8].start_quarters
    sticks = [
        (note.pitch, note.start_quarters > middle - 0.1)
        for _, note in played.notes("drums")
        if note.pitch in (SNARE, SIDE_STICK)
    ]
    assert {key for key, quiet in sticks if quiet} == {SIDE_STICK}
    assert SIDE_STICK not in {key for key, quiet in sticks if not quiet}
