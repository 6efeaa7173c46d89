"""Column types that hold the same on SQLite and PostgreSQL: JSON and what people typed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from msgspec import convert
from msgspec.json import Decoder
from sqlalchemy import JSON, Dialect, Text
from sqlalchemy.sql.operators import OperatorType
from sqlalchemy.types import TypeDecorator, TypeEngine

from trainer.errors import StoreBroken
from trainer.store.records import storable

__all__ = ["StoredJson", "StoredText", "read_json"]

SHOWN = 40


class StoredJson(TypeDecorator[Any]):
    """JSON whose damage is told with its `place`, such as "exercises.data".

    Reading raises StoreBroken where what is stored is no JSON, or not of the shape `kind`, which is
    a type as `msgspec.convert` takes it.
    """

    impl = JSON
    cache_ok = True

    def __init__(self, place: str, kind: Any = Any) -> None:
        super().__init__()
        self.place, self.kind = place, kind

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], Any]:
        """Read JSON, or say where it is damaged."""
        # Some drivers give JSON already read, and SQLite a number as a number.
        is_text = super().result_processor(dialect, coltype) is not None
        decode_text, kind, place = Decoder(self.kind).decode, self.kind, self.place

        def decode(value: Any) -> Any:
            return decode_text(value) if is_text and type(value) is str else convert(value, kind)

        return lambda value: read_json(value, decode, place)

    def coerce_compared_value(self, op: OperatorType | None, value: Any) -> TypeEngine[Any]:
        """Compare and look inside as JSON does."""
        return self.impl_instance.coerce_compared_value(op, value)


class StoredText(TypeDecorator[str]):
    """What a person typed; characters that a database cannot hold become U+FFFD."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: str | None, _: Dialect) -> str | None:
        """Replace what cannot be stored."""
        return None if value is None else storable(value)


def read_json(value: Any, decode: Callable[[Any], Any], place: str) -> Any:
    """What `decode` makes of a stored value.

    Raises
    ------
    StoreBroken
        If it is no JSON, or not of the shape that it should have; says so with its place.
    """
    try:
        return decode(value)
    except (ValueError, RecursionError) as error:
        raise StoreBroken(
            f"{place}: found {_start(value)}, expected JSON ({error}). Put a backup in the store's "
            "place; the rest of it can still be read."
        ) from error


def _start(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= SHOWN else f"{text[:SHOWN]}..."
