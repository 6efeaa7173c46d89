"""MIDI files as other readers open them: tempo, signatures, markers, notes."""

from __future__ import annotations

import io
import random

import mido
import pretty_midi
import pytest

from tests.export.songs import every_sign, generated, song_count
from trainer.band import arrange
from trainer.chart import Chart, parse
from trainer.export.midi import markers, texts, write_midi


def opened(chart: Chart) -> pretty_midi.PrettyMIDI:
    """A chart's file as pretty_midi reads it."""
    return pretty_midi.PrettyMIDI(io.BytesIO(write_midi(chart)))


def messages(chart: Chart, kind: str) -> list[tuple[int, mido.MetaMessage]]:
    """The messages of a kind in the first track with their ticks, as mido reads them."""
    file = mido.MidiFile(file=io.BytesIO(write_midi(chart)), charset="utf-8")
    found, now = [], 0
    for message in file.tracks[0]:
        now += message.time
        if message.type == kind:
            found.append((now, message))
    return found


@pytest.mark.many
def test_the_parts_meters_keys_and_tempo_are_the_bands() -> None:
    """pretty_midi finds the band's own notes, meters, keys and length in each file."""
    # Reading a file takes pretty_midi a second.
    for chart in (every_sign(), *(generated(seed) for seed in range(min(song_count(), 40)))):
        arrangement = arrange(chart, rng=random.Random(0))
        read = opened(chart)
        seconds = arrangement.tempo_map.seconds
        assert [len(each.notes) for each in read.instruments] == [
            len(part.notes) for part in arrangement.parts
        ]
        meters = [(each.numerator, each.denominator) for each in read.time_signature_changes]
        assert meters == [(each.beats, each.unit) for each in arrangement.meters]
        keys = [
            (each.key_number % 12, each.key_number >= 12) for each in read.key_signature_changes
        ]
        assert keys == [(each.tonic, each.minor) for each in arrangement.keys]
        assert [each.time for each in read.key_signature_changes] == pytest.approx(
            [seconds(each.at_quarters) for each in arrangement.keys], abs=1e-3
        )
        _, tempi = read.get_tempo_changes()
        assert tempi == pytest.approx([60 / arrangement.tempo_map.seconds_per_quarter], rel=1e-5)


def test_markers_stand_at_sections_and_phrases() -> None:
    """Every section and phrase has a marker at its bar line, after one for the count-off."""
    chart = parse("meter: 4/4\n\nVerse 1:\n1 4 . 5 1\n\nÉlan:\n1 1")
    assert markers(chart) == [
        (0.0, "Count-off"),
        (4.0, "Verse 1"),
        (12.0, "Verse 1, phrase 2"),
        (20.0, "Élan"),
    ]
    read = [(ticks / 960, message.text) for ticks, message in messages(chart, "marker")]
    assert read == markers(chart)


def test_title_and_keys_are_named_as_in_the_chart() -> None:
    """The title is the name of the first track, and a key keeps the chart's spelling."""
    chart = parse("title: Sluice\nkey: Gb\n\n1 [up 2] 1")
    assert [message.name for _, message in messages(chart, "track_name")] == ["Sluice"]
    assert [message.key for _, message in messages(chart, "key_signature")] == ["Gb", "Ab"]
    rare = parse("key: G# minor\n\n1-")
    assert [message.key for _, message in messages(rare, "key_signature")] == ["G#m"]
    impossible = parse("key: G#\n\n1")
    assert [message.key for _, message in messages(impossible, "key_signature")] == ["Ab"]


@pytest.mark.parametrize(("said", "bars"), [("none", 0), ("2 bars", 2)])
def test_markers_stand_where_the_band_begins(said: str, bars: int) -> None:
    """After a count-off of two bars, or of none, markers stand at the band's bar lines."""
    chart = parse(f"count-off: {said}\nmeter: 3/4\n\nVerse 1:\n1 4 5 1\n\nTag:\n4 1")
    arrangement = arrange(chart, rng=random.Random(0))
    placed = {text: at for at, text in markers(chart)}
    starts = [bar.start_quarters for bar in arrangement.bars]
    assert starts[0] == 3 * bars
    assert [placed["Verse 1"], placed["Tag"]] == [starts[0], starts[4]]
    assert ("Count-off" in placed) == (bars > 0)


def test_what_is_said_stands_at_its_bar() -> None:
    """Notes and comments are text events (Standard MIDI Files 1.0) at the bars they are about."""
    chart = parse(
        "title: Sluice\n\n@ ask for the key\nVerse 1: [down] @ she sings low\n"
        "1 [drums out] 4 . 5 1\n5 1 @ twice"
    )
    read = [(ticks / 960, message.text) for ticks, message in messages(chart, "text")]
    assert read == texts(chart)
    assert {words: at for at, words in read} == {
        "ask for the key": 0.0,
        "down": 4.0,
        "she sings low": 4.0,
        "drums out": 8.0,
        "twice": 20.0,
    }
