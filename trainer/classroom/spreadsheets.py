"""The gradebook as spreadsheets: CSV and XLSX.

Names and titles are typed by people. A text that a spreadsheet program would run as a formula (it
begins with = + - @, a tab or a carriage return) gets an apostrophe before it in CSV, as OWASP's
page on CSV injection advises; in XLSX every text is stored as a text, which no program runs. Scores
are numbers from 0 to 1, shown as per cents in XLSX.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

    from trainer.classroom.gradebook import GradeTable
    from trainer.store import Member

__all__ = ["Value", "safe_text", "write_blank_csv", "write_csv", "write_xlsx"]

Value = str | float | datetime | None
# What spreadsheet programs take for the beginning of a formula.
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
# What XML cannot hold (https://www.w3.org/TR/xml/#charsets).
NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
# The byte order mark by which spreadsheet programs know UTF-8.
BOM = "\ufeff"
WIDEST, NARROWEST = 40, 8


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A sheet: its name, a header and rows; `shares` are the columns that hold shares."""

    name: str
    header: tuple[str, ...]
    rows: tuple[tuple[Value, ...], ...]
    shares: frozenset[int]


def safe_text(text: str) -> str:
    """A text that no spreadsheet program runs: a formula gets an apostrophe before it."""
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA) else text


def write_csv(table: GradeTable) -> bytes:
    """The table of an assignment as CSV (RFC 4180) in UTF-8 with a byte order mark."""
    sheet = _scores(table)
    return _as_csv((sheet.header, *sheet.rows))


def write_blank_csv(members: Iterable[Member], titles: Iterable[str]) -> bytes:
    """A CSV file to type scores into: a row for each learner and a column for each song."""
    rows = [(each.shown_name, each.sign_in) for each in members]
    return _as_csv((("Name", "Sign-in name", *titles), *rows))


def _as_csv(rows: Iterable[Iterable[Value]]) -> bytes:
    """Rows as CSV (RFC 4180) in UTF-8 with a byte order mark."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerows([_csv_value(value) for value in row] for row in rows)
    return (BOM + out.getvalue()).encode()


def write_xlsx(table: GradeTable) -> bytes:
    """An assignment as a workbook: the scores, every try, and the statistics of the items."""
    from openpyxl import Workbook

    book = Workbook()
    active = book.active
    assert active is not None
    book.remove(active)
    for sheet in (_scores(table), _tries(table), _items(table)):
        _fill(book.create_sheet(sheet.name), sheet)
    # Without these the file would say when and by which program it was written.
    book.properties.creator = "Chart trainer"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _scores(table: GradeTable) -> _Sheet:
    titles = tuple(f"{item.position}. {item.title}" for item in table.items)
    header = ("Name", "Sign-in name", *titles, "Done", "Score", "Passed")
    rows = tuple(
        (
            row.member.shown_name,
            row.member.sign_in,
            *(_rounded(cell.score) for cell in row.cells),
            row.done,
            _rounded(row.score),
            "yes" if row.passed else "no",
        )
        for row in table.rows
    )
    count = len(titles)
    return _Sheet("Scores", header, rows, frozenset((*range(2, 2 + count), 3 + count)))


def _tries(table: GradeTable) -> _Sheet:
    header = (
        "Name", "Item", "Try", "Handed in", "Late", "Counts", "Listens", "Stopped", "Speed",
        "Graded", "Score",
    )  # fmt: skip
    return _Sheet("Tries", header, tuple(_try_rows(table)), frozenset((8, 9, 10)))


def _try_rows(table: GradeTable) -> Iterator[tuple[Value, ...]]:
    for row in table.rows:
        for item, cell in zip(table.items, row.cells, strict=True):
            for attempt in cell.attempts:
                yield (
                    row.member.shown_name,
                    f"{item.position}. {item.title}",
                    attempt.number,
                    attempt.handed_in_at,
                    "yes" if attempt.late else "no",
                    "yes" if attempt is cell.counting else "no",
                    attempt.listens,
                    "yes" if attempt.paused else "no",
                    attempt.tempo_ratio,
                    _rounded(attempt.grade.graded),
                    _rounded(attempt.grade.score),
                )


def _items(table: GradeTable) -> _Sheet:
    header = (
        "Item", "Points", "Answers", "Right", "Mean score", "p", "p, low end", "p, high end",
        "Point-biserial", "Low end", "High end", "Note",
    )  # fmt: skip
    rows = []
    for item, found in zip(table.items, table.statistics, strict=True):
        p, r = found.p, found.discrimination
        rows.append(
            (
                f"{item.position}. {item.title}",
                item.points,
                found.answers,
                found.right,
                _rounded(found.mean),
                *((None, None, None) if p is None else map(_rounded, (p.value, p.low, p.high))),
                *((None, None, None) if r is None else map(_rounded, (r.value, r.low, r.high))),
                found.why,
            )
        )
    return _Sheet("Items", header, tuple(rows), frozenset((4, 5, 6, 7)))


def _fill(page: Worksheet, sheet: _Sheet) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    for at, row in enumerate((sheet.header, *sheet.rows), 1):
        for column, value in enumerate(row, 1):
            cell = page.cell(row=at, column=column)
            if isinstance(value, str):
                cell.value = NO_XML.sub("\ufffd", value)
                # A text that begins with = would become a formula.
                cell.data_type = "s"
                cell.quotePrefix = value.startswith(FORMULA)
            else:
                cell.value = _local(value)
                if at > 1 and column - 1 in sheet.shares:
                    cell.number_format = "0%"
            if at == 1:
                cell.font = Font(bold=True)
    page.freeze_panes = "B2"
    for column, width in enumerate(_widths(sheet), 1):
        page.column_dimensions[get_column_letter(column)].width = width


def _widths(sheet: _Sheet) -> Iterator[int]:
    for column, name in enumerate(sheet.header):
        longest = max((len(str(row[column])) for row in sheet.rows), default=0)
        yield min(WIDEST, max(NARROWEST, longest, len(name)) + 2)


def _local(value: float | datetime | None) -> float | datetime | None:
    """A value as a cell holds it: a moment in UTC without its zone, which XLSX has no room for."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).replace(tzinfo=None, microsecond=0)
    return value


def _csv_value(value: Value) -> str:
    if value is None:
        return ""
    return safe_text(value) if isinstance(value, str) else str(value)


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)
