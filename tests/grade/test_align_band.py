"""Alignments by the cells near the diagonal, and bar for bar, are those of the whole table.

The table itself is checked against outside oracles in `test_align.py`.
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from tests.grade.helpers import corrupt_bar, with_bars
from tests.grade.mutations import mutated, songs
from trainer.chart import Chart, parse
from trainer.grade import SCHEMES, Weights
from trainer.grade.align import Alignment, align, find_steps, lost_bar_for_bar
from trainer.grade.align_band import (
    align_near_diagonal,
    columns_near_diagonal,
    may_be_near_diagonal,
)
from trainer.grade.align_table import CostedSteps, GapCosts, IntArray, align_by_cost
from trainer.grade.compare import bar_credit, compare
from trainer.grade.content import chart_content

SCALE = 10


def copied(rng: random.Random, bars: list[int], length: int, kinds: int) -> list[int]:
    """A copy of some bars with another number of them, some in another place and some wrong."""
    found = [*bars]
    while len(found) > length:
        del found[rng.randrange(len(found))]
    while len(found) < length:
        found.insert(rng.randrange(len(found) + 1), rng.randrange(kinds))
    if rng.random() < 0.3:
        moved = found.pop(rng.randrange(length))
        found.insert(rng.randrange(length), moved)
    wrong = rng.choice((0.02, 0.1, 0.3))
    return [rng.randrange(kinds) if rng.random() < wrong else bar for bar in found]


def some_costs(rng: random.Random, n: int, m: int) -> IntArray:
    """What pairs of bars cost: few kinds of bars, so that many alignments cost the same."""
    kinds = rng.choice((2, 4, 20))
    bars = [rng.randrange(kinds) for _ in range(n)]
    table = np.array([[rng.randint(0, SCALE) for _ in range(kinds)] for _ in range(kinds)])
    np.fill_diagonal(table, 0)
    costs: IntArray = table[np.ix_(bars, copied(rng, bars, m, kinds))].astype(np.int64)
    bonus = np.array([rng.choices((0, 0, 1), k=m) for _ in range(n)])
    return costs * SCALE - bonus * rng.choice((0, 1))


def some_gaps(rng: random.Random, n: int) -> GapCosts:
    """What gaps cost, some of them little and at some bars nothing more."""
    per_gap = rng.choice((0, 1, 3)) * SCALE
    inside = np.array(rng.choices((0, 0, per_gap), k=n + 1))
    return GapCosts(rng.randint(2, 12) * SCALE, rng.randint(2, 12) * SCALE, per_gap, inside, inside)


def some_steps(rng: random.Random, n: int, m: int) -> CostedSteps:
    """Places where two bars may stand for one."""
    steps: dict[tuple[int, int], list[tuple[int, int, int]]] = {}
    for _ in range(rng.choice((0, 0, 1, 5))):
        i, j, (up, left) = rng.randint(1, n), rng.randint(1, m), rng.choice(((1, 2), (2, 1)))
        if i >= up and j >= left:
            steps.setdefault((i, j), []).append((up, left, rng.randint(1, 8) * SCALE))
    return steps


@pytest.mark.many
@pytest.mark.parametrize("seed", range(40))
def test_what_is_found_near_the_diagonal_is_what_the_whole_table_gives(seed: int) -> None:
    """Pairs, joined bars and cost are the same, however many alignments cost the same."""
    rng = random.Random(seed)
    found = 0
    for _ in range(20):
        n = rng.randint(1, 40)
        m = max(1, n + rng.randint(-4, 4))
        if not may_be_near_diagonal(n, m):
            continue
        costs, gaps, steps = some_costs(rng, n, m), some_gaps(rng, n), some_steps(rng, n, m)
        _, cells = columns_near_diagonal(n, m)
        near = align_near_diagonal(m, costs.take(cells), gaps, steps, 1)
        assert near is None or near == align_by_cost(costs, gaps, steps)
        found += near is not None
    assert found > 3


def test_an_alignment_that_leaves_the_diagonal_is_not_guessed() -> None:
    """Five bars left out and five too many lie further away than is looked at: the whole table
    finds them, and what is near the diagonal gives no other answer.
    """
    bars, written = [*range(30)], [*range(5, 25), *range(40, 45), *range(25, 30)]
    costs = np.array([[0 if one == other else 100 for other in written] for one in bars])
    gaps = GapCosts(30, 30, 0, *np.zeros((2, 31), np.int64))
    _, cells = columns_near_diagonal(30, 30)
    assert align_near_diagonal(30, costs.take(cells), gaps, {}, 0) is None
    assert align_by_cost(costs, gaps)[3] == 300


def aligned(reference: Chart, answer: Chart, weights: Weights) -> Alignment:
    """The alignment of two charts."""
    ours, theirs = chart_content(reference), chart_content(answer)
    table = np.array(
        [
            [bar_credit(compare(one, other, weights.plain_minor), weights)
             for other in theirs.contents] for one in ours.contents
        ]
    )  # fmt: skip
    return align(ours, theirs, table, weights, find_steps(ours, theirs, weights))


@pytest.mark.many
@pytest.mark.parametrize("scheme", sorted(SCHEMES))
def test_an_answer_taken_bar_for_bar_loses_what_its_alignment_loses(scheme: str) -> None:
    """Where little is lost, no other alignment is looked for, and there is none that loses less."""
    rng, weights = random.Random(scheme), SCHEMES[scheme]
    found = 0
    for song in songs(rng, 40):
        answer = mutated(song, rng)
        if len(answer.bars()) != len(song.bars()):
            bars = [corrupt_bar(rng, bar) if rng.random() < 0.05 else bar for bar in song.bars()]
            answer = with_bars(song, bars)
        lost = lost_bar_for_bar(chart_content(song), chart_content(answer), weights)
        if lost is None:
            continue
        whole = aligned(song, answer, weights)
        assert whole.pairs == [(bar, bar) for bar in range(len(song.bars()))]
        assert whole.lost == pytest.approx(lost, abs=1e-7)
        found += lost > 0
    assert found


def test_bars_are_not_taken_one_for_one_where_a_shift_explains_more() -> None:
    """A bar left out and one too many explain a phrase that is all wrong bar for bar."""
    song, answer = parse("1 4 5 6- 2- 3- 1 4"), parse("4 5 6- 2- 3- 1 4 b7")
    assert lost_bar_for_bar(chart_content(song), chart_content(answer), Weights()) is None
    assert (1, 0) in aligned(song, answer, Weights()).pairs


def test_a_split_written_as_two_bars_is_not_taken_bar_for_bar() -> None:
    """Two bars for one and one for two, which cost little, explain bars that are off by one."""
    song, answer = parse("(1 4) 5 6- 2-"), parse("1 4 5 (6- 2-)")
    assert lost_bar_for_bar(chart_content(song), chart_content(answer), Weights()) is None
    assert len(aligned(song, answer, Weights()).two_to_one) == 2
