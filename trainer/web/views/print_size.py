"""How large a sheet may be drawn so that it fits on one printed page.

Widths and heights are in ems of the sheet's type, as `static/sheet.css` and `handout.css` set them;
they are taken generously, for a line more costs less than a second page.
"""

from __future__ import annotations

from trainer.web.views.sheet import BarDrawing, ChordDrawing, Sheet, SheetLine

__all__ = ["SIZES_PT", "print_size"]

# Type sizes on paper, the largest first; the last is set in two columns.
SIZES_PT = (20.0, 18.0, 16.0, 14.0, 12.0, 10.5, 10.0, 8.0)
COLUMNS = (1, 1, 1, 1, 1, 1, 2, 2)
# What A4 and Letter both leave within margins of 12 mm, less the heading.
PAGE_PT = (525.0, 660.0)
COLUMN_GAP_PT = 23.0
ROW_EM, SECTION_EM, LABEL_EM = 1.75, 0.3, 4.4
DIGIT_EM, SMALL_EM, TAG_EM, SPLIT_EM = 0.68, 0.38, 0.32, 0.4
BAR_EM, NARROWEST_BAR_EM, DOT_EM = 0.6, 1.75, 0.95


def print_size(sheet: Sheet) -> int:
    """Which of `SIZES_PT` the sheet is printed in: the largest that fits, else the smallest."""
    for number in range(len(SIZES_PT)):
        if _fits(sheet, SIZES_PT[number], COLUMNS[number]):
            return number
    return len(SIZES_PT) - 1


def _fits(sheet: Sheet, size_pt: float, columns: int) -> bool:
    wide, high = PAGE_PT
    wide = (wide - COLUMN_GAP_PT * (columns - 1)) / columns
    rows_em = wide / size_pt - LABEL_EM
    heights = [
        SECTION_EM + ROW_EM * sum(_rows(line, rows_em) for line in section.lines)
        for section in sheet.sections
    ]
    # A section stays whole: a column may end as far up as the tallest is high.
    lost = max(heights, default=0.0) * (columns - 1)
    return (sum(heights) + lost) * size_pt <= high * columns


def _rows(line: SheetLine, wide_em: float) -> int:
    """How many rows a line takes: a phrase that does not fit goes to the next."""
    rows, used = 1, 0.0
    for phrase in line.phrases:
        widths = [_bar_width(bar.drawing) for bar in phrase]
        if used and used + DOT_EM + sum(widths) > wide_em:
            rows, used = rows + 1, 0.0
        used += DOT_EM if used else 0.0
        for width in widths:
            if used and used + width > wide_em:
                rows, used = rows + 1, 0.0
            used += width
    return rows


def _bar_width(bar: BarDrawing) -> float:
    chords = sum(map(_chord_width, bar.chords)) + SPLIT_EM * (len(bar.chords) - 1)
    tags = sum(TAG_EM * (len(tag) + 3) for tag in (bar.meter, bar.key) if tag)
    return max(NARROWEST_BAR_EM, BAR_EM + chords + tags + TAG_EM * 4 * bool(bar.key))


def _chord_width(chord: ChordDrawing) -> float:
    letters = len(chord.accidental + chord.number + chord.quality + chord.bass)
    full = letters + 0.5 * bool(chord.bass)
    held = 1.7 if chord.articulation == "hold" else 0.0
    digits = max(full, 1.5 if not chord.number else 1.0)
    return DIGIT_EM * digits + SMALL_EM * len(chord.extension) + held
