"""The songbook in the terminal."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import soundfile

from tests.cli.conftest import REFERENCE, Run
from trainer.chart import parse

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
    assert compared == "  1. bar 19: 5 | bar 19: 5/7\n1 bar differs, 19 agree\n"


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
    assert songs("export", out).out == f"wrote {out}: 1 song\n"
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
    sheets = [tmp_path / "set.pdf", tmp_path / "both.pdf"]
    assert songs("set", "Friday", "--to", sheets[0]).code == 0
    options = ("--both", "--paper", "letter", "--columns", "2", "--large")
    assert songs("set", "Friday", "--to", sheets[1], *options).code == 0
    plain, both = (sheet.read_bytes() for sheet in sheets)
    assert plain.startswith(b"%PDF")
    assert plain != both
    assert songs("set", "Friday", "--both").code == 2
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


@pytest.mark.usefixtures("silent_files")
def test_a_song_is_heard_from_any_bar(songs: Run, tmp_path: Path) -> None:
    """The band plays a song into a file: slower it is longer, from a later bar shorter."""
    songs("add", "-", typed=TITLED)
    lengths = []
    for number, how in enumerate(((), ("--tempo", "60"), ("--from", "15"), ("--key", "Eb"))):
        out = tmp_path / f"{number}.wav"
        assert "Wrote" in songs("play", "lock gate", "--to", out, *how).out
        lengths.append(soundfile.info(out).duration)
    assert lengths[2] < lengths[0] == lengths[3] < lengths[1]
    for wrong in (("--from", "99"), ("--band", "brass"), ("--key", "H")):
        assert songs("play", "lock gate", "--to", tmp_path / "no.wav", *wrong).code == 2
    assert songs("play", "second street strut", "--to", tmp_path / "no.wav").code == 2


@pytest.mark.usefixtures("silent_files")
def test_a_song_is_drilled(songs: Run, tmp_path: Path) -> None:
    """A song of one's own is heard, written and graded, as practice; its key may stay untold."""
    songs("add", "-", typed=TITLED)
    sound = tmp_path / "song.wav"
    typed = TITLED.partition("\n\n")[2] + "\ndone\n\n"
    ran = songs("drill", "lock gate", "--hide-key", "--to", sound, typed=typed)
    assert (ran.code, "Score 100%" in ran.out) == (0, True)
    assert songs("drill", "lock gate", "--listens", "99", "--to", sound).code == 2


def test_one_song_is_written_into_a_file(songs: Run, run: Run, tmp_path: Path) -> None:
    """A song goes out in any format, in any version and key; options of a song need one."""
    songs("add", "-", typed=TITLED)
    songs("save", "lock gate", "-", typed=TITLED.replace("4 5 1d", "4 5/7 1d"))
    sheet, text = tmp_path / "sheet.pdf", tmp_path / "song.txt"
    assert songs("export", sheet, "lock gate", "--both", "--large").out == f"wrote {sheet}\n"
    songs("export", text, "lock gate", "--version", "1", "--key", "Eb")
    assert "key: Eb" in text.read_text()
    assert "4 5 1d" in text.read_text()
    assert songs("export", text, "lock gate", "--both").code == 2
    assert songs("export", tmp_path / "all.zip", "--letters").code == 2


def test_a_copy_is_another_song(songs: Run) -> None:
    """A copy has the text and the tags, and its own versions."""
    first = json.loads(songs("add", "-", "--tag", "slow", "--json", typed=TITLED).out)["id"]
    songs("copy", "lock gate")
    both = listed(songs, "--tag", "slow")
    assert len({song["id"] for song in both} | {first}) == 2
    assert [song["version"] for song in both] == [1, 1]


def test_two_charts_are_merged(songs: Run) -> None:
    """What is taken from the second chart stands in the first one's next version; what does not
    differ cannot be taken."""
    songs("add", "-", typed=TITLED)
    other = TITLED.replace("4 5 1d", "4 5/7 1d").replace("key: D", "key: E")
    songs("save", "lock gate", "-", typed=other)
    versions = ("--left", "1", "--right", "2")
    for wrong in ("2", "tempo"):
        assert songs("merge", "lock gate", *versions, "--take", wrong).code == 2
    done = songs("merge", "lock gate", *versions, "--take", "1")
    assert done.out == "saved as version 3\n"
    merged = parse(songs("show", "lock gate").out)
    assert merged == parse(TITLED.replace("4 5 1d", "4 5/7 1d"))
    songs("merge", "lock gate", *versions, "--take", "key")
    assert parse(songs("show", "lock gate").out) == parse(TITLED.replace("key: D", "key: E"))


def test_a_label_file_is_told_its_key(songs: Run, run: Run, tmp_path: Path) -> None:
    """A label file says no key and no meter; whoever adds it may."""
    chart, labels = tmp_path / "chart.txt", tmp_path / "song.lab"
    chart.write_text("key: G\nmeter: 3/4\n\n1 4 1 4 1 4 1 4")
    run("export", chart, "-o", labels)
    guessed = json.loads(songs("add", labels, "--json").out)
    told = json.loads(songs("add", labels, "--key", "G", "--meter", "3/4", "--json").out)
    assert (told["key"], told["meter"], told["bars"]) == ("G", "3/4", 8)
    assert guessed["meter"] == "4/4"
