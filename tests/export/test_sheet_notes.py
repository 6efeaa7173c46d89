"""What a session chart carries, on the printed sheet."""

from __future__ import annotations

import io
import random
import re
from dataclasses import replace

import pytest
from PIL import Image
from pypdf import PdfReader

from tests.chart.test_notes import SESSION
from trainer.band import Part, arrange
from trainer.chart import Chart, format_chart, parse, without_notes
from trainer.export import Names, SheetSettings, write_set, write_sheet
from trainer.export.sheet import layout_of

SAID = (
    "drums out", "half the band", "build", "full band", "Guitar: capo 3, shapes of G",
    "count-off: 2 bars", "Friday's singer wants it slower",
    "Verse 1: she sings behind the beat", "Verse 1, phrase 3: watch the hits",
    "Verse 1, phrase 3: twice at rehearsal",
)  # fmt: skip


def printed(chart: Chart, settings: SheetSettings | None = None) -> str:
    """The text of a PDF, as pypdf extracts it, on one line."""
    pages = PdfReader(io.BytesIO(write_sheet(chart, settings))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.mark.parametrize("names", [Names.NUMBERS, Names.LETTERS, Names.BOTH])
@pytest.mark.parametrize("columns", [1, 2])
def test_everything_said_is_printed(names: Names, columns: int) -> None:
    """Notes, comments, capo and count-off are in the text of the PDF, on one page."""
    text = printed(parse(SESSION), SheetSettings(names=names, columns=columns))
    for words in SAID:
        assert words in text, words


def test_a_blank_sheet_says_nothing() -> None:
    """A sheet to write on has no notes, hits, comments or capo of the chart."""
    text = printed(parse(SESSION), SheetSettings(names=Names.BLANK))
    for words in SAID:
        if words != "count-off: 2 bars":
            assert words not in text, words


def test_a_chart_without_notes_is_laid_out_as_before() -> None:
    """Room over the numbers is taken only for a chart that has notes or hits."""
    chart = parse(SESSION)
    bare = without_notes(chart)
    assert layout_of(bare).over == 0
    assert layout_of(chart).over > 0
    assert layout_of(replace(bare, capo=None)) == layout_of(bare)


def test_long_notes_stay_on_the_paper() -> None:
    """A note of the greatest length before every bar is printed whole, on any columns."""
    note = ("watch the singer and wait for the long breath before it")[:60]
    bars = " ".join([f"[{note}] 1"] * 12)
    chart = parse(f"Verse:\n{bars}")
    text = printed(chart)
    assert text.count(note) == 12


@pytest.mark.parametrize("columns", [1, 2])
def test_a_note_over_the_last_bar_stays_in_the_margins(columns: int) -> None:
    """A note that is longer than the room after its bar begins farther left."""
    chart = parse("Verse:\n" + "1 4 5 1 . 6- 4 5 [bass walks up here] 1\n" * 8)
    picture = Image.open(io.BytesIO(write_sheet(chart, SheetSettings(columns=columns), "png")))
    margin = picture.convert("L").crop(
        (picture.width * 199 // 210, 0, picture.width, picture.height)
    )
    assert margin.getextrema() == (255, 255)


def test_the_capo_of_a_song_without_one_is_suggested_as_before() -> None:
    """Where the chart leaves the capo to the guitarist, the sheet suggests an easy one."""
    chart = parse(SESSION.replace("capo: 3\n", ""))
    assert "Guitar: capo 1, shapes of A" in printed(chart)
    assert "Guitar: no capo" in printed(replace(chart, capo=0))


def test_a_set_prints_what_is_said() -> None:
    """In a set of songs each has its notes, its capo and its comments."""
    chart = parse(SESSION)
    again = parse(
        format_chart(chart).replace("Ferry Bell", "Sluice Gate").replace("1\n1 1", "1\n1 4")
    )
    pages = PdfReader(io.BytesIO(write_set([chart, again]))).pages
    assert len(pages) == 3
    for page in pages[1:]:
        text = " ".join(page.extract_text().split())
        assert all(words in text for words in SAID)


@pytest.mark.parametrize("band", ["work tape", "full"])
def test_the_sheet_has_the_capo_that_the_band_plays(band: str) -> None:
    """The guitar plays every chord as it would if the chart asked for the capo that the sheet
    suggests, also where a slash chord keeps the capo low."""
    chart = parse("key: F\n\nVerse:\n1 4 5 1 . 6- 2- 5/1 1\n")
    found = re.search(r"Guitar: capo (\d)", printed(chart))
    capo = int(found[1]) if found else 0

    def guitar(asked: int | None) -> Part:
        played = arrange(replace(chart, capo=asked), rng=random.Random(1), band=band)
        return next(part for part in played.parts if part.name == "guitar")

    assert guitar(None) == guitar(capo)
    assert guitar(None) != guitar(3)
