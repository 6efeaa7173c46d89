"""The command that practises missed bars."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.cli.test_drill import drill, reference_line

pytestmark = pytest.mark.usefixtures("silent_files")


def missed_last_bar(run: Run, folder: Path) -> tuple[str, str]:
    """A song of one phrase written with its last bar wrong; the last two bars as played."""
    bars = reference_line(run, folder).split()
    drill(run, folder, " ".join([*bars[:-1], "b7"]) + "\ndone\n", "--to", folder / "song.wav")
    return bars[-2], bars[-1]


def test_bars_are_written_until_right_twice(run: Run, tmp_path: Path) -> None:
    """The bar before is shown; a wrong try is reported, and two right ones end the practice, also
    slower and in another key. All of it is practice in the record.
    """
    before, last = missed_last_bar(run, tmp_path)
    typed = f"b3\ndone\nslower\n{last}\ndone\nkey\n{last}\ndone\n\n"
    sound = tmp_path / "bars.wav"
    ran = run("bars", "--data", tmp_path, "--to", sound, typed=typed)
    assert ran.code == 0, ran.err
    said = " ".join(ran.out.split())
    assert f"1 {before}" in said
    for text in (
        "Not right yet.",
        "90% of the tempo",
        "Right. Once more.",
        "You've got these bars.",
        "You've got every bar that you missed.",
    ):
        assert text in said
    tries = json.loads(run("progress", "--data", tmp_path, "--json").out)["attempts"]
    practised = [one for one in tries if one["level"] is None]
    assert len(practised) == 3
    assert all(one["seen"] for one in practised)


def test_practice_goes_on_where_it_was_left(run: Run, tmp_path: Path) -> None:
    """What was right once is right once tomorrow; `leave` and `stop` end for now."""
    _, last = missed_last_bar(run, tmp_path)
    sound = tmp_path / "bars.wav"
    first = run("bars", "--data", tmp_path, "--to", sound, typed=f"{last}\ndone\nwhat\nstop\n")
    assert "Right. Once more." in first.out
    assert "'what' isn't one of the choices. Press Enter, or type one of" in first.out
    assert "To continue" in run("bars", "--data", tmp_path, "--to", sound, typed="leave\n").out
    again = run("bars", "--data", tmp_path, "--to", sound, typed=f"{last}\ndone\n\n")
    assert "You've got these bars." in again.out


def test_without_missed_bars_there_is_nothing_to_practise(run: Run, tmp_path: Path) -> None:
    """A record without a song that missed bars is told so."""
    ran = run("bars", "--data", tmp_path)
    assert ran.code == 2
    assert "no song with missed bars" in ran.err
