"""A song as it is heard: every section in order, its distinct bars with all their contexts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from trainer.generate.draft import DraftBar, DraftPhrase

__all__ = ["Place", "Played", "Spot", "places", "spots"]


@dataclass(slots=True)
class Played:
    """A section as played once: name, kind, phrases, semitones the key moves at its start."""

    name: str
    kind: str
    phrases: list[DraftPhrase]
    key_change: int = 0


class Place(NamedTuple):
    """One hearing of a bar: its section and phrase, where it stands, and the bars around it.

    `before` and `after` are None at the ends of the song and across a change of key.
    """

    section: Played
    phrase: DraftPhrase
    number: int
    first: bool
    last: bool
    before: DraftBar | None
    after: DraftBar | None

    @property
    def ends_phrase(self) -> bool:
        """Whether it is the last bar of its phrase."""
        return self.number == len(self.phrase.bars) - 1

    @property
    def ends_section(self) -> bool:
        """Whether it is the last bar of its section."""
        return self.ends_phrase and self.phrase is self.section.phrases[-1]

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
        (section, phrase, index, bar, section.key_change if phrase is section.phrases[0] else 0)
        for section in sections
        for phrase in section.phrases
        for index, bar in enumerate(phrase.bars)
    ]
    end = len(flat) - 1
    for at, (section, phrase, index, bar, key_change) in enumerate(flat):
        moved = bool(key_change) and index == 0
        before = flat[at - 1][3] if at and not moved else None
        follows = flat[at + 1] if at < end else None
        crossing = follows is not None and follows[2] == 0 and bool(follows[4])
        after = follows[3] if follows and not crossing else None
        yield bar, Place(section, phrase, index, at == 0, at == end, before, after)


def spots(sections: list[Played]) -> list[Spot]:
    """The distinct bars, in order of first hearing."""
    found: dict[int, Spot] = {}
    for bar, place in places(sections):
        found.setdefault(id(bar), Spot(bar)).places.append(place)
    return list(found.values())
