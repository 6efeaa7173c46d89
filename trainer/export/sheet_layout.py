"""Where everything of a chart stands on its sheets of paper, as large as fits on one.

Sections follow each other, phrases begin at the left edge or after a dot, and bars start at stops,
so that they stand in columns. Layouts are tried from the plainest to the closest: two phrases on a
line, one phrase on a line if two are too wide, two columns on the page, three phrases on a line.
The first in which lines are far enough apart on one page is taken. Lengths are in millimetres, in a
line in em.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from trainer.chart import Chart
from trainer.export.sheet_lines import fill_lines
from trainer.export.sheet_signs import DrawnBar, Names, bar_of

__all__ = ["COLUMN_GAP_MM", "LARGE_LABEL", "Layout", "Line", "PlacedLine", "Room", "lay_out"]

# The line distance in em: of names alone, and of letters under numbers.
LINE_EM, DOUBLE_LINE_EM = 1.72, 2.3
# What notes and rows of hits over the bars add to it.
NOTES_EM, HITS_EM = 0.4, 0.46
# Between sections, in lines: what is usual, and what must do where a second column would be needed.
SECTION_GAP, SMALL_GAP = 0.22, 0.1
SMALLER, SMALLEST = 0.88, 0.82
COLUMN_GAP_MM = 5.0
# How much farther apart bars may stand to fill the width of the page.
MOST_STRETCH = 2.4
LABEL_MM, NARROW_LABEL_MM, LARGE_LABEL = 23.0, 14.0, 1.3
STEP_MM, CLEARLY_MM, SLACK_MM = 0.25, 0.75, 0.01
CLEARLY_LARGER = 1.08
WIDE, CLOSE, FREE = (2.6, 2.1, 1.7), (1.5,), (0.75,)


@dataclass(frozen=True, slots=True)
class Room:
    """The paper that bars may fill, without its margins.

    `heading` is the height of a song's heading on its first page, `footer` that of the page number,
    which one page alone does not have.
    """

    width: float
    height: float
    heading: float
    footer: float


@dataclass(frozen=True, slots=True)
class Line:
    """A line of bars with where each begins in em, and where dots part its phrases.

    `section` is the number of its section; `is_first` says that the section begins here.
    """

    section: int
    is_first: bool
    bars: tuple[tuple[float, DrawnBar], ...]
    dots: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PlacedLine:
    """A line on a page: the left edge and the top of its room. `is_top` says that nothing stands
    above it in its column."""

    line: Line
    page: int
    left: float
    top: float
    is_top: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """All lines in their places; `distance` is that of two lines, `size` that of a root.

    `over` is the room over the numbers for notes and hits, in em.
    """

    lines: tuple[PlacedLine, ...]
    pages: int
    columns: int
    distance: float
    size: float
    label: float
    over: float = 0.0


@dataclass(frozen=True, slots=True)
class _Manner:
    """A way to lay lines out: columns of the page, phrases on a line, stops, the least distance.

    `scale` makes numbers smaller at the same distance; `gap` is the room between sections, in
    lines.
    """

    columns: int
    phrases: int
    stops: tuple[float, ...]
    wraps: bool
    least: float
    scale: float = 1.0
    gap: float = SECTION_GAP


@dataclass(frozen=True, slots=True)
class _Task:
    """What is to be laid out: bars by section and phrase, and the paper for them."""

    sections: list[list[list[DrawnBar]]]
    room: Room
    line_em: float
    is_named: bool
    is_large: bool
    over: float = 0.0

    def label(self, manner: _Manner) -> float:
        """The width of the names of sections."""
        if not self.is_named:
            return 0.0
        width = LABEL_MM if manner.columns == 1 else NARROW_LABEL_MM
        return width * (LARGE_LABEL if self.is_large else 1.0)

    def size(self, manner: _Manner, distance: float) -> float:
        """The size of a root where lines are so far apart."""
        return distance / self.line_em * manner.scale

    def column(self, manner: _Manner) -> float:
        """The width of a column of the page with its names of sections."""
        return (self.room.width - COLUMN_GAP_MM * (manner.columns - 1)) / manner.columns


def lay_out(
    chart: Chart, names: Names, room: Room, columns: int | None = None, *, is_large: bool = False
) -> Layout:
    """Lay a chart out on as few pages as its size allows.

    `columns` of the page are chosen where None is given. Normal print has at least 14 mm from line
    to line, down to 12 where that saves a second page; large print at least 20.
    """
    line_em = DOUBLE_LINE_EM if names is Names.BOTH else LINE_EM
    is_named = any(section.name for section in chart.sections)
    drawn = _drawn(chart, names)
    bars = [bar for section in drawn for phrase in section for bar in phrase]
    over = NOTES_EM * any(bar.notes for bar in bars) + HITS_EM * any(bar.strip for bar in bars)
    task = _Task(drawn, room, line_em + over, is_named, is_large, over)
    usual, most, least = (20.0, 28.0, 20.0) if is_large else (14.0, 19.0, 12.0)
    # With notes lines may be as much farther apart, so that the numbers stay as large.
    most *= task.line_em / line_em
    for manners in _manners(usual, least):
        tried = [each for each in manners if columns in (None, each.columns)]
        found = _clearest([_largest(task, manner, most) for manner in tried])
        if found is not None:
            return found
    counts = [columns] if columns is not None else [1, 2]
    on_pages = [_on_pages(task, _Manner(each, 2, (), True, usual), usual) for each in counts]
    return min(on_pages, key=lambda each: each.pages)


def _clearest(layouts: list[Layout | None]) -> Layout | None:
    """The first layout there is, unless the numbers of a later one are clearly larger."""
    found: Layout | None = None
    for each in layouts:
        if each is not None and (found is None or each.size > found.size * CLEARLY_LARGER):
            found = each
    return found


def _manners(usual: float, least: float) -> Iterator[tuple[_Manner, ...]]:
    """The ways to be tried in order; those of a tuple are as good as each other."""
    yield (_Manner(1, 2, WIDE, False, usual + 3),)
    yield (_Manner(1, 1, WIDE, False, usual + 3),)
    yield (_Manner(1, 2, WIDE, False, usual),)
    yield (
        _Manner(1, 2, (*WIDE, *CLOSE), False, usual, gap=SMALL_GAP),
        _Manner(2, 2, WIDE, False, usual),
    )
    yield (_Manner(1, 3, (*WIDE, *CLOSE), False, usual),)
    yield (_Manner(1, 3, (*WIDE, *CLOSE), False, usual, gap=0.0),)
    stops = (*WIDE, *CLOSE, *FREE)
    for distance, scale in ((usual, SMALLER), (usual, SMALLEST), (least, SMALLER)):
        for wraps in (False, True):
            for columns in (1, 2):
                yield (_Manner(columns, 3, stops, wraps, distance, scale, 0.0),)


def _drawn(chart: Chart, names: Names) -> list[list[list[DrawnBar]]]:
    """The bars of a chart by section and phrase."""
    places = chart.placed_bars()
    return [
        [
            [bar_of(bar, chart, next(places).key_shift, names) for bar in phrase.bars]
            for phrase in section.phrases
        ]
        for section in chart.sections
    ]


def _largest(task: _Task, manner: _Manner, most: float) -> Layout | None:
    """The largest layout on one page in a manner; None if there is none.

    In one column fewer lines are preferred, so that two phrases stand on a line wherever they fit.
    Wide stops are preferred: narrower ones must let lines be clearly farther apart.
    """
    found: Layout | None = None
    for stop in manner.stops:
        one = _on_one_page(task, manner, stop, manner.least, most)
        if one is not None and (found is None or _is_better(one, found)):
            found = one
    return found


def _is_better(one: Layout, other: Layout) -> bool:
    if one.columns == 1 and len(one.lines) != len(other.lines):
        return len(one.lines) < len(other.lines)
    return one.distance >= other.distance + CLEARLY_MM


def _on_one_page(
    task: _Task, manner: _Manner, stop: float, least: float, most: float
) -> Layout | None:
    """The largest layout on one page with a stop, by halving; None if `least` is too large. In one
    column it has no more lines than at the least distance."""
    best = _fitting(task, manner, stop, least) if least <= most else None
    low, high = 0, int((most - least) / STEP_MM)
    while best is not None and low < high:
        middle = (low + high + 1) // 2
        found = _fitting(task, manner, stop, least + middle * STEP_MM)
        is_longer = found is not None and len(found.lines) > len(best.lines)
        if found is None or (is_longer and manner.columns == 1):
            high = middle - 1
        else:
            best, low = found, middle
    return best


def _fitting(task: _Task, manner: _Manner, stop: float, distance: float) -> Layout | None:
    """The layout at a line distance, if it has one page."""
    lines = _lines(task, manner, stop, distance)
    if (
        lines is None
        or len(lines) * distance
        > (task.room.height - task.room.heading) * manner.columns + SLACK_MM
    ):
        return None
    found = _placed(lines, task, manner, distance, footer=0.0)
    return found if found.pages == 1 else None


def _on_pages(task: _Task, manner: _Manner, distance: float) -> Layout:
    """The layout with the fewest pages. A bar wider than the page makes the numbers smaller."""
    while True:
        found = [
            _placed(lines, task, manner, distance, footer=task.room.footer)
            for stop in (*CLOSE, *FREE)
            if (lines := _lines(task, manner, stop, distance)) is not None
        ]
        if found:
            return min(found, key=lambda each: each.pages)
        manner = replace(manner, scale=manner.scale * 0.95)


def _lines(task: _Task, manner: _Manner, stop: float, distance: float) -> list[Line] | None:
    """All lines at a size; None if a phrase does not fit on one and may not go over several."""
    width = (task.column(manner) - task.label(manner)) / task.size(manner, distance)
    found: list[Line] = []
    for number, phrases in enumerate(task.sections):
        lines = fill_lines(phrases, width, stop, manner.phrases, wraps=manner.wraps)
        if lines is None:
            return None
        found += [
            Line(number, k == 0, tuple(bars), tuple(dots)) for k, (bars, dots) in enumerate(lines)
        ]
    return found


def _placed(
    lines: list[Line], task: _Task, manner: _Manner, distance: float, *, footer: float
) -> Layout:
    """Lines put into columns and pages, sections together where no page is lost by it."""
    pages = 0
    best: list[PlacedLine] = []
    for together in (True, False):
        placed = list(_flow(lines, task, manner, distance, footer, together=together))
        if not best or placed[-1].page + 1 < pages:
            best, pages = placed, placed[-1].page + 1
    size, label = task.size(manner, distance), task.label(manner)
    drawn = _stretched(best, (task.column(manner) - label) / size)
    return Layout(tuple(drawn), pages, manner.columns, distance, size, label, task.over)


def _stretched(lines: list[PlacedLine], width: float) -> list[PlacedLine]:
    """The lines with all bars moved apart alike, so that the longest line fills its `width` in em.

    Bars that stood in columns still do. Beyond MOST_STRETCH a short line would fall apart.
    """
    ends = [line.line.bars[-1] for line in lines]
    room = [(width - bar.width) / at for at, bar in ends if at]
    factor = max(1.0, min([MOST_STRETCH, *room]))
    return [
        replace(
            placed,
            line=replace(
                placed.line,
                bars=tuple((at * factor, bar) for at, bar in placed.line.bars),
                dots=tuple(dot * factor for dot in placed.line.dots),
            ),
        )
        for placed in lines
    ]


def _flow(
    lines: list[Line],
    task: _Task,
    manner: _Manner,
    distance: float,
    footer: float,
    *,
    together: bool,
) -> Iterator[PlacedLine]:
    starts = [k for k, line in enumerate(lines) if line.is_first]
    lengths = {
        first: (after - first) * distance for first, after in pairwise([*starts, len(lines)])
    }
    room, step = task.room, task.column(manner) + COLUMN_GAP_MM
    column, top = 0, 0.0
    for k, line in enumerate(lines):
        height = room.height - footer - (room.heading if column < manner.columns else 0.0)
        gap = manner.gap * distance if line.is_first and top else 0.0
        needed = gap + distance
        if line.is_first and together and lengths[k] <= height * 0.7:
            needed = gap + lengths[k]
        if top and top + needed > height + SLACK_MM:
            column, top, gap = column + 1, 0.0, 0.0
        page, of_page = divmod(column, manner.columns)
        yield PlacedLine(line, page, of_page * step, top + gap, top == 0)
        top += gap + distance
