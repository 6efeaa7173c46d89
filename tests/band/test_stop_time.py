"""Bars without a chord, in which the band stops, and songs that fade."""

from __future__ import annotations

import random

import pytest

from tests.band.heard import play
from trainer.band import arrange, to_midi
from trainer.chart import Feel, Header, Meter, parse

STOPS = "Verse:\n1 4 0 1 . 4 5 0 0\nChorus:\n1 0 4 1"
FADING = "Verse:\n1 4 5 1\nOutro:\n[fade] 1 4 1 4"
HAT, FOOT = 42, 35
# How long open hat, crash and ride ring on in a synth, in quarters (heard, no source).
RINGS = {46: 1.9, 49: 7.5, 51: 3.5}


@pytest.mark.parametrize("band", ["small", "full"])
@pytest.mark.parametrize("feel", list(Feel))
def test_a_band_stops_and_the_hat_counts(feel: Feel, band: str) -> None:
    """In a silent bar nothing but the closed hat is struck, softly, on the first beat and on
    others; no cymbal rings into it (common practice, no source)."""
    meter = next(each for each in (Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(12, 8))
                 if feel.fits(each))  # fmt: skip
    played = play(parse(STOPS, Header(meter=meter, feel=feel)), band=band)
    silent = [chord for chord in played.chords if chord.chord is None]
    assert len(silent) == 4
    for name, note in played.notes(*(part.name for part in played.arrangement.parts)):
        for bar in silent:
            if bar.start - 0.02 <= note.start_quarters < bar.end - 0.1:
                assert (name, note.pitch) == ("drums", HAT)
                assert note.velocity < 60
            elif name == "drums" and bar.start - RINGS.get(note.pitch, 0) < note.start_quarters:
                assert note.start_quarters > bar.end - 0.1
    for bar in silent:
        at = [n.start_quarters for _, n in played.notes("drums")
              if bar.start - 0.02 <= n.start_quarters < bar.end - 0.1]  # fmt: skip
        assert abs(at[0] - bar.start) < 0.1
        assert len(at) >= 2


def test_alone_a_foot_counts_the_silent_bars() -> None:
    """On a work tape a foot taps on every beat of a silent bar, and nowhere else."""
    played = play(parse(STOPS), band="work tape")
    silent = [chord for chord in played.chords if chord.chord is None]
    taps = [note.start_quarters for _, note in played.notes("foot")]
    assert len(taps) == 4 * len(silent)
    for at in taps:
        assert any(bar.start - 0.02 <= at < bar.end for bar in silent)
    assert {note.pitch for _, note in played.notes("foot")} == {FOOT}
    assert play(parse("1 4 5 1"), band="work tape").part("foot") is None


@pytest.mark.parametrize("band", ["work tape", "small", "full"])
def test_every_player_fades_from_the_sign_to_the_end(band: str) -> None:
    """The volume of all players falls from the bar with the sign on and is nothing at the end of
    the last bar; the count-off keeps its own."""
    played = arrange(parse(FADING), rng=random.Random(1), band=band)
    start, end = played.bars[4].start_quarters, played.length_quarters
    for part in played.parts:
        steps = part.volume_steps
        if part.name == "count-off":
            assert steps == ()
            continue
        values = [step.value for step in steps]
        assert values == sorted(values, reverse=True)
        assert start <= steps[0].at_quarters < start + 1
        assert steps[-1].at_quarters == pytest.approx(end)
        assert values[-1] == 0
        # Half the amplitude is left half-way: the square of the volume (SoundFont 2.04, 8.4).
        half = next(step for step in steps if step.at_quarters >= (start + end) / 2)
        assert (half.value / 127) ** 2 == pytest.approx(0.5, abs=0.02)


def test_a_chart_that_fades_has_the_notes_of_one_that_does_not() -> None:
    """The band plays on as before; only its volume falls."""
    fading, plain = (
        arrange(parse(text), rng=random.Random(1))
        for text in (FADING, FADING.replace("[fade] ", ""))
    )
    assert [part.notes for part in fading.parts] == [part.notes for part in plain.parts]
    assert not any(part.volume_steps for part in plain.parts)


def test_a_midi_file_has_the_fade_as_expression() -> None:
    """Controller 11 (expression, General MIDI 1) carries the fade of each part."""
    midi = to_midi(arrange(parse(FADING), rng=random.Random(1)))
    fading = [each for each in midi.instruments if each.name != "count-off"]
    for instrument in fading:
        values = [each.value for each in instrument.control_changes if each.number == 11]
        assert values[0] == 126
        assert values[-1] == 0
