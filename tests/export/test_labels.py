"""Label files: against mir_eval and the band's times, and read as charts."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import mir_eval
import numpy as np
import pytest

from tests.export.songs import some_songs
from trainer.band import arrange
from trainer.chart import (
    Articulation,
    Chart,
    Chord,
    Feel,
    Key,
    bass_pitch_class,
    chord_intervals,
    format_chart,
    parse,
    root_pitch_class,
)
from trainer.chart.chords import EXTENSIONS, QUALITIES
from trainer.export import Unsaid
from trainer.export.harte import harte_label, read_harte
from trainer.export.labels import write_labels
from trainer.export.labels_read import read_labels

NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
DEGREES = {0: "1", 1: "b2", 2: "2", 3: "b3", 4: "3", 5: "4", 6: "b5", 7: "5", 8: "b6", 9: "6",
           10: "b7", 11: "7", 13: "b9", 14: "9", 15: "#9", 17: "11", 21: "13"}  # fmt: skip


def spelt_out(chord: Chord | None, tonic: int) -> str:
    """A label from the chord's tones alone: the root's usual name and every interval."""
    if chord is None:
        return "N"
    root = root_pitch_class(chord, tonic)
    bass = DEGREES[(bass_pitch_class(chord, tonic) - root) % 12]
    tones = ",".join(DEGREES[tone] for tone in chord_intervals(chord)[1:])
    return f"{NAMES[root]}:({tones})/{bass}"


def by_the_band(chart: Chart) -> tuple[list[tuple[float, float]], list[str]]:
    """Every chord from its bar's time as the band plays it, and its label from its tones."""
    arrangement = arrange(chart, rng=random.Random(0))
    starts, labels = [0.0], ["N"]
    for place, (start, end) in zip(chart.placed_bars(), arrangement.bar_times_s, strict=True):
        tonic = (chart.key.pitch_class + place.key_shift) % 12
        for at, event in zip(place.bar.starts(), place.bar.events, strict=True):
            begins = start + (end - start) * float(at / place.bar.meter.beats)
            if event.articulation is Articulation.PUSH:
                begins -= 0.5 * arrangement.tempo_map.seconds_per_quarter
            starts.append(begins)
            labels.append(spelt_out(event.chord, tonic))
    ends = [*starts[1:], arrangement.bar_times_s[-1][1]]
    return list(zip(starts, ends, strict=True)), labels


@pytest.mark.many
def test_mir_eval_gives_every_song_full_marks_against_the_bands_times(tmp_path: Path) -> None:
    """Against chords spelt out at the band's times, every comparison of mir_eval scores 1.

    A shuffled push is a third of a beat early, which is not the eighth of the comparison, so the
    songs are played straight.
    """
    for chart in some_songs():
        if chart.feel is Feel.SHUFFLE:
            chart = replace(chart, feel=Feel.STRAIGHT)
        path = tmp_path / "song.lab"
        path.write_text(write_labels(chart), encoding="utf-8")
        intervals, labels = mir_eval.io.load_labeled_intervals(str(path))
        wanted, spelt = by_the_band(chart)
        scores = mir_eval.chord.evaluate(np.array(wanted), spelt, intervals, labels)
        assert {name: score for name, score in scores.items() if score < 0.9999} == {}


@pytest.mark.parametrize("said", ["none", "2 bars"])
def test_times_are_the_bands_after_any_count_off(said: str) -> None:
    """After a count-off of two bars, or of none, every chord still has the band's time."""
    chart = parse(f"count-off: {said}\ntempo: 90\n\nVerse:\n1 (4 5) 6- 1")
    lines = [line.split("\t") for line in write_labels(chart).splitlines()]
    starts = [float(start) for start, _, label in lines if label != "N"]
    wanted, spelt = by_the_band(chart)
    heard = [start for (start, _), label in zip(wanted, spelt, strict=True) if label != "N"]
    assert starts == pytest.approx(heard, abs=1e-5)


@pytest.mark.parametrize("quality", QUALITIES)
def test_every_chord_has_a_label_that_is_read_back(quality: str) -> None:
    """Each chord's label is read back as the chord, and mir_eval accepts it."""
    for extension in ("", *EXTENSIONS[quality]):
        label = harte_label(Chord(2, 0, quality, extension), Key("C"))
        mir_eval.chord.validate_chord_label(label)
        read, lost = read_harte(label)
        wanted = ("ø", "") if quality == "ø" else (quality, extension)
        assert (read.root, read.quality, read.extension, lost) == ("D", *wanted, "")


@pytest.mark.parametrize(
    ("chord", "key", "label"),
    [
        ("5/7", "C", "G:maj/3"),
        ("4/b7", "D", "G:maj/4"),
        ("1/b3", "F", "F:maj/b3"),
        ("b7-^7", "F#", "E:min7"),
        ("5^7/4", "Bb", "F:7/b7"),
    ],
)
def test_basses_are_degrees_above_the_root(chord: str, key: str, label: str) -> None:
    """A bass is counted from the chord's root, as Harte et al. 2005 have it."""
    event = parse(f"key: {key}\n\n{chord}").bars()[0].events[0]
    assert harte_label(event.chord, Key.parse(key)) == label


def test_repeated_chords_keep_their_lines() -> None:
    """Each bar has a line of its own after room and count-off, tabs between three fields."""
    lines = write_labels(parse("tempo: 120\nkey: D\n\n1 1 (4 5)")).splitlines()
    assert lines == [
        "0.000000\t2.500000\tN",
        "2.500000\t4.500000\tD:maj",
        "4.500000\t6.500000\tD:maj",
        "6.500000\t7.500000\tG:maj",
        "7.500000\t8.500000\tA:maj",
    ]


@pytest.mark.many
def test_bars_come_back_from_their_times() -> None:
    """With key, meter and tempo said, the bars of a song in one meter in x/4 are read again."""
    for chart in some_songs():
        if {bar.meter for bar in chart.bars()} != {chart.meter} or chart.meter.unit != 4:
            continue
        unsaid = Unsaid(chart.key, chart.meter, chart.tempo)
        read = read_labels(write_labels(chart), "x", unsaid).chart
        assert [[event[:2] for event in plain(bar)] for bar in read.bars()] == [
            [event[:2] for event in plain(bar)] for bar in chart.bars()
        ]


def plain(bar: object) -> list[tuple[str, str]]:
    """Chords and beats of a bar."""
    return [(str(event.chord), str(event.beats)) for event in bar.events]  # type: ignore[attr-defined]


def test_what_a_label_file_does_not_say_is_guessed_and_told() -> None:
    """Key, meter and tempo are guessed from the chords and told, unless they are given."""
    chart = parse("tempo: 96\nkey: E\n\n1 5/7 6- 4 1 5p 1 1")
    read = read_labels(write_labels(chart), "x", Unsaid())
    assert format_chart(read.chart).splitlines()[-1] == "1 5/7 6- 4 . 1 5p 1 1"
    assert str(read.chart.key) == "E"
    assert read.chart.tempo == pytest.approx(96)
    assert [problem.place for problem in read.problems] == [
        "line 1",
        "key",
        "tempo",
        "meter",
        "phrases",
    ]
    said = read_labels(write_labels(chart), "x", Unsaid(Key("B"), chart.meter, 96.0))
    assert format_chart(said.chart).splitlines()[-1] == "4 1/3 2- b7 . 4 1p 4 4"
    assert [problem.place for problem in said.problems] == ["line 1", "phrases"]


def test_drifting_times_are_followed() -> None:
    """Players who slow down by a tenth over the song still play whole bars."""
    lines, at = [], 0.0
    for number in range(60):
        length = 2.0 * (1 + number / 600)
        lines.append(f"{at:.3f} {at + length:.3f} {'CFGC'[number % 4]}:maj")
        at += length
    read = read_labels("\n".join(lines), "x", Unsaid(Key("C"))).chart
    assert [str(bar.events[0].chord) for bar in read.bars()] == ["1", "4", "5", "1"] * 15


def test_labels_of_others_are_read() -> None:
    """Bare roots, later shorthands and unknown chords are read as far as a chart goes."""
    text = "0 2 C\n2 4 F:sus2/2\n4 6 X\n6 8 G:13\n8 10 A:min13\n10 12 C:maj\n"
    read = read_labels(text, "x", Unsaid(Key("C"), None, 120.0))
    assert format_chart(read.chart).splitlines()[-1] == "1 4^sus2/5 ? 5^13 . 6-^7 1"
    found = {problem.place: problem.found for problem in read.problems}
    assert found["line 3"] == "X, an unknown chord"
    assert found["line 5"] == "the label A:min13"
