"""`thirds`, `majmin` and `sevenths` of mir_eval as further referees, and where they are no judges.

Source: as in test_against_mir_eval. What the two sound at each moment is taken from what grading
compares; mir_eval judges the same moments from the labels. The traps, each counted and shown:

* `thirds` asks only whether there is a minor third: a chord without a third (sus2, sus4, a bare
  fifth) passes for a major one, and a diminished for a minor one of the same third.
* `majmin` and `sevenths` leave out every reference outside their vocabulary (sus, diminished,
  augmented, bare fifths, sixths): the answer there goes ungraded, right or wrong.
* In all three a bass outside the chord is a note of it, so 1/2 is outside `majmin`, 1/b7 is 1^7/b7
  in `sevenths`, and 1/b3 has a minor third. The bass itself is not compared.
* Extensions above the seventh are left out, as in `tetrads_inv`.

Bars are folded (see there) so that the last of these does not hide the others.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from functools import cache

import mir_eval
import numpy as np
import pytest

from tests.thorough import how_many
from trainer.chart import Bar
from trainer.grade.compare import chord_segments
from trainer.grade.content import Sonority, bar_content

from .helpers import METERS, corrupt_bar, random_bar
from .test_against_mir_eval import folded, label, timed

TRIAD = 0b11111111
MAJOR, MINOR = 1 | 1 << 4 | 1 << 7, 1 | 1 << 3 | 1 << 7
SEVENTHS = {MAJOR, MINOR, MAJOR | 1 << 11, MAJOR | 1 << 10, MINOR | 1 << 10, 0}


def pairs(seed: int) -> Iterator[tuple[list[Bar], list[Bar]]]:
    """Random charts of six bars and corrupted copies, bar beside bar."""
    rng = random.Random(seed)
    for _ in range(how_many(5, 10)):
        meter = rng.choice(METERS)
        reference = [random_bar(rng, meter) for _ in range(6)]
        answer = [bar if rng.random() < 0.3 else corrupt_bar(rng, bar) for bar in reference]
        yield [folded(bar) for bar in reference], [folded(bar) for bar in answer]


@cache
def heard(seed: int) -> tuple[tuple[Sonority, Sonority, dict[str, float]], ...]:
    """The moments of the pairs of a seed."""
    return tuple(each for pair in pairs(seed) for each in moments(*pair))


def moments(
    reference: list[Bar], answer: list[Bar]
) -> Iterator[tuple[Sonority, Sonority, dict[str, float]]]:
    """What sounds on either side at each moment, and what mir_eval says of it."""
    intervals, ours, theirs = mir_eval.util.merge_labeled_intervals(
        *timed(reference), *timed(answer)
    )
    judged = {
        name: getattr(mir_eval.chord, name)(ours, theirs)
        for name in ("thirds", "majmin", "sevenths")
    }
    for k, middle in enumerate(intervals.mean(axis=1)):
        bar = int(middle)
        played, written = _sounding(reference[bar], answer[bar], float(middle) - bar)
        yield played, written, {name: float(scores[k]) for name, scores in judged.items()}


def _sounding(reference: Bar, answer: Bar, at: float) -> tuple[Sonority, Sonority]:
    """The slice of grading that a place in the bar, 0 to 1, falls into."""
    cut = chord_segments(bar_content(reference), bar_content(answer))
    grid = sum(length for _, length, _, _ in cut)
    return next(
        (played, written)
        for start, length, played, written in cut
        if start <= at * grid < start + length
    )


def above_root(sound: Sonority) -> int:
    """The notes sounding, the bass among them, in semitones above the root; 0 for no chord."""
    if sound.root < 0:
        return 0
    turned = sound.all_tones << 12 - sound.root
    return (turned | turned >> 12) & 0xFFF


def third(sound: Sonority) -> tuple[int, int]:
    """Whether there is a minor and whether there is a major third."""
    notes = above_root(sound)
    return notes >> 3 & 1, notes >> 4 & 1


@pytest.mark.many
@pytest.mark.hypothesis
@pytest.mark.parametrize("seed", range(50))
def test_thirds_majmin_and_sevenths_agree_but_for_the_traps(seed: int) -> None:
    """In random pairs, at every moment each metric says what follows from grading's own sounds,
    or one of the traps is in play.
    """
    for played, written, said in heard(seed):
        one, other = above_root(played), above_root(written)
        same_root = played.root == written.root
        if said["thirds"] != (same_root and third(played) == third(written)):
            # The trap: one has a major third where the other has none, or both thirds.
            assert same_root
            assert third(played)[0] == third(written)[0]
        if one & TRIAD in (MAJOR, MINOR, 0):
            assert said["majmin"] == (same_root and one & TRIAD == other & TRIAD)
        else:
            assert said["majmin"] == -1
        if one in SEVENTHS:
            assert said["sevenths"] == (same_root and one == other)
        else:
            assert said["sevenths"] == -1


@pytest.mark.many
@pytest.mark.hypothesis
def test_the_traps_are_there_and_no_others() -> None:
    """Over the pairs of 50 seeds each trap is met; where mir_eval does not judge, grading does."""
    met: Counter[str] = Counter()
    for seed in range(50):
        for played, written, said in heard(seed):
            passed = said["thirds"] == 1 and third(played) != third(written)
            met["no third passes for a major one"] += passed
            met["majmin does not judge"] += said["majmin"] == -1
            met["sevenths does not judge"] += said["sevenths"] == -1
            met["no judge, and wrong"] += said["majmin"] == -1 and not played.same_chord_as(written)
            met["basses differ and pass"] += said["sevenths"] == 1 and played.bass != written.bass
    assert len(met) == 5
    assert all(met.values()), met


@pytest.mark.parametrize(
    ("played", "written", "metric", "says"),
    [
        ("1^sus4", "1", "thirds", 1),
        ("1^5", "1", "thirds", 1),
        ("1^sus4", "1^sus4", "majmin", -1),
        ("7o", "7-", "majmin", -1),
        ("1+", "1", "sevenths", -1),
        ("1/2", "1/2", "majmin", -1),
        ("1/b7", "1^7/b7", "sevenths", 1),
        ("1/3", "1", "sevenths", 1),
    ],
)
def test_each_trap_by_an_example(played: str, written: str, metric: str, says: int) -> None:
    """What mir_eval says of one chord written as another."""
    from trainer.chart import parse

    one, other = (parse(text).bars()[0].events[0].chord for text in (played, written))
    found = getattr(mir_eval.chord, metric)([label(one)], [label(other)])
    assert np.array_equal(found, [says])
