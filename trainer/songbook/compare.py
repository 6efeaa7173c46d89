"""Two charts of one song side by side, and one chart made of both.

The grader's alignment says which bars belong together, so a bar that was put in moves none of the
others out of place. Two bars agree if they have the same chords, beats, articulations, meter, key
change, notes and hits; the title and the other lines at the top are compared as `FactDifference`,
and so is what is said about sections that belong together.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import Enum
from itertools import groupby

from trainer.chart import Bar, Chart, Phrase, PlacedBar, Section
from trainer.chart.format import format_count_off
from trainer.errors import InputError
from trainer.grade import grade

# What is compared at the top, by the name that it has there, and where a chart keeps it.
FACTS = {
    "title": "title", "key": "key", "meter": "meter", "tempo": "tempo", "feel": "feel",
    "capo": "capo", "count-off": "count_off", "comments": "comments",
}  # fmt: skip

__all__ = ["Agreement", "ComparedBar", "Comparison", "FactDifference", "Side", "compare", "merge"]


class Side(Enum):
    """One of two charts."""

    LEFT = "left"
    RIGHT = "right"


class Agreement(Enum):
    """How a row of two charts stands."""

    SAME = "same"
    DIFFERENT = "different"
    ONLY_LEFT = "only left"
    ONLY_RIGHT = "only right"


@dataclass(frozen=True, slots=True)
class ComparedBar:
    """A row: the numbers (from 1) of the bars that belong together, None where a side has none."""

    left: int | None
    right: int | None
    agreement: Agreement


@dataclass(frozen=True, slots=True)
class FactDifference:
    """A line at the top of the charts that differs, such as the key, as each side has it."""

    name: str
    left: str
    right: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two charts, row by row in the order of the left one; None is a text without a bar."""

    left: Chart | None
    right: Chart | None
    rows: tuple[ComparedBar, ...]
    facts: tuple[FactDifference, ...]
    words: tuple[FactDifference, ...] = ()

    @property
    def differences(self) -> tuple[int, ...]:
        """The places (from 0) of the rows on which the charts do not agree."""
        return tuple(
            place for place, row in enumerate(self.rows) if row.agreement is not Agreement.SAME
        )


def compare(left: Chart | None, right: Chart | None) -> Comparison:
    """Lay two charts side by side."""
    rows, facts = tuple(_rows(left, right)), tuple(_facts(left, right))
    return Comparison(left, right, rows, facts, tuple(_words(left, right, rows)))


def _rows(left: Chart | None, right: Chart | None) -> Iterator[ComparedBar]:
    left_bars = left.bars() if left is not None else ()
    right_bars = right.bars() if right is not None else ()
    if left is None or right is None:
        for number in range(1, len(left_bars) + 1):
            yield ComparedBar(number, None, Agreement.ONLY_LEFT)
        for number in range(1, len(right_bars) + 1):
            yield ComparedBar(None, number, Agreement.ONLY_RIGHT)
        return
    for row in grade(left, right).bars:
        yield _row(row.reference, row.answer, left_bars, right_bars)


def _row(
    left: int | None, right: int | None, left_bars: tuple[Bar, ...], right_bars: tuple[Bar, ...]
) -> ComparedBar:
    if left is None:
        return ComparedBar(None, right, Agreement.ONLY_RIGHT)
    if right is None:
        return ComparedBar(left, None, Agreement.ONLY_LEFT)
    same = left_bars[left - 1] == right_bars[right - 1]
    return ComparedBar(left, right, Agreement.SAME if same else Agreement.DIFFERENT)


def _facts(left: Chart | None, right: Chart | None) -> Iterator[FactDifference]:
    if left is None or right is None:
        return
    for name, attribute in FACTS.items():
        mine, theirs = getattr(left, attribute), getattr(right, attribute)
        if mine != theirs:
            yield FactDifference(name, _shown(name, mine), _shown(name, theirs))


def _shown(name: str, value: object) -> str:
    """A value at the top of a chart as it is written there; "" for one that isn't."""
    if name == "comments" and isinstance(value, tuple):
        return "; ".join(value)
    if name == "count-off" and isinstance(value, int):
        return format_count_off(value)
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def _words(
    left: Chart | None, right: Chart | None, rows: Iterable[ComparedBar]
) -> Iterator[FactDifference]:
    """What is said about sections that belong together by their bars, where it differs."""
    mine, theirs = _by_number(left), _by_number(right)
    pairs = dict.fromkeys(
        (mine[row.left].section, theirs[row.right].section)
        for row in rows
        if row.left is not None and row.right is not None
    )
    if left is None or right is None:
        return
    seen = set()
    for one, other in pairs:
        here, there = left.sections[one], right.sections[other]
        said, said_there = _said(here), _said(there)
        if said != said_there and one not in seen:
            seen.add(one)
            yield FactDifference(here.name or there.name, said, said_there)


def _said(section: Section) -> str:
    """All that is said about a section, and in comments on its phrases."""
    phrases = (comment for phrase in section.phrases for comment in phrase.comments)
    return "; ".join((*section.notes, *section.comments, *phrases))


@dataclass(frozen=True, slots=True)
class _Placed:
    """A bar of the merged chart; equal neighbours of `section` and `phrase` stand together."""

    section: tuple[Side, int]
    phrase: tuple[Side, int, int]
    bar: Bar


def merge(
    comparison: Comparison, choices: Mapping[int, Side], facts: Mapping[str, Side] | None = None
) -> Chart:
    """One chart of two: what agrees, and of each difference the chosen side.

    Sections and phrases are the left chart's; a phrase or section that only the right one has comes
    in whole with its bars. A bar that the chosen side does not have is left out.

    Parameters
    ----------
    choices : the side for each of `Comparison.differences`; the left one where nothing is said.
    facts : the side for the lines at the top that differ, by their names; likewise.

    Raises
    ------
    InputError
        If no bar is left, or a choice is for a row on which the charts agree.
    ChartError
        If no chart can have what was chosen, such as a feel that the meter does not allow.
    """
    unknown = set(choices) - set(comparison.differences)
    if unknown:
        raise InputError(
            f"merge: found a choice for row {min(unknown)}, expected one of the rows that differ"
        )
    placed = list(_placed(comparison, choices))
    top = comparison.left or comparison.right
    if not placed or top is None:
        raise InputError("merge: found no bar in what was chosen, expected at least one")
    chosen = {
        FACTS[name]: getattr(comparison.right, FACTS[name])
        for name, side in (facts or {}).items()
        if side is Side.RIGHT and name in {each.name for each in comparison.facts}
    }
    return replace(top, sections=_sections(placed, comparison), **chosen)


def _placed(comparison: Comparison, choices: Mapping[int, Side]) -> Iterator[_Placed]:
    """The bars of the merged chart in order."""
    left, right = _by_number(comparison.left), _by_number(comparison.right)
    paired = {row.right for row in comparison.rows if row.left is not None}
    kept_phrases = {(right[each].section, right[each].phrase) for each in paired if each}
    kept_sections = {section for section, _ in kept_phrases}
    section, phrase = (Side.LEFT, 0), (Side.LEFT, 0, 0)
    for place, row in enumerate(comparison.rows):
        side = choices.get(place, Side.LEFT)
        if row.left is not None:
            at = left[row.left]
            section = (Side.LEFT, at.section)
            phrase = (Side.LEFT, at.section, at.phrase)
        elif row.right is not None:
            at = right[row.right]
            if at.section not in kept_sections:
                section = (Side.RIGHT, at.section)
            if (at.section, at.phrase) not in kept_phrases:
                phrase = (Side.RIGHT, at.section, at.phrase)
        number, bars = (row.left, left) if side is Side.LEFT else (row.right, right)
        if row.agreement is Agreement.SAME:
            number, bars = row.left, left
        if number is not None:
            yield _Placed(section, phrase, bars[number].bar)


def _by_number(chart: Chart | None) -> dict[int, PlacedBar]:
    return {place.number: place for place in chart.placed_bars()} if chart is not None else {}


def _sections(placed: Iterable[_Placed], comparison: Comparison) -> tuple[Section, ...]:
    charts = {Side.LEFT: comparison.left, Side.RIGHT: comparison.right}
    sections: list[Section] = []
    for (side, number), inside in groupby(_one_fade(placed), key=lambda each: each.section):
        chart = charts[side] or comparison.right
        assert chart is not None
        section = chart.sections[number]
        name = section.name
        phrases = tuple(
            Phrase(tuple(each.bar for each in bars), _comments(place, charts))
            for place, bars in groupby(inside, key=lambda each: each.phrase)
        )
        if sections and not name:
            # Only the first section may go without a name.
            sections[-1] = replace(sections[-1], phrases=sections[-1].phrases + phrases)
        else:
            sections.append(replace(section, phrases=phrases))
    return tuple(sections)


def _comments(place: tuple[Side, int, int], charts: Mapping[Side, Chart | None]) -> tuple[str, ...]:
    """The comments of a phrase of one of the charts."""
    side, section, phrase = place
    chart = charts[side]
    return chart.sections[section].phrases[phrase].comments if chart is not None else ()


def _one_fade(placed: Iterable[_Placed]) -> Iterator[_Placed]:
    """The bars with the first fade only, where both charts had one."""
    has_faded = False
    for each in placed:
        yield replace(each, bar=replace(each.bar, fades=False)) if has_faded else each
        has_faded = has_faded or each.bar.fades
