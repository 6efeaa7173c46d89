"""The songbook in the terminal."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import REFERENCE, Run

TITLED = f"title: Lock Gate\n{REFERENCE}"


@pytest.fixture
def songs(run: Run, tmp_path: Path) -> Run:
    """Runs `songs` on a record of its own."""
    return lambda *arguments, typed="": run(
        "songs", *arguments, "--data", tmp_path / "record", typed=typed
    )


def listed(songs: Run, *arguments: str) -> list[dict[str, Any]]:
    """The songs that `songs list --json` prints."""
    found: list[dict[str, Any]] = json.loads(songs("list", *arguments, "--json").out)["songs"]
    return found


def test_a_song_is_added_saved_and_shown(songs: Run) -> None:
    """What is saved is printed as it was typed, each version under its number."""
    made = json.loads(songs("add", "-", "--tag", "slow", "--json", typed=TITLED).out)
    assert (made["title"], made["key"], made["version"], made["tags"]) == (
        "Lock Gate", "D", 1, ["slow"],
    )  # fmt: skip
    other = TITLED.replace("4 5 1d", "4 5/7 1d")
    assert songs("save", "lock gate", "-", typed=other).out == "saved as version 2\n"
    assert songs("save", made["id"], "-", typed=other).out == (
        "nothing has changed since version 2\n"
    )
    beside = songs("save", "lock", "-", "--from", "1", typed=TITLED)
    assert beside.out == "saved as version 3; version 2 was saved meanwhile\n"
    assert songs("show", "lock", "--version", "2").out == other
    versions = json.loads(songs("versions", "lock", "--json").out)["versions"]
    assert [each["text"] for each in versions] == [TITLED, other, TITLED]
    assert "beside version 2" in songs("versions", "lock").out
    compared = songs("compare", "lock", "--left", "1", "--right", "2").out
    assert compared == "bar 19: 5 | bar 19: 5/7\n1 bar differs, 19 agree\n"


def test_songs_are_found(songs: Run) -> None:
    """Words and tags choose; a name for several songs or for none is refused."""
    songs("add", "-", typed=TITLED)
    songs("add", "-", typed=TITLED.replace("Gate", "House"))
    assert len(listed(songs)) == 8
    assert [song["title"] for song in listed(songs, "house", "lock")] == ["Lock House"]
    assert len(listed(songs, "--tag", "house band")) == 6
    assert "and 7 more" in songs("list", "--limit", "1").out
    several = songs("show", "lock")
    assert (several.code, "found 2 songs" in several.err) == (2, True)
    assert songs("show", "nowhere").code == 2
    songs("tag", "lock house", "slow", "Friday")
    assert listed(songs, "--tag", "slow")[0]["tags"] == ["Friday", "slow"]


def test_a_deleted_song_is_put_back(songs: Run) -> None:
    """A deleted song is listed among the deleted and can be put back."""
    songs("add", "-", typed=TITLED)
    gone = songs("delete", "lock gate")
    assert songs("show", "lock gate").code == 2
    assert len(listed(songs, "--deleted")) == 1
    assert gone.out.startswith("deleted; put it back with: chart-trainer songs undo ")
    assert songs("undo", gone.out.split()[-1]).code == 0
    assert songs("show", "lock gate").out == TITLED


def test_a_closed_chart_is_opened(songs: Run) -> None:
    """The house band's chart is printed only once it is opened."""
    closed = songs("show", "second street strut")
    assert (closed.code, "still closed" in closed.err) == (2, True)
    assert "Verse" in songs("show", "second street strut", "--open").out
    assert "Verse" in songs("show", "second street strut").out


def test_an_archive_goes_from_one_record_to_another(songs: Run, run: Run, tmp_path: Path) -> None:
    """All songs are written into one file and read again, with what could not be read."""
    songs("add", "-", typed=TITLED)
    out = tmp_path / "songs.zip"
    assert songs("export", out).out == f"wrote {out}: 1 songs\n"
    other = ("--data", tmp_path / "other")
    done = json.loads(run("songs", "import", out, "--json", *other).out)
    assert (done["added"], done["known"], done["refused"]) == (1, 0, 0)
    assert run("songs", "show", "lock gate", *other).out == TITLED
    assert songs("import", out).out == "0 songs added, 1 already there, 0 not read\n"
    assert songs("import", tmp_path / "none.zip").code == 2


def test_a_set_is_made_and_removed(songs: Run, tmp_path: Path) -> None:
    """A set keeps its order and keys."""
    songs("add", "-", typed=TITLED)
    made = songs("set", "Friday", "second street strut", "lock gate=Eb").out
    assert made.splitlines() == [
        "Friday",
        "   1  Second Street Strut  (as written)",
        "   2  Lock Gate  (Eb)",
    ]
    songs("show", "second street strut", "--open")
    assert songs("set", "Friday", "--to", tmp_path / "set.pdf").code == 0
    assert (tmp_path / "set.pdf").read_bytes().startswith(b"%PDF")
    sets = json.loads(songs("set", "--json").out)["sets"]
    assert [each["key"] for each in sets[0]["songs"]] == [None, "Eb"]
    assert songs("set", "Friday", "--remove").out == ""
    assert songs("set", "Friday", "--remove").code == 2


def test_a_set_names_every_song_and_is_found_or_refused(songs: Run) -> None:
    """A song without a title and one that was deleted stand in a set as such; a set that is not
    there is refused."""
    songs("add", "-", typed=TITLED)
    uid = json.loads(songs("add", "-", "--json", typed="1 4 5 1").out)["id"]
    songs("set", "Friday", uid, "lock gate")
    songs("delete", "lock gate")
    assert songs("set", "Friday").out.splitlines() == [
        "Friday",
        "   1  Untitled  (as written)",
        "   2  A song that is gone  (as written)",
    ]
    refused = songs("set", "Fryday")
    assert refused.code == 2
    assert "found no set 'Fryday'" in refused.err


def test_a_file_of_another_format_is_added(songs: Run, run: Run, tmp_path: Path) -> None:
    """A file in another format becomes a song; one of none is refused in words."""
    chart = tmp_path / "chart.txt"
    chart.write_text(TITLED)
    out = tmp_path / "song.musicxml"
    assert run("export", chart, "-o", out).code == 0
    assert json.loads(songs("add", out, "--json").out)["bars"] == 20
    bad = tmp_path / "song.pdf"
    bad.write_bytes(b"%PDF")
    assert songs("add", bad).code == 2
