"""MusicXML as it is written: against the official schema, and what stands where."""

from __future__ import annotations

import io
import zipfile
from fractions import Fraction
from xml.etree.ElementTree import Element, fromstring

import pytest
from lxml import etree

from tests.export.schema import assert_valid, score_schema
from tests.export.songs import every_sign, some_songs
from trainer.chart import Key, parse
from trainer.export.kinds import KINDS, read_kind
from trainer.export.musicxml import write_musicxml, write_mxl
from trainer.export.xml_keys import FIFTHS, MINOR_FIFTHS, fifths, key_of_fifths


def written(text: str, *, letters: bool = False) -> Element:
    """A chart's text as the elements of its file."""
    return fromstring(write_musicxml(parse(text), letters=letters))


def measures(root: Element) -> list[Element]:
    """The measures of the one part."""
    return root.findall("part/measure")


@pytest.mark.parametrize("letters", [False, True])
def test_a_song_with_every_sign_is_valid(letters: bool) -> None:
    """The official schema of MusicXML 4.0 allows a song with every sign of the notation."""
    assert_valid(write_musicxml(every_sign(), letters=letters))


@pytest.mark.many
@pytest.mark.parametrize("letters", [False, True])
def test_songs_are_valid(letters: bool) -> None:
    """The official schema of MusicXML 4.0 allows written and generated songs."""
    for chart in some_songs():
        assert_valid(write_musicxml(chart, letters=letters))


def test_the_schema_refuses_what_is_not_allowed() -> None:
    """The check by schema is one: a numeral of eight fails it."""
    wrong = write_musicxml(every_sign()).replace(b">5</numeral-root>", b">8</numeral-root>", 1)
    assert not score_schema().validate(etree.fromstring(wrong))


def test_numerals_are_the_numbers_of_the_chart() -> None:
    """A chord is its degree, alteration, kind and bass; the bass's letter shows its number."""
    harmony = measures(written("key: D\n\nb7-^7/2"))[0].find("harmony")
    assert harmony is not None
    assert harmony.findtext("numeral/numeral-root") == "7"
    assert harmony.findtext("numeral/numeral-alter") == "-1"
    assert harmony.find("numeral/numeral-key") is None
    assert harmony.findtext("kind") == "minor-seventh"
    assert harmony.findtext("bass/bass-step") == "E"
    step = harmony.find("bass/bass-step")
    assert step is not None
    assert step.get("text") == "2"


def test_a_minor_song_says_what_its_numerals_count_against() -> None:
    """In E minor the signature has one sharp, and numerals count in E major: b3 stays b3."""
    root = written("key: E minor\n\n1- b3")
    assert root.findtext("part/measure/attributes/key/fifths") == "1"
    assert root.findtext("part/measure/attributes/key/mode") == "minor"
    harmony = measures(root)[1].find("harmony")
    assert harmony is not None
    assert harmony.findtext("numeral/numeral-alter") == "-1"
    assert harmony.findtext("numeral/numeral-key/numeral-fifths") == "4"
    assert harmony.findtext("numeral/numeral-key/numeral-mode") == "major"


def test_letters_are_spelt_in_the_key() -> None:
    """With letters, 5/7 in E is B over D sharp."""
    harmony = measures(written("key: E\n\n5/7", letters=True))[0].find("harmony")
    assert harmony is not None
    assert harmony.findtext("root/root-step") == "B"
    assert harmony.findtext("bass/bass-step") == "D"
    assert harmony.findtext("bass/bass-alter") == "1"


def test_a_bar_has_a_slash_for_each_pulse() -> None:
    """Four slashes in 4/4, two dotted ones in 6/8, none of them with a stem."""
    for meter, values in (
        ("4/4", ["quarter"] * 4),
        ("6/8", ["quarter"] * 2),
        ("2/2", ["half"] * 2),
    ):
        notes = measures(written(f"meter: {meter}\n\n1"))[0].findall("note")
        assert [note.findtext("type") for note in notes] == values
        assert {note.findtext("notehead") for note in notes} == {"slash"}
        assert {note.findtext("stem") for note in notes} == {"none"}
        assert all((note.find("dot") is not None) == (meter == "6/8") for note in notes)


def test_a_hold_is_one_diamond() -> None:
    """A held bar is a diamond of the bar's length, tied where no note is that long."""
    (note,) = measures(written("1d"))[0].findall("note")
    assert (note.findtext("notehead"), note.findtext("type")) == ("diamond", "whole")
    tied = measures(written("meter: 5/4\n\n1d"))[0].findall("note")
    assert [note.findtext("type") for note in tied] == ["whole", "quarter"]
    assert [[tie.get("type") for tie in note.findall("tie")] for note in tied] == [
        ["start"],
        ["stop"],
    ]


def test_a_choke_is_a_beat_and_silence() -> None:
    """A choke is one slash with a wedge, then rests."""
    notes = measures(written("1c"))[0].findall("note")
    assert notes[0].find("notations/articulations/staccatissimo") is not None
    assert [note.find("rest") is not None for note in notes] == [False, True]
    assert [note.findtext("duration") for note in notes] == ["1", "3"]


def test_a_push_is_tied_over_the_bar_line() -> None:
    """A pushed chord stands on the last eighth of the bar before and is tied into its bar."""
    first, second = measures(written("1 4p"))
    last = first.findall("note")[-1]
    assert (last.findtext("type"), last.find("tie[@type='start']") is not None) == ("eighth", True)
    assert [each.tag for each in first][-2:] == ["harmony", "note"]
    assert second.find("harmony") is None
    assert second.find("note/tie[@type='stop']") is not None


def test_a_push_with_nothing_before_it_is_a_word() -> None:
    """The first chord of a song cannot be written early; a word says how it is played."""
    (measure,) = measures(written("1p"))
    assert "push" in [words.text for words in measure.iterfind("direction/direction-type/words")]


def test_sections_phrases_and_changes() -> None:
    """Sections are rehearsal marks on new systems, phrases end with double bars."""
    root = written("key: C\n\nVerse:\n1 4 . 5 1\n\nTag:\n[up 2] [3/4] 1 5 1")
    found = measures(root)
    marks = [each.findtext("direction/direction-type/rehearsal") for each in found]
    assert marks == ["Verse", None, None, None, "Tag", None, None]
    styles = [each.findtext("barline/bar-style") for each in found]
    assert styles == [None, "light-light", None, "light-light", None, None, "light-heavy"]
    assert [each.find("print") is not None for each in found] == [False] * 4 + [True, False, False]
    assert found[4].findtext("attributes/key/fifths") == "2"
    assert found[4].findtext("attributes/time/beats") == "3"
    assert found[5].findtext("attributes/time/beats") == "4"


def test_tempo_counts_the_pulse() -> None:
    """In 6/8 the mark is a dotted quarter, and playback counts quarters."""
    root = written("meter: 6/8\ntempo: 60\n\n1")
    mark = root.find("part/measure/direction/direction-type/metronome")
    assert mark is not None
    assert (mark.findtext("beat-unit"), mark.find("beat-unit-dot") is not None) == ("quarter", True)
    sound = root.find("part/measure/direction/sound")
    assert sound is not None
    assert sound.get("tempo") == "90"


def test_notes_fill_every_bar() -> None:
    """The notes of each measure add up to its meter, tuplets included."""
    chart = every_sign()
    root = fromstring(write_musicxml(chart))
    divisions = int(root.findtext("part/measure/attributes/divisions") or "0")
    for measure, bar in zip(measures(root), chart.bars(), strict=True):
        total = sum(int(each.text or "0") for each in measure.iterfind("note/duration"))
        assert Fraction(total, divisions) == bar.meter.quarters


def test_a_compressed_file_begins_with_its_type() -> None:
    """The archive's first file is its type, not compressed, and a container names the score."""
    with zipfile.ZipFile(io.BytesIO(write_mxl(every_sign()))) as archive:
        first = archive.infolist()[0]
        assert (first.filename, first.compress_type) == ("mimetype", zipfile.ZIP_STORED)
        assert archive.read("mimetype") == b"application/vnd.recordare.musicxml"
        container = fromstring(archive.read("META-INF/container.xml"))
        name = container.find("rootfiles/rootfile")
        assert name is not None
        assert archive.read(name.get("full-path", "")) == write_musicxml(every_sign())


def test_every_chord_has_a_kind_of_its_own() -> None:
    """Each chord of the charts is read back from its kind and degrees; ø^7 sounds like ø."""
    for (quality, extension), kind in KINDS.items():
        wanted = ("ø", "") if quality == "ø" else (quality, extension)
        assert read_kind(kind.value, kind.degrees) == (wanted, True)


def test_signatures_name_every_key() -> None:
    """Every signature that a key has leads back to the key."""
    for minor, allowed in ((False, FIFTHS), (True, MINOR_FIFTHS)):
        for count in allowed:
            assert fifths(key_of_fifths(count, minor=minor)) == count
    assert fifths(Key("F", 1)) == 6
