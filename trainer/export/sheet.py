"""Charts as sheets of paper: PDF, PNG and SVG, one song or a set with a list in front."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from trainer.band.shapes import choose_capo
from trainer.chart import Chart, bass_pitch_class, root_pitch_class, shape_keys
from trainer.chart.format import format_count_off, format_tempo
from trainer.errors import SettingsError
from trainer.export.sheet_layout import (
    COLUMN_GAP_MM,
    LARGE_LABEL,
    Layout,
    Line,
    PlacedLine,
    Room,
    lay_out,
)
from trainer.export.sheet_signs import (
    STYLES,
    DrawnBar,
    DrawnChord,
    Names,
    printed_key,
    tag_width,
)
from trainer.export.typesetting import SheetFormat, draw

__all__ = ["PAPERS", "SheetSettings", "layout_of", "write_set", "write_sheet", "write_sheets"]

Json = dict[str, Any]
# Width and height in millimetres: ISO 216, and ANSI/ASME Y14.1 A.
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
SIDE, TOP, BOTTOM, HEADING, FOOTER = 12.0, 9.0, 8.0, 14.0, 4.0
# Where in a line's room the feet of the numbers stand.
BASELINE_EM = 1.22
UNDERLINE_EM, LOW_UNDERLINE_EM = 0.18, 0.3
# Half of a diamond's height.
DIAMOND_EM, LOW_DIAMOND_EM = 0.78, 0.64
TITLE_BASELINE = 6.0
LABEL_PT, NARROW_LABEL_PT = 11.0, 9.0
UNTITLED = "Chart"
# In em: between a note and the next, and how far before its bar a note may begin that would leave
# the line.
NOTE_GAP, MOST_NOTE_BEFORE = 0.2, 3.0
# In millimetres: comments at the foot of the page, from line to line, and all of them at most.
REMARKS_GAP, REMARK_DISTANCE, MOST_REMARKS_HEIGHT = 4.0, 4.6, 64.0
SONGS_ON_LIST, LIST_ROW, LIST_TOP = 25, 9.5, 32.0


@dataclass(frozen=True, slots=True)
class SheetSettings:
    """How a sheet is printed; `columns` of the page are chosen where None is given.

    `aside` stands in the heading in place of what guitars do, and `remarks` at the foot before the
    chart's own comments.
    """

    paper: str = "a4"
    columns: int | None = None
    is_large: bool = False
    names: Names = Names.NUMBERS
    aside: str = ""
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise SettingsError("--paper", repr(self.paper), " or ".join(PAPERS))
        if self.columns not in (None, 1, 2):
            raise SettingsError("--columns", str(self.columns), "1 or 2")


def layout_of(chart: Chart, settings: SheetSettings | None = None) -> Layout:
    """Where everything of a chart stands on its pages."""
    settings = settings or SheetSettings()
    width, height = PAPERS[settings.paper]
    below = remarks_height(_remarks(chart, settings))
    room = Room(width - 2 * SIDE, height - TOP - BOTTOM - below, HEADING, FOOTER)
    return lay_out(chart, settings.names, room, settings.columns, is_large=settings.is_large)


def write_sheet(
    chart: Chart, settings: SheetSettings | None = None, kind: SheetFormat = "pdf"
) -> bytes:
    """A chart as a document.

    It has one page where the song fits; a picture has all pages below each other.
    """
    settings = settings or SheetSettings()
    pages = _song_pages(chart, settings)
    stacked = 1
    if kind != "pdf":
        pages, stacked = [_stacked(pages, settings)], len(pages)
    return draw(_document(pages, chart.title, settings, stacked), kind)


def write_set(
    charts: Sequence[Chart], settings: SheetSettings | None = None, title: str = "Set"
) -> bytes:
    """Several charts as one PDF, each in its own key on pages of its own, with a list in front.

    Raises SettingsError for no charts.
    """
    if not charts:
        raise SettingsError("set", "no charts", "at least one")
    settings = settings or SheetSettings()
    facts = [f"{chart.meter} · {format_tempo(chart.tempo)}" for chart in charts]
    return write_sheets([(chart, settings) for chart in charts], title, facts)


def write_sheets(
    sheets: Sequence[tuple[Chart, SheetSettings]], title: str, facts: Sequence[str] = ()
) -> bytes:
    """Several charts, each with settings of its own, as one PDF on the paper of the first.

    With `facts`, a few words for each chart, a list of the charts stands in front; without, the
    pages are the charts' alone.
    """
    settings = sheets[0][1]
    songs = [_song_pages(chart, each) for chart, each in sheets]
    pages: list[Json] = []
    if facts:
        first = 1 + -(-len(sheets) // SONGS_ON_LIST)
        starts = [first + sum(len(pages) for pages in songs[:k]) for k in range(len(songs))]
        pages += _list_pages(sheets, starts, title, facts)
    for page in (page for pages in songs for page in pages):
        pages.append(page | {"number": str(len(pages) + 1)})
    return draw(_document(pages, title, settings), "pdf")


def _document(pages: list[Json], title: str, settings: SheetSettings, stacked: int = 1) -> Json:
    width, height = PAPERS[settings.paper]
    return {
        "title": title,
        "width": width,
        "height": height * stacked,
        "styles": STYLES,
        "pages": pages,
    }


def _song_pages(chart: Chart, settings: SheetSettings) -> list[Json]:
    """The pages of one song."""
    layout = layout_of(chart, settings)
    remarks = _remarks(chart, settings)
    pages = []
    for number, lines in groupby(layout.lines, key=lambda each: each.page):
        top = TOP if number else TOP + HEADING
        place = f"{chart.title or UNTITLED} · {number + 1} of {layout.pages}"
        page = {
            "kind": "song",
            "headings": [] if number else [_heading(chart, settings)],
            "lines": list(_lines(chart, layout, list(lines), top, settings)),
            "footers": [_footer(place, settings)] if layout.pages > 1 else [],
            "remarks": _placed_remarks(remarks, settings) if number == layout.pages - 1 else [],
            "number": "",
        }
        pages.append(page)
    return pages


def _footer(text: str, settings: SheetSettings) -> Json:
    return {"text": text, "y": PAPERS[settings.paper][1] - 6}


def _stacked(pages: list[Json], settings: SheetSettings) -> Json:
    """All pages as one, below each other."""
    height = PAPERS[settings.paper][1]
    whole = {**pages[0], "lines": [], "footers": [], "remarks": []}
    for number, page in enumerate(pages):
        down = number * height
        whole["lines"] += [
            line | {
                "y": line["y"] + down,
                "label": line["label"] and line["label"] | {"y": line["label"]["y"] + down},
            }
            for line in page["lines"]
        ]  # fmt: skip
        for listed in ("footers", "remarks"):
            whole[listed] += [each | {"y": each["y"] + down} for each in page[listed]]
    return whole


def _heading(chart: Chart, settings: SheetSettings) -> Json:
    """What stands over the first page; on a blank sheet the key is to be filled in as well."""
    is_blank = settings.names is Names.BLANK
    return {
        "left": SIDE,
        "top": TOP + TITLE_BASELINE,
        "width": PAPERS[settings.paper][0] - 2 * SIDE,
        "title": chart.title or UNTITLED,
        "key": "____" if is_blank else printed_key(chart.key),
        "facts": _facts(chart),
        "capo": settings.aside or ("" if is_blank else _capo(chart)),
    }


def _facts(chart: Chart) -> str:
    """Meter, feel, tempo and a count-off that isn't the usual bar, in words."""
    feel = "" if chart.feel == str(chart.meter) else f" · {chart.feel}"
    count = "" if chart.count_off == 1 else f" · count-off: {format_count_off(chart.count_off)}"
    return f"{chart.meter}{feel} · {format_tempo(chart.tempo)} beats a minute{count}"


def _capo(chart: Chart) -> str:
    """The guitar's capo and the keys of the shapes with it: the chart's own, or else one that makes
    the shapes easy; "" for none."""
    if chart.capo is not None:
        shapes = ", then ".join(map(printed_key, shape_keys(chart)))
        where = f"capo {chart.capo}, shapes of {shapes}" if chart.capo else "no capo"
        return f"Guitar: {where}"
    played = []
    for place in chart.placed_bars():
        tonic = (chart.key.pitch_class + place.key_shift) % 12
        played += [
            (
                root_pitch_class(chord, tonic),
                chord.quality,
                chord.extension,
                bass_pitch_class(chord, tonic),
            )
            for event in place.bar.events
            if (chord := event.chord) is not None
        ]
    capo = choose_capo(played)
    return f"Guitar: capo {capo}, shapes of {printed_key(chart.key.shifted(-capo))}" if capo else ""


def _remarks(chart: Chart, settings: SheetSettings) -> list[str]:
    """The remarks of the settings and the comments of a chart, each after what it is about; a
    blank sheet has no comments."""
    found = list(settings.remarks)
    if settings.names is Names.BLANK:
        return found
    found += chart.comments
    for section in chart.sections:
        name = section.name or "The song"
        found += [f"{name}: {comment}" for comment in section.comments]
        for number, phrase in enumerate(section.phrases, 1):
            found += [f"{name}, phrase {number}: {comment}" for comment in phrase.comments]
    return found


def remarks_height(remarks: Sequence[str]) -> float:
    """The room that comments take at the foot of a page, in millimetres."""
    return REMARKS_GAP + _remark_distance(remarks) * len(remarks) if remarks else 0.0


def _remark_distance(remarks: Sequence[str]) -> float:
    return min(REMARK_DISTANCE, MOST_REMARKS_HEIGHT / len(remarks))


def _placed_remarks(remarks: Sequence[str], settings: SheetSettings) -> list[Json]:
    width, height = PAPERS[settings.paper]
    distance = _remark_distance(remarks) if remarks else 0.0
    first = height - BOTTOM - FOOTER - distance * (len(remarks) - 1)
    return [
        {"text": text, "x": SIDE, "y": first + distance * number, "width": width - 2 * SIDE,
         "size": 2.3 * distance}
        for number, text in enumerate(remarks)
    ]  # fmt: skip


def _lines(
    chart: Chart, layout: Layout, lines: list[PlacedLine], top: float, settings: SheetSettings
) -> Iterable[Json]:
    """The lines of one page, with the name of its section at the first line of each."""
    label_pt = LABEL_PT if layout.columns == 1 else NARROW_LABEL_PT
    label_pt *= LARGE_LABEL if settings.is_large else 1.0
    paper = PAPERS[settings.paper][0] - 2 * SIDE
    width = (paper - COLUMN_GAP_MM * (layout.columns - 1)) / layout.columns - layout.label
    for number, placed in enumerate(lines):
        line, left = placed.line, SIDE + placed.left
        y = top + placed.top + (BASELINE_EM + layout.over) * layout.size
        label = None
        if (line.is_first or placed.is_top) and chart.sections[line.section].name:
            label = {
                "name": chart.sections[line.section].name + ("" if line.is_first else " (cont.)"),
                "x": left,
                "y": y,
                "width": layout.label - 2,
                "height": _run(lines, number) * layout.distance - 2,
                "size": label_pt,
                "notes": _section_notes(chart, line, settings),
            }
        yield {
            "x": left + layout.label,
            "y": y,
            "size": layout.size,
            "label": label,
            "dots": line.dots,
            "bars": [
                _bar(at, bar, room, before)
                for (at, bar), room, before in _with_room(line, width / layout.size)
            ],
        }


def _section_notes(chart: Chart, line: Line, settings: SheetSettings) -> list[str]:
    """The words for the players about a section, under its name."""
    is_told = line.is_first and settings.names is not Names.BLANK
    return list(chart.sections[line.section].notes) if is_told else []


def _with_room(line: Line, width: float) -> Iterator[tuple[tuple[float, DrawnBar], float, float]]:
    """The bars of a line `width` wide, each with the room for its note, up to the next note or to
    the end of the line, and how much farther left the last note may begin if it is longer."""
    noted = [at for at, bar in line.bars if bar.notes or bar.strip]
    end = max(width, *(at + bar.width for at, bar in line.bars))
    for at, bar in line.bars:
        following = min((each for each in noted if each > at), default=None)
        room = end - at if following is None else following - at - NOTE_GAP
        is_free = following is None and not bar.strip and noted[-1:] == noted[:1]
        yield (at, bar), room, min(at, MOST_NOTE_BEFORE) if is_free else 0.0


def _run(lines: list[PlacedLine], first: int) -> int:
    """How many lines from `first` on are of the same section in the same column."""
    count = 1
    for placed in lines[first + 1 :]:
        if placed.line.is_first or placed.is_top:
            break
        count += 1
    return count


def _bar(at: float, bar: DrawnBar, room: float, before: float) -> Json:
    return {
        "notes": bar.notes,
        "strip": bar.strip,
        "over": bar.over,
        "room": room,
        "before": before,
        "x": at,
        "width": bar.width,
        "start": bar.start,
        "underline": _underline(bar),
        "tags": [[tag, tag_width(tag)] for tag in bar.tags],
        "chords": [_chord(chord) for chord in bar.chords],
    }


def _underline(bar: DrawnBar) -> float:
    """How far below the numbers a split bar is underlined, 0 for a bar that is not split."""
    if len(bar.chords) == 1:
        return 0.0
    is_low = any(style == "bass" for chord in bar.chords for style, _ in chord.pieces)
    return LOW_UNDERLINE_EM if is_low else UNDERLINE_EM


def _chord(chord: DrawnChord) -> Json:
    return {
        "at": chord.at,
        "width": chord.name_width,
        "pieces": chord.pieces,
        "under": chord.under,
        "centre": chord.centre,
        "ticks": chord.ticks,
        "sign": chord.sign,
        "diamond": chord.diamond,
        "height": LOW_DIAMOND_EM if chord.under else DIAMOND_EM,
    }


def _list_pages(
    sheets: Sequence[tuple[Chart, SheetSettings]],
    starts: Sequence[int],
    title: str,
    facts: Sequence[str],
) -> Iterable[Json]:
    """The list in front of a set: number, title, key (none where it is to be found out), what it
    is like, and page."""
    settings = sheets[0][1]
    rows = [
        {
            "number": str(number),
            "title": chart.title or UNTITLED,
            "key": "" if each.names is Names.BLANK else printed_key(chart.key),
            "facts": fact,
            "page": page,
            "y": LIST_TOP + (number - 1) % SONGS_ON_LIST * LIST_ROW,
        }
        for number, ((chart, each), page, fact) in enumerate(
            zip(sheets, starts, facts, strict=True), 1
        )
    ]
    for first in range(0, len(rows), SONGS_ON_LIST):
        yield {
            "kind": "list",
            "title": title,
            "left": SIDE,
            "top": TOP + TITLE_BASELINE,
            "width": PAPERS[settings.paper][0] - 2 * SIDE,
            "rows": rows[first : first + SONGS_ON_LIST],
            "footers": [],
            "remarks": [],
            "number": str(first // SONGS_ON_LIST + 1),
        }
