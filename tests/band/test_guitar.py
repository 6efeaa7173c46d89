from __future__ import annotations

from itertools import groupby, pairwise
from statistics import mean, pstdev

import pytest

from tests.band.heard import Played, play
from tests.band.songs import river_song
from trainer.band import Note
from trainer.chart import Feel, parse


def _strokes(played: Played, least: int) -> list[list[Note]]:
    """Notes of the guitar that belong to one movement of the hand, at least so many strings."""
    notes = [note for _, note in played.notes("guitar")]
    strokes: list[list[Note]] = []
    for note in notes:
        near = strokes and note.start_quarters - strokes[-1][-1].start_quarters < 0.06
        if near:
            strokes[-1].append(note)
        else:
            strokes.append([note])
    return [stroke for stroke in strokes if len(stroke) >= least]


@pytest.mark.parametrize("band", ["work tape", "small", "full"])
def test_strokes_go_down_and_up(band: str) -> None:
    """Strings of a strum sound one after another, low to high going down, high to low coming up;
    on the beat the hand goes down (common practice, no source)."""
    played = play(river_song(), band=band)
    lead_in = played.arrangement.count_off_quarters
    ways = set()
    for stroke in _strokes(played, 4):
        pitches = [note.pitch for note in stroke if note.pitch != stroke[0].pitch]
        down = pitches == sorted(pitches) and pitches[0] > stroke[0].pitch
        assert down or pitches == sorted(pitches, reverse=True)
        ways.add(down)
        at = stroke[0].start_quarters - lead_in
        if abs(at - round(at)) < 0.05:
            assert down
    assert ways == {True, False}


def test_a_strum_is_spread_but_one_stroke() -> None:
    """From the first string to the last a strum takes between 5 and 60 ms."""
    played = play(river_song(), band="small")
    for stroke in _strokes(played, 4):
        took = stroke[-1].start_quarters - stroke[0].start_quarters
        assert 0.005 <= played.arrangement.tempo_map.seconds(took) <= 0.06


def _drift_s(band: str) -> float:
    """Standard deviation of the guitar's single notes from the grid of eighths, in seconds."""
    drifts = []
    for seed in range(6):
        played = play(river_song(tempo=92.0), seed, band)
        for stroke in _strokes(played, 1):
            at = 2 * stroke[0].start_quarters
            drifts.append(played.arrangement.tempo_map.seconds((at - round(at)) / 2))
    return pstdev(drifts)


@pytest.mark.many
def test_a_work_tape_is_a_little_looser() -> None:
    """The guitar of a work tape keeps time less tightly than that of a band, by less than half as
    much again as a person's own hand: it stays under 15 ms."""
    tape, small = _drift_s("work tape"), _drift_s("small")
    assert 1.15 * small < tape < 0.015


@pytest.mark.many
@pytest.mark.parametrize("feel", [Feel.STRAIGHT, Feel.TWO_BEAT, Feel.SIX_EIGHT])
def test_the_bass_walks_into_some_chords(feel: Feel) -> None:
    """Before some changes of chord, never before most, the bass leads in from a step away."""
    led, changes = 0, 0
    for seed in range(6):
        played = play(river_song(feel), seed)
        notes = [note for _, note in played.notes("bass")]
        for before, after in pairwise(played.chords):
            if before.bass == after.bass or after.bass is None:
                continue
            changes += 1
            last = [n for n in notes if before.start - 0.02 <= n.start_quarters < after.start - 0.1]
            target = next(n for n in notes if n.start_quarters >= after.start - 0.02)
            step = abs(target.pitch - last[-1].pitch) in (1, 2)
            led += step and last[-1].pitch % 12 not in before.tones
    assert 0.05 * changes < led < 0.5 * changes


def test_repeated_strokes_differ_in_velocity() -> None:
    """No two strokes of a bar are alike to the last velocity, as a machine's would be."""
    played = play(river_song(), band="small")
    loud = [tuple(note.velocity for note in stroke) for stroke in _strokes(played, 4)]
    runs = [len(list(run)) for _, run in groupby(loud)]
    assert max(runs) <= 2


def _bars(played: Played) -> list[tuple[str, tuple[tuple[int, bool], ...]]]:
    """For each bar its kind of section and its strokes: the sixth of a quarter, and whether the
    hand goes down; a single string counts as down."""
    strokes = _strokes(played, 1)
    found = []
    for place, bar in zip(played.chart.placed_bars(), played.arrangement.bars, strict=True):
        start, end = bar.start_quarters - 0.1, bar.start_quarters + bar.length_quarters - 0.1
        struck = tuple(
            (round(6 * (s[0].start_quarters - start - 0.1)), s[0].pitch <= s[-1].pitch)
            for s in strokes
            if start <= s[0].start_quarters < end
        )
        found.append((played.chart.sections[place.section].kind, struck))
    return found


@pytest.mark.many
@pytest.mark.parametrize("feel", list(Feel))
def test_patterns_vary_as_a_guitarist_does(feel: Feel) -> None:
    """Over a few seeds a song has five kinds of guitar bars or more on average, and fewer than six
    in ten bars are like the bar before."""
    kinds, same = [], []
    for seed in range(4):
        bars = [struck for _, struck in _bars(play(river_song(feel, tempo=120), seed))]
        kinds.append(len(set(bars)))
        same += [one == other for one, other in pairwise(bars)]
    assert mean(kinds) >= 5
    assert mean(same) < 0.6


@pytest.mark.many
def test_choruses_are_strummed_harder_and_more() -> None:
    """In choruses the guitar has more strokes a bar than in verses, and these are harder."""
    for seed in range(6):
        played = play(river_song(tempo=120), seed)
        counts = {
            name: mean(len(struck) for kind, struck in _bars(played) if kind == name)
            for name in ("verse", "chorus")
        }
        assert counts["chorus"] > counts["verse"]
        starts = [bar.start_quarters for bar in played.arrangement.bars]
        verse, chorus = (
            mean(
                note.velocity
                for _, note in played.notes("guitar")
                if starts[first] <= note.start_quarters < starts[last]
            )
            for first, last in ((4, 21), (21, 37))
        )
        assert chorus > verse + 6


def test_a_split_bar_is_struck_on_every_beat() -> None:
    """Where a bar holds two chords the guitar strikes on each of its beats."""
    played = play(parse("tempo: 112\n\nVerse:\n1 (1 4) 5 (4' 5''') . 1 (6- 5) 4 1\n"))
    for number in (1, 3, 5):
        bar = played.arrangement.bars[number]
        for beat in range(4):
            at = bar.start_quarters + beat
            assert any(-1e-6 <= n.start_quarters - at < 0.1 for _, n in played.notes("guitar"))
