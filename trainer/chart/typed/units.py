"""The pieces of a line joined into units: bars, and the signs between them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from trainer.chart.meter import Meter
from trainer.chart.typed.pieces import Kind, Piece
from trainer.chart.typed.question import bar_of

__all__ = ["BAR_KINDS", "Unit", "join", "split", "units_of"]

# Kinds of units that take the time of a bar, or of a part of one.
BAR_KINDS = frozenset((Kind.CHORD, Kind.GAP, Kind.AGAIN, Kind.BEAT))

OWN_METER = re.compile(r"\[\s*(\d{1,2})\s*/", re.ASCII)


@dataclass(slots=True)
class Unit:
    """A bar with the directives before it, or a sign between bars.

    A bar of several chords, or in brackets, is of the kind CHORD; `pieces` has the brackets, too.
    """

    kind: Kind
    pieces: list[Piece]
    before: list[Piece] = field(default_factory=list)

    @property
    def start(self) -> int:
        """Index in the line where the unit begins."""
        return (self.before or self.pieces)[0].start

    @property
    def end(self) -> int:
        """Index in the line after the unit."""
        return self.pieces[-1].end

    @property
    def is_bar(self) -> bool:
        """Whether the unit takes time."""
        return self.kind in BAR_KINDS

    @property
    def is_readable(self) -> bool:
        """Whether nothing in the unit is left for the tokenizer to complain about."""
        return not any(each.kind is Kind.OTHER for each in self.pieces)

    @property
    def chord(self) -> Piece | None:
        """The only chord of the unit, in brackets or not; None if there are more or none."""
        inside = [each for each in self.pieces if each.kind not in (Kind.OPEN, Kind.CLOSE)]
        return inside[0] if len(inside) == 1 and inside[0].kind is Kind.CHORD else None

    @property
    def text(self) -> str:
        """The unit's text in the notation, without what stands before it."""
        if len(self.pieces) == 1:
            return bar_of(self.pieces[0].text)
        return " ".join(each.text for each in self.pieces).replace("( ", "(").replace(" )", ")")

    @property
    def whole_text(self) -> str:
        """The unit's text with what stands before it."""
        return " ".join([*(each.text for each in self.before), self.text])

    def beats(self, meter: Meter) -> int:
        """The beats of the bar: those of its own meter, or else of the song's."""
        own = [OWN_METER.match(piece.text) for piece in self.before]
        return next((int(match[1]) for match in own if match is not None), meter.beats)

    def moved(self, start: int, end: int) -> Unit:
        """The same unit, standing at another place and with no doubts."""
        pieces = [each._replace(start=start, end=end, doubts=()) for each in self.pieces]
        before = [each._replace(start=start, end=end) for each in self.before]
        return replace(self, pieces=pieces, before=before)


def units_of(pieces: Iterable[Piece]) -> list[Unit]:
    """Join pieces into units: brackets with what they hold, directives with their bar."""
    units: list[Unit] = []
    before: list[Piece] = []
    opened: Unit | None = None
    for piece in pieces:
        if opened is not None and not _breaks_bar(piece):
            # Nothing is needed between the chords of a bar.
            if piece.kind is not Kind.COMMA:
                opened.pieces.append(_inside(piece))
            if piece.kind is Kind.CLOSE:
                opened = None
            continue
        opened = None
        if piece.kind is Kind.DIRECTIVE:
            before.append(piece)
            continue
        # Brackets hold a bar; so does what cannot be read, as a rule.
        is_bar = piece.kind in BAR_KINDS or piece.kind is Kind.OPEN or _may_be_bar(piece)
        if before and not is_bar:
            units.append(Unit(Kind.OTHER, before))
            before = []
        kind = Kind.CHORD if is_bar and piece.kind not in BAR_KINDS else piece.kind
        units.append(Unit(kind, [piece], before))
        before = []
        if piece.kind is Kind.OPEN:
            opened = units[-1]
    if before:
        units.append(Unit(Kind.OTHER, before))
    return units


def _breaks_bar(piece: Piece) -> bool:
    """Whether a piece cannot stand inside round brackets; a meter without brackets can, unread."""
    if piece.kind is Kind.DIRECTIVE:
        return len(piece.text) == piece.end - piece.start
    return piece.kind in (Kind.END, Kind.LINE, Kind.DOUBLE, Kind.OPEN)


def _inside(piece: Piece) -> Piece:
    """A piece inside brackets: only chords belong there, the rest is left as it was typed."""
    if piece.kind is Kind.DIRECTIVE:
        return piece._replace(kind=Kind.OTHER, text=piece.text[1:-1])
    return piece if piece.kind in (Kind.CHORD, Kind.CLOSE) else piece._replace(kind=Kind.OTHER)


def _may_be_bar(piece: Piece) -> bool:
    return piece.kind is Kind.OTHER and piece.text[0] not in ":|]"


def join(units: Sequence[Unit]) -> Unit | None:
    """Join bars of one chord each into a split bar; None if they are not such bars."""
    chords = [unit.chord for unit in units]
    inside = [chord for chord in chords if chord is not None]
    if len(inside) < len(units) or any(unit.before for unit in units[1:]):
        return None
    opening = Piece(Kind.OPEN, "(", inside[0].start, inside[0].start + 1)
    closing = Piece(Kind.CLOSE, ")", inside[-1].end - 1, inside[-1].end)
    return Unit(Kind.CHORD, [opening, *inside, closing], units[0].before)


def split(units: Sequence[Unit], *at: Kind) -> list[list[Unit]]:
    """Split units at signs of some kinds, which are left out; groups may be empty."""
    groups: list[list[Unit]] = [[]]
    for unit in units:
        if unit.kind in at:
            groups.append([])
        else:
            groups[-1].append(unit)
    return groups
