"""Answers that are empty, enormous or nonsense."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace

import pytest

from trainer.chart import Chart, Phrase, Section, parse
from trainer.errors import InputError
from trainer.grade import grade, report_to_json

SONG = parse("Verse:\n1 4 5 1 . 6- 4 5 1\nChorus:\n4 5 1 1")


def _of_bars(number: int) -> Chart:
    """A chart of so many bars, more than notation takes."""
    bar = parse("1").bars()[0]
    return replace(SONG, sections=(Section("", (Phrase((bar,) * number),)),))


@pytest.mark.many
def test_the_longest_answer_there_can_be_is_graded() -> None:
    """A chart of 2,000 bars against a short song loses everything and gives one row a bar."""
    report = grade(SONG, _of_bars(2_000))
    assert report.score <= 0.1
    assert len([bar for bar in report.bars if bar.answer]) == 2_000
    assert grade(_of_bars(2_000), _of_bars(1_999)).score > 0.99


def test_ten_thousand_bars_are_refused_as_a_chart() -> None:
    """The error says how many bars were found and how many are allowed."""
    with pytest.raises(InputError, match="found 10000 bars, expected at most 2000"):
        grade(SONG, _of_bars(10_000))


def test_another_meter_altogether_is_said_once() -> None:
    """Every bar is compared by parts, and one advice names the meters."""
    report = grade(SONG, parse("meter: 6/8\nVerse:\n1 4 5 1 . 6- 4 5 1\nChorus:\n4 5 1 1"))
    assert [advice.kind for advice in report.advice] == ["meter"]
    assert report.strict == 1.0
    assert report.score < 1.0


def test_nonsense_gets_a_report() -> None:
    """Bars full of everything are graded like any others."""
    report = grade(SONG, parse("x:\n(#4o^7 b6+ 0 2-^11/b3)\n7ø p\n".replace(" p", "p")))
    assert 0 <= report.score < 0.2
    assert report.advice


def _json(reference: Chart, answer: Chart | None) -> dict[str, object]:
    data = report_to_json(grade(reference, answer))
    parsed = json.loads(json.dumps(data, allow_nan=False))
    assert parsed == data
    assert isinstance(parsed, dict)
    return parsed


@pytest.mark.parametrize("answer", [SONG, None, parse("5 1"), parse("4 b7 1 4 2- b7 1 4 b7 1 4 4")])
def test_the_json_has_the_keys_of_the_contract(answer: Chart | None) -> None:
    """Score, bars, phrases, form, home shift and advice, plain and without NaN."""
    data = _json(SONG, answer)
    assert {"score", "bars", "phrases", "form", "home_shift", "advice"} <= set(data)
    bars = data["bars"]
    assert isinstance(bars, list)
    for bar in bars:
        names = {"reference", "answer", "score", "root", "quality", "bass", "placement"}
        assert names | {"articulation", "strict"} <= set(bar)
    assert isinstance(data["phrases"], dict)
    assert {"precision", "recall", "f"} <= set(data["phrases"])
    assert isinstance(data["advice"], list)
    assert all(isinstance(text, str) for text in data["advice"])


def test_a_home_shift_in_json_says_what_it_explains() -> None:
    """Semitones, bars explained and compared, kind, score as meant."""
    data = _json(SONG, parse("Verse:\n4 b7 1 4 . 2- b7 1 4\nChorus:\nb7 1 4 4"))
    shift = data["home_shift"]
    assert isinstance(shift, dict)
    assert (shift["semitones"], shift["kind"], shift["score_as_meant"]) == (5, "another home", 1.0)
    assert (shift["bars_explained"], shift["bars_compared"]) == (12, 12)


def test_importing_the_room_does_not_load_numpy() -> None:
    """Numpy waits until something is graded."""
    code = "import sys, trainer.grade; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_uneven_beats_of_another_meter_are_graded() -> None:
    """A split of two beats and one in a chart that is in 3/4 throughout has no like in 4/4: it is
    compared as it is written."""
    song, answer = parse("1 4 5 1 . (1 4) 5 1 1"), parse("meter: 3/4\n1 4 5 1 . (1'' 4') 5 1 1")
    report = grade(song, answer)
    assert 0.5 < report.score < 0.9
    assert [row.score < 0.7 for row in report.bars] == [bar == 5 for bar in range(1, 9)]
