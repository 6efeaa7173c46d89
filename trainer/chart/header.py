"""The header of a chart text: title, meter, tempo, feel, key, capo, count-off."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from trainer.chart.keys import Key
from trainer.chart.model import (
    HIGHEST_CAPO,
    MOST_COUNT_OFF_BARS,
    TEMPO_BPM,
    VALUE_WORDS,
    Feel,
    Meter,
)
from trainer.chart.one_line import is_one_line
from trainer.errors import ChartError, Problem

__all__ = ["METER", "Header", "HeaderLines"]

METER = re.compile(r"(\d{1,3})\s*/\s*(\d{1,3})", re.ASCII)
CAPO = re.compile(r"(?:fret\s*)?(\d{1,2})(?:st|nd|rd|th)?(?:\s*fret)?", re.IGNORECASE | re.ASCII)
COUNT_OFF = re.compile(r"([12])(?:\s*bars?)?|(one|two)\s+bars?", re.IGNORECASE | re.ASCII)
NONE_WORDS = ("none", "no", "0", "open", "0 bars")
TEMPO = re.compile(r"\d{1,9}(?:\.\d{0,99})?", re.ASCII)
FOUR_FOUR, KEY_OF_C = Meter(4, 4), Key("C")
INSTEAD = {
    "key": "; to move the key write [up 2] or [key D] before a bar",
    "meter": "; for a bar in another meter write [2/4] before it",
}


@dataclass(frozen=True, slots=True)
class Header:
    """The header of a chart. `tempo` is in pulses a minute; `feel` None is the meter's usual one.

    `capo` is a fret, 0 for none, None if nothing is said; `count_off` is in bars.
    It is also given to the parser as the default for what a text leaves out.
    """

    title: str = ""
    meter: Meter = FOUR_FOUR
    tempo: float = 100.0
    feel: Feel | None = None
    key: Key = KEY_OF_C
    capo: int | None = None
    count_off: int = 1

    def feel_in(self, meter: Meter) -> Feel:
        """The feel where none is written: this header's own if it goes with the meter."""
        fits = self.feel is not None and self.feel.fits(meter)
        return self.feel if self.feel is not None and fits else Feel.usual(meter)


@dataclass(slots=True)
class HeaderLines:
    """Parses header lines one after another.

    What is wrong is added to `problems`, and the value of `fallback` is used instead. `letters` is
    whether chords are typed in letter names, and `lines_hold_bars` whether two bar lines hold one
    bar (else a phrase); each is None if no line says so.
    """

    fallback: Header
    problems: list[Problem]
    seen: set[str] = field(default_factory=set)
    letters: bool | None = None
    lines_hold_bars: bool | None = None
    _header: Header = field(init=False)
    _feel_place: tuple[int, int] = (1, 1)
    _meter_is_bad: bool = False

    def __post_init__(self) -> None:
        self._header = replace(self.fallback, feel=None)

    def read(self, word: str, value: str, line: int, columns: tuple[int, int], late: bool) -> None:
        """Parse one line.

        `word` is one of HEADER_WORDS and `value` the stripped text after its colon; `columns`
        are the columns of both, from 1. `late` is whether bars or a section came before.
        """
        if late:
            self._problem(
                line,
                columns[0],
                f"{word}: here",
                f"{word}: before the first bar or section{INSTEAD.get(word, '')}",
            )
        elif word in self.seen:
            self._problem(line, columns[0], f"a second {word}:", f"{word}: only once")
        else:
            self.seen.add(word)
            if word == "chords":
                names = {"letters": True, "numbers": False}
                self.letters = self._read_name(word, names, value, line, columns[1])
            elif word == "bar lines":
                names = {"bars": True, "phrases": False}
                self.lines_hold_bars = self._read_name(word, names, value, line, columns[1])
            else:
                self._read_value(word, value, line, columns[1])

    @property
    def so_far(self) -> Header:
        """The header as far as it is read; `feel` may be None."""
        return self._header

    def settle(self) -> Header:
        """The header as read so far, with `feel` always set."""
        header = self._header
        if header.feel is not None and not header.feel.fits(header.meter):
            if not self._meter_is_bad:
                fitting = ", ".join(feel for feel in Feel if feel.fits(header.meter))
                self._problem(
                    *self._feel_place,
                    f"feel {header.feel} in {header.meter}",
                    f"a feel that goes with {header.meter}: {fitting}",
                )
            header = replace(header, feel=None)
        if header.feel is None:
            header = replace(header, feel=self.fallback.feel_in(header.meter))
        return header

    def _problem(self, line: int, column: int, found: str, expected: str) -> None:
        self.problems.append(Problem(line, column, found, expected))

    def _read_name(
        self, word: str, names: Mapping[str, bool], value: str, line: int, column: int
    ) -> bool | None:
        """Read a value that is one of two names."""
        if value.lower() not in names:
            found = f"{word} {_quoted(value)}" if value else f"{word}: with nothing after it"
            self._problem(line, column, found, " or ".join(names))
        return names.get(value.lower())

    def _read_value(self, word: str, value: str, line: int, column: int) -> None:
        read = _READERS[word]
        if word == "feel":
            self._feel_place = (line, column)
        try:
            self._header = read(self._header, value)
        except ChartError as error:
            self._meter_is_bad |= word == "meter"
            found = error.found if value else f"{word}: with nothing after it"
            self._problem(line, column, found, error.expected)


def _title(header: Header, value: str) -> Header:
    value = " ".join(value.split())
    if len(value) > 120:
        raise ChartError("title", f"a title of {len(value)} characters", "at most 120 characters")
    if not is_one_line(value):
        raise ChartError("title", "a title with control characters", "plain text")
    return replace(header, title=value)


def _meter(header: Header, value: str) -> Header:
    match = METER.fullmatch(value)
    if match is None:
        raise ChartError("meter", f"meter {_quoted(value)}", "a meter such as 4/4, 3/4 or 6/8")
    return replace(header, meter=Meter(int(match[1]), int(match[2])))


def _tempo(header: Header, value: str) -> Header:
    low, high = TEMPO_BPM
    if TEMPO.fullmatch(value) is None or not low <= float(value) <= high:
        raise ChartError(
            "tempo",
            f"tempo {_quoted(value)}",
            f"beats a minute as a number from {low:g} to {high:g}, such as 92",
        )
    return replace(header, tempo=float(value))


def _feel(header: Header, value: str) -> Header:
    name = " ".join(value.lower().split())
    if name not in tuple(Feel):
        raise ChartError("feel", f"feel {_quoted(value)}", "one of " + ", ".join(Feel))
    return replace(header, feel=Feel(name))


def _key(header: Header, value: str) -> Header:
    try:
        return replace(header, key=Key.parse(value))
    except ChartError as error:
        raise ChartError("key", f"key {_quoted(value)}", error.expected) from error


def _capo(header: Header, value: str) -> Header:
    match = CAPO.fullmatch(value)
    fret = 0 if value.lower() in NONE_WORDS else int(match[1]) if match is not None else -1
    if not 0 <= fret <= HIGHEST_CAPO:
        expected = f"a fret from 1 to {HIGHEST_CAPO}, or none"
        raise ChartError("capo", f"capo {_quoted(value)}", expected)
    return replace(header, capo=fret)


def _count_off(header: Header, value: str) -> Header:
    match = COUNT_OFF.fullmatch(value)
    if value.lower() in NONE_WORDS:
        return replace(header, count_off=0)
    if match is None:
        expected = f"1 bar, {MOST_COUNT_OFF_BARS} bars or none"
        raise ChartError("count-off", f"count-off {_quoted(value)}", expected)
    return replace(header, count_off=1 if (match[1] or match[2].lower()) in ("1", "one") else 2)


def _quoted(value: str) -> str:
    return repr(value if len(value) <= 40 else value[:39] + "…")


_READERS: dict[str, Callable[[Header, str], Header]] = dict(
    zip(VALUE_WORDS, (_title, _meter, _tempo, _feel, _key, _capo, _count_off), strict=True)
)
