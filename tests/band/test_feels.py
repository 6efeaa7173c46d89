from __future__ import annotations

from collections import Counter

import pytest

from tests.band.heard import Played, play
from tests.band.songs import METERS, river_song
from trainer.band.drums import KICK, SIDE_STICK, SNARE
from trainer.band.feels import cells, played_feel
from trainer.chart import Chart, Feel, Meter, parse

EVERY_METER = [Meter(beats, unit) for unit in (2, 4, 8, 16) for beats in range(1, 17)]
NEAR_S = 0.025


@pytest.mark.parametrize("feel", list(Feel))
def test_cells_fill_every_meter(feel: Feel) -> None:
    """In every feel the cells of every meter follow each other and fill the bar."""
    for meter in EVERY_METER:
        at = 0.0
        for cell in cells(played_feel(feel, meter), meter):
            assert cell.start == pytest.approx(at)
            assert all(0 <= sub < cell.length for sub in cell.subs)
            at += cell.length
        assert at == pytest.approx(float(meter.quarters))


def _places(played: Played, *keys: int, bars: slice) -> Counter[float]:
    """Where in the bar, in quarters rounded to a twelfth, drums are struck in the given bars."""
    found: Counter[float] = Counter()
    drums = played.part("drums")
    assert drums is not None
    for bar in played.arrangement.bars[bars]:
        end = bar.start_quarters + bar.length_quarters
        for note in drums.notes:
            if note.pitch in keys and bar.start_quarters - 0.02 <= note.start_quarters < end - 0.05:
                found[round((note.start_quarters - bar.start_quarters) * 12) / 12] += 1
    return found


# Where the backbeat falls, in quarters from the bar line (common practice, no source).
BACKBEATS = {
    Feel.STRAIGHT: {1.0, 3.0},
    Feel.SHUFFLE: {1.0, 3.0},
    Feel.TWO_BEAT: {1.0, 3.0},
    Feel.HALF_TIME: {2.0},
    Feel.SIX_EIGHT: {1.5},
    Feel.TWELVE_EIGHT: {1.5, 4.5},
}
VERSE = slice(4, 20)


@pytest.mark.parametrize(("feel", "places"), BACKBEATS.items())
def test_the_backbeat_falls_where_the_feel_has_it(feel: Feel, places: set[float]) -> None:
    """Snare or stick sounds on the feel's backbeats in every bar of a verse and nowhere else."""
    found = _places(play(river_song(feel)), SNARE, SIDE_STICK, bars=VERSE)
    assert set(found) == places
    assert set(found.values()) == {16}


@pytest.mark.parametrize("feel", list(Feel))
def test_the_kick_marks_the_bar(feel: Feel) -> None:
    """The kick falls on the first beat of every bar of a verse."""
    assert _places(play(river_song(feel)), KICK, bars=VERSE)[0.0] == 16


def test_a_shuffle_swings_two_to_one() -> None:
    """In a shuffle the off-beats of guitar and hats fall on the last third of the beat."""
    played = play(river_song(Feel.SHUFFLE))
    start = played.arrangement.count_off_quarters
    off = [
        (note.start_quarters - start) % 1
        for _, note in played.notes("guitar", "drums", "keys")
        if 0.15 < (note.start_quarters - start) % 1 < 0.9
    ]
    assert len(off) > 200
    assert sum(off) / len(off) == pytest.approx(2 / 3, abs=0.03)
    assert min(off) > 0.6


def test_a_train_beat_runs() -> None:
    """The snare of a train beat never stops, its accents louder than what runs between."""
    played = play(river_song(Feel.TRAIN_BEAT))
    found = _places(played, SNARE, bars=VERSE)
    assert len(found) >= 8
    drums = played.part("drums")
    assert drums is not None
    velocities = sorted(note.velocity for note in drums.notes if note.pitch == SNARE)
    assert velocities[-1] > 1.5 * velocities[0]


def test_a_waltz_is_boom_chick_chick() -> None:
    """In a waltz the guitar plays one string on the first beat and chords on the other two."""
    played = play(river_song(Feel.WALTZ))
    for bar in played.arrangement.bars[4:12]:
        counts = [
            sum(
                abs(note.start_quarters - bar.start_quarters - beat) < 0.2
                for _, note in played.notes("guitar")
            )
            for beat in range(3)
        ]
        assert counts[0] == 1
        assert min(counts[1:]) >= 3


ODD = "feel: {feel}\nkey: G\n\nVerse 1:\n1 [7/8] 4 [3/8] 5 [5/4] 1 [2/4] 5 1\n"


@pytest.mark.parametrize("feel", [feel for feel in Feel if feel.fits(Meter(4, 4))])
def test_odd_bars_play_in_every_feel(feel: Feel) -> None:
    """Bars of 7/8, 3/8, 5/4 and 2/4 inside 4/4 are played by everybody, beat after beat."""
    played = play(parse(ODD.format(feel=feel)))
    for bar in played.arrangement.bars:
        end = bar.start_quarters + bar.length_quarters
        names = {
            name
            for name, note in played.notes("drums", "bass", "guitar", "keys", "pad")
            if bar.start_quarters - 1e-6 <= note.start_quarters < end
        }
        assert len(names) == 4


def test_feels_differ() -> None:
    """No two feels of 4/4 give the same drums or the same guitar."""
    in_four = [feel for feel in METERS if METERS[feel] == Meter(4, 4)]
    charts: list[Chart] = [river_song(feel, tempo=100) for feel in in_four]
    arrangements = [play(chart) for chart in charts]
    for name in ("drums", "guitar"):
        parts = [played.part(name) for played in arrangements]
        places = {
            tuple(sorted({round(note.start_quarters * 12) for note in part.notes}))
            + tuple(Counter(note.pitch for note in part.notes).items())
            for part in parts
            if part is not None
        }
        assert len(places) == len(in_four)


def _line_bars(feel: Feel, seed: int, name: str) -> list[tuple[str, tuple[int, ...]]]:
    """For each bar of a song its kind of section and where a player strikes, in sixths of a
    quarter."""
    played = play(river_song(feel, tempo=120), seed)
    found = []
    for place, bar in zip(played.chart.placed_bars(), played.arrangement.bars, strict=True):
        start, end = bar.start_quarters - 0.1, bar.start_quarters + bar.length_quarters - 0.1
        struck = {
            round(6 * (note.start_quarters - bar.start_quarters))
            for _, note in played.notes(name)
            if start <= note.start_quarters < end
        }
        found.append((played.chart.sections[place.section].kind, tuple(sorted(struck))))
    return found


@pytest.mark.many
@pytest.mark.parametrize("name", ["bass", "keys"])
@pytest.mark.parametrize("feel", [Feel.STRAIGHT, Feel.SHUFFLE, Feel.HALF_TIME, Feel.SIX_EIGHT])
def test_bass_and_keys_play_each_kind_of_section_in_its_own_way(feel: Feel, name: str) -> None:
    """Over a few seeds the most frequent bar of a chorus is not that of a verse, and a song has
    three kinds of bars or more."""
    differ, kinds = 0, []
    for seed in range(4):
        bars = _line_bars(feel, seed, name)
        verse, chorus = (
            Counter(struck for kind, struck in bars if kind == wanted).most_common(1)[0][0]
            for wanted in ("verse", "chorus")
        )
        differ += verse != chorus
        kinds.append(len({struck for _, struck in bars}))
    assert differ >= 3
    assert sum(kinds) >= 3 * len(kinds)
