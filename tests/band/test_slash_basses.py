"""Slash chords and accents that a listener has to hear."""

from __future__ import annotations

import pytest

from tests.band.heard import Played, play
from tests.band.songs import river_song
from tests.thorough import is_thorough
from trainer.band import BANDS, Note
from trainer.chart import Feel, parse

SLASHES = "tempo: 110\nVerse:\n1 b7/1 4/1 1 . 1 4/5 5 6-/5\n4-^7/1 1 5/4 1/b7 . 4/6 1/5 2-/5 1"


def _struck(played: Played, name: str, start: float, end: float) -> list[Note]:
    return [n for _, n in played.notes(name) if start - 0.03 <= n.start_quarters < end - 0.1]


@pytest.mark.parametrize("seed", range(4))
def test_alone_the_thumb_says_a_slash_bass_twice(seed: int) -> None:
    """On a work tape the lowest string of a slash chord is its bass: it is the loudest string of
    the first stroke and again of a stroke in the bar's second half (common practice, no source)."""
    played = play(parse(SLASHES), seed, band="work tape")
    slashes = [chord for chord in played.chords if chord.chord and chord.chord.bass]
    assert len(slashes) == 10
    for chord in slashes:
        struck = _struck(played, "guitar", chord.start, chord.end)
        lowest = min(note.pitch for note in struck)
        assert lowest % 12 == chord.bass
        middle = (chord.start + chord.end) / 2
        for first, last in ((chord.start, chord.start + 0.3), (middle, middle + 0.3)):
            stroke = _struck(played, "guitar", first, last + 0.1)
            bass = [note for note in stroke if note.pitch == lowest]
            assert len(bass) == 1
            others = [note.velocity for note in stroke if note.pitch != lowest]
            assert bass[0].velocity >= max(others) + 8


@pytest.mark.parametrize("band", ["small", "full"])
def test_a_bassist_plays_a_slash_bass_harder_and_no_other_note(band: str) -> None:
    """Where no walk leads on, the bass repeats the written degree, in one octave, and plays it
    harder than the basses of plain chords in the same section."""
    played = play(parse(SLASHES), band=band)
    slash: list[int] = []
    plain: list[int] = []
    for chord in played.chords:
        notes = _struck(played, "bass", chord.start, chord.start + 2.5)
        is_slash = chord.chord is not None and chord.chord.bass is not None
        (slash if is_slash else plain).append(notes[0].velocity)
        if is_slash:
            assert {note.pitch for note in notes} == {notes[0].pitch}
    assert sum(slash) / len(slash) > sum(plain) / len(plain) + 6


@pytest.mark.parametrize("feel", [Feel.STRAIGHT, Feel.SHUFFLE, Feel.TWO_BEAT, Feel.HALF_TIME])
def test_nothing_leads_out_of_a_slash_bass(feel: Feel) -> None:
    """Under a slash chord of four beats the bass plays its degree on the first beat and on the next
    strong one and nothing else, however fully the section is played: no walk, no passing tone."""
    lines = f"tempo: 110\nfeel: {feel}\n{{}}:\n1/3 4 5/7 1 . 1 5/7 6- 4/5\n1/5 5 1/b7 4/6\n"
    for name in ("Verse", "Chorus"):
        for seed in range(4):
            played = play(parse(lines.format(name)), seed)
            for chord in played.chords:
                if chord.chord is None or chord.chord.bass is None:
                    continue
                notes = _struck(played, "bass", chord.start, chord.end)
                places = [round(note.start_quarters - chord.start) for note in notes]
                assert places == [0, 2]
                assert {note.pitch % 12 for note in notes} == {chord.bass}


@pytest.mark.parametrize("band", ["small", "full"])
def test_the_others_leave_the_low_register_to_a_slash_bass(band: str) -> None:
    """Under a slash chord no keyboard plays below G3, and no guitar either unless fewer than three
    strings would be left."""
    played = play(parse(SLASHES), band=band)
    for chord in played.chords:
        if chord.chord is None or chord.chord.bass is None:
            continue
        guitar = {n.pitch for n in _struck(played, "guitar", chord.start, chord.end)}
        keys = {n.pitch for n in _struck(played, "keys", chord.start, chord.end)}
        assert min(keys, default=55) >= 55
        assert min(guitar) >= 55 or sum(pitch >= 55 for pitch in guitar) < 3


def test_alone_a_chord_over_a_pedal_is_struck_harder_than_one_that_stays() -> None:
    """On a work tape the strings above the bass are louder where they are what is new (b7/1 after
    1) than where the bass alone moves (1/7 after 1)."""
    played = play(parse("tempo: 100\nVerse:\n1 b7/1 1 1/7 . 1 b7/1 1 1/7\n"), band="work tape")

    def upper(place: int) -> float:
        chord = played.chords[place]
        first = _struck(played, "guitar", chord.start, chord.start + 0.4)
        lowest = min(note.pitch for note in first)
        return max(note.velocity for note in first if note.pitch > lowest)

    assert upper(1) + upper(5) > upper(3) + upper(7)


@pytest.mark.many
@pytest.mark.hypothesis
@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize("feel", [Feel.SIX_EIGHT, Feel.TWELVE_EIGHT])
def test_the_dotted_beats_stand_out(feel: Feel, band: str) -> None:
    """In 6/8 and 12/8 the guitar strikes the eighths between the dotted beats much softer than
    the beats: else 6/8 is heard as 3/4 (its third and fifth eighth as strong as the fourth)."""
    tempos = (52.0, 90.0)
    for tempo in tempos if is_thorough() else (tempos[BANDS.index(band) % 2],):
        played = play(river_song(feel, tempo=tempo), band=band)
        strokes: dict[int, list[int]] = {}
        for bar in played.arrangement.bars:
            for place in range(int(2 * bar.length_quarters)):
                at = bar.start_quarters + place / 2
                struck = _struck(played, "guitar", at, at + 0.3)
                if struck:
                    strokes.setdefault(place, []).append(max(n.velocity for n in struck))
        means = {place: sum(each) / len(each) for place, each in strokes.items()}
        beats = [mean for place, mean in means.items() if place % 3 == 0]
        between = [mean for place, mean in means.items() if place % 3]
        assert min(beats) > max(between) + 6


def test_alone_no_string_that_can_be_spared_lies_near_a_slash_bass() -> None:
    """On a work tape a string within an octave above a slash bass is struck only if its tone does
    not sound higher up as well, or fewer than three strings would be left."""
    played = play(parse(SLASHES), band="work tape")
    for chord in played.chords:
        if chord.chord is None or chord.chord.bass is None:
            continue
        struck = {note.pitch for note in _struck(played, "guitar", chord.start, chord.end)}
        bass, *rest = sorted(struck)
        for pitch in rest:
            doubled = any(other > pitch and (other - pitch) % 12 == 0 for other in rest)
            assert not (doubled and pitch - bass < 12 and len(rest) > 3)
