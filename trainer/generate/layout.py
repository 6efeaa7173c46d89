"""A song as it is heard: every section in order, its distinct bars with all their contexts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from trainer.generate.draft import DraftBar, DraftPhrase

__all__ = ["Place", "Played", "Spot", "own_endings", "places", "spots"]


@dataclass(slots=True)
class Played:
    """A section as played once: name, kind, phrases, semitones the key moves at its start."""

    name: str
    kind: str
    phrases: list[DraftPhrase]
    key_change: int = 0


class Place(NamedTuple):
    """One hearing of a bar: its section and phrase, where it stands, and the bars around it.

    `number` is the bar's in its phrase. `before` and `after` are None at the ends of the song and
    across a change of key.
    """

    section: Played
    phrase: DraftPhrase
    number: int
    first: bool
    last: bool
    before: DraftBar | None
    after: DraftBar | None
    ends_phrase: bool
    ends_section: bool

    @property
    def opens_section(self) -> bool:
        """Whether it is the first bar of its section."""
        return self.number == 0 and self.phrase is self.section.phrases[0]


@dataclass(slots=True)
class Spot:
    """A bar of the song with every place where it is heard."""

    bar: DraftBar
    places: list[Place] = field(default_factory=list)

    @property
    def copies(self) -> int:
        """How often it is heard."""
        return len(self.places)

    def around(self) -> list[tuple[DraftBar | None, DraftBar | None]]:
        """The different pairs of bars that it is heard between."""
        pairs = {(id(place.before), id(place.after)): place for place in self.places}
        return [(place.before, place.after) for place in pairs.values()]


def places(sections: list[Played]) -> Iterator[tuple[DraftBar, Place]]:
    """Every bar heard, in order."""
    flat = [
        (section, phrase, turn, index, bar)
        for section in sections
        for turn, phrase in enumerate(section.phrases)
        for index, bar in enumerate(phrase.bars)
    ]
    end = len(flat) - 1
    before: DraftBar | None = None
    for at, (section, phrase, turn, index, bar) in enumerate(flat):
        ends_phrase = index == len(phrase.bars) - 1
        ends_section = ends_phrase and turn == len(section.phrases) - 1
        if index == turn == 0 and section.key_change:
            before = None
        after = None if at == end else flat[at + 1][4]
        if ends_section and at < end and flat[at + 1][0].key_change:
            after = None
        yield (
            bar,
            Place(
                section, phrase, index, at == 0, at == end, before, after, ends_phrase, ends_section
            ),
        )
        before = bar


def spots(sections: list[Played]) -> list[Spot]:
    """The distinct bars, in order of first hearing."""
    found: dict[int, Spot] = {}
    for bar, place in places(sections):
        found.setdefault(id(bar), Spot(bar)).places.append(place)
    return list(found.values())


def own_endings(sections: list[Played]) -> None:
    """Give a section a last bar of its own where it plays that bar before.

    What rings or stops there then does so at the end only.
    """
    made: dict[tuple[str, int], DraftPhrase] = {}
    for section in sections:
        last = section.phrases[-1]
        key = section.kind, id(last)
        if key not in made:
            bars = [id(bar) for phrase in section.phrases for bar in phrase.bars]
            shared = id(last.bars[-1]) in bars[:-1]
            made[key] = last.with_last(last.bars[-1].copy()) if shared else last
        section.phrases[-1] = made[key]
