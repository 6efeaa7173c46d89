"""`chart`, `grade`, `generate` and `export` from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from music21.midi import MidiFile
from pypdf import PdfReader

from tests.cli.conftest import REFERENCE, Run
from trainer.chart import chart_from_json, parse
from trainer.exercise import find_course


def test_chart_prints_what_it_reads_back(run: Run, reference: Path) -> None:
    """The canonical text of a chart is its own canonical text."""
    first = run("chart", reference)
    assert first.code == 0
    assert parse(first.out) == parse(REFERENCE)
    assert run("chart", "-", typed=first.out).out == first.out


def test_letters_in_a_key(run: Run, reference: Path) -> None:
    """5/7 and 6- in E flat are B flat over D and C minor (common practice, no source)."""
    assert "(Eb Bb/D) Cm" in run("chart", reference, "--in", "Eb").out


def test_chart_json_is_the_chart(run: Run, reference: Path) -> None:
    """The JSON of a chart gives the chart back and has the documented shape."""
    made = json.loads(run("chart", reference, "--json").out)
    assert chart_from_json(made) == parse(REFERENCE)
    event = made["sections"][0]["phrases"][3]["bars"][0]["events"][1]
    assert event == {
        "chord": "5/7", "degree": "5", "quality": "", "extension": "", "bass": "7", "beats": "2",
        "articulation": None,
    }  # fmt: skip


def test_questions_are_problems_but_in_json(run: Run) -> None:
    """What can be read in two ways stops the command; the JSON has it with every answer."""
    ran = run("chart", "-", typed="1 57 ?\n")
    assert ran.code == 2
    assert "line 1, column 3: found 57, which could be read two ways, expected 5^7 or 5 7" in (
        ran.err
    )
    made = json.loads(run("chart", "-", "--json", typed="1 57 ?\n").out)
    assert made["gaps"] == [3]
    assert made["questions"] == [
        {
            "line": 1, "column": 3, "end_column": 5, "bar": 2, "asked": "5^7, or 5 and then 7?",
            "choices": [{"label": "5^7", "text": "5^7"}, {"label": "5 then 7", "text": "5 7"}],
        }
    ]  # fmt: skip
    assert run("chart", "-", "--json", typed="1 8\n").code == 2


def test_letter_names_are_counted_if_asked_for(run: Run) -> None:
    """With --letters, and in a text that says so, letter names become numbers of its key."""
    typed = "key: G\nG D/F# Em C\n"
    assert run("chart", "-", typed=typed).code == 2
    counted = run("chart", "-", "--letters", typed=typed)
    assert counted.out.endswith("\n1 5/7 6- 4\n")
    assert run("chart", "-", typed=f"chords: letters\n{typed}").out == counted.out


def test_a_wrong_chart_exits_with_every_problem(run: Run) -> None:
    """Every problem of a text is named at once, with line and column, and the exit code is 2."""
    ran = run("chart", "-", typed="1 8 4\n(1 5') 2\n")
    assert ran.code == 2
    assert ran.out == ""
    assert "standard input: line 1, column 3" in ran.err
    assert "standard input: line 2, column 1" in ran.err


def test_nonsense_is_told_in_twenty_lines(run: Run) -> None:
    """Of very many problems the first twenty are told, and how many more there are."""
    told = run("chart", "-", typed="x y z\n" * 30).err.splitlines()
    assert len(told) == 21
    assert told[-1].startswith("and ")


@pytest.mark.parametrize(
    ("name", "content"), [("none.txt", None), ("binary.txt", b"\xff\xfe\x001")]
)
def test_an_unreadable_file_is_named(
    run: Run, tmp_path: Path, name: str, content: bytes | None
) -> None:
    """A file that is not there or not text exits with 2 and names itself."""
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    ran = run("chart", path)
    assert (ran.code, ran.out) == (2, "")
    assert str(path) in ran.err


def test_a_chart_against_itself_is_whole(run: Run, reference: Path) -> None:
    """Any chart against itself is 1.0."""
    report = json.loads(run("grade", reference, reference, "--json").out)
    assert report["score"] == 1.0
    assert all(bar["score"] == 1.0 for bar in report["bars"])
    assert {"score", "bars", "phrases", "form", "home_shift", "advice"} <= set(report)
    assert {"reference", "answer", "score", "root", "quality", "bass", "placement",
            "articulation"} <= set(report["bars"][0])  # fmt: skip


def test_a_bar_left_out_costs_itself_alone(run: Run, reference: Path) -> None:
    """With one bar left out, every other bar still scores 1.0, and the bar is named in words."""
    shorter = REFERENCE.replace("1 1 5 5 5", "1 1 5 5")
    report = json.loads(run("grade", reference, "-", "--json", typed=shorter).out)
    scores = [bar["score"] for bar in report["bars"]]
    assert sorted(scores)[:2] == [0.0, 1.0]
    words = run("grade", reference, "-", typed=shorter).out
    assert "missed" in words
    assert "five bars" in words


def test_an_answer_without_a_header_takes_the_songs(run: Run, tmp_path: Path) -> None:
    """A bare answer to a waltz is read in three."""
    waltz = tmp_path / "waltz.txt"
    waltz.write_text("meter: 3/4\n1 4 (5' 1'') 1\n", encoding="utf-8")
    assert json.loads(run("grade", waltz, "-", "--json", typed="1 4 (5' 1'') 1").out)["score"] == 1


def test_generate_gives_the_same_bytes_twice(run: Run) -> None:
    """The same level and seed give the same JSON line, with the documented keys."""
    ran = run("generate", "--level", 3, "--seed", 7, "--json")
    assert ran.code == 0
    assert run("generate", "--level", 3, "--seed", 7, "--json").out == ran.out
    assert list(json.loads(ran.out)) == [
        "id", "level", "level_id", "recipe", "seed", "generator_version", "skills", "chart",
    ]  # fmt: skip


def test_generate_takes_a_named_recipe(run: Run, tmp_path: Path) -> None:
    """`--recipe everyday` is the recipe of that name, the same as its file."""
    ran = run("generate", "--recipe", "everyday", "--seed", 7, "--json")
    assert ran.code == 0
    path = find_course() / "recipes" / "everyday.toml"
    assert run("generate", "--recipe", path, "--seed", 7, "--json").out == ran.out


def test_generate_counts_on_from_the_seed(run: Run) -> None:
    """`--count` makes one exercise a line from seeds that follow each other."""
    lines = run("generate", "--level", 2, "--seed", 5, "--count", 3, "--json").out.splitlines()
    assert [json.loads(line)["seed"] for line in lines] == [5, 6, 7]
    assert run("generate", "--level", 2, "--seed", 7, "--json").out.splitlines() == lines[2:]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ((), "--level or --recipe"),
        (("--level", 99), "a level from 1 to"),
        (("--level", 1, "--recipe", "x.toml"), "--level and --recipe"),
        (("--recipe", "nowhere.toml"), "nowhere.toml"),
        (("--recipe", "everday"), "one of the recipes everyday"),
        (("--level", 1, "--seed", "0" * 5000), "--seed: found "),
        (("--level", 1, "--seed", -3), "a whole number from 0 to 1,000,000,000,000"),
        (("--level", 1, "--seed", 10**12 + 1), "a whole number from 0 to 1,000,000,000,000"),
    ],
)
def test_generate_says_what_it_expected(run: Run, options: tuple[object, ...], words: str) -> None:
    """A wrong choice of exercise exits with 2 and says what was expected."""
    ran = run("generate", *options)
    assert ran.code == 2
    assert words in ran.err


def test_a_wrong_recipe_names_file_key_and_allowed_values(run: Run, tmp_path: Path) -> None:
    """Every wrong setting of a recipe is named with its file, key and allowed values."""
    recipe = tmp_path / "mine.toml"
    recipe.write_text('size = "epic"\nlistens = -1\n', encoding="utf-8")
    ran = run("generate", "--recipe", recipe)
    assert ran.code == 2
    assert "mine.toml: size" in ran.err
    assert '"phrase", "section"' in ran.err
    assert "mine.toml: listens" in ran.err


def test_export_writes_text_and_midi(run: Run, reference: Path, tmp_path: Path) -> None:
    """A chart goes out as its canonical text and as a MIDI file that another reader opens."""
    assert run("export", reference, "-o", tmp_path / "out.txt").code == 0
    assert parse((tmp_path / "out.txt").read_text(encoding="utf-8")) == parse(REFERENCE)
    assert run("export", reference, "-o", tmp_path / "out.mid").code == 0
    reader = MidiFile()
    reader.open(tmp_path / "out.mid")
    reader.read()
    reader.close()
    events = [event for track in reader.tracks for event in track.events]
    assert sum(event.isNoteOn() for event in events) > 50


@pytest.mark.parametrize("suffix", [".musicxml", ".mxl", ".cho"])
def test_export_and_chart_give_back_what_was_written(
    run: Run, reference: Path, tmp_path: Path, suffix: str
) -> None:
    """A chart that is exported is read by `chart` as the same chart, with nothing lost."""
    for names in ("--letters", "--numbers"):
        out = tmp_path / f"out{suffix}"
        assert run("export", reference, "-o", out, names).code == 0
        read = run("chart", out)
        assert (read.code, read.err) == (0, "")
        assert parse(read.out) == parse(REFERENCE)


def test_export_writes_another_key(run: Run, reference: Path, tmp_path: Path) -> None:
    """With --key the letters are those of that key."""
    assert run("export", reference, "-o", tmp_path / "out.cho", "--key", "Bb").code == 0
    text = (tmp_path / "out.cho").read_text(encoding="utf-8")
    assert "{key: Bb}" in text
    assert "[F/A]" in text


def test_export_refuses_names_that_a_format_lacks(
    run: Run, reference: Path, tmp_path: Path
) -> None:
    """MIDI has no names of chords, and label files have no numbers."""
    assert run("export", reference, "-o", tmp_path / "out.mid", "--letters").code == 2
    assert run("export", reference, "-o", tmp_path / "out.lab", "--numbers").code == 2
    assert [path.name for path in tmp_path.iterdir()] == [reference.name]


def test_chart_reads_label_files_and_tells_what_it_guessed(
    run: Run, reference: Path, tmp_path: Path
) -> None:
    """What a label file doesn't say is guessed and told, or taken from the options."""
    out = tmp_path / "out.lab"
    assert run("export", reference, "-o", out).code == 0
    read = run("chart", out)
    assert read.code == 0
    assert f"{out}: key: found none in the file; D is taken" in read.err
    said = run("chart", out, "--key", "A", "--meter", "4/4", "--tempo", 100)
    assert said.out.splitlines()[3] == "key: A"
    assert "key: found" not in said.err
    wrong = run("chart", out, "--meter", "fast")
    assert wrong.code == 2
    assert "found 'fast', expected a meter" in wrong.err


def test_xml_with_the_ending_of_text_is_named(run: Run, tmp_path: Path) -> None:
    """A MusicXML file that is called .txt is refused once, with the endings that it may have."""
    path = tmp_path / "song.txt"
    path.write_text('<?xml version="1.0"?>\n<score-partwise/>\n', encoding="utf-8")
    ran = run("chart", path)
    assert ran.code == 2
    assert "found XML, expected a chart as text" in ran.err
    assert len(ran.err.splitlines()) == 1


def test_chart_json_has_the_report_of_a_file(run: Run, reference: Path, tmp_path: Path) -> None:
    """The problems of a file of others are in the JSON, each with place, found and instead."""
    out = tmp_path / "out.musicxml"
    assert run("export", reference, "-o", out).code == 0
    text = out.read_text(encoding="utf-8")
    out.write_text(text.replace(">major</kind>", ">Tristan</kind>", 1), encoding="utf-8")
    read = json.loads(run("chart", out, "--json").out)
    assert read["problems"] == [
        {
            "place": "measure 1",
            "found": "the kind Tristan",
            "instead": "the bar is left open",
        }
    ]
    assert read["gaps"] == [1]
    assert json.loads(run("chart", reference, "--json").out)["problems"] == []


def test_files_of_others_are_played_and_graded(run: Run, reference: Path, tmp_path: Path) -> None:
    """A chart in another format can stand wherever a chart is asked for."""
    out = tmp_path / "out.mxl"
    assert run("export", reference, "-o", out).code == 0
    assert run("render", out, "-o", tmp_path / "out.mid").code == 0
    graded = json.loads(run("grade", out, out, "--json").out)
    assert graded["score"] == 1


@pytest.mark.parametrize("name", ["out.doc", "out", "nowhere/out.mid"])
def test_export_refuses_what_it_cannot_write(
    run: Run, reference: Path, tmp_path: Path, name: str
) -> None:
    """Another ending, or a folder that is not there, exits with 2 and names the file."""
    ran = run("export", reference, "-o", tmp_path / name)
    assert ran.code == 2
    assert str(tmp_path / name) in ran.err
    assert [path.name for path in tmp_path.iterdir()] == [reference.name]


def test_export_prints_sheets(run: Run, reference: Path, tmp_path: Path) -> None:
    """The options of a sheet reach it, and several charts become a set, each in its own key."""
    out = tmp_path / "out.pdf"
    options = ("--both", "--paper", "letter", "--columns", "2", "--large", "--key", "Bb")
    assert run("export", reference, "-o", out, *options).code == 0
    page = PdfReader(out).pages[0]
    assert round(page.mediabox.height) == 792
    assert "Key B♭" in page.extract_text()
    keys = ("--key", "E", "--key", "Ab", "--title", "Monday")
    assert run("export", reference, reference, "-o", out, *keys).code == 0
    listed, first, second = (page.extract_text() for page in PdfReader(out).pages)
    assert listed.startswith("Monday")
    assert "Key E" in first
    assert "Key A♭" in second


def test_a_song_on_a_minor_1_stays_so_in_another_key(run: Run, tmp_path: Path) -> None:
    """With --key G a song in E minor is in G minor, not in G."""
    path, out = tmp_path / "song.txt", tmp_path / "out.txt"
    path.write_text("key: E minor\n\n1- 4- 5 1-\n", encoding="utf-8")
    assert run("export", path, "-o", out, "--key", "G").code == 0
    assert "key: G minor" in out.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("-o", "out.mid", "--columns", "2"), "--columns: found it for out.mid, expected a sheet"),
        (("-o", "out.pdf", "--both", "--letters"), "--both: found it with --letters"),
        (("-o", "out.pdf", "--both", "--blank"), "--blank: found it with --both"),
        (("-o", "out.mid", "--blank"), "--blank: found it for out.mid"),
        (("-o", "out.pdf", "--paper", "a5"), "expected a4 or letter"),
        (("-o", "out.pdf", "--title", "Set"), "expected it for several charts"),
        (("-o", "out.pdf", "--key", "D", "--key", "E"), "found 2 keys"),
        (("-o", "out.png", "REFERENCE"), "expected .pdf for several charts"),
        (("-o", "nowhere/out.pdf"), "cannot be written"),
    ],
)
def test_export_refuses_what_no_sheet_has(
    run: Run,
    reference: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    options: tuple[str, ...],
    said: str,
) -> None:
    """Options that contradict each other or the file exit with 2 and leave nothing."""
    monkeypatch.chdir(tmp_path)
    words = [str(reference) if word == "REFERENCE" else word for word in options]
    ran = run("export", reference, *words)
    assert ran.code == 2
    assert said in ran.err
    assert [path.name for path in tmp_path.iterdir()] == [reference.name]
