"""Two charts side by side: what differs, both to hear, and one chart of both to keep."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from trainer.errors import SongNotFound
from trainer.songbook import UNTITLED, Agreement, ComparedBar, Comparison, Side
from trainer.store import SongRecord
from trainer.web.context import Context, LearnerContext
from trainer.web.numbers import MOST_NUMBER
from trainer.web.views.sheet import BarDrawing, bar_drawings

__all__ = ["router"]

router = APIRouter(prefix="/songbook/compare")
SEE_OTHER = 303
WORDS = {
    Agreement.SAME: "same",
    Agreement.DIFFERENT: "different",
    Agreement.ONLY_LEFT: "only in A",
    Agreement.ONLY_RIGHT: "only in B",
}


@dataclass(frozen=True, slots=True)
class ComparedSide:
    """One of the two: the song, the number of its version, and both as the address has them."""

    song: SongRecord
    number: int
    address: str

    @property
    def name(self) -> str:
        """Title and version, as the page calls it."""
        return f"{self.song.version.title or UNTITLED}, version {self.number}"


@dataclass(frozen=True, slots=True)
class RowView:
    """A row as drawn, with its place among all rows; None where a side has no bar. The numbers are
    those of its bars, 0 for none."""

    place: int
    left_number: int
    right_number: int
    left: BarDrawing | None
    right: BarDrawing | None
    differs: bool
    word: str

    @property
    def bar_name(self) -> str:
        """The bar as people call it: its number in A, or in B if only B has it."""
        if self.left_number:
            return f"Bar {self.left_number}"
        return f"Bar {self.right_number} of B"


@dataclass(frozen=True, slots=True)
class SectionView:
    """A section of the left chart by phrases."""

    name: str
    phrases: tuple[tuple[RowView, ...], ...]


@router.get("")
def compared(
    context: Context,
    left: Annotated[str, Query(max_length=80)] = "",
    right: Annotated[str, Query(max_length=80)] = "",
    q: Annotated[str, Query(max_length=200)] = "",
) -> HTMLResponse:
    """Two versions side by side; each is "uid:number", or "uid" for the newest. Without a right
    one, songs to choose from."""
    book = context.songbook
    first = _side(context, left)
    if not right:
        offered = book.find(q, limit=50)
        values: dict[str, Any] = {"left": first, "right": None, "offered": offered, "words": q}
        return context.page("song_compare.html", values)
    second = _side(context, right)
    found = book.compare((first.song.uid, first.number), (second.song.uid, second.number))
    sections = tuple(_sections(found))
    values = {
        "left": first,
        "right": second,
        "texts": tuple(book.text_of(each.song.uid, each.number) for each in (first, second)),
        "comparison": found,
        "sections": sections,
        "differing": [
            row for each in sections for phrase in each.phrases for row in phrase if row.differs
        ],
        "differences": len(found.differences),
        "same": len(found.rows) - len(found.differences),
        "can_keep": book.owns(first.song),
    }
    return context.page("song_compare.html", values)


@router.post("/merge")
async def merge(context: Context, request: Request) -> Response:
    """Save the chosen bars as the next version of the left song."""
    form = {name: str(value) for name, value in (await request.form()).items()}
    return await to_thread.run_sync(_merged, context, form)


def _merged(context: LearnerContext, form: Mapping[str, str]) -> Response:
    book = context.songbook
    first, second = (_side(context, form.get(name, "")) for name in ("left", "right"))
    found = book.compare((first.song.uid, first.number), (second.song.uid, second.number))
    rows = {place: form.get(f"row-{place}") for place in found.differences}
    choices = {place: Side(side) for place, side in rows.items() if side in ("left", "right")}
    facts = {
        each.name: Side.RIGHT
        for each in found.facts
        if form.get(f"fact-{each.name}") == Side.RIGHT.value
    }
    saved = book.merge(first.song.uid, found, choices, facts)
    return RedirectResponse(f"/songbook/{saved.song.uid}", SEE_OTHER)


def _side(context: LearnerContext, address: str) -> ComparedSide:
    uid, _, number = address.partition(":")
    if number and not (number.isdecimal() and int(number) <= MOST_NUMBER):
        raise SongNotFound(f"compare: found version {number!r}, expected a number")
    song = context.songbook.get(uid)
    version = context.songbook.version(uid, int(number) if number else None)
    return ComparedSide(song, version.number, f"{uid}:{version.number}")


def _sections(found: Comparison) -> Iterator[SectionView]:
    """The rows by the left chart's sections and phrases; bars of the right one alone stay where
    they stand."""
    main = found.left or found.right
    if main is None:
        return
    places = {place.number: place for place in main.placed_bars()}
    at, grouped = (0, 0), []
    for number, row in enumerate(found.rows):
        bar = row.left if found.left is not None else row.right
        if bar is not None:
            at = places[bar].section, places[bar].phrase
        grouped.append((at, number, row))
    left = bar_drawings(found.left) if found.left is not None else {}
    right = bar_drawings(found.right) if found.right is not None else {}
    for section, inside in groupby(grouped, key=lambda each: each[0][0]):
        phrases = tuple(
            tuple(_row(number, row, left, right) for _, number, row in phrase)
            for _, phrase in groupby(inside, key=lambda each: each[0])
        )
        yield SectionView(main.sections[section].name, phrases)


def _row(
    place: int,
    row: ComparedBar,
    left: Mapping[int, BarDrawing],
    right: Mapping[int, BarDrawing],
) -> RowView:
    return RowView(
        place,
        row.left or 0,
        row.right or 0,
        left.get(row.left) if row.left is not None else None,
        right.get(row.right) if row.right is not None else None,
        row.agreement is not Agreement.SAME,
        WORDS[row.agreement],
    )
