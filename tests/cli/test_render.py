"""`render`: what is written is what is told."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import soundfile

from tests.cli.conftest import Run

pytestmark = pytest.mark.audio
SHAPE = ["duration_s", "sample_rate", "bar_times_s", "loudness_lufs", "peak_dbtp"]


@pytest.mark.parametrize("ending", ["wav", "flac"])
def test_the_file_is_as_long_as_told(
    run: Run, reference: Path, tmp_path: Path, ending: str
) -> None:
    """The JSON names the file's own length and rate, and a time span for every bar."""
    out = tmp_path / f"out.{ending}"
    made = json.loads(run("render", reference, "-o", out, "--tempo", 240, "--json").out)
    info = soundfile.info(out)
    assert list(made) == SHAPE
    assert made["sample_rate"] == info.samplerate
    assert made["duration_s"] == pytest.approx(info.frames / info.samplerate)
    assert len(made["bar_times_s"]) == 20
    assert made["peak_dbtp"] <= -1.0


def test_parts_have_bar_times_and_no_loudness(run: Run, reference: Path, tmp_path: Path) -> None:
    """Rendering parts to MIDI gives bar times, and null for what only sound has."""
    made = json.loads(run("render", reference, "-o", tmp_path / "out.mid", "--json").out)
    assert list(made) == SHAPE
    assert made["loudness_lufs"] is None
    assert len(made["bar_times_s"]) == 20


def test_another_tempo_stretches_every_bar(run: Run, reference: Path, tmp_path: Path) -> None:
    """At half the tempo each bar lasts twice as long."""
    spans = []
    for tempo in (100, 50):
        out = tmp_path / f"{tempo}.mid"
        made = json.loads(run("render", reference, "-o", out, "--tempo", tempo, "--json").out)
        spans.append([end - start for start, end in made["bar_times_s"]])
    assert spans[1] == pytest.approx([2 * span for span in spans[0]])


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("-o", "out.mp3"), ".flac"),
        (("-o", "out.wav", "--band", "orchestra"), "work tape"),
        (("-o", "out.wav", "--soundfont", "none.sf2"), "none.sf2"),
        (("-o", "out.mid", "--tempo", "0"), "tempo"),
    ],
)
def test_what_cannot_be_rendered_is_refused(
    run: Run, reference: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    options: tuple[str, ...], words: str,
) -> None:  # fmt: skip
    """A wrong ending, band, soundfont or tempo is named, and no file is left behind."""
    monkeypatch.chdir(tmp_path)
    ran = run("render", reference, *options)
    assert ran.code in (1, 2)
    assert words in ran.err
    assert [path.name for path in tmp_path.iterdir()] == [reference.name]


@pytest.mark.usefixtures("silent_files")
def test_a_rendered_sound_comes_with_a_word_on_hearing(
    run: Run, reference: Path, tmp_path: Path
) -> None:
    """A person who renders a sound is told how to listen safely, apart from what is printed."""
    ran = run("render", reference, "-o", tmp_path / "out.wav", "--json")
    assert "set the volume low" in ran.err
    assert "hearing professional" in ran.err
    json.loads(ran.out)
    assert run("render", reference, "-o", tmp_path / "out.mid").err == ""


def test_a_sound_too_long_is_refused(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A chart that plays for an hour is refused before it is arranged, with its length and what to
    do; its parts may be as long as they like."""

    def not_yet(*_: object, **__: object) -> None:
        raise AssertionError("arranged before its length was known")

    chart = tmp_path / "long.txt"
    chart.write_text("key: C\ntempo: 20\nmeter: 16/2\n\nVerse:\n" + "1 4 5 1\n" * 20)
    with monkeypatch.context() as patched:
        patched.setattr("trainer.band.arrange", not_yet)
        ran = run("render", chart, "-o", tmp_path / "long.wav")
    assert ran.code == 2
    assert "plays for 1 h 5 min" in ran.err
    assert "expected at most 20 min of sound: play a part of it, or check its tempo" in ran.err
    assert list(tmp_path.iterdir()) == [chart]
    assert run("render", chart, "-o", tmp_path / "long.mid").code == 0
