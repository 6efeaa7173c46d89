"""Numbers and texts of XML elements, read without trust: what is no number is None."""

from __future__ import annotations

import re
from fractions import Fraction
from xml.etree.ElementTree import Element

__all__ = ["number_in", "text_at", "whole_at"]

# A limit on the digits, since a number like 1e999999999 fills the memory.
NUMBER = re.compile(r"-?\d{1,9}(?:\.\d{1,24})?", re.ASCII)
WHOLE = re.compile(r"-?\d{1,9}", re.ASCII)


def text_at(element: Element, path: str) -> str:
    """The text of a descendant, with single spaces; "" if there is none."""
    return " ".join((element.findtext(path) or "").split())


def number_in(text: str) -> Fraction | None:
    """The first number in a text: 120 in "ca. 120"."""
    match = NUMBER.search(text)
    return None if match is None else Fraction(match[0])


def whole_at(element: Element, path: str) -> int | None:
    """The whole number in a descendant; None if there is none, or something else."""
    text = text_at(element, path)
    if WHOLE.fullmatch(text):
        return int(text)
    # Some programs write -1.0 for a flat.
    number = Fraction(text) if NUMBER.fullmatch(text) else None
    return int(number) if number is not None and number.denominator == 1 else None
