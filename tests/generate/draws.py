"""Settings to generate from, and songs taken apart for tests."""

from __future__ import annotations

import random
from collections.abc import Iterator

from hypothesis import strategies as st

from tests.generate.everyday import EVERYDAY
from trainer.chart import Bar, Chart, Chord
from trainer.generate import STYLES, Features, Settings, generate

__all__ = [
    "CHANGE_THE_PLAN",
    "SEEDS",
    "all_settings",
    "base",
    "chords_of",
    "everyday",
    "rates",
    "songs",
]

SEEDS = st.integers(0, 2**32)
rates = st.sampled_from((0.0, 0.0, 0.1, 0.3, 0.7, 1.0))
# Features that break what else is asked for: a fade does not come home, a passing chord is from
# outside the vocabulary, a bridge moves the key. `test_finish.py` tests them by themselves.
CHANGE_THE_PLAN = ("fade", "passing", "bridge_key")
MAJOR = ("1", "4", "5", "6-", "2-", "3-", "b7", "2", "b3", "4-", "#4o", "5^7", "1^maj7")
MINOR = ("1-", "5", "b6", "b7", "4-", "b3", "4", "5-", "2o")


@st.composite
def vocabularies(choose: st.DrawFn, minor: bool) -> tuple[str, ...]:
    """No limit, or a vocabulary of a mode with a cadence in it."""
    if choose(st.booleans()):
        return ()
    pool = MINOR if minor else MAJOR
    more = choose(st.lists(st.sampled_from(pool[2:]), max_size=6, unique=True))
    return (*pool[:2], *([] if minor else ["5"]), *(c for c in more if c != "5"))


@st.composite
def all_settings(choose: st.DrawFn, features: bool = True) -> Settings:
    """Valid settings of every size and style."""
    style = choose(st.sampled_from([name for name in STYLES if name != "twelve-bar blues"]))
    minor = STYLES[style].minor or choose(st.booleans())
    names = [name for name in Features.__dataclass_fields__ if name not in CHANGE_THE_PLAN]
    return Settings(
        size=choose(st.sampled_from(("phrase", "section", "song"))),
        styles=(style,),
        chords=choose(vocabularies(minor)),
        minor=1.0 if minor else 0.0,
        extensions=choose(rates) if features else 0.0,
        phrase_bars=choose(st.sampled_from((2, 4, 4, 4, 8))),
        variety=choose(st.sampled_from((0.0, 1.0))),
        features=Features(**{n: choose(rates) for n in names}) if features else Features(),
    )


def songs(settings: Settings, count: int, start: int = 0) -> Iterator[Chart]:
    """So many songs, seed after seed."""
    for seed in range(start, start + count):
        yield generate(settings, random.Random(seed))


def everyday(count: int) -> list[Chart]:
    """The first songs of `EVERYDAY`, each made once in a process."""
    _everyday.extend(songs(EVERYDAY, count - len(_everyday), len(_everyday)))
    return _everyday[:count]


_everyday: list[Chart] = []


def chords_of(bars: Iterator[Bar] | tuple[Bar, ...]) -> list[Chord]:
    """Every chord, in order."""
    return [event.chord for bar in bars for event in bar.events if event.chord]


def base(chord: Chord) -> str:
    """The chord without extension and bass."""
    return f"{chord.root}{chord.quality}"
