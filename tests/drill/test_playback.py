"""How an exercise is played."""

from __future__ import annotations

import pytest

from tests.store.samples import SONG, exercise
from trainer.drill import SPEEDS, check_speed, mix_of, play_answer, play_song
from trainer.errors import SettingsError
from trainer.exercise import load_course, make_exercise, read_answer

LEVEL = load_course()[0]
SLOWED = {speed: 100 / speed for speed in SPEEDS}


@pytest.mark.parametrize(("speed", "times"), SLOWED.items())
def test_a_slower_band_takes_as_much_longer(speed: int, times: float) -> None:
    """At so many per cent of the tempo every bar begins so many times as late."""
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
