"""MusicXML against two readers of others: music21, and verovio, which also engraves it."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, fromstring

import music21
import pytest
import verovio

from tests.export.songs import Sounding, every_sign, some_songs, sounding
from trainer.chart import Chart, Chord, Degree, Key, parse, pitch_classes
from trainer.chart.chords import EXTENSIONS, QUALITIES
from trainer.chart.keys import LETTER_PITCH
from trainer.export import Writing, export_chart
from trainer.export.musicxml import write_musicxml

MEI = "{http://www.music-encoding.org/ns/mei}"
NAME = re.compile(r"([A-G])([♭♯𝄫𝄪x]*)")
NUMBER, SHOWN = re.compile(r"N|[1-7][♭♯]?"), {-1: "♭", 0: "", 1: "♯"}
SIGNS = {"♭": -1, "♯": 1, "𝄫": -2, "𝄪": 2, "x": 2}
ALL_KEYS = [Key.parse(f"{name}{mode}") for mode in ("", "m") for name in
            ("C", "G", "D", "A", "E", "B", "F#", "C#", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb",
             "G#", "D#", "A#")]  # fmt: skip


def by_music21(content: bytes) -> Any:
    """A file as music21 reads it, without any warning."""
    return music21.converter.parseData(content, format="musicxml")


def heard_by_music21(part: Any) -> list[Sounding]:
    """The chords of a part with their places, as music21 reads them."""
    found = []
    for measure in part.getElementsByClass("Measure"):
        for chord in measure.getElementsByClass("Harmony"):
            at = float(measure.offset + chord.offset)
            if isinstance(chord, music21.harmony.NoChord):
                found.append(Sounding(at, None, None))
            else:
                found.append(Sounding(at, chord.root().pitchClass, chord.bass().pitchClass))
    return found


@pytest.mark.many
def test_music21_reads_the_same_bars_roots_basses_and_beats() -> None:
    """music21 finds every chord's root and bass at its beat, and every bar with its meter."""
    for chart in some_songs():
        part = by_music21(write_musicxml(chart, letters=True)).parts[0]
        read = list(part.getElementsByClass("Measure"))
        assert len(read) == len(chart.bars())
        lengths = [measure.duration.quarterLength for measure in read]
        assert lengths == [float(bar.meter.quarters) for bar in chart.bars()]
        places = heard_by_music21(part)
        wanted = sounding(chart)
        assert [(each.root, each.bass) for each in places] == [
            (each.root, each.bass) for each in wanted
        ]
        assert [each.at_quarters for each in places] == pytest.approx(
            [each.at_quarters for each in wanted]
        )


def test_music21_reads_what_stands_over_the_bars() -> None:
    """music21 finds title, sections, tempo, meters and keys where the chart has them."""
    chart = every_sign()
    score = by_music21(write_musicxml(chart, letters=True))
    part = score.parts[0]
    assert score.metadata.title == chart.title
    marks = [mark.content for mark in part.recurse().getElementsByClass("RehearsalMark")]
    assert marks == [section.name for section in chart.sections]
    (tempo,) = part.recurse().getElementsByClass("MetronomeMark")
    assert tempo.number == chart.tempo
    keys = [(each.sharps, each.mode) for each in part.recurse().getElementsByClass(music21.key.Key)]
    # D, up two semitones to E, down four to C.
    assert keys == [(2, "major"), (4, "major"), (0, "major")]
    double = [
        measure.number
        for measure in part.getElementsByClass("Measure")
        if measure.rightBarline is not None and measure.rightBarline.type == "double"
    ]
    ends, number = [], 0
    for section in chart.sections:
        for phrase in section.phrases:
            number += len(phrase.bars)
            ends.append(number)
    assert double == ends[:-1]


def test_music21_hears_the_same_tones_in_every_chord() -> None:
    """Each chord's tones are the chart's own, but for the added sevenths of two.

    music21 10.5 counts an added seventh as major. The standard counts it against a dominant chord:
    "relative to a dominant chord (major and perfect intervals except for a minor seventh)", in the
    documentation of degree-alter.
    """
    others = {("", "7sus4"), ("", "9sus4")}
    for quality in QUALITIES:
        for extension in ("", *EXTENSIONS[quality]):
            chord = Chord(2, 0, quality, extension)
            chart = parse(f"key: D\n\n{chord}")
            part = by_music21(write_musicxml(chart, letters=True)).parts[0]
            (read,) = part.recurse().getElementsByClass("Harmony")
            tones = {pitch.pitchClass for pitch in read.pitches}
            same = tones == pitch_classes(chord, chart.key.pitch_class)
            assert same == ((quality, extension) not in others), chord


@pytest.mark.parametrize("key", ALL_KEYS, ids=str)
def test_letters_are_those_of_music21_in_every_key(key: Key) -> None:
    """Every degree of every key has the letter that music21 gives it, read from the file."""
    degrees = [Degree(number, alter) for alter in (0, -1, 1) for number in range(1, 8)]
    scale = music21.scale.MajorScale(str(key).removesuffix(" minor").replace("b", "-"))
    for degree in degrees:
        wanted = scale.pitchFromDegree(degree.number)
        alter = wanted.alter + degree.alteration
        chart = parse(f"key: {key}\n\n{degree}")
        root = fromstring(write_musicxml(chart, letters=True)).find(".//harmony/root")
        assert root is not None
        step, written = root.findtext("root-step"), float(root.findtext("root-alter") or 0)
        if abs(alter) > 2:
            # Three signs are too many: another letter of the same sound.
            assert (LETTER_PITCH[step or "C"] + written) % 12 == (
                wanted.ps + degree.alteration
            ) % 12
        else:
            assert (step, written) == (wanted.step, alter)


# --- verovio -----------------------------------------------------------------------------------


def by_verovio(content: bytes, capfd: pytest.CaptureFixture[str]) -> Element:
    """A file as verovio reads it, once it has engraved every page without a warning."""
    verovio.enableLog(verovio.LOG_WARNING)
    toolkit = verovio.toolkit()
    assert toolkit.loadData(content.decode())
    for page in range(1, toolkit.getPageCount() + 1):
        assert "<svg" in toolkit.renderToSVG(page)
    out, err = capfd.readouterr()
    assert (out, err) == ("", "")
    return fromstring(toolkit.getMEI())


def harmonies(mei: Element) -> Iterator[tuple[int, float, str]]:
    """The number of the bar, the place in it counted from 1 in its beats, and the text."""
    for measure in mei.iter(f"{MEI}measure"):
        for harm in measure.iter(f"{MEI}harm"):
            yield (
                int(measure.get("n", "0")),
                float(harm.get("tstamp", "0")),
                "".join(harm.itertext()),
            )


def pitch_class(name: str) -> int:
    """The pitch class of a letter with signs as verovio writes them."""
    match = NAME.match(name)
    assert match is not None, name
    return (LETTER_PITCH[match[1]] + sum(SIGNS[sign] for sign in match[2])) % 12


def heard_by_verovio(mei: Element, chart: Chart) -> list[Sounding]:
    """The chords of a file of letters with their places, as verovio reads them."""
    places = {place.number: place for place in chart.placed_bars()}
    found = []
    for number, stamp, text in harmonies(mei):
        place = places[number]
        at = float(place.start_quarters) + (stamp - 1) * 4 / place.bar.meter.unit
        if text == "N.C.":
            found.append(Sounding(at, None, None))
            continue
        root, _, bass = text.partition("/")
        found.append(Sounding(at, pitch_class(root), pitch_class(bass or root)))
    return found


@pytest.mark.many
def test_verovio_reads_the_same_bars_roots_basses_and_beats(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """Verovio engraves each song without a warning and finds its chords at their beats."""
    for chart in some_songs():
        mei = by_verovio(write_musicxml(chart, letters=True), capfd)
        assert len(list(mei.iter(f"{MEI}measure"))) == len(chart.bars())
        read, wanted = heard_by_verovio(mei, chart), sounding(chart)
        assert [each[1:] for each in read] == [each[1:] for each in wanted]
        assert [each.at_quarters for each in read] == pytest.approx(
            [each.at_quarters for each in wanted], abs=0.002
        )


@pytest.mark.many
def test_verovio_shows_the_numbers(capfd: pytest.CaptureFixture[str]) -> None:
    """Verovio engraves each song in numerals without a warning, each with its number."""
    for chart in some_songs():
        mei = by_verovio(write_musicxml(chart), capfd)
        shown = [NUMBER.match(text) for _, _, text in harmonies(mei)]
        # Verovio puts the sign of a numeral after it.
        numbers = [
            "N" if event.chord is None else f"{event.chord.degree}{SHOWN[event.chord.alteration]}"
            for bar in chart.bars()
            for event in bar.events
            if not bar.is_open
        ]
        assert [match and match[0] for match in shown] == numbers


def test_verovio_warns_of_what_is_wrong(capfd: pytest.CaptureFixture[str]) -> None:
    """The check for warnings is one: a note value that is none shows up in it."""
    wrong = write_musicxml(parse("1")).replace(b"<type>quarter<", b"<type>square<", 1)
    with pytest.raises(AssertionError, match="square"):
        by_verovio(wrong, capfd)


def test_a_compressed_file_opens_in_music21(tmp_path: Path) -> None:
    """music21 unpacks the compressed file and finds the same chords."""
    path = tmp_path / "ferry.mxl"
    export_chart(every_sign(), path, Writing(letters=True))
    with warnings.catch_warnings():
        # music21 leaves the archive to the garbage collector.
        warnings.simplefilter("ignore", ResourceWarning)
        score: Any = music21.converter.parse(path, forceSource=True)
    assert len(heard_by_music21(score.parts[0])) == len(sounding(every_sign()))
    assert path.read_bytes().startswith(b"PK")
