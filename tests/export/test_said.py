"""What is said to the players, in files for other programs and back from them."""

from __future__ import annotations

import re

import music21
import pytest

from tests.chart.test_notes import SESSION
from tests.export.schema import assert_valid
from tests.export.songs import sounding
from tests.export.test_against_readers import (
    MEI,
    by_music21,
    by_verovio,
    heard_by_music21,
    heard_by_verovio,
)
from trainer.chart import Chart, parse
from trainer.export import Writing, chart_as_file, chart_in_file
from trainer.export.musicxml import write_musicxml

HITS = SESSION.replace(
    "1 4 5 1 . 1 4 5 1", "*12+4 1 [guitar fills] 4 *1 5d 1 . *1234 1c *24+ 4 5 1"
)


def test_musicxml_with_notes_follows_the_schema() -> None:
    """Words, accented slashes and the other details are where the official schema allows them."""
    for text in (SESSION, HITS):
        assert_valid(write_musicxml(parse(text)))


def test_music21_finds_the_same_words_at_the_same_measures() -> None:
    """music21 reads every note as words over the measure that the chart has it at."""
    chart = parse(SESSION)
    part = by_music21(write_musicxml(chart, letters=True)).parts[0]
    said = {
        measure.number: {each.content for each in measure.getElementsByClass("TextExpression")}
        for measure in part.getElementsByClass("Measure")
    }
    wanted: dict[int, set[str]] = {}
    for place in chart.placed_bars():
        first = place.phrase == place.index == 0
        notes = chart.sections[place.section].notes if first else ()
        wanted[place.number] = {*notes, *place.bar.notes}
    assert {number: words - {"Straight", "push"} for number, words in said.items()} == wanted


def test_music21_reads_hits_as_rhythm() -> None:
    """The notes of a bar with hits start on these, and its chords stay where they were."""
    chart = parse("Verse:\n1 *12+4 4 *13 (5 1) [2/4] *1+2 5 1")
    part = by_music21(write_musicxml(chart, letters=True)).parts[0]
    measures = list(part.getElementsByClass("Measure"))
    struck = [
        [float(note.offset) for note in measure.recurse().notes if not hasattr(note, "figure")
         and not isinstance(note, music21.harmony.Harmony)]
        for measure in measures
    ]  # fmt: skip
    assert struck[1:4] == [[0, 1.5, 3], [0, 2], [0.5, 1]]
    assert [each.duration.quarterLength for each in measures] == [4, 4, 4, 2, 4]
    assert heard_by_music21(part) == list(sounding(chart))


@pytest.mark.parametrize("suffix", [".musicxml", ".mxl", ".cho"])
@pytest.mark.parametrize("letters", [True, False])
def test_what_is_said_comes_back(suffix: str, letters: bool) -> None:
    """Notes, hits, comments, capo and count-off come back whole, with nothing to report."""
    chart = parse(HITS)
    read = chart_in_file(chart_as_file(chart, suffix, Writing(letters=letters)), f"x{suffix}")
    assert read.chart == chart
    assert read.problems == ()


def test_text_in_letters_says_the_same() -> None:
    """The text in letters keeps every note, hit and comment in its place."""
    text = chart_as_file(parse(SESSION), ".txt", Writing(letters=True)).decode()
    assert "Verse 1: [drums out] [half the band]" in text
    assert "Bb Bb [build] F F" in text
    assert "*12+4 Bb *13 (F Bb(push)) F F @ watch the hits" in text
    assert parse(text) == parse(SESSION)


def _with_words(words: str) -> bytes:
    """A MusicXML file of one bar with some words over it."""
    content = write_musicxml(parse("Verse:\n[hey there] 1 4")).decode()
    return content.replace("hey there", words).encode()


def test_words_of_other_programs_become_notes() -> None:
    """Words over a measure are notes of its bar; what can be none is told with its measure."""
    read = chart_in_file(_with_words("Snare only, brushes"), "x.musicxml")
    assert read.chart.bars()[0].notes == ("Snare only, brushes",)
    assert read.problems == ()
    lost = chart_in_file(_with_words("8 bars"), "x.musicxml")
    assert lost.chart.bars()[0].notes == ()
    assert [(each.place, each.found) for each in lost.problems] == [
        ("measure 1", "the words '8 bars'")
    ]


def test_a_move_of_the_key_is_no_note() -> None:
    """The words for a move of the key are read as the move, not as a note."""
    chart = parse("Verse:\n1 [up 2] [build] 4 5")
    read: Chart = chart_in_file(write_musicxml(chart), "x.musicxml").chart
    assert read == chart


def test_chordpro_uses_its_own_directives() -> None:
    """Capo, comments and boxed comments are ChordPro's own, and its comment lines stay comments."""
    text = chart_as_file(parse(SESSION), ".cho").decode()
    for line in ("{capo: 3}", "{comment_box: drums out}", "{comment: build}", "# watch the hits"):
        assert re.search(rf"^{re.escape(line)}$", text, re.MULTILINE), line
    assert "[**12+4]" in text


def test_verovio_engraves_what_is_said(capfd: pytest.CaptureFixture[str]) -> None:
    """Verovio engraves a file with words and hits without a warning and shows the same words."""
    # A push in a bar with hits is a word, so its chord stands on its beat.
    chart = parse(HITS.replace("1p", "1"))
    mei = by_verovio(write_musicxml(chart, letters=True), capfd)
    said = {"".join(each.itertext()).strip() for each in mei.iter(f"{MEI}dir")}
    notes = {note for section in chart.sections for note in section.notes}
    notes |= {note for bar in chart.bars() for note in bar.notes}
    assert notes <= said
    assert heard_by_verovio(mei, chart) == list(sounding(chart))
