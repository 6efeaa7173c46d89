"""One mistake in the bars, made in one place or more, and what it cost."""

from __future__ import annotations

from dataclasses import dataclass, field

from trainer.chart.format import ARTICULATION_LETTERS, OPEN_BAR, join_chords
from trainer.chart.model import Articulation, Bar
from trainer.grade.bar_losses import Place
from trainer.grade.content import BarContent, Sonority
from trainer.grade.report import AlignmentEdit, Case

__all__ = ["Key", "Mistake", "articulation_of", "bar_text"]

# The key by which mistakes are put together.
Key = tuple[object, ...]


@dataclass(slots=True)
class Mistake:
    """One mistake, made in one place or more.

    `lost_bars` is what it cost, in bars; `edits` are those of the alignment that it is about, if it
    is about whole bars. `detail` is what tells it from others of its kind. `contents` are the bars
    of the places, played and written, as they were compared. `moves` holds for an articulation that
    is written in another bar the bars of the song where it was played and where it is written. A
    mistake that `is_spared` is reported though it may cost nothing more.
    """

    kind: str
    lost_bars: float = 0.0
    places: list[Place] = field(default_factory=list)
    edits: list[AlignmentEdit] = field(default_factory=list)
    detail: Key = ()
    contents: list[tuple[BarContent, BarContent]] = field(default_factory=list)
    moves: list[tuple[int, int]] = field(default_factory=list)
    is_spared: bool = False

    @property
    def bars(self) -> list[int]:
        """Bars of the reference, from 1, in order, each once."""
        return sorted({place[0] for place in self.places if place[0] is not None})

    @property
    def cases(self) -> tuple[Case, ...]:
        """The places as a report has them, each once."""
        cases = [
            Case(one, other, _text(played), _text(written))
            for one, other, played, written in self.places
        ]
        return tuple(dict.fromkeys(cases)) if len(cases) > 1 else tuple(cases)


def _text(thing: Bar | Sonority | None) -> str:
    if isinstance(thing, Bar):
        return bar_text(thing)
    return "" if thing is None else thing.name


def bar_text(bar: Bar) -> str:
    """Return a bar in notation, without its meter and key."""
    if bar.is_open:
        return OPEN_BAR
    parts = []
    for event in bar.events:
        text = "0" if event.chord is None else str(event.chord)
        if not bar.is_even:
            text += "'" * int(event.beats)
        if event.articulation is not None:
            text += ARTICULATION_LETTERS[event.articulation]
        parts.append(text)
    return join_chords(parts)


def articulation_of(mistake: Mistake, side: int = 0) -> Articulation:
    """Return the articulation that a mistake is about.

    Of two it is the one that was played, for `side` 0, or the one that is written, for 1.
    """
    found = mistake.detail[side]
    assert isinstance(found, Articulation)
    return found
