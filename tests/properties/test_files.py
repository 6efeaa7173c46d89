"""Round trips: what a format can carry of a chart is read from it again, for every chart.

What it cannot carry is stated by `as_carried` and its kin: a key move in the very first bar is the
key itself, two characters that XML forbids and the braces of ChordPro are others in names, and
ø^7, which sounds like ø, is ø wherever a chord is named by what it sounds.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from tests.export.sheets import overlaps
from tests.properties.strategies import charts, noted_charts
from trainer.chart import Bar, Chart, Chord, Degree, Key, Phrase, Section
from trainer.chart.letters import degree_letters
from trainer.export import Names, SheetSettings, Unsaid, write_sheet
from trainer.export.chordpro import SAFE, write_chordpro
from trainer.export.chordpro_read import read_chordpro
from trainer.export.musicxml import write_musicxml, write_mxl, xml_text
from trainer.export.musicxml_file import read_musicxml
from trainer.export.names import degree_of_letter
from trainer.export.sheet import PAPERS, layout_of
from trainer.export.sheet_signs import bar_of


def with_bars(chart: Chart, change: Callable[[int, Bar, Key], Bar]) -> Chart:
    """A chart with every bar changed; `change` takes its number, the bar and its key."""
    places = {(place.section, place.phrase, place.index): place for place in chart.placed_bars()}

    def bar(s: int, p: int, b: int) -> Bar:
        place = places[s, p, b]
        return change(place.number, place.bar, chart.key.shifted(place.key_shift))

    sections = tuple(
        Section(
            section.name,
            tuple(
                Phrase(tuple(bar(s, p, b) for b in range(len(phrase.bars))))
                for p, phrase in enumerate(section.phrases)
            ),
        )
        for s, section in enumerate(chart.sections)
    )
    return replace(chart, sections=sections)


def as_carried(chart: Chart, clean: Callable[[str], str]) -> Chart:
    """A chart with its names as the format has them, and the key of its first bar."""
    moved = with_bars(
        chart, lambda number, bar, _: replace(bar, key_change=0) if number == 1 else bar
    )
    return replace(
        moved,
        title=clean(chart.title),
        key=chart.key.shifted(chart.bars()[0].key_change),
        sections=tuple(replace(each, name=clean(each.name)) for each in moved.sections),
    )


def with_chords(chart: Chart, change: Callable[[Chord, Key], Chord]) -> Chart:
    """A chart with every chord changed; `change` takes the chord and its key."""

    def bar(_: int, bar: Bar, key: Key) -> Bar:
        events = tuple(
            event if event.chord is None else replace(event, chord=change(event.chord, key))
            for event in bar.events
        )
        return replace(bar, events=events)

    return with_bars(chart, bar)


def by_sound(chord: Chord, _: Key) -> Chord:
    """A half-diminished chord with or without its seventh is one chord."""
    return replace(chord, extension="") if chord.quality == "ø" else chord


def by_letter(chord: Chord, key: Key) -> Chord:
    """A chord as its letters name it: F flat in C is the 3."""
    root = degree_of_letter(degree_letters(chord.root, key), key)
    bass = chord.bass and degree_of_letter(degree_letters(chord.bass, key), key)
    again = Chord(*root, chord.quality, chord.extension, None if bass == root else bass)
    return by_sound(again, key)


def safe(text: str) -> str:
    """A text as ChordPro has it."""
    return text.translate(SAFE)


@given(charts())
def test_musicxml_in_numerals_carries_every_chart(chart: Chart) -> None:
    """Every chart comes back from its MusicXML file without any loss to report."""
    chart = as_carried(chart, xml_text)
    for content in (write_musicxml(chart), write_mxl(chart)):
        read = read_musicxml(content, "x")
        assert read.chart == chart
        assert read.problems == ()


@given(charts())
def test_musicxml_in_letters_carries_every_chart_by_its_letters(chart: Chart) -> None:
    """In letters, every chart comes back with the degrees that its letters name."""
    chart = as_carried(chart, xml_text)
    read = read_musicxml(write_musicxml(chart, letters=True), "x").chart
    again = with_chords(chart, by_letter)
    assert with_chords(read, by_letter) == again


@given(charts())
def test_chordpro_carries_every_chart(chart: Chart) -> None:
    """Every chart comes back from its ChordPro file, in numbers and by its letters."""
    chart = as_carried(chart, safe)
    read = read_chordpro(write_chordpro(chart, letters=False), "x", Unsaid())
    assert read.chart == with_chords(chart, by_sound)
    assert read.problems == ()
    read = read_chordpro(write_chordpro(chart), "x", Unsaid())
    assert with_chords(read.chart, by_letter) == with_chords(chart, by_letter)


def test_degrees_that_letters_tell_apart_are_kept() -> None:
    """The flat five and the sharp four of a key are two letters, and stay two degrees."""
    chord = Chord(4, 1, "o", "", Degree(5, -1))
    assert by_letter(chord, Key("D")) == chord


@given(
    charts(),
    st.sampled_from(list(PAPERS)),
    st.sampled_from([None, 1, 2]),
    st.booleans(),
    st.sampled_from(list(Names)),
)
def test_a_sheet_has_every_bar_once(
    chart: Chart, paper: str, columns: int | None, is_large: bool, names: Names
) -> None:
    """Whatever a chart holds, its bars stand in order on the paper and none in another."""
    layout = layout_of(chart, SheetSettings(paper, columns, is_large, names))
    drawn = [bar for placed in layout.lines for _, bar in placed.line.bars]
    assert drawn == [
        bar_of(place.bar, chart, place.key_shift, names) for place in chart.placed_bars()
    ]
    assert overlaps(layout, PAPERS[paper][0] - 24) == []
    assert layout.pages == layout.lines[-1].page + 1


@given(charts(), st.sampled_from(list(Names)))
def test_any_chart_is_printed(chart: Chart, names: Names) -> None:
    """Every chart with every text in it becomes a PDF with its title."""
    content = write_sheet(chart, SheetSettings(names=names))
    metadata = PdfReader(io.BytesIO(content)).metadata
    assert metadata is not None
    assert (metadata.title or "") == chart.title


def said(
    chart: Chart, clean: Callable[[str], str] = str, clean_comment: Callable[[str], str] = str
) -> object:
    """All that a chart says to players, and to people, as a format has it."""

    def notes(words: tuple[str, ...]) -> list[str]:
        return [clean(each) for each in words]

    def comments(words: tuple[str, ...]) -> list[str]:
        return [clean_comment(each) for each in words]

    sections = [
        (
            notes(section.notes),
            comments(section.comments),
            [comments(phrase.comments) for phrase in section.phrases],
        )
        for section in chart.sections
    ]
    bars = [(notes(bar.notes), bar.hits) for bar in chart.bars()]
    return sections, bars, chart.capo, chart.count_off, comments(chart.comments)


@given(noted_charts())
def test_musicxml_carries_what_is_said(chart: Chart) -> None:
    """Notes, hits, comments, capo and count-off come back from MusicXML, none in another place."""
    read = read_musicxml(write_musicxml(chart), "x").chart
    assert said(read) == said(chart, xml_text, xml_text)


@given(noted_charts())
def test_chordpro_carries_what_is_said(chart: Chart) -> None:
    """Notes, hits, comments, capo and count-off come back from ChordPro."""
    read = read_chordpro(write_chordpro(chart, letters=False), "x", Unsaid()).chart
    assert said(read) == said(chart, safe)
