"""Weighted choices."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.generate.weighted_choice import WeightedChoice, inclusion_probabilities, poisson_sample

WEIGHTS = st.lists(st.tuples(st.floats(0, 100), st.integers(1, 5)), min_size=1, max_size=30)


@given(WEIGHTS, st.floats(0, 200))
def test_inclusion_probabilities_make_up_what_is_expected(
    places: list[tuple[float, int]], expected: float
) -> None:
    """Chances lie in 0..1 and sum to what is expected, or every weighted place is certain."""
    weights, copies = [w if w > 1e-6 else 0.0 for w, _ in places], [n for _, n in places]
    chances = inclusion_probabilities(weights, copies, expected)
    assert all(0 <= likely <= 1 for likely in chances)
    assert all(likely == 0 for likely, weight in zip(chances, weights, strict=True) if not weight)
    made = sum(likely * n for likely, n in zip(chances, copies, strict=True))
    most = sum(n for weight, n in zip(weights, copies, strict=True) if weight)
    assert made == pytest.approx(min(expected, most), abs=1e-6) or made > expected > most - 5


def test_nothing_is_sampled_at_rate_0() -> None:
    """An expected count of 0 draws nothing at all, from the generator neither."""
    rng = random.Random(3)
    state = rng.getstate()
    assert poisson_sample(rng, [1.0, 2.0], [1, 1], 0.0) == []
    assert rng.getstate() == state


def test_choices_follow_the_weights() -> None:
    """Items come in proportion to their weights, those of weight 0 never."""
    weighted = WeightedChoice([("a", 1.0), ("b", 0.0), ("c", 3.0)])
    rng = random.Random(5)
    drawn = [weighted.choose(rng) for _ in range(4000)]
    assert "b" not in drawn
    assert drawn.count("c") / 4000 == pytest.approx(0.75, abs=0.03)
    with pytest.raises(ValueError, match="at least one weight"):
        WeightedChoice([("a", 0.0)])
