"""MusicXML of other programs becomes charts: chords by letter and numeral, repeats, odd places."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import music21
import pytest

from trainer.chart import Chart, Key, Meter, format_chart, parse, root_pitch_class
from trainer.errors import FileError
from trainer.export import Unsaid, import_chart
from trainer.export.musicxml_file import read_musicxml

WHOLE = "<note><rest/><duration>4</duration></note>"
ATTRIBUTES = (
    "<attributes><divisions>1</divisions><key><fifths>{fifths}</fifths><mode>{mode}</mode></key>"
    "<time><beats>{beats}</beats><beat-type>4</beat-type></time></attributes>"
)


def tag(name: str, content: object) -> str:
    """An element."""
    return f"<{name}>{content}</{name}>"


def chord(root: str, kind: str = "major", more: str = "") -> str:
    """A harmony with a letter for its root."""
    alter = {"#": 1, "b": -1}.get(root[1:], 0)
    name = tag("root", tag("root-step", root[0]) + tag("root-alter", alter))
    return tag("harmony", name + tag("kind", kind) + more)


def numeral(root: int, more: str = "", kind: str = "major") -> str:
    """A harmony with a numeral for its root."""
    return (
        f"<harmony><numeral><numeral-root>{root}</numeral-root>{more}</numeral>"
        f"<kind>{kind}</kind></harmony>"
    )


def score(
    measures: Sequence[str], *, fifths: int = 0, mode: str = "major", beats: int = 4
) -> bytes:
    """A file of one part; the first measure gets key and meter."""
    first = ATTRIBUTES.format(fifths=fifths, mode=mode, beats=beats)
    listed = "".join(
        f'<measure number="{number}">{first if number == 1 else ""}{content}</measure>'
        for number, content in enumerate(measures, 1)
    )
    return (
        '<?xml version="1.0"?><score-partwise><part-list><score-part id="P1"><part-name/>'
        f'</score-part></part-list><part id="P1">{listed}</part></score-partwise>'
    ).encode()


def bars(chart: Chart) -> str:
    """The bars of a chart in a row."""
    lines = format_chart(chart).split("\n\n", 1)[1].splitlines()
    return " ".join(line for line in lines if line and not line.endswith(":")).replace(" . ", " ")


def read(measures: Sequence[str], **kind: object) -> str:
    """The bars of a file of these measures."""
    return bars(read_musicxml(score(measures, **kind), "x").chart)  # type: ignore[arg-type]


def played(marks: Sequence[str]) -> str:
    """The order of play of measures 1, 2, 3 …, each with its own chord and these marks."""
    names = ("C", "D", "E", "F", "G", "A", "B")
    measures = [
        mark.partition("@")[0] + chord(name) + WHOLE + mark.partition("@")[2]
        for name, mark in zip(names, marks, strict=False)
    ]
    return read(measures).replace(" ", "")


FORWARD = '<barline location="left"><repeat direction="forward"/></barline>'
BACKWARD = '@<barline location="right"><repeat direction="backward"/></barline>'


def ending(number: str, *, back: bool = False) -> str:
    """A whole measure that is an ending."""
    repeat = '<repeat direction="backward"/>' if back else ""
    return (
        f'<barline location="left"><ending number="{number}" type="start"/></barline>@'
        f'<barline location="right"><ending number="{number}" type="stop"/>{repeat}</barline>'
    )


def sound(**attributes: str) -> str:
    """A sound with attributes such as dacapo, after the measure's notes."""
    said = " ".join(f'{name}="{value}"' for name, value in attributes.items())
    return f"@<sound {said}/>"


@pytest.mark.parametrize(
    ("marks", "order"),
    [
        (["", BACKWARD, ""], "12123"),
        (["", FORWARD, BACKWARD, ""], "123234"),
        ([FORWARD, ending("1", back=True), ending("2"), ""], "12134"),
        ([FORWARD, ending("1, 2", back=True), ending("3"), ""], "1212134"),
        ([FORWARD, ending("1", back=True), "", ""], "12134"),
        (["", BACKWARD.replace("backward", 'backward" times="4'), ""], "121212123"),
        ([FORWARD, BACKWARD, FORWARD, BACKWARD], "12123434"),
        ([FORWARD, ending("1", back=True), ending("2"), "", BACKWARD], "12134545"),
        (["", sound(fine="yes"), sound(dacapo="yes")], "12312"),
        (["", sound(segno="s"), sound(dalsegno="s")], "12323"),
        (
            ["", sound(segno="s"), sound(tocoda="c"), sound(dalsegno="s"), sound(coda="c"), ""],
            "12342356",
        ),
        ([FORWARD, ending("1", back=True), ending("2"), sound(dacapo="yes")], "12134134"),
    ],
)  # fmt: skip
def test_repeats_are_written_out(marks: list[str], order: str) -> None:
    """Repeats, endings and jumps are played as the standard and common practice say.

    A repeat's `times` counts all of its turns, and after a jump repeats are not taken again (the
    attribute after-jump in the standard: "no" unless said).
    """
    assert played(marks) == order


@pytest.mark.parametrize(
    ("marks", "measure", "found"),
    [
        ([FORWARD, FORWARD, BACKWARD], "2", "a repeat that begins inside another"),
        (["", ending(" "), ""], "2", "an ending without a number"),
        (["", sound(dalsegno="s")], "2", "dal segno with 0 signs"),
        ([sound(tocoda="c"), sound(dacapo="yes")], "1", "to coda with 0 codas"),
        ([sound(dacapo="yes"), sound(dacapo="yes")], "2", "a second da capo"),
    ],
)  # fmt: skip
def test_unclear_repeats_are_refused_by_measure(marks: list[str], measure: str, found: str) -> None:
    """What cannot be followed is refused with the number of its measure."""
    with pytest.raises(FileError, match=rf"x: measure {measure}: found {found}"):
        played(marks)


def test_too_many_bars_when_played_are_refused() -> None:
    """Repeats cannot make a song longer than a chart may be."""
    marks = [
        FORWARD + chord("C") + WHOLE + BACKWARD[1:].replace("backward", 'backward" times="999')
    ]
    measures = marks * 3
    with pytest.raises(FileError, match="measure 3: found more than 2000 bars when played"):
        read_musicxml(score(measures), "x")


def test_a_chord_sounds_until_the_next() -> None:
    """Measures without a chord go on with the one before; before any, there is none."""
    assert read([WHOLE, chord("F") + WHOLE, WHOLE, chord("C") + WHOLE]) == "0 4 4 1"


def test_chords_stand_where_their_notes_are() -> None:
    """The place of a chord is that of the note after it, moved by its offset."""
    half = "<note><rest/><duration>2</duration></note>"
    assert read([chord("C") + half + chord("G") + half]) == "(1 5)"
    late = chord("G").replace("</harmony>", "<offset>3</offset></harmony>")
    assert read([chord("C") + late + WHOLE]) == "(1''' 5')"


def test_numerals_in_minor_count_against_natural_minor() -> None:
    """Without a key of its own, 3 in A minor is C: the flat three of A.

    MusicXML 4.0, numeral-mode: "If a minor mode is used without qualification … natural minor".
    """
    measures = [numeral(1, kind="minor"), numeral(3), numeral(7), numeral(5, kind="dominant")]
    assert read([each + WHOLE for each in measures], mode="minor") == "1- b3 b7 5^7"
    harmonic = (
        "<numeral-key><numeral-fifths>0</numeral-fifths>"
        "<numeral-mode>harmonic minor</numeral-mode></numeral-key>"
    )
    assert read([numeral(7, harmonic, kind="diminished") + WHOLE], mode="minor") == "7o"


def test_a_numeral_in_another_key_becomes_a_number_of_the_song() -> None:
    """The five of D in C is A: the six, as a major chord."""
    of_d = (
        "<numeral-key><numeral-fifths>2</numeral-fifths>"
        "<numeral-mode>major</numeral-mode></numeral-key>"
    )
    assert read([numeral(5, of_d) + WHOLE]) == "6"


def test_functions_and_inversions_are_read() -> None:
    """Roman numerals of older files are degrees, and an inversion is a bass."""
    roman = "<harmony><function>bVII</function><kind>major</kind></harmony>"
    assert read([roman + WHOLE]) == "b7"
    assert read([chord("G", more="<inversion>1</inversion>") + WHOLE]) == "5/7"


def test_a_tied_eighth_is_a_push_and_a_fermata_a_hold() -> None:
    """Articulations of other programs are read: anticipations, fermatas, slashes with wedges."""
    note = "<note><rest/><duration>{}</duration>{}</note>"
    eighth = note.format("0.5", '<tie type="start"/>')
    first = chord("C") + note.format("3.5", "") + chord("F") + eighth
    held = chord("G") + note.format(4, "<notations><fermata/></notations>")
    choked = chord("C") + note.format(
        4,
        "<notehead>slash</notehead><notations><articulations><staccatissimo/></articulations>"
        "</notations>",
    )
    assert read([first, WHOLE, held, choked]) == "1 4p 5d 1c"


def test_chords_between_the_beats_are_moved_and_told() -> None:
    """A chord an eighth before a beat is a push onto it, one later in the beat goes back to it."""
    note = "<note><rest/><duration>{}</duration></note>"
    measure = chord("C") + note.format(1.5) + chord("F") + note.format(2.5)
    found = read_musicxml(score([measure]), "x")
    assert bars(found.chart) == "(1 4p)"
    assert found.problems[0].found == "chords between the beats"


def test_a_pickup_is_a_short_bar() -> None:
    """A first measure that isn't full has its own meter, or is left out without a chord."""
    beat = "<note><rest/><duration>1</duration></note>"
    assert read([chord("G") + beat, chord("C") + WHOLE]) == "[1/4] 5 1"
    found = read_musicxml(score([beat, chord("C") + WHOLE]), "x")
    assert bars(found.chart) == "1"
    assert "a pickup without a chord" in [each.found for each in found.problems]


def test_what_no_chart_has_is_told_by_measure() -> None:
    """An unknown kind leaves its bar open, a rich chord becomes a simpler one."""
    found = read_musicxml(
        score([chord("C", "Tristan") + WHOLE, chord("C", "major-13th") + WHOLE]), "x"
    )
    assert bars(found.chart) == "? 1^maj9"
    assert [(each.place, each.found) for each in found.problems[:2]] == [
        ("measure 1", "the kind Tristan"),
        ("measure 2", "the kind major-13th"),
    ]


def test_sections_come_from_marks_and_words() -> None:
    """Rehearsal marks are sections whatever they say, words only if they name one."""
    mark = "<direction><direction-type><{0}>{1}</{0}></direction-type></direction>"
    measures = [
        mark.format("words", "In 2") + mark.format("words", "Verse 1") + chord("C") + WHOLE,
        mark.format("rehearsal", "2") + chord("C") + WHOLE,
        mark.format("rehearsal", "Chorus x2") + chord("C") + WHOLE,
    ]
    found = read_musicxml(score(measures), "x")
    assert [section.name for section in found.chart.sections] == ["Verse 1", "Section 2", "Chorus"]
    assert "Chorus x2, a section to be played 2 times" in [each.found for each in found.problems]


def test_keys_move_the_one_and_relative_modes_do_not() -> None:
    """From C to D the numbers count from D; from C to A minor they stay."""
    to_d = "<attributes><key><fifths>2</fifths><mode>major</mode></key></attributes>"
    to_a_minor = "<attributes><key><fifths>0</fifths><mode>minor</mode></key></attributes>"
    assert read([chord("C") + WHOLE, to_d + chord("D") + WHOLE]) == "1 [up 2] 1"
    assert read([chord("C") + WHOLE, to_a_minor + chord("A", "minor") + WHOLE]) == "1 6-"


def test_what_a_file_does_not_say_may_be_given() -> None:
    """Key, meter and tempo are those given where a file has none, and are told otherwise."""
    plain = score([chord("G") + "<note><rest/><duration>3</duration></note>"]).decode()
    first, last = plain.index("<attributes>"), plain.index("</attributes>")
    bare = (plain[:first] + plain[last + len("</attributes>") :]).encode()
    given = read_musicxml(bare, "x", Unsaid(Key("D"), Meter(3, 4), 80.0))
    assert given.problems == ()
    assert given.chart == parse("meter: 3/4\ntempo: 80\nkey: D\n\n4")
    guessed = read_musicxml(bare, "x")
    assert [each.found for each in guessed.problems] == ["no key signature", "none"]


def test_repeated_measures_are_copies() -> None:
    """A sign that repeats measures stands for their chords."""
    start = (
        '<attributes><measure-style><measure-repeat type="start">1</measure-repeat>'
        "</measure-style></attributes>"
    )
    assert read([chord("F") + WHOLE, start + WHOLE, WHOLE, WHOLE]) == "4 4 4 4"


def test_the_part_with_the_chords_is_read() -> None:
    """Of several parts the one with the most chords is read."""
    whole = score([chord("F") + WHOLE, chord("C") + WHOLE]).decode()
    empty = f'<part id="P0"><measure number="1">{WHOLE}</measure><measure/></part>'
    assert (
        bars(read_musicxml(whole.replace("<part id", f"{empty}<part id").encode(), "x").chart)
        == "4 1"
    )


def lead_sheets() -> list[Path]:
    """Lead sheets of others: those that music21 carries for its own tests."""
    return sorted(
        Path(path)
        for path in music21.corpus.getCorePaths()
        if Path(path).parent.name == "leadSheet" and Path(path).suffix == ".mxl"
    )


@pytest.mark.parametrize("path", lead_sheets(), ids=lambda path: f"sheet {len(path.name)}")
def test_lead_sheets_of_others_have_the_chords_that_music21_finds(path: Path) -> None:
    """Unrolled by music21, each lead sheet has the same chords at the same quarters."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score: Any = music21.converter.parse(path)
    part = score.parts[0].expandRepeats()
    wanted: dict[Fraction, int] = {}
    for measure in part.getElementsByClass("Measure"):
        for symbol in measure.getElementsByClass("Harmony"):
            at = Fraction(measure.offset + symbol.offset)
            wanted[at] = symbol.root().pitchClass
    chart = import_chart(path).chart
    found: dict[Fraction, int] = {}
    before = None
    for place in chart.placed_bars():
        for start, event in zip(place.bar.starts(), place.bar.events, strict=True):
            if event.chord is None:
                continue
            root = root_pitch_class(event.chord, chart.key.pitch_class)
            at = place.start_quarters + start * 4 / place.bar.meter.unit
            if at in wanted or root != before:
                found[at] = root
            before = root
    assert found == wanted


def test_our_own_text_names_the_same_song() -> None:
    """A file of letters in D is the chart in numbers."""
    measures = [
        chord(root, kind) + WHOLE
        for root, kind in (("D", "major"), ("B", "minor"), ("A", "dominant"))
    ]
    wanted = parse("key: D\ntempo: 100\n\n1 6- 5^7")
    assert read_musicxml(score(measures, fifths=2), "x").chart == wanted
