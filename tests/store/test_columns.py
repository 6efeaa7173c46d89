"""Column types, on tables of the tests' own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Column, Integer, MetaData, Table, insert, select, text

from trainer.errors import StoreBroken
from trainer.store.address import url_of
from trainer.store.columns import StoredJson, StoredText
from trainer.store.database import EngineDatabase

NOTES = Table(
    "notes",
    MetaData(),
    Column("id", Integer, primary_key=True),
    Column("data", StoredJson("notes.data")),
    Column("words", StoredText),
)


@pytest.fixture
def database(location: Path | str) -> Any:
    """A database with a table of notes."""
    found = EngineDatabase(url_of(location), 1)
    with found.writing() as connection:
        NOTES.create(connection)
    yield found
    found.close()


VALUES: tuple[Any, ...] = ({"a": [1, "é ♭", None, 0.5]}, [], "text", 7, True)


def test_json_comes_back_as_it_went_in(database: EngineDatabase) -> None:
    """Objects, lists, texts and numbers come back the same, and can be looked into by SQL."""
    with database.writing() as connection:
        connection.execute(insert(NOTES), [{"data": value} for value in VALUES])
    inside = NOTES.c.data[("a", 1)].as_string()
    with database.reading() as connection:
        found = connection.execute(select(NOTES.c.data).order_by(NOTES.c.id)).scalars().all()
        assert found == list(VALUES)
        assert connection.execute(select(inside).where(NOTES.c.id == 1)).scalar_one() == "é ♭"


@pytest.mark.parametrize("location", ["sqlite"], indirect=True)
@pytest.mark.parametrize("bad", ['{"a": ', "", "[" * 100_000, "caf\u00e9"])
def test_damaged_json_is_told_with_its_place(database: EngineDatabase, bad: str) -> None:
    """What is no JSON is StoreBroken with table, column and the start of what was found.

    PostgreSQL itself takes nothing but JSON.
    """
    with database.writing() as connection:
        connection.execute(text("INSERT INTO notes (data) VALUES (:bad)"), {"bad": bad})
    with (
        pytest.raises(StoreBroken, match=r"notes\.data: found '.*, expected JSON") as caught,
        database.reading() as connection,
    ):
        connection.execute(select(NOTES.c.data)).all()
    assert len(str(caught.value)) < 400


def test_what_cannot_be_stored_is_replaced(database: EngineDatabase) -> None:
    """NUL and halves of characters become U+FFFD, the rest stays as it was typed."""
    with database.writing() as connection:
        connection.execute(insert(NOTES).values(words="1\x00 ♭7\ud83d 🎸\n"))
    with database.reading() as connection:
        assert connection.execute(select(NOTES.c.words)).scalar_one() == "1\ufffd ♭7\ufffd 🎸\n"
