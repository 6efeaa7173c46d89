"""Silent bars, a pickup, and the slash chords that a recipe allows."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise

from trainer.chart import Chart
from trainer.generate import Features, Settings, generate

SECTION = Settings(size="section", chords=("1", "2-", "4", "5", "6-"))
SONG = replace(SECTION, size="song")
SEEDS = range(60)


def _songs(settings: Settings) -> list[Chart]:
    return [generate(settings, random.Random(seed)) for seed in SEEDS]


def _slash_chords(chart: Chart) -> set[str]:
    return {
        str(event.chord)
        for bar in chart.bars()
        for event in bar.events
        if event.chord and event.chord.bass
    }


def test_only_the_slash_chords_that_are_allowed() -> None:
    """With `basses` no other slash chord appears, and each of those does in some songs."""
    allowed = {"4/1", "1/5", "5/7"}
    features = Features(slash_chords=1.0, splits=0.2)
    songs = _songs(replace(SECTION, features=features, basses=tuple(sorted(allowed))))
    assert set().union(*map(_slash_chords, songs)) == allowed
    free = _songs(replace(SECTION, features=features))
    assert set().union(*map(_slash_chords, free)) > allowed


def test_silent_bars_end_lines() -> None:
    """Silence fills the last bar of a phrase, alike in each copy, and never ends the song."""
    songs = _songs(replace(SONG, features=Features(silent_bars=0.5)))
    silent = 0
    for chart in songs:
        assert chart.bars()[-1].events[0].chord is not None
        for place in chart.placed_bars():
            if place.bar.events[0].chord is None:
                silent += 1
                section = chart.sections[place.section]
                assert len(place.bar.events) == 1
                assert place.bar is section.phrases[place.phrase].bars[-1]
    assert silent > len(songs)
    assert all(
        event.chord for chart in _songs(SONG) for bar in chart.bars() for event in bar.events
    )


def test_a_pickup_comes_before_a_song_that_stays_the_same() -> None:
    """A pickup is a short first bar; without it the bars are those of the same seed without."""
    plain = _songs(SECTION)
    led = _songs(replace(SECTION, features=Features(pickup=1.0)))
    lengths = set()
    for one, other in zip(plain, led, strict=True):
        pickup, *rest = other.bars()
        assert tuple(rest) == one.bars()
        assert pickup.meter.quarters < one.meter.quarters
        lengths.add(str(pickup.meter))
    assert lengths == {"1/4", "2/4"}


def test_a_fade_ends_on_one_line_four_times() -> None:
    """The outro is a line of the song four times, fading from the third; the song has no other."""
    for chart in _songs(replace(SONG, features=Features(fade=1.0))):
        outro = chart.sections[-1]
        lines = [tuple(replace(bar, fades=False) for bar in each.bars) for each in outro.phrases]
        assert outro.kind == "outro"
        assert len(lines) == 4
        assert len(set(lines)) == 1
        assert outro.phrases[2].bars[0].fades
        before = [phrase.bars for section in chart.sections[:-1] for phrase in section.phrases]
        assert any(tuple(replace(bar, key_change=0) for bar in bars) == lines[0] for bars in before)


def test_a_bridge_goes_up_and_the_key_comes_back() -> None:
    """The bridge opens a step or half a step higher, and the section after it in the old key."""
    rises = set()
    for chart in _songs(replace(SONG, features=Features(bridge_key=1.0))):
        moves = [
            (section.kind, section.phrases[0].bars[0].key_change) for section in chart.sections
        ]
        moved = [(kind, by) for kind, by in moves if by]
        if moved:
            (kind, rise), (_, back) = moved
            assert (kind, back) == ("bridge", -rise)
            rises.add(rise)
    assert rises == {1, 2}


def test_a_diminished_chord_passes() -> None:
    """Between 1 and 2-, and between 4 and 5, the half-bar before has the chord between them."""
    found = set()
    for chart in _songs(replace(SECTION, features=Features(passing=1.0))):
        bars = chart.bars()
        for bar, after in pairwise(bars):
            names = [str(event.chord) for event in bar.events]
            if names[-1].endswith("o"):
                found.add((*names, str(after.events[0].chord)))
    assert found == {("1", "#1o", "2-"), ("4", "#4o", "5")}
