"""Pieces that sentences of every kind begin with: where a mistake is, and the check of it."""

from __future__ import annotations

import re
from collections.abc import Callable

from .facts import BARS, Reading

__all__ = ["INTERVALS", "WHERE", "Check", "where"]

Check = Callable[[Reading, "re.Match[str]"], None]
WHERE = rf"(?P<at>{BARS})(?: \((?P<section>[^:]*)\))?"
INTERVALS = (
    *("nothing", "a half step", "a whole step", "a minor third", "a major third", "a fourth"),
    *("a tritone", "a fifth", "a minor sixth", "a major sixth", "a minor seventh"),
    "a major seventh",
)


def where(r: Reading, m: re.Match[str]) -> None:
    """The bars at the start of a sentence are those cited, in the section that is named."""
    r.bars = r.read_bars(m["at"], r.cited)
    r.check_section(m["section"])
