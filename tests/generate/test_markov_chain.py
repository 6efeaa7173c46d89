"""The exact sampler against every chain counted out."""

from __future__ import annotations

import random
from collections import Counter
from itertools import product

import pytest
from scipy.stats import chisquare

from trainer.generate.markov_chain import NoPath, Transition, backward_weights, sample_chain

Table = dict[tuple[int, int], list[float]]


def _problem(seed: int, size: int, length: int) -> tuple[list[float], list[Table], list[float]]:
    """Random weights of a second-order chain, a quarter of them 0."""
    rng = random.Random(seed)

    def weight() -> float:
        return rng.random() if rng.random() < 0.75 else 0.0

    steps = [
        {(p, c): [weight() for _ in range(size)] for p in range(-1, size) for c in range(size)}
        for _ in range(length - 1)
    ]
    return [rng.random() for _ in range(size)], steps, [rng.random() for _ in range(size)]


def _step(rows: Table) -> Transition:
    """The step of a table, a row for every pair of states."""
    size = len(rows[0, 0])
    return Transition(
        [rows[-1, c] for c in range(size)],
        [{p: rows[p, c] for p in range(size)} for c in range(size)],
    )


def _counted(
    first: list[float], steps: list[Table], last: list[float]
) -> dict[tuple[int, ...], float]:
    """The weight of every chain, by multiplying it out."""
    chains = {}
    for chain in product(range(len(first)), repeat=len(steps) + 1):
        weight = first[chain[0]] * last[chain[-1]]
        for at, step in enumerate(steps):
            before = chain[at - 1] if at else -1
            weight *= step[before, chain[at]][chain[at + 1]]
        if weight:
            chains[chain] = weight
    return chains


@pytest.mark.many
@pytest.mark.parametrize(("size", "length"), [(2, 3), (3, 4), (3, 1), (2, 6)])
def test_chains_come_as_often_as_their_weight_says(size: int, length: int) -> None:
    """Drawn chains are distributed as the product of all their weights, by a chi-square test."""
    first, steps, last = _problem(size * 10 + length, size, length)
    chains = _counted(first, steps, last)
    rng = random.Random(1)
    rows = [_step(step) for step in steps]
    draws = 20_000
    drawn = Counter(tuple(sample_chain(rng, first, rows, last, -1)) for _ in range(draws))
    assert drawn.keys() <= chains.keys()
    total = sum(chains.values())
    expected = {chain: draws * weight / total for chain, weight in chains.items()}
    common = [chain for chain in chains if expected[chain] >= 5]
    seen = [drawn[chain] for chain in common]
    scale = sum(seen) / sum(expected[chain] for chain in common)
    result = chisquare(seen, [scale * expected[chain] for chain in common])
    assert result.pvalue > 0.001


def test_reach_sums_every_way_to_the_end() -> None:
    """The chance of reaching the end from two states is the sum over all chains from there."""
    _, steps, last = _problem(5, 3, 4)
    rows = [_step(step) for step in steps]
    reach = backward_weights(rows, last)[-1]
    for p, c in product(range(3), repeat=2):
        ways = 0.0
        for n, m in product(range(3), repeat=2):
            ways += steps[1][p, c][n] * steps[2][c, n][m] * last[m]
        assert reach[p][c] == pytest.approx(ways)


def test_no_chain_is_said_so() -> None:
    """Where every product is 0 the sampler says that there is no path."""
    stuck = Transition([[0.0, 0.0]] * 2, [{}, {}])
    with pytest.raises(NoPath):
        sample_chain(random.Random(1), [1.0, 1.0], [stuck], [1.0, 1.0], -1)
    with pytest.raises(NoPath):
        sample_chain(random.Random(1), [1.0, 0.0], [], [0.0, 1.0], -1)


@pytest.mark.many
def test_a_pinned_step_goes_nowhere_else() -> None:
    """Chains through a pinned step hold its state, as often as all chains that hold it do."""
    first, tables, last = _problem(4, 3, 4)
    steps = [_step(table) for table in tables]
    steps[1] = steps[1]._replace(only=2)
    chains = {c: w for c, w in _counted(first, tables, last).items() if c[2] == 2}
    rng = random.Random(2)
    drawn = Counter(tuple(sample_chain(rng, first, steps, last, -1)) for _ in range(20_000))
    assert drawn.keys() <= chains.keys()
    total = sum(chains.values())
    for chain, weight in chains.items():
        assert drawn[chain] / 20_000 == pytest.approx(weight / total, abs=0.015)


@pytest.mark.many
def test_a_last_state_may_be_led_to() -> None:
    """With rows of last weights by the state before, chains come as often as with those weights."""
    first, tables, last = _problem(6, 3, 3)
    leads = [[weight * (1.0 if c == 1 else 0.2) for weight in last] for c in range(3)]
    chains = {
        chain: weight * leads[chain[-2]][chain[-1]] / last[chain[-1]]
        for chain, weight in _counted(first, tables, last).items()
    }
    rng = random.Random(3)
    steps = [_step(table) for table in tables]
    drawn = Counter(tuple(sample_chain(rng, first, steps, last, -1, leads)) for _ in range(20_000))
    total = sum(chains.values())
    for chain, weight in chains.items():
        assert drawn[chain] / 20_000 == pytest.approx(weight / total, abs=0.015)
