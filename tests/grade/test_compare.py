"""What each component of a bar is, and what a bar's credit adds up to."""

from __future__ import annotations

import random

import pytest

from trainer.chart import parse
from trainer.grade import SCHEMES, Weights, grade
from trainer.grade.compare import ChordAgreement, Comparison, bar_credit, compare
from trainer.grade.content import bar_content, note_names, sonority_of, tone_similarity
from trainer.grade.credits import credit_table

from .helpers import METERS, corrupt_bar, random_bar, with_bars, without_bar


def compared(played: str, written: str, header: str = "") -> Comparison:
    """One bar against another."""
    one, other = (parse(f"{header}{text}").bars()[0] for text in (played, written))
    return compare(bar_content(one), bar_content(other))


def chords_over_time(played: str, written: str, header: str = "") -> ChordAgreement:
    """The chords of one bar against those of another, at the same time."""
    return compared(played, written, header).over_time


def scored(played: str, written: str, **weights: float | bool) -> float:
    """The credit of one bar written as another."""
    one, other = (parse(text).bars()[0] for text in (played, written))
    w = Weights(**weights)  # type: ignore[arg-type]
    return bar_credit(compare(bar_content(one), bar_content(other), w.plain_minor), w)


@pytest.mark.parametrize(
    ("played", "written", "expected"),
    [
        # Root 4, quality 4, bass 2 of 10; half of the shared tones' share for a wrong quality.
        ("1", "1", 1.0),
        ("5/7", "5", 0.8),
        ("5", "5/7", 0.8),
        ("2-", "2", 0.6 + 0.4 * 0.5 * 2 / 4),
        ("1", "1^7", 0.6 + 0.4 * 0.5 * 3 / 4),
        ("1/3", "3-", 0.6),
        ("1^sus4", "4/1", 0.6),
        # A chord with half of the notes in common.
        ("4", "2-", 0.25),
        ("1", "6-", 0.25),
        ("5", "3-", 0.25),
        ("5/7", "5^7", 0.4 + 0.4 * 0.5 * 3 / 4),
        # Another chord on the same bass with the same notes but one at most.
        ("4/5", "5^9sus4", 0.9),
        ("b7/1", "1^9sus4", 0.9),
        ("5/7", "7o", 0.9),
        ("7o", "5/7", 0.9),
        ("2-", "4/2", 0.9),
        ("1", "4", 0.4 * 0.5 * 1 / 5),
        ("1", "2", 0.0),
        ("1", "0", 0.0),
        ("0", "1", 0.0),
        ("0", "0", 1.0),
        # Half the bar right, and the change not there: chord 10, placement 2.
        ("(4 5)", "4", (10 * 0.5 + 0) / 12),
        # The right chords in order on the wrong beats keep the chords' credit.
        ("(4 5)", "(4''' 5')", 10 / 12),
        ("(4 5)", "(4''' b2')", (10 * 0.5 + 0) / 12),
        # An articulation costs what a wrong quality does.
        ("1d", "1", 10 / 14.3),
        ("1d", "1p", 10 / 14.3),
        ("[2/4] 1", "1", 10 / 15),
        ("[up 2] 1", "1", 10 / 20),
        ("[up 2] 1", "[up 1] 1", 10 / 20),
        ("[up 2] 1", "[down 10] 1", 1.0),
    ],
)
def test_credit_is_what_the_table_of_weights_says(
    played: str, written: str, expected: float
) -> None:
    """Worked by hand from the default weights."""
    assert scored(played, written) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("1^6", "6-^7/1"),
        ("1^sus4", "4^sus2/1"),
        ("1o^7", "b3o^7/1"),
        ("1+", "3+/1"),
        ("2ø", "4-^6/2"),
        ("#4", "b5"),
        ("1/b7", "1^7/b7"),
        ("b3/#4", "#2/b5"),
    ],
)
def test_the_same_notes_over_the_same_bass_are_the_same_chord(one: str, other: str) -> None:
    """Whatever it is called: full credit either way, and no advice."""
    for played, written in ((one, other), (other, one)):
        report = grade(parse(f"1 {played} 5 1"), parse(f"1 {written} 5 1"))
        assert report.score == 1.0
        assert report.advice[0].kind == "all right"
        assert not report.confusions


def test_root_and_strict_stay_literal_where_a_chord_is_respelt() -> None:
    """1^6 written as 6-^7/1 is right, but its root is not the one that was written."""
    bar = grade(parse("1^6"), parse("6-^7/1")).bars[0]
    assert (bar.score, bar.quality, bar.bass) == (1.0, 1.0, 1.0)
    assert (bar.root, bar.strict) == (0.0, 0.0)


def test_components_are_shares_of_time() -> None:
    """(1 5/7) written as (1 5): root and notes right throughout, bass for half of the bar."""
    c = chords_over_time("(1 5/7)", "(1 5)")
    assert (c.root, c.same_tones, c.bass, c.strict) == (1.0, 1.0, 0.5, 0.5)


def test_bars_of_other_meters_are_compared_by_parts() -> None:
    """Half a bar of 6/8 is half a bar of 4/4."""
    c = compared("[6/8] (1 5)", "[4/4] (1 5)")
    assert (c.placement, c.meter) == (1.0, 0.0)
    assert (c.over_time.root, c.over_time.strict) == (1.0, 1.0)


def test_rewriting_a_chord_that_goes_on_changes_nothing() -> None:
    """(1 1) is 1, and (1 1 4 4) is (1 4)."""
    for played, written in (("1", "(1 1)"), ("(1 1 4 4)", "(1 4)"), ("(1 4)", "(1' 1' 4'')")):
        assert scored(played, written) == 1.0


def test_placement_is_the_f_measure_of_changes() -> None:
    """Two changes played, one written where one of them was: two thirds."""
    c = compared("(1'' 4' 5')", "(1'' 4'')")
    assert c.placement == pytest.approx(2 / 3)
    assert compared("(1 4)", "(5 6-)").placement == 1.0
    assert not compared("1", "4").counts_placement


def test_articulations_must_agree_in_place_and_kind() -> None:
    """A hold on the second chord is not a hold on the first."""
    assert compared("(1 4d)", "(1 4d)").articulation == 1.0
    assert compared("(1 4d)", "(1d 4)").articulation == 0.0
    assert compared("(1 4d)", "(1p 4d)").articulation == pytest.approx(2 / 3)
    assert not compared("1", "4").counts_articulation


@pytest.mark.parametrize(
    ("one", "other", "notes"),
    [
        ("4", "2-", ("4", "6")),
        ("1", "6-", ("1", "3")),
        ("1/3", "3-", ("3", "5")),
        ("7o", "5^7", ("2", "4", "7")),
    ],
)
def test_shared_tones_are_those_of_the_arithmetic(
    one: str, other: str, notes: tuple[str, ...]
) -> None:
    """Pairs that are easily confused (shared-tone arithmetic: common practice, no source)."""
    first, second = (sonority_of(parse(text).bars()[0].events[0].chord) for text in (one, other))
    assert note_names(first.tones & second.tones) == notes
    assert tone_similarity(first, second) == tone_similarity(second, first)


def test_a_house_may_write_minor_plainly() -> None:
    """With `plain_minor` a plain 2, 3 or 6 is right for the minor chord, and for no other."""
    assert scored("2-", "2", plain_minor=True) == 1.0
    assert scored("6-^7", "6^7", plain_minor=True) == 1.0
    assert scored("2", "2", plain_minor=True) == 1.0
    assert scored("4-", "4", plain_minor=True) < 1.0
    assert scored("2", "2-", plain_minor=True) < 1.0
    assert scored("2o", "2", plain_minor=True) < 1.0


@pytest.mark.parametrize("played", ["1", "0", "(1 5)", "(0 5)", "7o^7/4", "2-^11"])
def test_an_open_bar_earns_nothing(played: str) -> None:
    """A bar that was left open agrees with no bar, not with one in which the band is silent."""
    assert scored(played, "?") == 0.0
    song = f"1 4 5 1 . 1 {played} 5 1"
    open_bar, guess = (grade(parse(song), parse(f"1 4 5 1 . 1 {bar} 5 1")) for bar in ("?", played))
    assert open_bar.bars[5].score == 0.0
    assert guess.score == 1.0
    assert [advice.kind for advice in open_bar.advice] == ["left open"]


@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_table_of_credits_says_the_same(scheme: str) -> None:
    """All pairs at once are the pairs one by one, for every scheme."""
    rng = random.Random(9)
    ours = [bar_content(random_bar(rng, rng.choice(METERS))) for _ in range(40)]
    theirs = [bar_content(corrupt_bar(rng, content.bar)) for content in ours]
    theirs += [
        bar_content(parse(text).bars()[0]) for text in ("[up 2] 1", "[down 10] 4", "0", "1", "?")
    ]
    table = credit_table(ours, theirs, SCHEMES[scheme])
    for i, one in enumerate(ours):
        for j, other in enumerate(theirs):
            assert table[i, j] == pytest.approx(
                bar_credit(compare(one, other), SCHEMES[scheme]), abs=1e-12
            )


def test_a_long_song_without_repeats_is_aligned_by_the_table() -> None:
    """Sixty different bars, one left out: the others score 1."""
    rng = random.Random(4)
    bars = [random_bar(rng, METERS[0]) for _ in range(60)]
    reference = with_bars(parse("\n".join(["1 1 1 1"] * 15)), bars)
    answer = without_bar(reference, 30)
    assert answer is not None
    scores = [bar.score for bar in grade(reference, answer).bars]
    assert sorted(scores) == [0.0] + [1.0] * 59
