"""Ids and songs stay what they were when the notation was another."""

from __future__ import annotations

from trainer.chart import parse, without_notes
from trainer.exercise import load_songs, make_exercise, own_song_exercise, recipe_from_dict
from trainer.exercise.identity import chart_identity, first_names

# As the program before the notation of today made them.
SONGS = {
    "freight-yard-sunday": "6962ff9f326ccf72",
    "half-the-town-asleep": "8b9e328bceaf043b",
    "low-water-reckoning": "b8a65e72e531fdb9",
    "millrace-ferry-bell": "2f867e0e5bc69832",
    "porch-light-on-mill-street": "e7f069524a7289bf",
    "second-street-strut": "ac4b5d705962aa5f",
}


def test_hand_written_songs_keep_their_ids() -> None:
    """A song has the id that it had in the first notation, and so the band that played it."""
    assert {str(song.recipe["song"]): song.id for song in load_songs()} == SONGS


def test_generated_exercises_keep_their_ids() -> None:
    """A recipe that names chokes has the id, and the song, of the same recipe with stops."""
    recipe = {"size": "phrase", "features": {"chokes": 1.0, "splits": 0.5}}
    assert make_exercise(recipe_from_dict(recipe, "test"), 7).id == "4018be220ae240a5"


def test_names_as_they_were_first() -> None:
    """Keys, skills and chords of a recipe enter its digest as they did first."""
    assert first_names("features.chokes") == "features.stops"
    assert first_names(["choke", "chord 7ø", "4"]) == ["stop", "chord 7h", "4"]


def test_a_chart_in_its_first_signs() -> None:
    """A chart enters a digest in the first notation."""
    chart = parse("key: D\n1 (1 5c) (4''' 7ø^7')\n[up 2] [2/4] 1d [down 1] 0")
    first = "1 1_5s 4'''_7h^7' (key +2) (2/4) 1d (key -1) 0"
    assert chart_identity(chart).split() == chart_header(first)


def chart_header(bars: str) -> list[str]:
    """The words of a chart's text with these bars."""
    return f"meter: 4/4 tempo: 100 feel: straight key: D {bars}".split()


def test_other_notes_on_a_song_of_ones_own_are_another_exercise() -> None:
    """The band plays notes and hits, so that a chart with other ones is not the stored exercise."""
    charts = [parse(f"Verse:\n{bars}") for bars in ("1 4", "1 [build] 4", "1 *12 4", "1 [down] 4")]
    ids = {own_song_exercise(chart, "a-song").id for chart in charts}
    assert len(ids) == len(charts)
    assert len({chart_identity(without_notes(chart)) for chart in charts}) == 1
