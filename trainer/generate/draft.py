"""A song while it is being made: mutable bars and phrases, and how they become a chart.

A draft names chords by table token; spelling, extension and bass join when it is rendered. Finished
chords, events and bars are shared between songs.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from trainer.chart import Articulation, Bar, Chord, Event, Meter, Phrase
from trainer.generate.words import read_chord, spell_bass

__all__ = ["DraftBar", "DraftPhrase", "render_phrase"]


class DraftBar:
    """A bar: `beats`, `chords`, `forms` (a chord as spelt, without bass), `basses` and `marks` a
    chord; `short` where it is half a bar.

    Phrases share the bars they have in common, so that what is put on one is heard in all.
    """

    __slots__ = ("basses", "beats", "chords", "forms", "marks", "short")

    def __init__(self, beats: tuple[int, ...], chords: list[str]) -> None:
        self.beats, self.chords = beats, chords
        self.forms = list(chords)
        self.basses = [""] * len(beats)
        self.marks = [""] * len(beats)
        self.short = False

    def copy(self) -> DraftBar:
        """A bar that can be changed without changing this one."""
        made = DraftBar(self.beats, list(self.chords))
        made.forms, made.basses, made.marks = list(self.forms), list(self.basses), list(self.marks)
        made.short = self.short
        return made

    @property
    def whole(self) -> bool:
        """Whether one chord fills the bar."""
        return len(self.beats) == 1


class DraftPhrase:
    """A phrase: its bars and their rhythm types."""

    __slots__ = ("bars", "types")

    def __init__(self, bars: list[DraftBar], types: str) -> None:
        self.bars, self.types = bars, types

    def with_last(self, bar: DraftBar) -> DraftPhrase:
        """The phrase with another last bar."""
        return DraftPhrase([*self.bars[:-1], bar], self.types)

    @property
    def last_chord(self) -> str:
        """The chord the phrase rests on."""
        return self.bars[-1].chords[-1]


@lru_cache(maxsize=4096)
def _chord(form: str, bass: str) -> Chord:
    chord = read_chord(form)
    if not bass:
        return chord
    return Chord(
        chord.degree, chord.alteration, chord.quality, chord.extension, spell_bass(form, bass)
    )


_MARKS = {"": None, "d": Articulation.HOLD, "p": Articulation.PUSH, "s": Articulation.STOP}


@lru_cache(maxsize=16384)
def _event(form: str, bass: str, beats: int, mark: str) -> Event:
    return Event(_chord(form, bass), Fraction(beats), _MARKS[mark])


@lru_cache(maxsize=65536)
def _bar(
    meter: Meter,
    forms: tuple[str, ...],
    basses: tuple[str, ...],
    beats: tuple[int, ...],
    marks: tuple[str, ...],
    key_change: int,
) -> Bar:
    return Bar(meter, tuple(map(_event, forms, basses, beats, marks)), key_change)


def render_phrase(phrase: DraftPhrase, meter: Meter, short: Meter, key_change: int = 0) -> Phrase:
    """The phrase as it stands in a chart: short bars in `short`, `key_change` at its start."""
    return Phrase(
        tuple(
            [
                _bar(
                    short if bar.short else meter,
                    tuple(bar.forms),
                    tuple(bar.basses),
                    bar.beats,
                    tuple(bar.marks),
                    0 if at else key_change,
                )
                for at, bar in enumerate(phrase.bars)
            ]
        )
    )
