"""Hypothesis strategies for every chart that the model can hold."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise

from hypothesis import strategies as st

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
)
from trainer.chart.band_words import BAND_WORDS
from trainer.chart.chords import EXTENSIONS, QUALITIES
from trainer.chart.hits import check_hits
from trainer.chart.model import HEADER_WORDS, MOST_EVENTS, TEMPO_BPM
from trainer.chart.notes import is_note, tidy_note
from trainer.chart.section_names import split_repeats
from trainer.errors import ChartError

__all__ = [
    "bars",
    "charts",
    "chords",
    "comments",
    "degrees",
    "keys",
    "meters",
    "names",
    "noted_charts",
    "notes",
    "sections",
    "titles",
]

ALTERATIONS = st.sampled_from((0, 0, 0, -1, 1))
ARTICULATIONS = st.sampled_from((None, None, None, *Articulation))
SHAPES = st.sampled_from(("whole", "whole", "even", "uneven"))
MOVES = st.sampled_from((*[0] * 40, *range(1, 12), *range(-11, 0)))
DEGREES = tuple(Degree(number, sign) for sign in (0, -1, 1) for number in range(1, 8))
CHORDS = tuple(
    Chord(*root, quality, extension, bass)
    for bass in (None, *DEGREES)
    for quality in QUALITIES
    for extension in ("", *EXTENSIONS[quality])
    for root in DEGREES
    if bass != root
)
# Made once: hypothesis looks through all elements of a strategy when it is made.
ANY_CHORD = st.sampled_from(CHORDS)
CHORD_OR_SILENCE = st.sampled_from((None, *CHORDS))
ANY_DEGREE = st.sampled_from(DEGREES)
TEMPI = st.one_of(st.integers(20, 400).map(float), st.floats(*TEMPO_BPM))
USUAL_METERS = tuple(Meter(*m) for m in ((4, 4), (3, 4), (6, 8), (12, 8), (2, 4), (2, 2)))
WRITABLE = st.characters(exclude_categories=("Cs", "Cc"))
# Names that look like notation, headers or directives are names all the same.
ODD_NAMES = ("Verse 1", "b7", "x", "d", "A.B", "Bridge_2", "Tag (2/4)", "NC", "Élan", "ñ '' ^7/")


@cache
def meters() -> st.SearchStrategy[Meter]:
    """Usual meters more often than odd ones."""
    odd = st.builds(Meter, st.integers(1, 16), st.sampled_from((2, 4, 8, 16)))
    return st.one_of(st.sampled_from(USUAL_METERS), odd)


@cache
def keys() -> st.SearchStrategy[Key]:
    """Every key, major and minor, also those that no band would name."""
    return st.builds(Key, st.sampled_from("CDEFGAB"), ALTERATIONS, st.booleans())


def degrees() -> st.SearchStrategy[Degree]:
    """Every degree, natural ones first."""
    return ANY_DEGREE


def chords() -> st.SearchStrategy[Chord]:
    """Every chord: all qualities, extensions and basses, plain ones first."""
    return ANY_CHORD


def _event(draw: st.DrawFn, beats: Fraction) -> Event:
    chord = draw(CHORD_OR_SILENCE)
    return Event(chord, beats, None if chord is None else draw(ARTICULATIONS))


def _lengths(draw: st.DrawFn, meter: Meter) -> list[Fraction]:
    """Beats of the events of a bar: whole, evenly divided, or in whole beats."""
    shape = draw(SHAPES)
    if shape == "whole":
        return [Fraction(meter.beats)]
    if shape == "even":
        count = draw(_upto(1, max(MOST_EVENTS, meter.beats)))
        return [Fraction(meter.beats, count)] * count
    cuts = draw(_upto(0, 2 ** (meter.beats - 1) - 1))
    inner = [beat for beat in range(1, meter.beats) if cuts >> (beat - 1) & 1]
    return [Fraction(b - a) for a, b in pairwise([0, *inner, meter.beats])]


@cache
def _upto(low: int, high: int) -> st.SearchStrategy[int]:
    return st.integers(low, high)


@st.composite
def bars(draw: st.DrawFn, meter: Meter | None = None) -> Bar:
    """Every bar: in `meter`, or now and then in its own, perhaps after a key move."""
    own = draw(meters()) if meter is None or draw(_upto(0, 7)) == 7 else meter
    move = draw(MOVES)
    if draw(_upto(0, 30)) == 30:
        return Bar(own, (Event(None, Fraction(own.beats)),), move, is_open=True)
    events = tuple(_event(draw, beats) for beats in _lengths(draw, own))
    return Bar(own, events, move)


def _may_be_name(name: str) -> bool:
    """Whether a section may be called so: no word of the header, no count
    such as x2, and no comment."""
    return name.lower() not in HEADER_WORDS and split_repeats(name)[1] == 1 and " @" not in name


@cache
def names() -> st.SearchStrategy[str]:
    """Section names: any letter first, then anything on one line without a colon."""
    free = st.builds(
        lambda first, rest: " ".join((first + rest).split())[:40].strip(),
        WRITABLE.filter(str.isalpha),
        st.text(WRITABLE.filter(lambda c: c != ":"), max_size=39),
    ).filter(_may_be_name)
    return st.one_of(st.sampled_from(ODD_NAMES), free)


@cache
def titles() -> st.SearchStrategy[str]:
    """Titles in any script."""
    return st.text(WRITABLE, max_size=120).map(lambda text: " ".join(text.split()))


@cache
def sections(meter: Meter, most_bars: int = 5) -> st.SearchStrategy[Section]:
    """Named sections of a few phrases."""
    phrases = st.lists(bars(meter), min_size=1, max_size=most_bars).map(
        lambda listed: Phrase(tuple(listed))
    )
    several = st.lists(phrases, min_size=1, max_size=3).map(tuple)
    return st.builds(Section, names(), several)


@cache
def _several_sections(meter: Meter, most: int) -> st.SearchStrategy[list[Section]]:
    return st.lists(sections(meter), min_size=1, max_size=most)


@cache
def _feels(meter: Meter) -> st.SearchStrategy[Feel]:
    return st.sampled_from([feel for feel in Feel if feel.fits(meter)])


@st.composite
def charts(draw: st.DrawFn, most_sections: int = 3) -> Chart:
    """Every chart, small enough to search well."""
    meter = draw(meters())
    listed = draw(_several_sections(meter, most_sections))
    if draw(_upto(0, 1)):
        listed[0] = Section("", listed[0].phrases)
    if not draw(_upto(0, 3)):
        place = draw(_upto(0, len(listed) - 1))
        first, *others = listed[place].phrases
        fading = Phrase((replace(first.bars[0], fades=True), *first.bars[1:]))
        listed[place] = Section(listed[place].name, (fading, *others))
    feel = draw(_feels(meter))
    return Chart(draw(titles()), meter, draw(TEMPI), feel, draw(keys()), tuple(listed))


@cache
def notes() -> st.SearchStrategy[str]:
    """Words for the players: those that the band knows, and any others."""
    known = st.sampled_from([words for row in BAND_WORDS for words in row.write])
    free = st.text(WRITABLE, min_size=2, max_size=60).map(tidy_note).filter(is_note)
    return st.one_of(known, st.sampled_from(("hey, shout", "drums: brushes", "2nd gtr")), free)


@cache
def comments() -> st.SearchStrategy[str]:
    """Comments in any script."""
    return st.text(WRITABLE, min_size=1, max_size=80).map(lambda t: " ".join(t.split())).filter(len)


@st.composite
def _noted_bar(draw: st.DrawFn, bar: Bar) -> Bar:
    """A bar with notes now and then, and with hits if they can be played."""
    if draw(_upto(0, 2)) == 0:
        bar = replace(bar, notes=tuple(draw(st.lists(notes(), max_size=2))))
    half = bar.meter.unit <= 4
    places = [Fraction(k, 2 if half else 1) for k in range(bar.meter.beats * (1 + half))]
    if draw(_upto(0, 2)) == 0:
        hits = tuple(sorted(draw(st.sets(st.sampled_from(places), min_size=1))))
        try:
            check_hits(hits, bar.meter, bar.events)
        except ChartError:
            return bar
        bar = replace(bar, hits=hits)
    return bar


@st.composite
def noted_charts(draw: st.DrawFn) -> Chart:
    """Every chart with notes, hits and comments on it."""

    def words(most: int = 2) -> tuple[str, ...]:
        return tuple(draw(st.lists(comments(), max_size=most)))

    chart = draw(charts())
    listed = []
    for section in chart.sections:
        phrases = tuple(
            Phrase(tuple(draw(_noted_bar(bar)) for bar in phrase.bars), words())
            for phrase in section.phrases
        )
        said = tuple(draw(st.lists(notes(), max_size=2))) if section.name else ()
        listed.append(Section(section.name, phrases, said, words(1) if section.name else ()))
    capo = draw(st.one_of(st.none(), _upto(0, 9)))
    return replace(
        chart, sections=tuple(listed), capo=capo, count_off=draw(_upto(0, 2)), comments=words()
    )
