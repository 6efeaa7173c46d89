"""`grade` with schemes, weights, and answers that are empty, half-typed, enormous or nonsense."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from .conftest import Run

SONG = "Verse:\n1 5/7 6- 4 . 1 4 2- 5^7\n"


@pytest.fixture
def song(tmp_path: Path) -> Path:
    """The song as a file."""
    path = tmp_path / "song.txt"
    path.write_text(SONG, encoding="utf-8")
    return path


def test_a_scheme_decides_what_counts(run: Run, song: Path) -> None:
    """Only roots asked, a missing bass costs nothing and is not advised on."""
    answer = SONG.replace("5/7", "5")
    assert json.loads(run("grade", song, "-", "--json", typed=answer).out)["score"] < 1
    roots = json.loads(run("grade", song, "-", "--json", "--scheme", "roots", typed=answer).out)
    assert roots["score"] == 1
    assert roots["advice"] == ["You got everything right that was asked for."]


def test_weights_come_from_a_file(run: Run, song: Path, tmp_path: Path) -> None:
    """A house that writes a plain 2 for the minor chord; the scheme on the line is kept."""
    house = tmp_path / "house.toml"
    house.write_text("plain_minor = true\nbass = 0\n", encoding="utf-8")
    answer = SONG.replace("2-", "2").replace("5/7", "5")
    found = run("grade", song, "-", "--json", "--weights", house, typed=answer)
    assert json.loads(found.out)["score"] == 1
    found = run(
        "grade", song, "-", "--json", "--weights", house, "--scheme", "strict", typed=answer
    )
    assert json.loads(found.out)["weights"]["all_or_nothing"] is True


def test_split_bars_keep_their_space(run: Run, tmp_path: Path) -> None:
    """Two chords in one bar stand apart in the comparison of both charts, as one types them."""
    path = tmp_path / "split.txt"
    path.write_text("Verse:\n(1 5) 6- 4 1\n", encoding="utf-8")
    lines = run("grade", path, "-", typed="Verse:\n(1 4) 6- 4 1\n").out.splitlines()
    assert [line for line in lines if "played" in line and "(1 5)" in line]
    assert [line for line in lines if "wrote" in line and "(1 4)" in line]


def test_what_counts_is_explained(run: Run, song: Path) -> None:
    """Each part with its weight and in words."""
    said = run("grade", song, song, "--explain").out
    assert "which" in said
    assert [line.split()[0] for line in said.splitlines() if "in every bar: " in line] == [
        "root", "quality", "bass",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("scheme = 'lax'", "weights.scheme: found 'lax', expected one of standard"),
        ("root = -1", "weights.root: found -1, expected a number from 0 to 1000"),
        ("roots = 1", "unknown key 'roots'"),
        ("root = ", "expected weights in TOML"),
    ],
)
def test_bad_weights_are_refused(
    run: Run, song: Path, tmp_path: Path, text: str, said: str
) -> None:
    """The error names the file or the key, what was found, what is allowed; exit code 2."""
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    ran = run("grade", song, song, "--weights", path)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err


def test_an_empty_answer_gets_a_report(run: Run, song: Path) -> None:
    """Nothing typed is nothing right, and a place to start."""
    for typed in ("", " \n\n"):
        ran = run("grade", song, "-", "--json", typed=typed)
        report = json.loads(ran.out)
        assert (ran.code, report["score"]) == (0, 0)
        assert report["advice"][0].startswith("You haven't written any")
    assert "missed" in run("grade", song, "-", typed="").out


def test_another_meter_gets_a_report(run: Run, song: Path) -> None:
    """A waltz written for a song in four is graded bar by bar and told so once."""
    ran = run("grade", song, "-", "--json", typed="meter: 3/4\n" + SONG)
    assert [
        "The song is in 4/4, and you wrote the whole chart in 3/4." in text
        for text in json.loads(ran.out)["advice"]
    ] == [True]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1 5/ 6- (", "column 3: found 5/"),
        ("x y z", "column 1: found x, expected a number"),
        ("1 4 5 1\n" * 2_500, "found more than 2000 bars, expected at most 2000"),
    ],
)
def test_what_cannot_be_read_is_refused(run: Run, song: Path, typed: str, said: str) -> None:
    """Half-typed, nonsense, or 10,000 bars: where, what was found, what was expected; code 2."""
    ran = run("grade", song, "-", typed=typed)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err


def test_a_level_is_held_against_a_chart(run: Run, tmp_path: Path) -> None:
    """With a level, the grade says whether it is passed, which skill is missing, and where."""
    path = tmp_path / "slashes.txt"
    song = "Verse:\n1 5/7 6- 4 . 1 5/7 6- 4 . 1 5/7 6- 4\n"
    path.write_text(song, encoding="utf-8")
    answer = song.replace("5/7", "5")
    found = json.loads(run("grade", path, "-", "--level", 7, "--json", typed=answer).out)["level"]
    assert (found["level"], found["passed"], found["reached"]) == (7, False, True)
    assert found["skills"] == [
        {
            "skill": "bass 5/7",
            "places": 3,
            "credit": 0.0,
            "needed": 0.8,
            "is_there": False,
            "missed": [2, 6, 10],
            "added": [],
        }
    ]
    assert "bars 2, 6 and 10" in found["not_there_yet"][0]
    assert 'chart-trainer more "bass 5/7" --level 7' in run(
        "grade", path, "-", "--level", 7, typed=answer
    ).out.replace("\n", " ")
    assert "You passed level 7." in run("grade", path, "-", "--level", 7, typed=song).out
    assert "level" not in json.loads(run("grade", path, "-", "--json", typed=song).out)


def test_a_song_that_has_a_skill_twice_does_not_show_it(run: Run, tmp_path: Path) -> None:
    """A perfect chart of a song with too few places passes no level that asks for three."""
    path = tmp_path / "twice.txt"
    song = "Verse:\n1 5/7 6- 4 . 1 5/7 6- 4\n"
    path.write_text(song, encoding="utf-8")
    found = json.loads(run("grade", path, "-", "--level", 7, "--json", typed=song).out)["level"]
    assert (found["passed"], found["reached"]) == (False, True)
    assert "came up twice" in found["not_there_yet"][0]
