"""When each bar was written: a record of when every character of the text was typed.

The record is a JSON list of runs [count, seconds]: `count` characters of the text, in order, were
typed `seconds` after the first listen began; seconds is null where nothing had been played yet.
Characters are counted as browsers count them, in UTF-16 units.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from itertools import accumulate

__all__ = ["MOST_STAMPS", "Run", "bars_done_s", "read_stamps", "write_stamps"]

Run = tuple[int, float | None]

LINE_END = re.compile(r"\r\n|\r|\n")
LATEST_S = 7 * 24 * 3600.0
# A record that is longer than the longest chart could have is not accepted.
MOST_STAMPS = 500_000
MOST_CHARACTERS = 1_000_000


def write_stamps(lines: Sequence[tuple[str, float | None]]) -> str:
    """The record of lines that were each finished, with their line end, at one moment."""
    return json.dumps([[_units(line) + 1, seconds] for line, seconds in lines])


def read_stamps(text: str) -> list[Run] | None:
    """The runs from their JSON; None if it is not such a record, and so no times are known."""
    if len(text) > MOST_STAMPS:
        return None
    try:
        data = json.loads(text or "null")
    except (ValueError, RecursionError):
        return None
    if not isinstance(data, list):
        return None
    runs: list[Run] = []
    for item in data:
        if not isinstance(item, list) or len(item) != 2:
            return None
        count, seconds = item
        if not isinstance(count, int) or isinstance(count, bool):
            return None
        if not 0 <= count <= MOST_CHARACTERS:
            return None
        if seconds is not None and not _is_time(seconds):
            return None
        runs.append((count, None if seconds is None else float(seconds)))
    return runs


def bars_done_s(
    text: str, places: Sequence[tuple[int, int, int]], runs: Sequence[Run]
) -> tuple[float | None, ...]:
    """When each bar was finished: when the last of its characters was typed."""
    if sum(count for count, _ in runs) != _units(text):
        return (None,) * len(places)
    times = [seconds for count, seconds in runs for _ in range(count)]
    lines = [0, *(match.end() for match in LINE_END.finditer(text))]
    # Only rare characters take two units; without them text and units count alike.
    offsets = None
    if _units(text) != len(text):
        offsets = [0, *accumulate(1 + (ord(char) > 0xFFFF) for char in text)]
    done: list[float | None] = []
    for line, column, end_column in places:
        first, last = lines[line - 1] + column - 1, lines[line - 1] + end_column - 1
        if offsets is not None:
            first, last = offsets[first], offsets[last]
        known = [moment for moment in times[first:last] if moment is not None]
        done.append(max(known, default=None))
    return tuple(done)


def _is_time(value: object) -> bool:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        # Neither "not a number" nor infinity lies between.
        and 0 <= value <= LATEST_S
    )


def _units(text: str) -> int:
    return len(text) if text.isascii() else len(text.encode("utf-16-le", "surrogatepass")) // 2
