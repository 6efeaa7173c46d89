from __future__ import annotations

from pathlib import Path

import pytest

from trainer.chart import Articulation, Chart, Feel, format_chart, parse
from trainer.errors import FileError, NotationError
from trainer.exercise import exercise_from_json, exercise_to_json, load_songs, song_exercise

SONGS = {song.recipe["song"]: song for song in load_songs()}
FEELS = {
    "porch-light-on-mill-street": (Feel.STRAIGHT, "4/4"),
    "freight-yard-sunday": (Feel.TRAIN_BEAT, "4/4"),
    "second-street-strut": (Feel.SHUFFLE, "4/4"),
    "millrace-ferry-bell": (Feel.WALTZ, "3/4"),
    "low-water-reckoning": (Feel.SIX_EIGHT, "6/8"),
    "half-the-town-asleep": (Feel.HALF_TIME, "4/4"),
}


def _length_s(chart: Chart) -> float:
    quarters = sum(bar.meter.quarters for bar in chart.bars())
    return float(quarters / chart.meter.pulse_quarters) * 60 / chart.tempo


@pytest.mark.parametrize("name", FEELS)
def test_each_song_is_what_it_promises(name: str) -> None:
    """Each song has its feel and meter, is as long as a song, and its skills."""
    song = SONGS[name]
    assert (song.chart.feel, str(song.chart.meter)) == FEELS[name]
    assert 60 <= len(song.chart.bars()) <= 110
    assert 150 <= _length_s(song.chart) <= 300
    assert {"section start", "changed return", "odd phrase"} <= set(song.skills)
    assert song.chart.title.lower().replace(" ", "-") == name


def test_the_promised_six() -> None:
    """There is one song for each promised feel."""
    assert set(FEELS) <= set(SONGS)


@pytest.mark.parametrize("name", SONGS)
def test_canonical_text_says_the_same(name: str) -> None:
    """A song laid out by hand and its canonical text are the same chart."""
    chart = SONGS[name].chart
    text = format_chart(chart)
    assert parse(text) == chart
    assert format_chart(parse(text)) == text


@pytest.mark.parametrize("name", SONGS)
def test_second_verses_differ(name: str) -> None:
    """In each song some verse comes back with other bars than the first."""
    verses = [section for section in SONGS[name].chart.sections if section.kind == "verse"]
    assert len(verses) >= 2
    assert any(verse.phrases != verses[0].phrases for verse in verses[1:])


def test_what_a_leader_meets() -> None:
    """Together the songs hold what the job brings up."""
    skills = {skill for song in SONGS.values() for skill in song.skills}
    assert {
        "bass 5/7", "bass 1/3", "even split", "uneven split", "hold", "push", "choke", "short bar",
        "key change", "tag", "minor home", "odd phrase", "chord 4-", "chord 2", "chord #4o",
    } <= skills  # fmt: skip
    phrases = [
        phrase for song in SONGS.values() for section in song.chart.sections
        for phrase in section.phrases
    ]  # fmt: skip
    assert any(len(phrase.bars) == 5 for phrase in phrases)


def test_only_a_last_chord_rings_at_the_end() -> None:
    """Every song ends on its 1, held or choked as bands end songs (common practice, no source)."""
    for song in SONGS.values():
        last = song.chart.bars()[-1].events[-1]
        assert last.chord is not None
        assert last.chord.root == (1, 0)
        assert last.articulation in (Articulation.HOLD, Articulation.CHOKE)


def test_a_song_is_an_exercise() -> None:
    """A song is played by the full band, asked whole, and comes back from its JSON."""
    song = SONGS["millrace-ferry-bell"]
    assert (song.band, song.ask, song.level) == ("full", "everything", None)
    assert exercise_from_json(exercise_to_json(song)) == song
    assert len({each.id for each in SONGS.values()}) == len(SONGS)


def test_wrong_song(tmp_path: Path) -> None:
    """A song that is no chart is told by file, line and column; a missing folder by its path."""
    path = tmp_path / "songs" / "bad.txt"
    path.parent.mkdir()
    path.write_text("Verse:\n1 9 5\n")
    with pytest.raises(NotationError, match=r"bad\.txt: line 2, column 3"):
        song_exercise(path)
    path.unlink()
    with pytest.raises(FileError, match="found no song"):
        load_songs(tmp_path)
