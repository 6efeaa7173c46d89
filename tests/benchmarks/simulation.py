"""Practice of simulated learners: how near ratings and predictions come, and what is learnt."""

from __future__ import annotations

from tests.benchmarks import Row, at_least, at_most, seen
from trainer.practice.simulate.__main__ import simulate

LEARNERS, DAYS, SEED, KIND = 10, 30, 11, "as published"


def run() -> list[Row]:
    """Rows of ten learners over thirty days; `tests/practice/test_simulate.py` asks fewer."""
    found = simulate(LEARNERS, DAYS, SEED, [KIND])["kinds"][KIND]
    accuracy = found["accuracy_after_first_week"]
    return [
        at_most("ratings, error", found["rating_error_logits"], 0.5, "logits"),
        at_most("predictions, Brier score over its bound", found["brier_over_bound"], 0.05, ""),
        at_least("parts right after the first week", accuracy, 0.8, ""),
        at_most("parts right after the first week", accuracy, 0.9, ""),
        at_least("gain over random items", found["gain_over"]["random"], 0.15, ""),
        *(seen(f"gain over {name}", gain, "") for name, gain in found["gain_over"].items()),
    ]
