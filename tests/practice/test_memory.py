from __future__ import annotations

from datetime import timedelta

import pytest

from tests.practice.samples import NOW
from trainer.practice.memory import Memory, Recall, recall_for, retrievability, review

MINUTE, DAY = timedelta(minutes=1), timedelta(days=1)


def test_known_intervals() -> None:
    """Good, Good, Good, Again, Good each when due: 10 min, 2 d, 11 d, 10 min, 2 d.

    Source: py-fsrs 6.3 with its default parameters and no fuzz, as run when this was written.
    """
    memory: Memory | None = None
    at, intervals = NOW, []
    for recall in (Recall.GOOD, Recall.GOOD, Recall.GOOD, Recall.AGAIN, Recall.GOOD):
        memory = review(memory, recall, at)
        intervals.append(memory.due - at)
        at = memory.due
    assert intervals == [10 * MINUTE, 2 * DAY, 11 * DAY, 10 * MINUTE, 2 * DAY]


def test_stability_is_the_time_to_nine_in_ten() -> None:
    """After as many days as its stability nine tenths are kept: what FSRS means by the word."""
    memory = Memory(2, None, 10.0, 5.0, NOW + 10 * DAY, NOW)
    assert retrievability(memory, NOW + 10 * DAY) == pytest.approx(0.9)
    assert retrievability(memory, NOW) == 1.0


def test_what_is_kept_only_falls() -> None:
    """Without practice less is kept day by day; a clock set back keeps all."""
    memory = review(None, Recall.GOOD, NOW)
    shares = [retrievability(memory, NOW + n * DAY) for n in range(40)]
    assert shares == sorted(shares, reverse=True)
    assert retrievability(memory, NOW - 400 * DAY) == 1.0


def test_a_good_answer_again_at_once_says_nothing() -> None:
    """A skill that is not due is not reviewed twice a day, unless it is got wrong."""
    memory = review(review(None, Recall.GOOD, NOW), Recall.GOOD, NOW + 10 * MINUTE)
    assert review(memory, Recall.EASY, NOW + 60 * MINUTE) == memory
    assert review(memory, Recall.AGAIN, NOW + 60 * MINUTE).due < memory.due


def test_a_clock_set_back_is_no_time() -> None:
    """A review dated before the last one counts as made at the same moment."""
    memory = review(None, Recall.GOOD, NOW)
    assert review(memory, Recall.AGAIN, NOW - 90 * DAY) == review(memory, Recall.AGAIN, NOW)


@pytest.mark.parametrize(
    ("credit", "bars", "recall"),
    [
        (0.0, 3, Recall.AGAIN),
        (0.49, 3, Recall.AGAIN),
        (0.5, 3, Recall.HARD),
        (0.79, 9, Recall.HARD),
        (0.8, 1, Recall.GOOD),
        (1.0, 5, Recall.GOOD),
        (1.0, 6, Recall.EASY),
    ],
)
def test_how_credits_become_recall(credit: float, bars: int, recall: Recall) -> None:
    """The limits between the four recalls are those that are written down (common practice)."""
    assert recall_for(credit, bars) is recall
