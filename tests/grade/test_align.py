"""The alignment: least cost, and where the gap goes when several alignments cost the same.

Oracles: Biopython's PairwiseAligner, scipy's Dijkstra over the grid of all alignments, and a plain
recursion. Source of the method: Needleman & Wunsch 1970, J. Mol. Biol. 48:443-453; of the steps in
which one stands for two: Gale & Church 1993, Computational Linguistics 19:75-102.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import cache

import numpy as np
import pytest
from Bio import Align
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra

from trainer.chart import Chart, parse
from trainer.grade import Weights, grade
from trainer.grade.align_table import GapCosts, align_by_cost
from trainer.grade.compare import bar_credit, compare
from trainer.grade.content import bar_content

CHORDS = ("1", "1", "4", "5", "6-", "(1 5/7)", "5^7", "4d")


Steps = dict[tuple[int, int], tuple[int, int, int]]


def shortest_path(costs: np.ndarray, missing: int, added: int, further: Steps) -> int:
    """The least cost as a shortest path through the grid, by scipy."""
    n, m = costs.shape
    starts, ends, weights = [], [], []
    for i in range(n + 1):
        for j in range(m + 1):
            here = i * (m + 1) + j
            for a, b, cost in (
                (i + 1, j, missing),
                (i, j + 1, added),
                (i + 1, j + 1, costs[i, j] if i < n and j < m else 0),
            ):
                if a <= n and b <= m:
                    starts.append(here)
                    ends.append(a * (m + 1) + b)
                    weights.append(int(cost))
    for (i, j), (up, left, cost) in further.items():
        starts.append((i - up) * (m + 1) + j - left)
        ends.append(i * (m + 1) + j)
        weights.append(cost)
    # scipy drops edges of weight 0, so every edge gets one more a step it covers.
    steps = [
        (end // (m + 1) - start // (m + 1)) + (end % (m + 1) - start % (m + 1))
        for start, end in zip(starts, ends, strict=True)
    ]
    size = (n + 1) * (m + 1)
    raised = np.array(weights) + np.array(steps)
    graph = csr_matrix((raised, (starts, ends)), shape=(size, size))
    return round(float(dijkstra(graph, indices=0)[-1])) - (n + m)


def plain_gaps(n: int, missing: int, added: int) -> GapCosts:
    """Gaps of which every row and every column costs the same, however many there are."""
    return GapCosts(missing, added, 0, *np.zeros((2, n + 1), np.int64))


def by_recursion(
    costs: np.ndarray,
    missing: int,
    added: int,
    steps: Steps | None = None,
    gaps: GapCosts | None = None,
) -> int:
    """The least cost by its definition: the last thing done is a pair, a step, a column left alone
    or a whole run of rows left alone, with what a run costs besides its rows.
    """
    n, m = costs.shape
    of_gaps = gaps or plain_gaps(n, missing, added)

    def run(start: int, end: int, j: int) -> int:
        cost = (end - start) * missing
        if end == n and j == m:
            return cost + of_gaps.per_gap
        if end - start > 1:
            began = of_gaps.opening[start] if start or j else 0
            cost += of_gaps.closing[end] + began
        return cost + of_gaps.per_gap

    @cache
    def best(i: int, j: int) -> int:
        """The least cost up to a cell."""
        options = [] if i or j else [0]
        options += [best(k, j) + run(k, i, j) for k in range(i)]
        if j:
            options.append(best(i, j - 1) + added)
        if i and j:
            options.append(best(i - 1, j - 1) + int(costs[i - 1, j - 1]))
        if steps and (step := steps.get((i, j))):
            options.append(best(i - step[0], j - step[1]) + step[2])
        return min(options, default=10**12)

    return best(n, m)


def cost_of(
    pairs: list[tuple[int | None, int | None]],
    joins: list[tuple[int, int]],
    costs: np.ndarray,
    gaps: tuple[int, int],
    steps: Steps,
) -> int:
    """What a list of pairs costs."""
    total, i, j = 0, 0, 0
    inside = {row for rows in joins for row in rows}
    for row, (one, other) in enumerate(pairs):
        i, j = i + (one is not None), j + (other is not None)
        if row in inside:
            total += steps[i, j][2] if any(row == second for _, second in joins) else 0
        elif one is None:
            total += gaps[1]
        elif other is None:
            total += gaps[0]
        else:
            total += int(costs[one, other])
    return total


@pytest.mark.parametrize("seed", range(60))
def test_lost_stretches_cost_what_is_declared(seed: int) -> None:
    """With costs to begin and to end a run of rows, the cost is that of the definition."""
    rng = random.Random(seed)
    n, m = rng.randint(1, 12), rng.randint(1, 9)
    costs = np.array([[rng.choice((0, 3, 7, 10)) for _ in range(m)] for _ in range(n)])
    opening, closing = np.array([rng.choices((0, 0, 2, 5), k=n + 1) for _ in range(2)])
    missing, added = rng.randint(1, 12), rng.randint(1, 12)
    steps: Steps = {}
    if seed % 2 and n > 2 and m > 3:
        steps[n - 1, m - 1] = rng.choice(((1, 2, 4), (2, 1, 4), (0, 2, 3)))
    listed = {cell: [step] for cell, step in steps.items()}
    gaps = GapCosts(missing, added, rng.choice((0, 3)), opening, closing)
    pairs, _, repeated, cost = align_by_cost(costs, gaps, listed)
    assert cost == by_recursion(costs, missing, added, steps, gaps)
    assert [one for one, _ in pairs if one is not None] == list(range(n))
    assert [other for _, other in pairs if other is not None] == list(range(m))
    assert all(pairs[row][0] is None for rows in repeated for row in rows)


@pytest.mark.parametrize("seed", range(60))
def test_the_cost_is_the_least_there_is(seed: int) -> None:
    """On random tables the cost equals both oracles', and the pairs add up to it."""
    rng = random.Random(seed)
    n, m = rng.randint(1, 14), rng.randint(1, 14)
    costs = np.array([[rng.choice((0, 3, 7, 10)) for _ in range(m)] for _ in range(n)])
    gaps = rng.randint(1, 12), rng.randint(1, 12)
    steps: Steps = {}
    for _ in range(seed % 8):
        up, left = rng.choice(((1, 2), (2, 1)))
        i, j = rng.randint(up, max(up, n)), rng.randint(left, max(left, m))
        if i <= n and j <= m:
            steps[i, j] = up, left, rng.randint(0, 12)
    listed = {cell: [step] for cell, step in steps.items()}
    pairs, joins, _, cost = align_by_cost(costs, plain_gaps(n, *gaps), listed)
    assert cost == shortest_path(costs, *gaps, steps) == by_recursion(costs, *gaps, steps)
    assert cost_of(pairs, joins, costs, gaps, steps) == cost
    assert [one for one, _ in pairs if one is not None] == list(range(n))
    assert [other for _, other in pairs if other is not None] == list(range(m))


@pytest.mark.parametrize("seed", range(40))
def test_an_independent_aligner_finds_the_same_cost(seed: int) -> None:
    """On random sequences Biopython's PairwiseAligner, with the same costs, agrees.

    Source: Biopython, `Bio.Align.PairwiseAligner`, mode "global", linear gap scores.
    """
    rng = random.Random(seed)
    letters = "ABCDEFGH"
    between = np.array([[rng.randint(0, 10) for _ in letters] for _ in letters])
    missing, added = rng.randint(1, 12), rng.randint(1, 12)
    one, other = ("".join(rng.choices(letters, k=rng.randint(1, 120))) for _ in range(2))
    aligner = Align.PairwiseAligner(mode="global")
    matrix = Align.substitution_matrices.Array(alphabet=letters, dims=2)
    matrix[:] = -between
    aligner.substitution_matrix = matrix
    # A bar left out is an insertion into what Biopython calls the target: a gap in the query.
    aligner.deletion_score, aligner.insertion_score = -missing, -added
    rows, columns = ([letters.index(letter) for letter in text] for text in (one, other))
    cost = align_by_cost(between[np.ix_(rows, columns)], plain_gaps(len(one), missing, added))[3]
    assert cost == -round(aligner.score(one, other))


SONG = """Intro:\n1 4 1 5\nVerse:\n1 1/3 4 1 . 6- 2 5 5 . 1 1/3 4 4- . 1/5 5 1 1
Chorus:\n4 4 1 1 . 2 2 5 5/4 . 1/3 4 1/5 6- . 2- 5 1 1\nOutro:\n4 4- 1 1"""


@pytest.mark.parametrize(
    ("answer", "wrong"),
    [
        ("1 4 1 5", []),
        ("1 4 2 5", [3]),
        ("1 4 1 5 . 1 1 4 1 . 2- 2 5 5", [6, 9]),
        ("1 4 1 5 . 1 1/3 4 1 . 6- 2 5 1 . 1 1/3 4 4- . 1/5 5 1 5 . 4 4 1 1", [12, 20]),
    ],
)
def test_a_chart_that_stops_is_read_from_its_start(answer: str, wrong: list[int]) -> None:
    """Bars written straight on stand where they were written, though some would be right elsewhere
    in the song; all the rest is one thing left out."""
    report = grade(parse(SONG), parse(answer))
    bars = len(parse(answer).bars())
    assert [row.answer for row in report.bars] == [*range(1, bars + 1), *[None] * (40 - bars)]
    assert [row.reference for row in report.bars[:bars] if row.score < 1.0] == wrong
    left_out = [one.reference for one in report.edits if one.kind == "not written"]
    assert left_out == [tuple(range(bars + 1, 41))]


def test_a_chart_of_a_later_part_is_found_there() -> None:
    """Who wrote only the chorus wrote the chorus, not a bad start."""
    report = grade(parse(SONG), parse("Chorus:\n4 4 1 1 . 2 2 5 5/4 . 1/3 4 1/5 6-"))
    assert [row.reference for row in report.bars if row.answer] == list(range(21, 33))


def test_an_empty_table_is_refused() -> None:
    """The error states the shape."""
    with pytest.raises(ValueError, match=r"\(0, 3\)"):
        align_by_cost(np.zeros((0, 3), np.int64), plain_gaps(0, 1, 1))


@pytest.mark.many
@pytest.mark.parametrize("seed", range(30))
def test_nothing_is_graded_better_than_its_best_alignment(seed: int) -> None:
    """Whatever the phrases and labels, the bars' credit is at most that of all alignments."""
    rng = random.Random(seed)
    weights = Weights(
        phrases=0.0, form=0.0, swapped=1000.0, slip=1000.0, split=1.0, repeated=1.0,
        other_home=0.0, relative_home=0.0, other_count=0.0,
    )  # fmt: skip
    chords = [chord for chord in CHORDS if "_" not in chord and "d" not in chord]
    reference, answer = _song(rng, chords), _song(rng, chords)
    ours, theirs = (list(map(bar_content, chart.bars())) for chart in (reference, answer))
    costs = np.array([[1 - bar_credit(compare(a, b), weights) for b in theirs] for a in ours])
    least = by_recursion(np.rint(costs * 10**9).astype(np.int64), 10**9, 10**9)
    most = max(0.0, 1 - least / 10**9 / len(ours))
    assert grade(reference, answer, weights=weights).score <= most + 1e-6


def _song(rng: random.Random, chords: Sequence[str]) -> Chart:
    lines = []
    for _ in range(rng.randint(1, 4)):
        lines.append(rng.choice(("Verse:", "Chorus:", "Verse 2:", "Bridge:")))
        lines += [" ".join(rng.choice(chords) for _ in range(rng.randint(1, 5))) for _ in range(2)]
    return parse("\n".join(lines))


def gaps(reference: str, answer: str) -> tuple[list[int], list[int]]:
    """The bars left out and the bars too many."""
    rows = grade(parse(reference), parse(answer)).bars
    return (
        [row.reference for row in rows if row.answer is None and row.reference is not None],
        [row.answer for row in rows if row.reference is None and row.answer is not None],
    )


@pytest.mark.parametrize(
    ("reference", "answer", "left_out", "added"),
    [
        # The fifth bar of a phrase of five, wherever the phrase stands.
        ("1 1 1 1 1 . 1 1 1 1 . 1 1 1 1", "1 1 1 1 . 1 1 1 1 . 1 1 1 1", [5], []),
        ("1 1 1 1 . 1 1 1 1 1 . 1 1 1 1", "1 1 1 1 . 1 1 1 1 . 1 1 1 1", [9], []),
        ("1 1 1 1 . 1 1 1 1 . 1 1 1 1 1", "1 1 1 1 . 1 1 1 1 . 1 1 1 1", [13], []),
        ("1 1 5 5 . 1 1 5 5 5", "1 1 5 5 . 1 1 5 5", [9], []),
        # An extra bar in a phrase of four.
        ("1 1 1 1 . 1 1 1 1 . 1 1 1 1", "1 1 1 1 . 1 1 1 1 1 . 1 1 1 1", [], [9]),
        # A whole phrase, between its own boundaries.
        ("1 4 1 5 . 4 4 1 1 . 1 4 1 5", "1 4 1 5 . 1 4 1 5", [5, 6, 7, 8], []),
        ("1 1 1 1 . 1 1 1 1 . 1 1 1 1", "1 1 1 1 . 1 1 1 1", [9, 10, 11, 12], []),
        # A bar that is unlike its neighbours.
        ("1 4 5 1", "1 5 1", [2], []),
        ("1 4 5 1", "1 4 4 5 1", [], [3]),
        # A bar at either end.
        ("2- 4 5 1", "4 5 1", [1], []),
        ("2- 4 5 1", "2- 4 5", [4], []),
    ],
)
def test_the_gap_stands_where_a_teacher_would_put_it(
    reference: str, answer: str, left_out: list[int], added: list[int]
) -> None:
    """Phrase boundaries of both charts decide which of several equal bars was left out or added."""
    assert gaps(reference, answer) == (left_out, added)


@pytest.mark.parametrize(
    ("reference", "answer", "left_out", "added"),
    [
        # One bar in four wrong twice over: moved along, only one bar more would be right.
        ("1 6- 4 1", "1 4 5 1", [], []),
        ("1 6- 4 1 . 1 4 5 1", "1 4 5 1 . 1 4 5 1", [], []),
        # Two bars right by moving are not enough, five are: the 6- was missed, and a bar made up
        # to fill the phrase.
        ("1 6- 4 5 1 1", "1 4 5 2- 1 1", [], []),
        ("1 6- 4 5 3- 2- 5/7 1", "1 4 5 3- 2- 5/7 2 1", [2], [7]),
        # Nothing in common: no reason to move anything.
        ("1 4 5 1", "2 3 b7 2", [], []),
    ],
)
def test_bars_stand_side_by_side_unless_moving_them_explains_more(
    reference: str, answer: str, left_out: list[int], added: list[int]
) -> None:
    """A bar left out here and one too many there are believed where they explain much more."""
    assert gaps(reference, answer) == (left_out, added)


def test_section_labels_decide_between_equal_sections() -> None:
    """Of two verses alike, the one whose label is missing is the one left out."""
    reference = "Verse 1:\n1 4 1 5\nVerse 2:\n1 4 1 5\nVerse 3:\n1 4 1 5"
    for kept in ((1, 2), (1, 3), (2, 3)):
        answer = "\n".join(f"Verse {number}:\n1 4 1 5" for number in kept)
        missing = ({1, 2, 3} - set(kept)).pop()
        assert gaps(reference, answer)[0] == [4 * missing - 3 + k for k in range(4)]
