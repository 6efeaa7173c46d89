"""The bank of graded pairs: what was played, what a learner wrote, what a fair teacher would give.

Each file of tests/grade/bank is one case; README.md there describes the format.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from trainer.chart import Chart, Header, parse, parse_tolerant
from trainer.grade import Weights, weights_for

__all__ = ["BANK", "BankCase", "BankError", "bank_cases", "parse_case"]

BANK = Path(__file__).parent / "bank"
PLAYED, WRITTEN = "--- played", "--- written"
KEYS = ("about", "fair", "says", "never", "right", "asks", "property")
REPEATABLE = ("says", "never")
FAIR = re.compile(r"(\d+(?:\.\d+)?)(?:\s+to\s+(\d+(?:\.\d+)?))?", re.ASCII)
BARS = re.compile(r"(\d+)(?:\s*-\s*(\d+))?", re.ASCII)


class BankError(ValueError):
    """A file of the bank is wrong; the message says where, what was found, what was expected."""

    def __init__(self, where: str, found: str, expected: str) -> None:
        super().__init__(f"{where}: found {found}, expected {expected}")


@dataclass(frozen=True, slots=True)
class BankCase:
    """One pair of charts with the grade it deserves.

    Attributes
    ----------
    name : the file's name without its ending.
    about : one sentence on what the writer did.
    played : the song.
    written : the answer as far as it can be read; None if there is no bar.
    least, most : the range a fair teacher would give, 0 to 1.
    says : patterns; each must be found in what is said of the answer.
    never : patterns; none may be found there.
    right : bars of the song that must have full credit.
    asks : what the exercise asks: "roots", "chords" or "everything".
    may_add_errors : whether the properties "an error more never raises the grade" apply. They do
        not where nearly every bar is wrong as it stands (another 1, another count), for there a
        change is an error in one reading and a correction in the other.
    """

    name: str
    about: str
    played: Chart
    written: Chart | None
    least: float
    most: float
    says: tuple[re.Pattern[str], ...] = ()
    never: tuple[re.Pattern[str], ...] = ()
    right: tuple[int, ...] = ()
    asks: str = "everything"
    may_add_errors: bool = True

    @property
    def weights(self) -> Weights:
        """The weights for what is asked."""
        return weights_for(self.asks)


@cache
def bank_cases() -> tuple[BankCase, ...]:
    """Every case of the bank, by name. Raises BankError."""
    paths = sorted(path for path in BANK.glob("*.txt"))
    return tuple(parse_case(path.stem, path.read_text(encoding="utf-8")) for path in paths)


def parse_case(name: str, text: str) -> BankCase:
    """Read one file. Raises BankError, and NotationError for a song that is not in notation."""
    head, played, written = _parts(name, text)
    values = _values(name, head)
    for key in ("about", "fair"):
        if key not in values:
            raise BankError(name, f"no {key}:", f"a line {key}: before {PLAYED}")
    least, most = _fair(name, values["fair"][0])
    song = parse(played, source=name)
    header = Header(meter=song.meter, tempo=song.tempo, feel=song.feel, key=song.key)
    return BankCase(
        name,
        values["about"][0],
        song,
        parse_tolerant(written, header).chart,
        least,
        most,
        _patterns(name, "says", values.get("says", [])),
        _patterns(name, "never", values.get("never", [])),
        _bars(name, values.get("right", [""])[0], len(song.bars())),
        _choice(name, "asks", values, ("everything", "chords", "roots")),
        _choice(name, "property", values, ("on", "off")) == "on",
    )


def _parts(name: str, text: str) -> tuple[list[str], str, str]:
    """The lines of the head, the song's text and the answer's text."""
    lines = text.splitlines()
    for sign in (PLAYED, WRITTEN):
        if lines.count(sign) != 1:
            raise BankError(name, f"{lines.count(sign)} lines {sign!r}", "one")
    first, second = lines.index(PLAYED), lines.index(WRITTEN)
    if second < first:
        raise BankError(f"{name}, line {second + 1}", WRITTEN, f"{PLAYED} before it")
    return lines[:first], "\n".join(lines[first + 1 : second]), "\n".join(lines[second + 1 :])


def _values(name: str, head: Iterable[str]) -> dict[str, list[str]]:
    values: dict[str, list[str]] = {}
    for number, line in enumerate(head, start=1):
        if not line.strip():
            continue
        key, colon, value = line.partition(":")
        where, key, value = f"{name}, line {number}", key.strip(), value.strip()
        if not colon or key not in KEYS:
            raise BankError(where, repr(line), "a line that starts with one of " + ", ".join(KEYS))
        if not value:
            raise BankError(where, f"{key}: with nothing after it", "a value")
        if key in values and key not in REPEATABLE:
            raise BankError(where, f"a second {key}:", "one")
        values.setdefault(key, []).append(value)
    return values


def _fair(name: str, value: str) -> tuple[float, float]:
    match = FAIR.fullmatch(value)
    if match is None:
        raise BankError(f"{name}, fair", repr(value), "percents, as in 50 to 60 or 100")
    least, most = float(match[1]), float(match[2] or match[1])
    if not 0 <= least <= most <= 100:
        raise BankError(f"{name}, fair", repr(value), "0 to 100, the least first")
    return least / 100, most / 100


def _patterns(name: str, key: str, values: Iterable[str]) -> tuple[re.Pattern[str], ...]:
    patterns = []
    for value in values:
        try:
            patterns.append(re.compile(value, re.IGNORECASE | re.DOTALL))
        except re.error as error:
            raise BankError(f"{name}, {key}", repr(value), f"a pattern ({error})") from error
    return tuple(patterns)


def _bars(name: str, value: str, count: int) -> tuple[int, ...]:
    """The bars of "1-4, 9" in order."""
    bars: list[int] = []
    for part in filter(None, (part.strip() for part in value.split(","))):
        match = BARS.fullmatch(part)
        if match is None:
            raise BankError(f"{name}, right", repr(part), "a bar or a range, as in 9 or 1-4")
        first, last = int(match[1]), int(match[2] or match[1])
        if not 1 <= first <= last <= count:
            raise BankError(f"{name}, right", repr(part), f"bars from 1 to {count}")
        bars.extend(range(first, last + 1))
    return tuple(bars)


def _choice(name: str, key: str, values: dict[str, list[str]], allowed: tuple[str, ...]) -> str:
    value = values.get(key, [allowed[0]])[0]
    if value not in allowed:
        raise BankError(f"{name}, {key}", repr(value), "one of " + ", ".join(allowed))
    return value
