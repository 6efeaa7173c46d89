"""Every mark of a chart is found in the sound, by ears that see no notes.

The charts are in G; the listener knows the tempo and where the first bar starts, as after a
count-off, and what the marks mean (common practice, no source).
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.band.audible.conftest import QUARTER_S, Room, bass_at
from tests.band.ears import HOP, RATE, Sound, attacks, band_energy, level_db

pytestmark = [pytest.mark.audio, pytest.mark.hypothesis]

VERSE = "key: G\n\nVerse:\n"
BAR_S = 4 * QUARTER_S
# A person's attack may be that late, and an attack's peak is found within a frame of it.
LATE_S = 0.07


def _struck(sound: Sound, start_s: float, end_s: float) -> list[float]:
    """Attacks between two times in quarters from the first of them; the count-off is left out."""
    song = sound.bars[0][0] - 0.2
    times = [song + time for time in attacks(sound.cut(song, sound.bars[-1][1]))]
    return [
        (time - start_s) / QUARTER_S
        for time in times
        if -0.03 <= time - start_s < end_s - start_s - 0.03
    ]


def _bass_by_beat(sound: Sound, beats: int) -> list[int]:
    """What the bass plays in each beat from the first bar line on."""
    start = sound.bars[0][0]
    return [bass_at(sound, start + beat * QUARTER_S) for beat in range(beats)]


def test_a_hold_is_struck_once_and_rings(room: Room) -> None:
    """In a held bar nothing is struck after its first attack, and it still sounds at its end; a
    plain bar is struck again and again."""
    sound = room.hear(VERSE + "1 1 4d 1")
    plain, held = sound.bars[1], sound.bars[2]
    assert len(_struck(sound, *plain)) >= 3
    assert all(at * QUARTER_S < LATE_S for at in _struck(sound, *held))
    assert _struck(sound, *held)
    end = sound.cut(held[1] - QUARTER_S / 2, held[1] - 0.03)
    assert level_db(end) > level_db(sound.cut(held[0], held[0] + 0.2)) - 30


def test_a_push_arrives_an_eighth_early(room: Room) -> None:
    """An eighth before the bar line a pushed chord's bass sounds; unpushed, the old one does."""
    early = {}
    for mark in ("", "p"):
        sound = room.hear(VERSE + f"1 4{mark} 4 1")
        line = sound.bars[1][0]
        early[mark] = bass_at(sound, line - QUARTER_S / 2, 0.5)
        if mark:
            struck = _struck(sound, line - QUARTER_S / 2, line + QUARTER_S / 2)
            assert struck
            assert struck[0] * QUARTER_S < LATE_S
    # Unpushed, the eighth belongs to the old chord: its root, or a step that leads on.
    assert early["p"] == 5 != early[""]


def test_a_pushed_bar_line_is_empty(room: Room) -> None:
    """Where the chord was pushed the low strike of the bar line is missing.

    Of one strike on a string that still rings, the phase decides how much it adds, so the mean of
    three is taken.
    """
    rise = {}
    for mark in ("", "p"):
        rises = []
        for seed in (1, 2, 3):
            sound = room.hear(VERSE + f"1 1{mark} 1 1", seed)
            low = band_energy(sound.samples, 40, 160)
            line = round(sound.bars[1][0] * RATE / HOP)
            before, after = low[line - 12 : line - 6].mean(), low[line : line + 12].max()
            rises.append(10 * np.log10(after / before))
        rise[mark] = np.mean(rises)
    assert rise[""] > rise["p"] + 3


def test_a_stop_is_followed_by_silence(room: Room) -> None:
    """The second half of a choked bar is at least 25 dB under its strike; a plain bar's is not,
    nor is a held one's."""
    falls = {}
    for mark in ("", "d", "c"):
        sound = room.hear(VERSE + f"1 4 5{mark} 1")
        start, end = sound.bars[2]
        strike = level_db(sound.cut(start, start + 0.25))
        falls[mark] = strike - level_db(sound.cut(start + BAR_S / 2, end - 0.05))
    assert falls["c"] > 25
    assert falls[""] < 12
    assert falls["d"] < 20


def test_no_cymbal_rings_into_a_stop(room: Room) -> None:
    """A choke in a section's first bar, where a crash would fall, is silent after its strike."""
    sound = room.hear(VERSE + "1 4 5 1\n\nChorus:\n(1 5c) 4 5 1\n")
    start, end = sound.bars[4]
    strike = level_db(sound.cut(start + BAR_S / 2, start + BAR_S / 2 + 0.25))
    assert level_db(sound.cut(end - QUARTER_S, end - 0.05)) < strike - 25


@pytest.mark.parametrize(
    ("split", "expected"),
    [
        ("(1 4)", [0, 0, 5, 5]),
        ("(1''' 4')", [0, 0, 0, 5]),
        ("(1' 4''')", [0, 5, 5, 5]),
    ],
)
def test_a_split_changes_where_it_is_written(room: Room, split: str, expected: list[int]) -> None:
    """The bass of a split bar changes on the beat that the chart gives, even or uneven."""
    sound = room.hear(VERSE + f"1 {split} 1 1")
    start = sound.bars[1][0]
    first = expected.index(5)
    assert bass_at(sound, start) == 0
    assert bass_at(sound, start + first * QUARTER_S) == 5
    assert any(abs(at - first) * QUARTER_S < LATE_S for at in _struck(sound, *sound.bars[1]))


@pytest.mark.parametrize(
    ("chord", "bass"), [("5/7", 11), ("1/3", 4), ("4/1", 0), ("1/5", 7), ("5", 7), ("4", 5)]
)
def test_a_slash_bass_is_the_lowest_note(room: Room, chord: str, bass: int) -> None:
    """The bass of a slash chord is heard where a plain chord has its root."""
    sound = room.hear(VERSE + f"1 {chord} 1 1")
    assert bass_at(sound, sound.bars[1][0]) == bass


def test_a_short_bar_brings_the_next_early(room: Room) -> None:
    """After a 2/4 bar the next chord comes two beats after the last, not four."""
    sound = room.hear(VERSE + "1 [2/4]4 5 1")
    heard = _bass_by_beat(sound, 14)
    # The bass may walk on later beats: where each new bar must be is what counts.
    assert [heard[at] for at in (0, 4, 6, 10)] == [0, 5, 7, 0]


def test_a_key_change_lifts_the_same_numbers(room: Room) -> None:
    """After a change of two semitones the basses of the same numbers are two higher."""
    sound = room.hear(VERSE + "1 4 5 1 [up 2] 1 4 5 1")
    basses = [bass_at(sound, start) for start, _ in sound.bars]
    assert basses[:4] == [0, 5, 7, 0]
    assert [(after - before) % 12 for before, after in zip(basses, basses[4:], strict=False)] == [
        2,
        2,
        2,
        2,
    ]


def test_a_tag_repeats_the_line_and_lifts(room: Room) -> None:
    """A tag starts on the line's basses again, and with more than the line did: a crash above
    7 kHz where there are drums, harder strokes where there are none."""
    sound = room.hear(VERSE + "4 5 1 1 . 4 5 1 1\n\nTag:\n4 5 1 1\n")
    basses = [bass_at(sound, start) for start, _ in sound.bars]
    assert basses[8:11] == basses[4:7] == [5, 7, 0]
    bright = band_energy(sound.samples, 7000, 11000)
    first = [round(sound.bars[bar][0] * RATE / HOP) for bar in (4, 8)]
    if room.band == "work tape":
        line, tag = (sound.cut(sound.bars[bar][0], sound.bars[bar + 3][1]) for bar in (4, 8))
        assert level_db(tag) > level_db(line) + 1
    else:
        line_hit, tag_hit = (bright[at + 20 : at + 100].mean() for at in first)
        assert tag_hit > 2 * line_hit
