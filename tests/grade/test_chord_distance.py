"""What a wrong chord keeps of its credit, compared with a distance from music theory.

Source: Lerdahl, Tonal Pitch Space, Oxford 2001, chapter 2: the distance of two chords of one key is
the steps between their roots on the circle of fifths of the key's own chords (j) and the notes of
the second chord's basic space that the first does not have (k). His distances from I are I 0, V 5,
IV 5, vi 7, iii 7, ii 8, vii 8; the table is cited from memory, and the rule gives it again below.

It measures how far chords are apart in the harmony, not how alike they sound: chords a fifth apart
are near each other there (5) and share but one note. So fifths are left out of the comparison; for
all others, what sounds more alike is nearer. No table of the chords that listeners take for one
another was found in the literature.
"""

from __future__ import annotations

import itertools

import pytest

from trainer.chart import Chord
from trainer.grade import Weights
from trainer.grade.compare import segment_credit
from trainer.grade.content import sonority_of

SCALE = (0, 2, 4, 5, 7, 9, 11)
QUALITIES = ("", "-", "-", "", "", "-", "o")
PUBLISHED = {1: 0, 5: 5, 4: 5, 6: 7, 3: 7, 2: 8, 7: 8}


def basic_space(degree: int) -> list[set[int]]:
    """The levels of a triad's basic space in its key: root, fifth, triad, scale, all notes."""
    root, third, fifth = (SCALE[(degree - 1 + step) % 7] for step in (0, 2, 4))
    return [{root}, {root, fifth}, {root, third, fifth}, set(SCALE), set(range(12))]


def distance(one: int, other: int) -> int:
    """Lerdahl's distance of two triads of one key, given by their degrees."""
    # A step along the circle of the key's chords moves the degree by a fifth.
    round_ = next(k for k in range(7) if (one - 1 + 4 * k) % 7 == other - 1)
    steps = min(round_, 7 - round_)
    new = sum(
        len(there - here) for here, there in zip(basic_space(one), basic_space(other), strict=True)
    )
    return steps + new


def kept(one: int, other: int) -> float:
    """The share of a chord's credit that one triad keeps written for another."""
    played, written = (
        sonority_of(Chord(degree, quality=QUALITIES[degree - 1])) for degree in (one, other)
    )
    return segment_credit(played, written, Weights())


@pytest.mark.parametrize(("degree", "published"), PUBLISHED.items())
def test_the_rule_gives_the_published_distances(degree: int, published: int) -> None:
    """The distances from I are those of the book."""
    assert distance(1, degree) == published


def test_what_is_nearer_keeps_more() -> None:
    """Of all triads of a key but those a fifth apart, those a third apart (7) keep more than those
    a step apart (8), and the same chord keeps all.
    """
    by_distance: dict[int, list[float]] = {}
    for one, other in itertools.product(range(1, 8), repeat=2):
        if distance(one, other) != PUBLISHED[5]:
            by_distance.setdefault(distance(one, other), []).append(kept(one, other))
    assert sorted(by_distance) == [0, 7, 8]
    assert set(by_distance[0]) == {1.0}
    assert min(by_distance[7]) > max(by_distance[8])


def test_chords_a_fifth_apart_share_one_note_and_keep_little() -> None:
    """They are the exception: near in the harmony, and unlike in sound."""
    fifths = [
        kept(one, other)
        for one, other in itertools.product(range(1, 8), repeat=2)
        if distance(one, other) == PUBLISHED[5]
    ]
    assert max(fifths) < kept(1, 6)
