"""Printed sheets: read back with pypdf, the fonts in them, and where everything stands."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import music21
import pytest
from fontTools.ttLib import TTFont
from lxml import etree
from PIL import Image
from pypdf import PdfReader

import trainer.export
from tests.export.sheets import overlaps
from tests.export.songs import every_sign, generated, some_songs, written
from trainer.chart import Articulation, Bar, Chart, Key, bass_pitch_class, chord_letters, parse
from trainer.chart import root_pitch_class as root_class
from trainer.errors import SettingsError
from trainer.export import Names, SheetSettings, Writing, chart_as_file, write_set, write_sheet
from trainer.export.sheet import PAPERS, layout_of
from trainer.export.sheet_lines import fill_lines
from trainer.export.sheet_signs import ADVANCES, bar_of, plain_text

FONTS = Path(trainer.export.__file__).parent / "fonts"
PRINTED = str.maketrans({"#": "♯", "b": "♭"})
KEYS = [Key(letter, sign) for letter in "CDEFGAB" for sign in (-1, 0, 1)]
SIGNS = {Articulation.PUSH: "<", Articulation.CHOKE: "^"}
QUALITIES = {"-": "−", "o": "°"}
EVERY_SCRIPT = "Ж ש ع अ 中 か 한 ไ ა Ω ꦄ 𐎀 🎸 e\u0301 \u202eabc\u202c"
CODE = '#read("/etc/passwd") *a* _b_ $c$ \\u{41} // d <e> @f [g] {h} `i`'


def pages(content: bytes) -> list[str]:
    """The text of each page without spaces, hyphens and the dots between phrases."""
    return [packed(page.extract_text()) for page in PdfReader(io.BytesIO(content)).pages]


def packed(text: str) -> str:
    """A text without what a line break may add or take."""
    return re.sub(r"[\s·‐-]", "", text.replace("\u00ad", ""))


def numbers(bar: Bar) -> list[str]:
    """The chords of a bar as they are printed, from the chart's own notation."""
    found = []
    for event in bar.events:
        if event.chord is None:
            found.append("?" if bar.is_open else "N.C.")
            continue
        chord = event.chord
        root, bass = str(chord.root).translate(PRINTED), chord.bass
        added = re.sub(r"[#b](?=\d)", lambda sign: sign[0].translate(PRINTED), chord.extension)
        name = root + QUALITIES.get(chord.quality, chord.quality) + added
        name += f"/{bass}".translate(PRINTED) if bass else ""
        found.append((SIGNS.get(event.articulation, "") if event.articulation else "") + name)
    return found


def expected(chart: Chart) -> str:
    """What a one-page sheet of a chart says below its heading."""
    text, section = "", -1
    for place in chart.placed_bars():
        if place.section != section:
            section = place.section
            text += chart.sections[section].name + "".join(chart.sections[section].notes)
        bar = place.bar
        text += "fade" if bar.fades else ""
        text += f"key{chart.key.shifted(place.key_shift)}" if bar.key_change else ""
        text += str(bar.meter) if bar.meter != chart.meter else ""
        text += " · ".join(bar.notes)
        text += "".join(numbers(bar))
    return packed(text)


def test_a_blank_sheet_shows_the_form_alone() -> None:
    """A sheet to write on has a line for the key and for every bar beside its section's name, and
    nothing of what is in a bar."""
    chart = every_sign()
    text = "".join(pages(write_sheet(chart, SheetSettings(names=Names.BLANK))))
    assert text.count("_____") == len(chart.bars())
    assert "Key____" in text
    for section in chart.sections:
        assert packed(section.name) in text
    lines = text.partition("beatsaminute")[2]
    for section in chart.sections:
        lines = lines.replace(packed(section.name), "")
    assert set(lines) <= set("_.·") | set("(cont)")


@pytest.mark.many
def test_a_pdf_says_what_the_chart_says() -> None:
    """Every section, chord, articulation, meter, key and fade is read back in order by pypdf."""
    for chart in some_songs():
        settings = SheetSettings(columns=1)
        assert layout_of(chart, settings).pages == 1
        (text,) = pages(write_sheet(chart, settings))
        assert text.endswith(expected(chart)), chart.title
        heading = text.removesuffix(expected(chart))
        assert packed(chart.title) in heading
        assert f"{chart.tempo:g}beatsaminute" in heading
        assert f"Key{chart.key}".translate(PRINTED).replace(" ", "")[:4] in heading


def test_letters_are_those_of_the_key_and_stand_alone_or_under_numbers() -> None:
    """In letters a chord is its letter name, and with both the number comes first."""
    chart = parse("key: Ab\n\n3/5 6-^7 (4''' 5'p) b7^maj7")
    (alone,) = pages(write_sheet(chart, SheetSettings(names=Names.LETTERS)))
    assert alone.endswith("C/E♭Fm7D♭<E♭G♭maj7")
    (both,) = pages(write_sheet(chart, SheetSettings(names=Names.BOTH)))
    assert both.endswith("3/5C/E♭6−7Fm74D♭<5E♭♭7maj7G♭maj7")


@pytest.mark.many
def test_letters_sound_what_music21_says() -> None:
    """In every key each letter on the sheet is the note that the number is (music21 10)."""
    chart = every_sign()
    for key in KEYS:
        for place in chart.placed_bars():
            tonic = key.shifted(place.key_shift)
            drawn_bar = bar_of(place.bar, replace(chart, key=key), place.key_shift, Names.LETTERS)
            for event, drawn in zip(place.bar.events, drawn_bar.chords, strict=True):
                if event.chord is None:
                    continue
                spelt = chord_letters(event.chord, tonic)
                text = plain_text(drawn.pieces).replace("♯", "#").replace("♭", "b")
                assert text == spelt
                root = re.match(r"[A-G](#|b)*", text)
                assert root is not None
                assert _pitch(root[0]) == root_class(event.chord, tonic.pitch_class)
                if event.chord.bass is not None:
                    bass = text.rpartition("/")[2]
                    assert _pitch(bass) == bass_pitch_class(event.chord, tonic.pitch_class)


def _pitch(letter: str) -> int:
    pitch: int = music21.pitch.Pitch(letter.replace("b", "-")).pitchClass
    return pitch


@pytest.mark.many
@pytest.mark.parametrize("paper", list(PAPERS))
def test_songs_have_one_page_at_a_distance_to_be_read_from_a_stand(paper: str) -> None:
    """At least 95 % of 200 generated songs fit on one page with lines 14 mm apart."""
    layouts = [layout_of(generated(seed), SheetSettings(paper)) for seed in range(200)]
    assert sum(one.pages == 1 and one.distance >= 14 for one in layouts) >= 190
    assert all(one.pages == 1 for one in layouts)


@pytest.mark.many
@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("columns", [None, 1, 2])
@pytest.mark.parametrize("names", list(Names))
def test_nothing_stands_in_anything_else(paper: str, columns: int | None, names: Names) -> None:
    """Bars never overlap and never leave the paper, in normal and in large print."""
    for is_large in (False, True):
        settings = SheetSettings(paper, columns, is_large, names)
        for chart in [*written(), *(generated(seed) for seed in range(6))]:
            layout = layout_of(chart, settings)
            assert overlaps(layout, PAPERS[paper][0] - 24) == []
            assert columns in (None, layout.columns)
            assert layout.distance >= (20 if is_large else 12)


@pytest.mark.parametrize("names", [Names.NUMBERS, Names.BOTH, Names.BLANK])
def test_lines_use_the_width_of_the_page(names: Names) -> None:
    """The longest line of a song in four-bar phrases reaches to the last tenth of the page."""
    chart = parse("key: D\n\nVerse 1:\n" + "1 4 5 1 . 6- 4 5 1\n" * 7)
    layout = layout_of(chart, SheetSettings(names=names))
    width = (PAPERS["a4"][0] - 24 - layout.label) / layout.size
    longest = max(at + bar.width for line in layout.lines for at, bar in line.line.bars)
    assert 0.9 * width < longest <= width + 0.001


@pytest.mark.parametrize("names", [Names.NUMBERS, Names.LETTERS, Names.BOTH])
def test_two_phrases_stand_on_a_line_where_they_fit(names: Names) -> None:
    """Phrases of four bars stand in pairs, in a short song and in one that fills the page; on two
    columns of the page each has its own line."""
    phrases = "1 4 5 1\n6- 4 5 1\n"
    for pairs in (2, 7, 14):
        chart = parse("Verse 1:\n" + phrases * pairs)
        assert len(layout_of(chart, SheetSettings(names=names)).lines) == pairs
    chart = parse("Verse 1:\n" + phrases * 7)
    assert len(layout_of(chart, SheetSettings(columns=2, names=names)).lines) == 14


def test_bars_stay_in_columns_where_they_are_moved_apart() -> None:
    """Lines of phrases alike have their bars and dots below each other."""
    layout = layout_of(parse("1 4 5 1 . 6- 4 5 1\n" * 7))
    assert len({tuple(at for at, _ in line.line.bars) for line in layout.lines}) == 1
    assert len({line.line.dots for line in layout.lines}) == 1


def test_more_room_stands_after_a_box() -> None:
    """A bar with a boxed key or meter has more room after it than one without."""
    chart = parse("[2/4] 5 1 5 1")
    box, plain = (bar_of(bar, chart, 0, Names.NUMBERS) for bar in chart.bars()[:2])
    rooms = []
    for first in (box, plain):
        lines = fill_lines([[first, plain]], 20.0, 0.01, 1, wraps=False)
        assert lines is not None
        (_, _), (second, _) = lines[0][0]
        rooms.append(second - first.width)
    assert rooms[0] > rooms[1] + 0.3


def test_widths_are_those_of_the_font() -> None:
    """The table of widths is what the shipped font says of its glyphs (OpenType hmtx)."""
    font = TTFont(FONTS / "SourceSansPro-Semibold.otf")
    glyphs = font.getBestCmap()
    known = {c: width for c, width in ADVANCES.items() if c not in "♯♭"}
    assert {c: font["hmtx"][glyphs[ord(c)]][0] for c in known} == known


def fonts_not_embedded(content: bytes) -> list[str]:
    """The fonts of a PDF that it names but does not hold (ISO 32000-1, 9.9)."""
    missing = []
    for page in PdfReader(io.BytesIO(content)).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index] # an untyped tree
            whole = font.get_object()
            if "/DescendantFonts" in whole:
                whole = whole["/DescendantFonts"][0].get_object()
            names = whole.get("/FontDescriptor", {}).get_object()
            if not any(key.startswith("/FontFile") for key in names):
                missing.append(str(whole.get("/BaseFont")))
    return missing


def test_fonts_are_embedded() -> None:
    """A PDF holds each font that it uses, those for other scripts too."""
    assert fonts_not_embedded(write_sheet(every_sign(), SheetSettings(names=Names.BOTH))) == []
    assert fonts_not_embedded(write_sheet(parse("title: Ж Ω Mühle\n\n1 4"))) == []


@pytest.mark.parametrize("title", [CODE, EVERY_SCRIPT, "A" * 120])
def test_texts_are_never_code(title: str) -> None:
    """A title and a section's name are printed as they are, whatever they look like."""
    name = "A " + CODE.replace(":", "")[:36]
    chart = parse(f"title: {title}\n\n{name.strip()}:\n1 4")
    content = write_sheet(chart)
    metadata = PdfReader(io.BytesIO(content)).metadata
    assert metadata is not None
    assert metadata.title == title
    if title != EVERY_SCRIPT:
        (text,) = pages(content)
        assert packed(title) in text
        assert packed(name) in text


def test_two_thousand_bars_have_several_pages() -> None:
    """A chart of the greatest length is printed whole, and each page says which it is."""
    chart = parse("title: Long\n\n" + "Verse:\n1 4 5 1 1 4 5 1\n\n" * 250)
    assert len(chart.bars()) == 2000
    texts = pages(write_sheet(chart))
    assert len(texts) > 5
    for number, text in enumerate(texts, 1):
        assert f"Long{number}of{len(texts)}" in text
    bars = "".join(re.sub(r"Verse(\(cont\.\))?|Long\d+of\d+", "", text) for text in texts)
    assert bars.endswith("14511451" * 250)


def test_large_print_takes_no_more_pages_than_it_must() -> None:
    """The songs of the program have at most two pages in large print, on either paper."""
    for chart in written():
        for paper in PAPERS:
            assert layout_of(chart, SheetSettings(paper, is_large=True)).pages <= 2


def test_a_bar_wider_than_the_paper_is_printed_smaller() -> None:
    """Sixteen chords of many signs in one bar still fit between the margins."""
    bar = " ".join(["b7^maj7/#4'd"] * 16)
    chart = parse(f"meter: 16/16\n\n({bar})".replace("'", ""))
    settings = SheetSettings(is_large=True)
    assert overlaps(layout_of(chart, settings), PAPERS["a4"][0] - 24) == []


@pytest.mark.parametrize(("paper", "points"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_paper_has_its_size(paper: str, points: tuple[int, int]) -> None:
    """A4 and US letter have the sizes of ISO 216 and ANSI/ASME Y14.1, in points."""
    page = PdfReader(io.BytesIO(write_sheet(every_sign(), SheetSettings(paper)))).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == points


def test_pictures_show_all_pages_below_each_other() -> None:
    """PNG and SVG hold the whole song, at 144 pixels an inch and as a picture of lines."""
    chart = every_sign()
    writing = Writing(sheet=SheetSettings(is_large=True, columns=1))
    height = layout_of(chart, writing.sheet).pages * 297
    png = Image.open(io.BytesIO(chart_as_file(chart, ".png", writing)))
    assert png.size == (1191, -(-height * 144 * 10 // 254))
    svg = etree.fromstring(chart_as_file(chart, ".svg", writing))
    assert svg.tag == "{http://www.w3.org/2000/svg}svg"
    assert float(svg.get("height", "0").removesuffix("pt")) == pytest.approx(
        height / 25.4 * 72, abs=0.1
    )


def test_the_same_chart_is_the_same_file() -> None:
    """A sheet has no date in it: it is made again byte for byte."""
    assert write_sheet(every_sign()) == write_sheet(every_sign())


def test_a_set_has_a_list_in_front() -> None:
    """Each song is on the list with its key and page, and stands on that page."""
    charts = written()
    texts = pages(write_set(charts, title="Monday at the Boathouse"))
    assert len(texts) == len(charts) + 1
    assert texts[0].startswith("MondayattheBoathouse")
    for number, chart in enumerate(charts, 1):
        key = str(chart.key).translate({ord("#"): "♯"}).replace("b", "♭")
        line = f"{number}{chart.title}{key}{chart.meter}{chart.tempo:g}{number + 1}"
        assert packed(line) in texts[0]
        assert texts[number].startswith(packed(chart.title))
        assert texts[number].endswith(str(number + 1))


def test_the_list_of_blank_sheets_names_no_keys() -> None:
    """Who is to find the keys out does not read them in front."""
    charts = [parse(f"title: Song\nkey: {key}\n\n1 4") for key in ("Eb", "F#")]
    listed, *_ = pages(write_set(charts, SheetSettings(names=Names.BLANK)))
    assert "♭" not in listed
    assert "♯" not in listed
    assert "1Song4/4" in listed


def test_a_long_set_has_a_long_list() -> None:
    """Sixty songs have a list of three pages, and its page numbers count them."""
    charts = [parse(f"title: Song {chr(65 + n // 26)}{chr(65 + n % 26)}\n\n1 4") for n in range(60)]
    texts = pages(write_set(charts))
    assert len(texts) == 63
    assert "60SongCHC4/410063" in texts[2]
    assert texts[62].startswith("SongCH")


def test_wrong_settings_are_told() -> None:
    """Unknown paper, a third column and an empty set are refused in words."""
    with pytest.raises(SettingsError, match="a4 or letter"):
        SheetSettings("a5")
    with pytest.raises(SettingsError, match="1 or 2"):
        SheetSettings(columns=3)
    with pytest.raises(SettingsError, match="at least one"):
        write_set([])
