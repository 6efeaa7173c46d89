"""Byte ranges and validators, as RFC 9110 has them (sections 13 and 14)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["Span", "Unsatisfiable", "is_same", "wanted"]

# One range of RFC 9110, section 14.1.2: "first-", "first-last" or "-suffix length".
_ONE = re.compile(r"bytes\s*=\s*(\d*)\s*-\s*(\d*)", re.IGNORECASE)
_MOST_DIGITS = 18


@dataclass(frozen=True, slots=True)
class Span:
    """Bytes from `first` up to, not including, `end`."""

    first: int
    end: int

    @property
    def size(self) -> int:
        """How many bytes."""
        return self.end - self.first


class Unsatisfiable(Exception):
    """A range that starts after the end."""


def wanted(headers: Mapping[str, str], size: int, etag: str) -> Span | None:
    """The part that a GET asks for; None for the whole.

    Several ranges at once, other units and what cannot be read are answered with the whole, as
    RFC 9110 section 14.2 allows; so is a range of another version of the bytes (If-Range).

    Raises Unsatisfiable.
    """
    asked = _ONE.fullmatch(headers.get("range", "").strip())
    if asked is None or headers.get("if-range", etag).strip() != etag:
        return None
    first, last = asked.groups()
    if max(len(first), len(last)) > _MOST_DIGITS or not first + last:
        return None
    if not first:
        return _suffix(int(last), size)
    start = int(first)
    if last and int(last) < start:
        return None
    if start >= size:
        raise Unsatisfiable
    return Span(start, min(int(last) + 1, size) if last else size)


def _suffix(length: int, size: int) -> Span:
    if length == 0 or size == 0:
        raise Unsatisfiable
    return Span(max(0, size - length), size)


def is_same(headers: Mapping[str, str], etag: str) -> bool:
    """Whether the asker has these very bytes already (If-None-Match)."""
    known = [one.strip().removeprefix("W/") for one in headers.get("if-none-match", "").split(",")]
    return etag in known or known == ["*"]
