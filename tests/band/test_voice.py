from __future__ import annotations

from itertools import pairwise
from statistics import mean

import pytest

from tests.band.heard import INSTRUMENTAL, Played, play
from tests.band.songs import river_song
from trainer.band import Note
from trainer.chart import Feel, parse

SEEDS = range(8)


def _bars_of(played: Played, name: str, turn: int = 0) -> range:
    """Numbers of the bars of the turn-th section of that name, from 0."""
    at, found = 0, []
    for section in played.chart.sections:
        count = sum(len(phrase.bars) for phrase in section.phrases)
        if section.name == name:
            found.append(range(at, at + count))
        at += count
    return found[turn]


def _sung(played: Played, bars: range) -> list[tuple[float, int]]:
    """(quarters from the first of the bars, pitch) of the voice, to a sixth of a quarter."""
    times = played.arrangement.bars
    start = times[bars[0]].start_quarters
    end = times[bars[-1]].start_quarters + times[bars[-1]].length_quarters
    return [
        (round((note.start_quarters - start) * 6) / 6, note.pitch)
        for _, note in played.notes("voice")
        if start - 0.01 <= note.start_quarters < end - 1
    ]


@pytest.mark.many
@pytest.mark.parametrize("feel", list(Feel))
def test_a_section_returns_with_its_melody(feel: Feel) -> None:
    """The second verse and chorus are sung nearly as the first ones were: the first bar of every
    phrase as it was, three in four notes of the rest."""
    played = play(river_song(feel))
    for name, turns in ((("Verse 1", 0), ("Verse 2", 0)), (("Chorus", 0), ("Chorus", 1))):
        one, other = _bars_of(played, *name), _bars_of(played, *turns)
        first, second = _sung(played, one), _sung(played, other)
        assert len(first) > 20
        assert sum(note in second for note in first) > 0.75 * len(first)
        for at in (0, 4):
            opening = _sung(played, one[at : at + 2])
            length = played.arrangement.bars[one[0]].length_quarters - 0.02
            again = _sung(played, other[at : at + 2])
            assert [n for n in opening if n[0] < length] == [n for n in again if n[0] < length]


def test_a_verse_returns_with_a_line_without_chords() -> None:
    """A second verse may hold a phrase in which nobody has a chord, and nothing is sung there."""
    played = play(parse("Verse 1:\n1 4 . 0 0\nVerse 2:\n1 4 . 0 0\nVerse 3:\n1 4 . 0 0\n"))
    for turn in ("Verse 1", "Verse 2", "Verse 3"):
        assert _sung(played, _bars_of(played, turn)[:2])
        assert not _sung(played, _bars_of(played, turn)[2:])


@pytest.mark.many
def test_nothing_is_added_to_a_hold_or_a_choke() -> None:
    """However a second verse is varied, a held or choked chord is sung once."""
    chart = parse("Verse 1:\n1 4d 5 1d . 1 4c 5 1d\nVerse 2:\n1 4d 5 1d . 1 4c 5 1d\n")
    for seed in range(30):
        played = play(chart, seed)
        bars = _bars_of(played, "Verse 2")
        for place in (1, 3, 5, 7):
            assert len(_sung(played, bars[place : place + 1])) <= 1


@pytest.mark.many
def test_second_verses_are_no_copies() -> None:
    """Over a few seeds most second verses differ from the first in rhythm, and some in how a line
    ends."""
    rhythms, endings = 0, 0
    for seed in SEEDS:
        played = play(river_song(), seed)
        first, second = (_sung(played, _bars_of(played, f"Verse {turn}")) for turn in (1, 2))
        rhythms += [at for at, _ in first] != [at for at, _ in second]
        pitches = dict(first)
        endings += any(at in pitches and pitches[at] != pitch for at, pitch in second)
    assert rhythms >= 0.75 * len(SEEDS)
    assert endings >= 2


@pytest.mark.many
@pytest.mark.parametrize("feel", list(Feel))
def test_every_phrase_starts_over_with_the_motif(feel: Feel) -> None:
    """Phrases of a verse that start on the same chords start with the same notes."""
    played = play(river_song(feel))
    bars = _bars_of(played, "Verse 1")
    openings = [_sung(played, bars[at : at + 2]) for at in (0, 4)]
    assert openings[0] == openings[1]
    half = played.arrangement.bars[bars[0]].length_quarters / 2
    rhythms = [
        [time for time, _ in _sung(played, bars[at : at + 2]) if time <= half] for at in (0, 4, 9)
    ]
    assert rhythms[0] == rhythms[1] == rhythms[2]


@pytest.mark.many
def test_choruses_lift() -> None:
    """Over many seeds the chorus is sung higher than the verse, and always above it on average."""
    for seed in SEEDS:
        played = play(river_song(), seed)
        verse = mean(pitch for _, pitch in _sung(played, _bars_of(played, "Verse 1")))
        chorus = mean(pitch for _, pitch in _sung(played, _bars_of(played, "Chorus")))
        assert chorus > verse


@pytest.mark.many
@pytest.mark.parametrize("feel", list(Feel))
def test_the_line_moves_mostly_by_step(feel: Feel) -> None:
    """Inside a line at least six in ten moves are a step or a repeated note, and no leap passes an
    octave."""
    moves: list[int] = []
    for seed in SEEDS:
        notes = [note for _, note in play(river_song(feel), seed).notes("voice")]
        for before, after in pairwise(notes):
            if after.start_quarters - before.start_quarters - before.length_quarters < 0.4:
                moves.append(abs(after.pitch - before.pitch))
    assert sum(move <= 2 for move in moves) / len(moves) >= 0.6
    assert max(moves) <= 12


def test_pickups_lead_into_phrases() -> None:
    """Before most phrases that are sung a note leads in from the last beat of the bar before."""
    played = play(river_song())
    notes: list[Note] = [note for _, note in played.notes("voice")]
    starts = [
        time.start_quarters
        for time, place in zip(played.arrangement.bars, played.chart.placed_bars(), strict=True)
        if place.index == 0
        and place.number > 1
        and played.chart.sections[place.section].kind not in INSTRUMENTAL
    ]
    led = [any(0 < start - note.start_quarters <= 1 for note in notes) for start in starts]
    assert len(starts) == 17
    assert all(led)


def test_an_odd_bar_is_hung_on() -> None:
    """In a phrase of five bars the last note is sung on through the fifth."""
    played = play(parse("tempo: 92\n\nVerse 1:\n1 1 5 5 5\n1 4 5 1\n"))
    last = [time for time, _ in _sung(played, range(3, 5))]
    assert last == [0.0, 4.0]


def test_a_lead_plays_the_phrases_that_nobody_sings() -> None:
    """In a full band a lead carries intro and turnaround; it is silent where the voice sings."""
    played = play(river_song())
    intro, verse = _bars_of(played, "Intro"), _bars_of(played, "Verse 1")
    times = played.arrangement.bars
    lead = [note.start_quarters for _, note in played.notes("lead")]
    assert any(times[intro[0]].start_quarters <= at < times[verse[0]].start_quarters for at in lead)
    assert not any(
        times[verse[0]].start_quarters <= at < times[verse[-2]].start_quarters for at in lead
    )


@pytest.mark.parametrize("band", ["work tape", "small"])
def test_a_guitar_closes_the_phrases_that_nobody_sings(band: str) -> None:
    """Without a lead the guitar ends an instrumental phrase with single notes."""
    played = play(river_song(), band=band)
    last = played.arrangement.bars[_bars_of(played, "Intro")[-1]]
    middle = last.start_quarters + last.length_quarters / 2
    closing = [
        note.start_quarters
        for _, note in played.notes("guitar")
        if middle - 0.05 <= note.start_quarters < last.start_quarters + last.length_quarters - 0.02
    ]
    assert len(closing) >= 3
    assert all(b - a > 0.3 for a, b in pairwise(closing))
