"""Grade a learner's chart against the chart that was played.

`grade` takes two charts and returns a `Report`. `grading` holds its steps, in this order:

1. `content`: the bars of both charts are laid out in a row, each chord as its sonority, with the
   boundaries of phrases and sections.
2. `home`: the answer is read as it is written and, where that is poor, in other ways (`readings`):
   counted double or half, from another 1, in other keys or another meter, as a whole or in a part
   that lost much (`regions`). Of those that are believed (`belief`) the one is taken that explains
   it best; `home_shift` describes it.
3. `scoring`: each reading is aligned with the song (`align` over `align_table`, or only what is
   near its diagonal, `align_band`; `pair_bonus` chooses among equals; then `in_step`;
   `reordering` tries phrases and sections in another order; `anchors` tries again where that is
   doubtful), and the rows are graded (`rows`): `compare` compares two bars beat by beat and says
   what each component of a bar's grade means, `known_bars` keeps that, `credits` does it for many
   bars at once, `slips` finds what was taken for one and the same other thing. `aligned` is what
   comes out.
4. `whole_chart`: phrases and, where bars were timed, speed; `form`: the sections.
5. `edits`: what was done to whole bars is named: left out, not written, added, swapped.
6. `advice`: what the bars lost is charged to mistakes (`charging`, `bar_losses`, `mistakes`), those
   that have one cause are put together (`joined_mistakes`), and all is put in words (`wording`,
   `chord_wording`, `bar_wording`, `added_wording`, `chart_wording`; `home_advice`, `key_signs` and
   `form_advice` for the 1, the key and the labels), each once and the costliest first, with bars to
   hear again (`excerpts`); `summary` says it in two sentences.
7. `report`: all of it as typed values and as JSON.

All weights are in one table, `weights`. docs/grading.md shows every kind of mistake with its
grade and its advice.
"""

from trainer.grade.grading import grade, score_shares
from trainer.grade.report import Advice, BarGrade, Report, report_to_json
from trainer.grade.text_pieces import number_word, whole_percent
from trainer.grade.weights import (
    SCHEMES,
    WeightRow,
    Weights,
    weights_for,
    weights_from,
    weights_table,
)
from trainer.grade.whole_chart import Timing

__all__ = [
    "SCHEMES",
    "Advice",
    "BarGrade",
    "Report",
    "Timing",
    "WeightRow",
    "Weights",
    "grade",
    "number_word",
    "report_to_json",
    "score_shares",
    "weights_for",
    "weights_from",
    "weights_table",
    "whole_percent",
]
