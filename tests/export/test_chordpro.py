"""ChordPro: against a parser of others, and read as charts."""

from __future__ import annotations

import re

import chordsketch
import pytest

from tests.export.songs import some_songs, written
from trainer.chart import Chart, Key, Meter, format_chart, parse
from trainer.export import Unsaid
from trainer.export.chord_names import chord_name, read_chord_name
from trainer.export.chordpro import write_chordpro
from trainer.export.chordpro_read import read_chordpro

CHORD = re.compile(r'<span class="chord">([^<]*)</span>')


def lines(text: str, unsaid: Unsaid | None = None) -> list[str]:
    """The lines of a file's chart after its header."""
    read = read_chordpro(text, "x", unsaid or Unsaid())
    return format_chart(read.chart).split("\n\n", 1)[1].strip().splitlines()


def names(chart: Chart, *, letters: bool) -> list[str]:
    """The names of all chords of a chart, in order."""
    found = []
    for place in chart.placed_bars():
        key = chart.key.shifted(place.key_shift)
        found += [
            chord_name(event.chord, key, letters=letters)
            for event in place.bar.events
            if not place.bar.is_open
        ]
    return found


@pytest.mark.many
@pytest.mark.parametrize("letters", [True, False])
def test_a_parser_of_others_finds_every_chord(letters: bool) -> None:
    """Chordsketch accepts each song and finds its chords in order, in letters or numbers.

    It shows annotations such as [*push], which the format has since version 6, as they stand.
    """
    for chart in some_songs():
        text = write_chordpro(chart, letters=letters)
        assert chordsketch.validate(text) == []
        html = chordsketch.parse_and_render_html(text, None, None)
        shown = [name.replace("♭", "b").replace("♯", "#") for name in CHORD.findall(html)]
        assert [name for name in shown if name and name[0] != "*"] == names(chart, letters=letters)


def test_a_line_is_a_phrase_of_bars() -> None:
    """Chords and slashes are beats, double lines end phrases, directives stand between."""
    chart = parse(
        "title: Sluice\ntempo: 92\nkey: D\n\nVerse 1:\n1 (1''' 5/7') . 6-d 4p\n[2/4] 5 1 5c\n\n"
        "Vamp:\n[up 2] 1 (1 4 5) ? 0\n[fade] 1 1"
    )
    assert write_chordpro(chart).splitlines() == [
        "{title: Sluice}",
        "{key: D}",
        "{time: 4/4}",
        "{tempo: 92}",
        "{meta: feel straight}",
        "",
        '{start_of_verse: label="Verse 1"}',
        "| [D] / / / | [D] / / [A/C#] ||",
        "| [Bm][*hold] / / / | [G][*push] / / / ||",
        "{time: 2/4}",
        "| [A] / |",
        "{time: 4/4}",
        "| [D] / / / | [A][*choke] / / / ||",
        "{end_of_verse}",
        "",
        '{start_of_interlude: label="Vamp"}',
        "{key: E}",
        "{comment: up 2}",
        "| [E] / / / | [E] [A] [B] | [*?] | [NC] / / / ||",
        "{comment: Fade}",
        "| [E] / / / | [E] / / / ||",
        "{end_of_interlude}",
    ]


@pytest.mark.parametrize("letters", [True, False])
def test_songs_come_back(letters: bool) -> None:
    """Everything in the song with every sign and in the program's songs is read back."""
    for chart in written():
        read = read_chordpro(write_chordpro(chart, letters=letters), "x", Unsaid())
        assert read.chart == chart
        assert read.problems == ()


def test_names_have_the_trades_signs() -> None:
    """Letters and numbers take the same signs, and other spellings of them are read."""
    for spelt in ("Bbmaj7", "BbM7", "BbΔ7"):
        read = read_chord_name(spelt, Key("F"))
        assert read is not None
        assert (read.root, read.quality, read.extension) == ("Bb", "", "maj7")
    for wrong in ("H7", "Bananas", "C7b5b9b13", "8", "C/H"):
        assert read_chord_name(wrong, Key("F")) is None


def test_words_with_chords_have_no_bars_and_that_is_told() -> None:
    """A line of words becomes one bar for each chord, with its line in the report."""
    text = "{title: Sluice}\n{key: G}\n{soc}\n[G]Down by the [D/F#]sluice\n{eoc}\n"
    read = read_chordpro(text, "x", Unsaid())
    assert format_chart(read.chart).splitlines()[-2:] == ["Chorus:", "1 5/7"]
    found = {problem.place: problem.found for problem in read.problems}
    assert found["line 4"] == "chords without bar lines"


def test_grids_are_read() -> None:
    """In a grid chords stand without brackets, dots are beats, and % is the bar before."""
    text = "{key: C}\n{start_of_grid: 4x4}\n| C . G . | % . . . | F . . . | % |\n{end_of_grid}"
    assert lines(text) == ["(1 5) (1 5) 4 4"]
    assert lines("{key: C}\n{sog}\n| C/E . N.C. . |\n{eog}") == ["(1/3 0)"]


def test_choruses_are_recalled() -> None:
    """{chorus} is the chorus once more, and one before any chorus is told."""
    text = "{key: C}\n{chorus}\n{soc}\n| [C] | [F] ||\n{eoc}\n| [G] ||\n{chorus}\n"
    read = read_chordpro(text, "x", Unsaid())
    assert [section.name for section in read.chart.sections] == ["Chorus", "Chorus"]
    assert "{chorus} before any chorus" in [problem.found for problem in read.problems]


def test_what_a_chart_cannot_hold_is_told_by_line() -> None:
    """Unknown chords, wrong beats, other environments and second songs are told."""
    text = (
        "{key: X}\n{time: 99/1}\n{tempo: fast}\n{transpose: 2}\n| [C] / / | [H7] | [F] :|\n"
        "{sot}\n---[C]---|\n{eot}\n{tempo: 200}\n{new_song}\n| [G] ||\n"
    )
    read = read_chordpro(text, "x", Unsaid())
    assert format_chart(read.chart).splitlines()[-1] == "1 ? 4"
    assert [(each.place, each.found) for each in read.problems][:9] == [
        ("line 1", "the key 'X'"),
        ("line 2", "the time '99/1'"),
        ("line 3", "the tempo 'fast'"),
        ("line 4", "{transpose: 2}"),
        ("line 5", "3 beats in a bar of 4/4"),
        ("line 5", "the chord 'H7'"),
        ("line 5", "the repeat sign :|"),
        ("line 6", "a section of the kind tab"),
        ("line 9", "a change of tempo"),
    ]


def test_what_a_file_does_not_say_may_be_given() -> None:
    """Key and meter that are given hold until the file says others."""
    unsaid = Unsaid(Key("G"), Meter(3, 4), 80.0)
    assert lines("| [G] / / | [D/F#] / / ||", unsaid) == ["1 5/7"]
    read = read_chordpro("| [G] / / ||", "x", unsaid)
    assert (str(read.chart.meter), read.chart.tempo, str(read.chart.key)) == ("3/4", 80.0, "G")
