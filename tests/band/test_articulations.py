from __future__ import annotations

import pytest

from tests.band.heard import KICK, NEAR, Played, play
from trainer.band import BANDS
from trainer.band.drums import CRASH
from trainer.chart import Articulation, parse

HEADER = "meter: {meter}\ntempo: {tempo}\nkey: G\n\nVerse 1:\n"
LATE = 0.12


def _play(bars: str, meter: str = "4/4", tempo: int = 92, band: str = "full") -> Played:
    return play(parse(HEADER.format(meter=meter, tempo=tempo) + bars + "\n"), band=band)


def _starts(played: Played, name: str) -> list[float]:
    """Attacks of a part in quarters from the first bar line."""
    lead_in = played.arrangement.count_off_quarters
    return [note.start_quarters - lead_in for _, note in played.notes(name)]


@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize(("meter", "quarters"), [("4/4", 4.0), ("3/4", 3.0), ("6/8", 3.0)])
def test_a_hold_lasts_the_whole_bar(meter: str, quarters: float, band: str) -> None:
    """A hold is struck on the bar line and rings to the next, in 4/4, 3/4 and 6/8 alike (common
    practice, no source)."""
    played = _play("1 4d 5 1", meter, band=band)
    for part in played.arrangement.parts:
        inside = [
            note
            for note in part.notes
            if quarters
            <= note.start_quarters - played.arrangement.count_off_quarters + 0.01
            < 2 * quarters
        ]
        assert all(
            note.start_quarters - played.arrangement.count_off_quarters < quarters + LATE
            for note in inside
        )
        if part.name in ("bass", "guitar", "keys"):
            ends = {
                round(
                    note.start_quarters
                    + note.length_quarters
                    - played.arrangement.count_off_quarters,
                    6,
                )
                for note in inside
            }
            assert ends == {2 * quarters}


@pytest.mark.parametrize("name", ["bass", "guitar", "keys"])
def test_a_push_is_an_eighth_early(name: str) -> None:
    """In 4/4 a pushed chord's first attack is half a quarter before the bar line, and the next
    one is after it."""
    starts = _starts(_play("1 4p 1 1"), name)
    near = [start for start in starts if 3.4 < start < 4.2]
    assert near
    assert all(3.5 - 1e-9 <= start < 3.5 + LATE for start in near)


def test_the_kick_moves_with_a_push() -> None:
    """The kick falls with a pushed chord and leaves the bar line."""
    played = _play("1 4p 1 1")
    lead_in = played.arrangement.count_off_quarters
    kicks = [n.start_quarters - lead_in for _, n in played.notes("drums") if n.pitch == KICK]
    assert any(abs(kick - 3.5) < LATE for kick in kicks)
    assert not any(abs(kick - 4.0) < 0.2 for kick in kicks)


@pytest.mark.parametrize("band", BANDS)
def test_a_stop_is_silent_after_the_strike(band: str) -> None:
    """After a choke nobody plays until the bar is over, and what was struck is cut."""
    played = _play("1 5c 1 1", band=band)
    lead_in = played.arrangement.count_off_quarters
    for part in played.arrangement.parts:
        for note in part.notes:
            start = note.start_quarters - lead_in
            assert not 4 + LATE < start < 8 - 0.01
            if 4 - 0.01 <= start < 8 - 0.01 and not part.is_drum:
                assert note.length_quarters <= 0.5


@pytest.mark.many
@pytest.mark.parametrize("tempo", [180, 400])
def test_a_stop_that_a_push_cuts_short_is_silent_after_the_strike(tempo: int) -> None:
    """A choke of a sixteenth of a quarter, cut short by a push, is struck at its start alone."""
    chart = parse(HEADER.format(meter="1/8", tempo=tempo) + "0 (1 0 0 1c) 1p\n")
    for seed in range(200):
        played = play(chart, seed=seed)
        choke = next(c for c in played.chords if c.articulation is Articulation.CHOKE)
        for part in played.arrangement.parts:
            for note in part.notes:
                after = note.start_quarters - choke.start
                assert not played.late(choke) < after < choke.length - NEAR


def test_a_split_is_struck_at_both_chords() -> None:
    """In a split bar bass, guitar and keys attack on the first beat and on the change."""
    for text, change in (("(1 4) 1", 2.0), ("(1''' 4') 1", 3.0), ("(1' 4''') 1", 1.0)):
        played = _play(text)
        for name in ("bass", "guitar", "keys"):
            starts = _starts(played, name)
            for place in (0.0, change, 4.0):
                assert any(-1e-9 <= start - place < LATE for start in starts)


def test_a_slash_bass_is_lowest() -> None:
    """5/7 in G is D over F sharp: F sharp lies under everything, on a work tape too, where it is
    the guitar's own; a bassist has it to himself, an octave's tones above him."""
    for band, lowest in (("work tape", "guitar"), ("small", "bass"), ("full", "bass")):
        played = _play("1 5/7 6- 1", band=band)
        lead_in = played.arrangement.count_off_quarters
        inside = sorted(
            (note.pitch, name)
            for name, note in played.notes("bass", "guitar", "keys", "voice")
            if 4 - 1e-6 <= note.start_quarters - lead_in < 4 + LATE
        )
        assert inside[0][0] % 12 == 6
        assert inside[0][1] == lowest
        assert inside[1][0] - inside[0][0] >= 3
        assert {pitch % 12 for pitch, _ in inside} == {2, 6, 9}


def test_no_chord_leaves_only_light_time() -> None:
    """In a bar of no chord the hat keeps time and nothing else is heard."""
    played = _play("1 0 1 1")
    lead_in = played.arrangement.count_off_quarters
    for part in played.arrangement.parts:
        pitches = {n.pitch for n in part.notes if 4 <= n.start_quarters - lead_in + 0.01 < 8}
        assert pitches == ({42} if part.name == "drums" else set())


def test_a_key_change_moves_everybody() -> None:
    """Two semitones up, the same numbers give the bass two semitones up."""
    played = _play("1 1 [up 2] 1 1", band="small")
    lead_in = played.arrangement.count_off_quarters
    first = {n.pitch % 12 for _, n in played.notes("bass") if n.start_quarters - lead_in < 7}
    then = {n.pitch % 12 for _, n in played.notes("bass") if n.start_quarters - lead_in >= 8 - 0.01}
    assert first == {7}
    assert then == {9}


def test_a_hold_at_a_section_start_has_its_crash() -> None:
    """Where a section starts with a hold, crash and kick strike together and nothing else does."""
    played = _play("1d 4 5 1")
    lead_in = played.arrangement.count_off_quarters
    struck = {n.pitch for _, n in played.notes("drums") if n.start_quarters - lead_in < 3.9}
    assert struck == {KICK, CRASH}
