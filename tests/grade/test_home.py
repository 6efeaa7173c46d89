"""Charts that are right but counted from elsewhere, and charts that are merely wrong."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from trainer.chart import Bar, Chart, Chord, Degree, parse
from trainer.grade import grade

from .helpers import with_bars

SPELT = tuple(
    map(
        Degree,
        (1, 2, 2, 3, 3, 4, 4, 5, 6, 6, 7, 7),
        (0, -1, 0, -1, 0, 0, 1, 0, -1, 0, -1, 0),
    )
)
SONG = "Verse:\n1 1 4 4 . 1 5/7 6- 5\nChorus:\n4 5 (1 5/7) 6- . 2- 5^7 1 1d"
MINOR = "key: E minor\n1- 1- b6 b7 . 1- b3 b7 1-\n4- 5- 1- 1-"
RELATIVE = "key: G\n6- 6- 4 5 . 6- 1 5 6-\n2- 3- 6- 6-"
KEY_UP = "Verse:\n1 4 5 1 . 1 4 5 1\nChorus:\n[up 2] 1 4 5 1 . 6- 4 5 1"


def moved(bar: Bar, semitones: int) -> Bar:
    """The bar with every number so much higher."""
    events = []
    for event in bar.events:
        chord = event.chord
        if chord is not None:
            root = SPELT[(chord.root.semitones + semitones) % 12]
            bass = chord.bass and SPELT[(chord.bass.semitones + semitones) % 12]
            chord = Chord(*root, chord.quality, chord.extension, bass)
        events.append(replace(event, chord=chord))
    return replace(bar, events=tuple(events))


def counted_from(chart: Chart, semitones: int) -> Chart:
    """The chart counted from a home so much lower."""
    return with_bars(chart, [moved(bar, semitones) for bar in chart.bars()])


@pytest.mark.parametrize("semitones", range(1, 12))
def test_another_home_is_found_from_every_side(semitones: int) -> None:
    """The shift is named, every bar explained, the score as meant perfect, and said once."""
    report = grade(parse(SONG), counted_from(parse(SONG), semitones))
    shift = report.home_shift
    assert shift is not None
    assert (shift.semitones, shift.bars_explained, shift.bars_compared) == (semitones, 16, 16)
    assert shift.score_as_meant == 1.0
    assert 0.45 <= report.score <= 0.55
    assert len(report.advice) == 1
    assert report.advice[0].kind == f"home: {shift.kind}"
    assert report.phrases.f == 1.0


def test_phrases_are_compared_as_meant() -> None:
    """Where the numbers mislead the alignment, boundaries stand where the bars meant stand."""
    report = grade(
        parse("1 4 1 4 . 5 1 5 1 . 2- 5 2- 5 5"), parse("4 b7 4 b7 . 1 4 1 4 . 5- 1 5- 1 1")
    )
    assert report.home_shift is not None
    assert report.phrases.f == 1.0


def test_minor_from_its_relative_major_and_the_other_way() -> None:
    """A minor song on its own 1, written as 6- of the relative major, and the reverse."""
    report = grade(parse(MINOR), parse(RELATIVE))
    assert report.home_shift is not None
    assert (report.home_shift.kind, report.home_shift.semitones) == ("relative major", 9)
    report = grade(parse(RELATIVE), parse(MINOR))
    assert report.home_shift is not None
    assert (report.home_shift.kind, report.home_shift.semitones) == ("own minor 1", 3)


def test_a_key_change_heard_but_not_written() -> None:
    """Numbers that go on in the old key are explained from the bar where the key moved."""
    answer = parse("Verse:\n1 4 5 1 . 1 4 5 1\nChorus:\n2 5 6 2 . 7- 5 6 2")
    shift = grade(parse(KEY_UP), answer).home_shift
    assert shift is not None
    assert (shift.kind, shift.semitones, shift.from_bar) == ("key change not written", 2, 9)
    assert shift.score_as_meant == 1.0
    shift = grade(answer, parse(KEY_UP)).home_shift
    assert shift is not None
    assert shift.kind == "key change not played"


def test_a_key_change_left_out_with_the_numbers_right() -> None:
    """The band would play the section in the old key: that section keeps half, the rest all."""
    report = grade(parse(KEY_UP), parse(KEY_UP.replace("[up 2] ", "")))
    assert report.home_shift is not None
    assert (report.home_shift.kind, report.home_shift.from_bar) == ("key sign missing", 9)
    assert [bar.reference for bar in report.bars if bar.score < 1] == list(range(9, 17))
    assert all(0.45 <= bar.score <= 0.55 for bar in report.bars[8:])


@pytest.mark.parametrize(
    ("reference", "answer"),
    [
        # One chord, or too few bars, say nothing about home.
        ("1 1 1 1 1 1 1 1", "4 4 4 4 4 4 4 4"),
        ("1 4 5", "4 b7 1"),
        ("1 4 1 4", "4 b7 4 b7"),
        ("1 5 1 5 5", "2 6 2 6 6"),
        # Merely wrong.
        ("1 4 5 1 6- 4 5 1", "4 1 5 4 2- 5 1 4"),
        ("1 1 4 4 1 1 5 5", "1 1 5 5 1 1 4 4"),
        # Right but for a few bars.
        (SONG, SONG.replace("6-", "1")),
    ],
)
def test_it_does_not_fire_without_evidence(reference: str, answer: str) -> None:
    """Short, one-chord, wrong and nearly right charts are graded as written."""
    assert grade(parse(reference), parse(answer)).home_shift is None


@pytest.mark.many
def test_it_does_not_fire_on_random_answers() -> None:
    """Of 300 songs answered at random from the same chords, none is taken for shifted."""
    rng = random.Random(3)
    chords = ("1", "4", "5", "6-", "2-")
    for _ in range(300):
        reference, answer = (
            parse(" ".join(rng.choice(chords) for _ in range(16))) for _ in range(2)
        )
        report = grade(reference, answer)
        if report.home_shift is not None:
            assert report.home_shift.bars_explained >= 0.8 * report.home_shift.bars_compared
        assert report.home_shift is None


def test_a_shifted_chart_with_mistakes_is_still_recognised() -> None:
    """One wrong bar and one left out of sixteen leave evidence enough, and are advised on."""
    answer = counted_from(
        parse(SONG.replace("4 5 (1 5/7) 6-", "4 5 (1 5/7)").replace("2-", "4")), 7
    )
    report = grade(parse(SONG), answer)
    assert report.home_shift is not None
    assert report.home_shift.bars_compared == 15
    assert [advice.kind for advice in report.advice] == [
        "home: another home",
        "left out",
        "other chord",
    ]
    assert "the band played 2- and you wrote 4 (1 in your numbers)." in report.advice[2].text


def test_only_the_sections_that_are_counted_double_are_read_so() -> None:
    """A verse between two choruses that are counted double keeps all its bars, labels or none."""
    song = """Verse:\n1 1 4 1 . 1 6- 2- 5\nChorus:\n4 1 5 6- . 4 1 5 1
Verse 2:\n1 1 4 1 . 2- 5 1 1\nChorus 2:\n4 1 5 6- . 4 1 5 1"""
    twice = "4 4 1 1 . 5 5 6- 6- . 4 4 1 1 . 5 5 1 1"
    answer = f"""Verse:\n1 1 4 1 . 1 6- 2- 5\nChorus:\n{twice}
Verse 2:\n1 1 4 1 . 2- 5 1 1\nChorus 2:\n{twice}"""
    report = grade(parse(song), parse(answer))
    assert [
        bar.score for bar in report.bars if bar.reference in {*range(1, 9), *range(17, 25)}
    ] == [1.0] * 16
    assert [(one.kind, one.reference[0], one.reference[-1]) for one in report.edits] == [
        ("counted double", 9, 16),
        ("counted double", 25, 32),
    ]


def test_a_chorus_counted_double_leaves_a_verse_of_half_the_bars_alone() -> None:
    """Bars of the verse are not read two as one and then said to be written two to a bar."""
    song = "Verse:\n1 6- 4 5 . 1 6- 2- 5\nChorus:\n4 1 5 6- . 4 2- 5 1"
    twice = "4 4 1 1 5 5 6- 6- . 4 4 2- 2- 5 5 1 1"
    report = grade(parse(song), parse(f"Verse:\n1 6- 4 5 . 1 6- 2- 5\nChorus:\n{twice}"))
    assert [bar.score for bar in report.bars if bar.reference in range(1, 9)] == [1.0] * 8
    assert [(one.kind, one.reference[0], one.reference[-1]) for one in report.edits] == [
        ("counted double", 9, 16),
    ]


def test_one_bar_more_in_a_song_on_one_chord_is_no_count() -> None:
    """Two bars that could be read as one, alone among others, are one bar too many."""
    for chord in ("0", "1"):
        song = f"Verse:\n{chord}\nVerse 2:\n{chord} {chord}"
        report = grade(parse(song), parse(f"{song} {chord}"))
        assert [bar.score for bar in report.bars if bar.reference] == [1.0] * 3
        assert [one.kind for one in report.edits] == ["doubled"]


def test_a_tag_that_is_cut_short_is_not_a_chart_that_stops() -> None:
    """Where the song's last bars are written, what is missing is missing before them."""
    song = "Verse:\n1 1 4 4 . 1 1 5 5\nTag:\n4 5 1 6- . 4 5 1 6- . 4 5 1 1d"
    report = grade(parse(song), parse("Verse:\n1 1 4 4 . 1 1 5 5\nTag:\n4 5 1 1d"))
    assert [bar.reference for bar in report.bars if bar.score == 1.0] == [
        *range(1, 9),
        *range(17, 21),
    ]
