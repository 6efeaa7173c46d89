from __future__ import annotations

from collections import Counter
from itertools import pairwise
from math import log10
from statistics import correlation, mean, pstdev

import pytest

from tests.band.heard import Played, play
from tests.band.songs import river_song
from trainer.band import BarTime
from trainer.band.drums import CLOSED_HAT, CRASH, HIGH_TOM, LOW_TOM, MID_TOM, OPEN_HAT, RIDE, SNARE
from trainer.chart import Feel

PLAYERS = ("drums", "bass", "guitar")
TOMS = (HIGH_TOM, MID_TOM, LOW_TOM)


def _bar_of(played: Played, at: float) -> BarTime:
    return next(bar for bar in reversed(played.arrangement.bars) if bar.start_quarters <= at + 0.02)


def _section_starts(played: Played) -> list[int]:
    """Bar numbers at which sections start."""
    return [p.number for p in played.chart.placed_bars() if p.phrase == 0 and p.index == 0]


@pytest.mark.parametrize("feel", list(Feel))
def test_fills_lead_into_sections_only(feel: Feel) -> None:
    """Toms are heard in the last bar before each new section and nowhere else."""
    played = play(river_song(feel))
    filled = {
        _bar_of(played, note.start_quarters).number
        for _, note in played.notes("drums")
        if note.pitch in TOMS
    }
    assert filled == {number - 1 for number in _section_starts(played)[1:]}


@pytest.mark.parametrize("feel", list(Feel))
def test_sections_start_with_a_crash(feel: Feel) -> None:
    """A crash falls on the first beat of every section and nowhere else."""
    played = play(river_song(feel))
    crashes = [note for _, note in played.notes("drums") if note.pitch == CRASH]
    bars = [_bar_of(played, note.start_quarters) for note in crashes]
    assert [bar.number for bar in bars] == _section_starts(played)
    for bar, note in zip(bars, crashes, strict=True):
        assert 0 <= note.start_quarters - bar.start_quarters < 0.1


def _loudness_db(played: Played, bars: slice) -> float:
    """The level of the drums: velocity v sounds 40·log10(v/127) dB, so energies go with v⁴."""
    inside = played.arrangement.bars[bars]
    start, end = inside[0].start_quarters, inside[-1].start_quarters
    struck = [n.velocity for _, n in played.notes("drums") if start <= n.start_quarters < end]
    return 10 * log10(sum((velocity / 127) ** 4 for velocity in struck) / len(inside))


@pytest.mark.parametrize("band", ["small", "full"])
def test_choruses_are_fuller_than_verses(band: str) -> None:
    """Drums, and the whole band with them, are 2 dB louder in the chorus than in the verse."""
    played = play(river_song(), band=band)
    assert _loudness_db(played, slice(21, 37)) > _loudness_db(played, slice(4, 21)) + 2


def test_a_small_band_drums_lighter() -> None:
    """The drums of a small band are softer in the chorus than those of a full one."""
    small, full = (play(river_song(), band=band) for band in ("small", "full"))
    assert _loudness_db(small, slice(21, 37)) < _loudness_db(full, slice(21, 37))


def test_hands_keep_time() -> None:
    """Drum strokes fall within 16 ms after the grid or 8 ms before it, by no constant amount."""
    drifts = _late_ms(play(river_song()), "drums")
    assert min(drifts.values()) >= -8
    assert max(drifts.values()) <= 16
    assert 2 < pstdev(drifts.values()) < 6


def _late_ms(played: Played, name: str) -> dict[int, float]:
    """How late the first note of a part is at each eighth where it strikes, by the eighth; what is
    struck between eighths is left out."""
    arrangement = played.arrangement
    found: dict[int, float] = {}
    for _, note in played.notes(name):
        at = note.start_quarters - arrangement.count_off_quarters
        late = at - round(at * 2) / 2
        if abs(late) < 0.1:
            found.setdefault(round(at * 2), 1000 * arrangement.tempo_map.seconds(late))
    return found


def _together(one: dict[int, float], other: dict[int, float]) -> float:
    """Pearson's correlation over the eighths that two players share."""
    both = sorted(one.keys() & other.keys())
    return correlation([one[at] for at in both], [other[at] for at in both])


@pytest.mark.many
def test_players_drift_together() -> None:
    """Drums, bass and guitar stray from the clock together and slowly: over many seeds what one
    does goes with what another does, and a beat with the beat before; the guitar is 2 to 8 ms
    behind the drums."""
    pairs, slow, behind = [], [], []
    for seed in range(6):
        late = {name: _late_ms(play(river_song(), seed), name) for name in PLAYERS}
        pairs += [_together(late["drums"], late[name]) for name in ("bass", "guitar")]
        beats = [late["drums"][at] for at in sorted(late["drums"]) if at % 2 == 0]
        slow.append(correlation(beats[:-1], beats[1:]))
        behind.append(mean(late["guitar"].values()) - mean(late["drums"].values()))
    assert mean(pairs) > 0.5
    assert mean(slow) > 0.4
    assert 2 < mean(behind) < 8


def _drum_bars(played: Played) -> list[tuple[str, frozenset[tuple[int, int]]]]:
    """For each bar, its kind of section and which drums are struck on which twelfth of it."""
    places = {place.number: place for place in played.chart.placed_bars()}
    found: dict[int, set[tuple[int, int]]] = {number: set() for number in places}
    for _, note in played.notes("drums"):
        bar = _bar_of(played, note.start_quarters)
        found[bar.number].add((round(12 * (note.start_quarters - bar.start_quarters)), note.pitch))
    return [
        (played.chart.sections[place.section].kind, frozenset(found[number]))
        for number, place in places.items()
    ]


@pytest.mark.many
@pytest.mark.parametrize("feel", list(Feel))
def test_drums_vary_as_a_drummer_does(feel: Feel) -> None:
    """Over a few seeds a song has eight kinds of drum bars or more on average, none in more than
    six bars of ten; verse and chorus never share one."""
    kinds, most = [], []
    for seed in range(4):
        bars = _drum_bars(play(river_song(feel), seed))
        counts = Counter(struck for _, struck in bars)
        kinds.append(len(counts))
        most.append(max(counts.values()) / len(bars))
        verse, chorus = ({s for kind, s in bars if kind == name} for name in ("verse", "chorus"))
        assert not verse & chorus
    assert mean(kinds) >= 8
    assert max(most) <= 0.6


@pytest.mark.many
def test_cymbals_change_with_the_section() -> None:
    """The hat keeps time in verses; ride or open hat does in the choruses of a full band."""
    for seed in range(8):
        bars = _drum_bars(play(river_song(), seed))
        for kind, struck in bars:
            cymbals = {key for _, key in struck} & {CLOSED_HAT, OPEN_HAT, RIDE}
            if kind == "verse":
                assert CLOSED_HAT in cymbals
                assert RIDE not in cymbals
            elif kind == "chorus":
                assert cymbals & {OPEN_HAT, RIDE}


@pytest.mark.many
def test_fills_are_of_several_kinds() -> None:
    """The six fills of a song are of three kinds or more, and of many over several seeds."""
    every = set()
    for seed in range(8):
        played = play(river_song(), seed)
        bars = _drum_bars(played)
        own = {bars[number - 2][1] for number in _section_starts(played)[1:]}
        assert len(own) >= 3
        every |= own
    assert len(every) >= 20


@pytest.mark.many
def test_soft_strokes_stay_out_of_verses() -> None:
    """The snare has ghost notes in choruses and none in verses, where they would blur the
    backbeat."""
    ghosts = Counter[str]()
    for seed in range(8):
        played = play(river_song(), seed)
        places = list(played.chart.placed_bars())
        for _, note in played.notes("drums"):
            place = places[_bar_of(played, note.start_quarters).number - 1]
            last = place.number + 1 in _section_starts(played)
            if note.pitch == SNARE and note.velocity < 45 and not last:
                ghosts[played.chart.sections[place.section].kind] += 1
    assert ghosts["chorus"] > 50
    assert not ghosts["verse"]


def test_sections_are_in_order() -> None:
    """Notes of every part are listed in the order they are played."""
    for part in play(river_song()).arrangement.parts:
        assert all(a.start_quarters <= b.start_quarters for a, b in pairwise(part.notes))
