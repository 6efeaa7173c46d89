"""Grading: align an answer with the song, compare bar by bar, say what happened.

`grade` takes two charts and gives a `Report`; what each number means is written in `compare`,
`phrases`, `form`, `home` and `speed`, and what it counts in `weights`.
"""

from trainer.grade.grading import grade
from trainer.grade.report import Advice, BarGrade, Report, report_to_json
from trainer.grade.speed import Timing
from trainer.grade.weights import (
    SCHEMES,
    WeightRow,
    Weights,
    weights_for,
    weights_from,
    weights_table,
)

__all__ = [
    "SCHEMES",
    "Advice",
    "BarGrade",
    "Report",
    "Timing",
    "WeightRow",
    "Weights",
    "grade",
    "report_to_json",
    "weights_for",
    "weights_from",
    "weights_table",
]
