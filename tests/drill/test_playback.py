"""How an exercise is played."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.store.samples import SONG, exercise
from trainer.chart import parse
from trainer.drill import SPEEDS, beat_times_s, check_speed, mix_of, play_answer, play_song
from trainer.errors import SettingsError
from trainer.exercise import load_course, make_exercise, read_answer

LEVEL = load_course()[0]
SLOWED = {speed: 100 / speed for speed in SPEEDS}


@pytest.mark.parametrize(("speed", "times"), SLOWED.items())
def test_a_slower_band_takes_as_much_longer(speed: int, times: float) -> None:
    """At a part of the tempo every bar begins later in proportion."""
    made = make_exercise(LEVEL.recipe, 1, LEVEL)
    full, slow = play_song(made), play_song(made, speed)
    for found, expected in zip(slow.bar_times_s, full.bar_times_s, strict=True):
        assert found == pytest.approx([moment * times for moment in expected])


def test_a_song_sounds_the_same_each_time() -> None:
    """Every listen of an exercise has the same notes."""
    made = make_exercise(LEVEL.recipe, 1, LEVEL)
    one, other = play_song(made), play_song(made)
    assert [part.notes for part in one.parts] == [part.notes for part in other.parts]
    assert any(part.notes for part in one.parts)


def test_the_exercise_says_how_it_is_helped() -> None:
    """Bass level and the tonic chord first are those of the exercise."""
    made = make_exercise(LEVEL.recipe, 1, LEVEL)
    mix = mix_of(made)
    assert (mix.bass_lift_db, mix.tonic_first) == (made.help.bass_lift_db, made.help.tonic_first)


def test_an_answer_is_played_by_the_same_band() -> None:
    """The right answer sounds as the song did; one without a bar is not played."""
    played = play_answer(exercise(), read_answer(exercise(), SONG))
    assert played is not None
    assert played.bar_times_s == play_song(exercise()).bar_times_s
    assert play_answer(exercise(), read_answer(exercise(), "Verse 1:")) is None


@pytest.mark.parametrize("speed", SPEEDS)
def test_the_speeds_offered_are_taken(speed: int) -> None:
    """A speed that is offered is given back."""
    assert check_speed(speed) == speed


def test_other_speeds_are_refused() -> None:
    """A speed that is not offered is told with those that are."""
    with pytest.raises(SettingsError, match="found 75, expected one of 100, 90"):
        check_speed(75)


def test_beats_sound_evenly_within_their_bars() -> None:
    """Each bar has the beats that the tempo counts, from its start on, as late as the band is slow;
    a bar of 6/8 has two, one of 2/4 two (common practice, no source)."""
    made = make_exercise(LEVEL.recipe, 1, LEVEL)
    for speed in (100, 50):
        song = play_song(made, speed)
        found = beat_times_s(made, speed)
        for beats, (start, end) in zip(found, song.bar_times_s, strict=True):
            gap = (end - start) / 4
            assert beats == pytest.approx([start + gap * beat for beat in range(4)])
    for text, counts in (("1 [2/4] 4 5", [4, 2, 4]), ("meter: 6/8\n1 4", [2, 2])):
        exercise_ = replace(made, chart=parse(text))
        assert [len(beats) for beats in beat_times_s(exercise_)] == counts
