"""Learners and bars for the tests of practice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from trainer.practice.evidence import BarEvidence, Evidence
from trainer.practice.rating import LearnerState, update_state
from trainer.practice.situation import FEATURES

NOW = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
ORDINARY = (0.0,) * len(FEATURES)


@dataclass(frozen=True)
class Bar:
    """A graded bar as the store keeps it, all of it right unless said otherwise."""

    skills: tuple[str, ...]
    answer: int | None = 1
    mixed: tuple[tuple[str, str], ...] = ()
    score: float = 1.0
    placement: float = 1.0
    articulation: float = 1.0
    meter: float = 1.0
    key_change: float = 1.0
    phrase_end: float | None = None
    section_start: float | None = None
    reference: int | None = 1
    lag_beats: float | None = 4.0


def attempt(credits_: Mapping[str, list[float]], at: datetime = NOW) -> Evidence:
    """An attempt of ordinary bars, one for each credit of each skill."""
    return Evidence(
        at,
        tuple(
            BarEvidence(ORDINARY, ((skill, credit),))
            for skill, each in credits_.items()
            for credit in each
        ),
    )


def after(days: Mapping[int, Mapping[str, list[float]]]) -> LearnerState:
    """What is known after attempts on some days."""
    state = LearnerState.fresh()
    for day, shown in days.items():
        state = update_state(state, attempt(shown, NOW + timedelta(days=day)))
    return state
