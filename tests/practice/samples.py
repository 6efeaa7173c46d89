"""Learners and bars for the tests of practice."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from trainer.practice import GradedBar
from trainer.practice.evidence import BarEvidence, Evidence
from trainer.practice.rating import LearnerState, update_state
from trainer.practice.situation import FEATURES

NOW = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
ORDINARY = (0.0,) * len(FEATURES)


def graded_bar(
    skills: tuple[str, ...],
    *,
    answer: int | None = 1,
    reference: int | None = 1,
    lag_beats: float | None = 4.0,
    confusions: tuple[tuple[str, str], ...] = (),
    phrase_end: float | None = None,
    section_start: float | None = None,
    **scores: float,
) -> GradedBar:
    """A graded bar, all of it right but for the `scores` given; one left out has none."""
    parts = ("score", "root", "quality", "bass", "placement", "articulation", "meter",
             "key_change", "strict")  # fmt: skip
    return GradedBar(
        position=1,
        reference=reference,
        answer=answer,
        lag_beats=lag_beats,
        played=("1",),
        written=("1",),
        confusions=confusions,
        skills=skills,
        phrase_end=phrase_end,
        section_start=section_start,
        **dict.fromkeys(parts, 0.0 if answer is None else 1.0) | scores,
    )


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
