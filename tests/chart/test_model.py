from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from trainer.chart import (
    Articulation,
    Bar,
    Chart,
    Chord,
    Degree,
    Event,
    Feel,
    Key,
    Meter,
    Phrase,
    Section,
    chord_intervals,
    parse,
)
from trainer.chart.chords import EXTENSIONS, QUALITIES, TRIADS
from trainer.chart.model import MOST_BARS
from trainer.errors import ChartError

FOUR = Meter(4, 4)


def bar(*beats: int | Fraction, meter: Meter = FOUR, key_change: int = 0) -> Bar:
    """A bar of 1 chords of so many beats."""
    return Bar(meter, tuple(Event(Chord(1), Fraction(b)) for b in beats), key_change)


def chart(*sections: Section, title: str = "", tempo: float = 100.0, feel: Feel = Feel.STRAIGHT,
          meter: Meter = FOUR) -> Chart:  # fmt: skip
    """A chart of one bar unless told otherwise."""
    given = sections or (Section("", (Phrase((bar(4),)),)),)
    return Chart(title, meter, tempo, feel, Key("C"), given)


WRONG: list[tuple[Callable[[], object], str]] = [
    (lambda: Meter(4, 5), "meter: found 4/5, expected 1 to 16 beats over 2, 4, 8 or 16"),
    (lambda: Meter(17, 8), "meter: found 17/8"),
    (lambda: Chord(8), "chord: found degree 8"),
    (lambda: Chord(1, 2), "altered by 2"),
    (lambda: Chord(1, 0, "m"), "chord on 1: found quality 'm'"),
    (lambda: Chord(1, 0, "-", "sus4"), "chord 1-: found extension 'sus4', expected one of 6, 7"),
    (lambda: Chord(1, 0, "", "", Degree(1)), "no bass where the bass is the root"),
    (lambda: Chord(1, 0, "", "", Degree(9)), "bass of 1: found degree 9"),
    (lambda: Event(Chord(1), Fraction(0)), "chord 1: found 0 beats, expected more than 0"),
    (lambda: Event(None, Fraction(4), Articulation.HOLD), "no articulation on silence"),
    (lambda: bar(3), "bar: found 3 beats, expected 4 beats in 4/4"),
    (lambda: bar(Fraction(5, 2), Fraction(3, 2)), "whole beats, or the bar divided evenly"),
    (lambda: bar(*[Fraction(4, 9)] * 9), "bar: found 9 chords, expected 1 to 8"),
    (lambda: Bar(FOUR, ()), "bar: found 0 chords"),
    (lambda: bar(4, key_change=12), "bar: found key change 12"),
    (lambda: Phrase(()), "phrase: found no bars"),
    (lambda: Section("A", ()), "section 'A': found no phrases"),
    (lambda: Section("Key", (Phrase((bar(4),)),)), "section name: found 'Key'"),
    (lambda: Section("1st", (Phrase((bar(4),)),)), "a letter first"),
    (lambda: chart(title=" a"), "title: found ' a'"),
    (lambda: chart(title="a\ud800"), "one line of at most 120 characters"),
    (lambda: chart(tempo=10.0), "tempo: found 10.0, expected 20 to 400"),
    (lambda: chart(tempo=float("nan")), "tempo: found nan"),
    (lambda: chart(feel=Feel.WALTZ), "feel: found waltz in 4/4"),
    (lambda: Chart("", FOUR, 100.0, Feel.STRAIGHT, Key("C"), ()), "chart: found no sections"),
    (lambda: chart(*[Section("", (Phrase((bar(4),)),))] * 2), "section 2: found no name"),
    (lambda: chart(Section("", (Phrase((bar(4),) * (MOST_BARS + 1)),))), "2001 bars"),
    (lambda: chart(Section("", (Phrase((bar(*[Fraction(1, 2)] * 8),) * 1_000),))),
     "characters when written out, expected at most 20000"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "message"), WRONG, ids=[message for _, message in WRONG])
def test_what_cannot_be_is_refused(make: Callable[[], object], message: str) -> None:
    """A value that no chart can have is refused with where, what and what was expected."""
    with pytest.raises(ChartError) as caught:
        make()
    assert message in str(caught.value)


def test_walk_places_every_bar() -> None:
    """Bars are walked with number, place, start in quarters and the key so far."""
    song = parse("meter: 6/8\n1 [2/4] 4 . 5\nTag:\n[up 2] 1")
    places = list(song.placed_bars())
    assert [tuple(place[:4]) for place in places] == [
        (1, 0, 0, 0), (2, 0, 0, 1), (3, 0, 1, 0), (4, 1, 0, 0),
    ]  # fmt: skip
    assert [place.start_quarters for place in places] == [0, 3, 5, 8]
    assert [place.key_shift for place in places] == [0, 0, 0, 2]
    assert tuple(place.bar for place in places) == song.bars()


def test_events_start_where_the_last_ended() -> None:
    """Starts inside a bar add up the beats before."""
    assert list(bar(3, 1).starts()) == [0, 3]
    assert bar(2, 2).is_even
    assert not bar(3, 1).is_even


@pytest.mark.parametrize(
    ("meter", "quarters", "pulse"),
    [((4, 4), 4, 1), ((3, 4), 3, 1), ((6, 8), 3, Fraction(3, 2)), ((12, 8), 6, Fraction(3, 2)),
     ((9, 8), Fraction(9, 2), Fraction(3, 2)), ((2, 2), 4, 2), ((5, 8), Fraction(5, 2), 1)],
)  # fmt: skip
def test_meters(meter: tuple[int, int], quarters: Fraction, pulse: Fraction) -> None:
    """Bars are beats over unit long; compound meters pulse in dotted notes (common practice)."""
    assert Meter(*meter).quarters == quarters
    assert Meter(*meter).pulse_quarters == pulse


@pytest.mark.parametrize(
    ("feel", "meters"),
    [
        (Feel.STRAIGHT, "2/4 3/4 4/4 5/4 6/8 12/8 2/2"),
        (Feel.SHUFFLE, "2/4 4/4 2/2"),
        (Feel.TRAIN_BEAT, "2/4 4/4 2/2"),
        (Feel.WALTZ, "3/4"),
        (Feel.SIX_EIGHT, "6/8"),
        (Feel.TWELVE_EIGHT, "12/8"),
    ],
)
def test_feels_fit_their_meters(feel: Feel, meters: str) -> None:
    """Each feel goes with the meters it can be played in, and straight with all."""
    tried = [Meter(*m) for m in ((2, 4), (3, 4), (4, 4), (5, 4), (6, 8), (12, 8), (2, 2))]
    assert " ".join(str(meter) for meter in tried if feel.fits(meter)) == meters
    assert all(Feel.usual(meter).fits(meter) for meter in tried)


def test_intervals_rise_from_the_root() -> None:
    """Every chord's tones start on the root and rise within two octaves."""
    for quality in QUALITIES:
        for extension in ("", *EXTENSIONS[quality]):
            tones = chord_intervals(Chord(1, 0, quality, extension))
            assert tones[0] == 0
            assert list(tones) == sorted(set(tones))
            assert tones[-1] < 24
        assert chord_intervals(Chord(4, 0, quality)) == TRIADS[quality]
