"""How fast one has to type to write the songs of the course down, played once and at tempo.

Every phrase is typed the shortest way that is read as meant and asked about nowhere: without the
spaces that are not needed, in any habitual spelling, and with the page's two keys for copying: `=`
puts in the line above, or what is left of it on a line that has begun, and `&` the last section of
that name. What differs in a copy is mended with cursor keys, which count as keys do; so does Shift.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from tests.benchmarks import Row, at_least, seen
from trainer.chart import Bar, Chart, Phrase, Section, parse_tolerant
from trainer.chart.format import format_bar
from trainer.exercise import load_course, make_exercise

SONGS = 60
MOST_KEYS_A_SECOND = 2.5
# Signs that need Shift on a keyboard of the United States, the commonest layout.
SHIFTED = frozenset('~!@#$%^&*()_+{}|:"<>?ABCDEFGHIJKLMNOPQRSTUVWXYZ')
COPY_LINE, COPY_SECTION = 1, 2
# What is spelt shorter than the notation has it, tried in this order.
SHORTER = (
    ("^maj7", "M7"), ("^maj7", "ma7"), ("^sus4", "sus"), ("^7sus4", "7sus"), ("-^", "m"),
    ("-^", "-"), ("^9", "9"), ("^add9", "add9"), ("^sus2", "sus2"), ("o^7", "o7"),
)  # fmt: skip
LABELS = {
    "verse": "v", "chorus": "ch", "pre-chorus": "pc", "bridge": "br", "intro": "in",
    "turnaround": "ta", "solo": "sol", "interlude": "int", "tag": "tag", "outro": "out",
}  # fmt: skip


class Typed(NamedTuple):
    """A phrase: the keys that it takes, its line and bars, and how long it sounds."""

    keys: int
    line: str
    bars: tuple[Bar, ...]
    seconds: float


def presses(text: str) -> int:
    """The keys that a text takes, Shift among them."""
    return sum(2 if sign in SHIFTED else 1 for sign in text)


def spellings(bar: Bar, chart: Chart) -> list[str]:
    """Ways to type a bar, the one with the fewest keys first."""
    written = format_bar(bar, chart)
    found = {written}
    for long, short in SHORTER:
        found |= {text.replace(long, short) for text in found}
    if len(bar.events) > 1 and all(event.beats.denominator == 1 for event in bar.events):
        before, _, inside = written.rpartition("(")
        ticks = "'" if bar.is_even else ""
        chords = inside.rstrip(")").split(" ")
        ticked = [
            chord + ticks * int(event.beats)
            for chord, event in zip(chords, bar.events, strict=True)
        ]
        found.add(before + "".join(ticked))
    return sorted(found, key=presses)


@lru_cache(maxsize=1 << 14)
def shortest_line(bars: tuple[Bar, ...], chart: Chart) -> str:
    """The bars of a phrase in as few keys as can be found from left to right."""
    line = ""
    for number, bar in enumerate(bars, 1):
        tried = [f"{line}{space}{text}" for text in spellings(bar, chart) for space in ("", " ")]
        tried.sort(key=presses)
        line = next(text for text in tried if is_read_as(text, bars[:number], chart))
    return line.strip()


def is_read_as(text: str, bars: Sequence[Bar], chart: Chart) -> bool:
    """Whether a text is read as these bars of the chart, with nothing to ask."""
    header = f"meter: {chart.meter}\nfeel: {chart.feel}\nkey: {chart.key}\n"
    result = parse_tolerant(header + text)
    if result.chart is None or result.problems or result.questions:
        return False
    return result.chart.bars() == tuple(bars)


def mended(old: str, new: str) -> int:
    """The keys that turn a line into another, from its end or its beginning."""
    start = 0
    while start < min(len(old), len(new)) and old[start] == new[start]:
        start += 1
    end = 0
    while end < min(len(old), len(new)) - start and old[-1 - end] == new[-1 - end]:
        end += 1
    gone, put = len(old) - start - end, presses(new[start : len(new) - end])
    return 0 if old == new else 1 + min(start, end) + gone + put


def by_hand(phrase: Phrase, line: str, above: Typed | None, chart: Chart) -> int:
    """The keys for a phrase without copying its section.

    The line above may be put in whole and mended, or from where the phrase goes on like it.
    """
    if above is None:
        return presses(line)
    bars = phrase.bars
    started = [
        presses(shortest_line(bars[:first], chart)) + COPY_LINE
        for first in range(1, len(bars))
        if bars[first:] == above.bars[first:]
    ]
    return min(presses(line), COPY_LINE + mended(above.line, line), *started)


def label(section: Section, number: int) -> str:
    """A section's shortest name that is read as its kind, on its own line."""
    short = LABELS.get(section.kind, section.name)
    return f"{short}{number if number > 1 else ''}"


def phrases_of(chart: Chart) -> list[Typed]:
    """Every phrase of a song as it is typed."""
    found: list[Typed] = []
    known: dict[str, list[str]] = {}
    count: Counter[str] = Counter()
    for section in chart.sections:
        count[section.kind] += 1
        first = len(found)
        for phrase in section.phrases:
            line = shortest_line(phrase.bars, chart)
            keys = by_hand(phrase, line, found[-1] if found else None, chart)
            found.append(Typed(keys, line, phrase.bars, seconds_of(phrase, chart)))
        lines = [one.line for one in found[first:]]
        keys_of = [one.keys for one in found[first:]]
        keys_of = min(copied(lines, keys_of, known.get(section.kind, [])), key=sum)
        if section.name:
            keys_of[0] += presses(label(section, count[section.kind])) + 1
        # Each line ends with a key, too.
        found[first:] = [
            one._replace(keys=keys + 1) for one, keys in zip(found[first:], keys_of, strict=True)
        ]
        known[section.kind] = lines
    return found


def seconds_of(phrase: Phrase, chart: Chart) -> float:
    """How long a phrase sounds."""
    quarters = sum(float(bar.meter.quarters) for bar in phrase.bars)
    return quarters / float(chart.meter.pulse_quarters) * 60 / chart.tempo


def copied(lines: list[str], keys: list[int], earlier: list[str]) -> list[list[int]]:
    """The keys for each phrase where the rest of an earlier section is put in from some phrase on.

    Going down a line is a key; lines that the earlier section has not are typed, and each one that
    it has too many is marked and deleted, which is three keys.
    """
    ways = [keys]
    for first in range(min(len(lines), len(earlier))):
        copies = list(zip(lines[first:], earlier[first:], strict=False))
        way = [*keys[:first], *(mended(old, new) for new, old in copies)]
        changed = [at for at in range(first, len(way)) if way[at]]
        for at in range(first + 1, (changed or [first])[-1] + 1):
            way[at] += 1
        way[first] += COPY_SECTION
        way += keys[len(way) :]
        way[-1] += 3 * max(0, len(earlier) - len(lines))
        ways.append(way)
    return ways


def songs() -> list[Chart]:
    """The levels of the course that are whole songs, the last of them too, in turns."""
    recipes = [level.recipe for level in load_course() if level.recipe.size == "song"]
    return [make_exercise(recipes[n % len(recipes)], n).chart for n in range(SONGS)]


def run() -> list[Row]:
    """The share of phrases that take no more keys a second than are aimed at."""
    typed = [one for song in songs() for one in phrases_of(song)]
    rates = sorted(one.keys / one.seconds for one in typed)
    share = sum(rate <= MOST_KEYS_A_SECOND for rate in rates) / len(rates)
    name = f"phrases of {SONGS} songs typed at {MOST_KEYS_A_SECOND} keys a second or less"
    return [
        at_least(name, 100 * share, 95, "%"),
        seen("keys a second that the median phrase takes", rates[len(rates) // 2], ""),
        seen("keys a second that 95% of phrases need at most", rates[len(rates) * 95 // 100], ""),
        seen("keys a second that the hardest phrase takes", rates[-1], ""),
    ]
