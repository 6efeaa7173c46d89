from __future__ import annotations

import random
from math import log10

import pytest

from tests.band.heard import play
from tests.band.songs import METERS, river_song
from trainer.band import BANDS, Arrangement, Mix, Part, TempoMap, arrange
from trainer.chart import Feel, Header, Meter, parse
from trainer.errors import SettingsError


def _part(arrangement: Arrangement, name: str) -> Part:
    return next(part for part in arrangement.parts if part.name == name)


@pytest.mark.parametrize(
    ("band", "players"),
    [
        ("work tape", {"guitar", "voice"}),
        ("small", {"guitar", "bass", "drums", "voice"}),
        ("full", {"guitar", "bass", "drums", "keys", "lead", "voice"}),
    ],
)
def test_bands_have_their_players(band: str, players: set[str]) -> None:
    """A work tape is one guitar and the voice; each larger band adds to it."""
    arrangement = play(river_song(), band=band).arrangement
    assert {part.name for part in arrangement.parts} == players | {"count-off"}


def test_an_unknown_band_is_refused() -> None:
    """A band that does not exist is refused with the ones that do."""
    with pytest.raises(SettingsError, match=r"'brass'.*work tape, small, full"):
        arrange(river_song(), rng=random.Random(1), band="brass")


# Clicks of a drummer's count-off (common practice, no source).
@pytest.mark.parametrize(
    ("meter", "clicks"),
    [
        (Meter(4, 4), [0, 1, 2, 3]),
        (Meter(3, 4), [0, 1, 2]),
        (Meter(2, 4), [0, 1]),
        (Meter(6, 8), [0, 0.5, 1, 1.5, 2, 2.5]),
        (Meter(12, 8), [0, 1.5, 3, 4.5]),
        (Meter(5, 4), [0, 1, 2, 3, 4]),
    ],
)
def test_the_count_off_is_one_bar(meter: Meter, clicks: list[float]) -> None:
    """The sticks count one bar and the first bar of the song follows."""
    arrangement = play(parse("1 4 5 1", Header(meter=meter))).arrangement
    part = _part(arrangement, "count-off")
    assert [note.start_quarters for note in part.notes] == clicks
    assert arrangement.count_off_quarters == float(meter.quarters)
    assert arrangement.bars[0].start_quarters == float(meter.quarters)


def test_without_a_count_off_the_song_starts_at_once() -> None:
    """Without a count-off nothing precedes the first bar."""
    arrangement = play(river_song(), count_off=False).arrangement
    assert arrangement.count_off_quarters == 0
    assert arrangement.bars[0].start_quarters == 0
    assert all(part.name != "count-off" for part in arrangement.parts)


@pytest.mark.parametrize(("key", "tones"), [("D", {2, 6, 9}), ("E minor", {4, 7, 11})])
def test_the_tonic_comes_first(key: str, tones: set[int]) -> None:
    """On request the chord of the 1 sounds for a bar, then the count-off, then the song."""
    arrangement = play(river_song(key=key), mix=Mix(tonic_first=True)).arrangement
    home = _part(arrangement, "home")
    assert {note.pitch % 12 for note in home.notes} == tones
    assert max(note.start_quarters + note.length_quarters for note in home.notes) == 4
    assert _part(arrangement, "count-off").notes[0].start_quarters == 4
    assert arrangement.count_off_quarters == 8


@pytest.mark.parametrize("lift_db", [3.0, 6.0, 9.0])
def test_the_bass_rises_against_the_others(lift_db: float) -> None:
    """The bass gains the given decibels against every other part; a General MIDI volume v sounds
    40·log10(v/127) dB (General MIDI Level 1 developer guidelines, from memory)."""
    plain = play(river_song()).arrangement
    lifted = play(river_song(), mix=Mix(bass_lift_db=lift_db)).arrangement
    gains = {
        part.name: 40 * log10(_part(lifted, part.name).level / part.level)
        for part in plain.parts
        if part.name != "count-off"
    }
    for name, gain in gains.items():
        if name != "bass":
            assert gains["bass"] - gain == pytest.approx(lift_db, abs=0.5)
    assert _part(lifted, "bass").notes == _part(plain, "bass").notes


def test_another_tempo_changes_only_the_clock() -> None:
    """A song at half the tempo lasts twice as long and has the same bars."""
    slow, fast = (
        arrange(river_song(tempo=96), rng=random.Random(1), tempo=tempo) for tempo in (48, 96)
    )
    assert slow.bars == fast.bars
    assert slow.tempo_map.seconds(1) == 2 * fast.tempo_map.seconds(1)


@pytest.mark.parametrize(
    ("feel", "quarter_s"),
    [
        (Feel.STRAIGHT, 0.5),
        (Feel.SIX_EIGHT, 1 / 3),
        (Feel.TWELVE_EIGHT, 1 / 3),
        (Feel.WALTZ, 0.5),
    ],
)
def test_the_clock_counts_the_pulse(feel: Feel, quarter_s: float) -> None:
    """At 120 a quarter lasts half a second in 4/4 and 3/4, and a dotted one in 6/8 and 12/8."""
    assert METERS[feel].beats
    assert TempoMap.of(river_song(feel, tempo=120)).seconds(1) == pytest.approx(quarter_s)


@pytest.mark.parametrize("band", BANDS)
def test_the_last_chord_rings(band: str) -> None:
    """The last chord rings on after the song's end, unless it is choked."""
    ringing = play(river_song(), band=band).arrangement
    guitar = _part(ringing, "guitar")
    assert max(n.start_quarters + n.length_quarters for n in guitar.notes) > ringing.length_quarters
    choked = play(parse("1 4 5 1c"), band=band).arrangement
    for part in choked.parts:
        assert (
            max((n.start_quarters + n.length_quarters for n in part.notes), default=0)
            <= choked.length_quarters
        )
