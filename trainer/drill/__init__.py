"""The drill: one learner and one exercise, from the first listen to the graded attempt.

`Drills` begins an exercise or goes on with it, counts listens, notes how far the band has got and
keeps what was typed; `submit` grades the answer and stores the attempt with its ratings, sums and
set in one transaction; `find_result` reads it back. `DailySets` plans the day and gives one drill
after another. `rating_state` says what is known of the learner's skills, `rebuild` works that out
again from the attempts alone, and `import_record` imports a record from an export.

The room knows neither HTTP nor the terminal: the store, the learner, the clock and the learner's
time zone are arguments, and both interfaces follow the same rules because they are only here.

================  ==========================================================================
module            holds
================  ==========================================================================
`drills`          begin, listen, keep the text; what a pause and working time are
`submission`      grade and store, once
`playback`        how an exercise is played, and when its bars sound
`stamps`          when each bar was written
`ratings`         what attempts change of ratings and sums; days summed up
`daily`           the day's sets
`plans`           plans of sets, kept until they begin
`results`         what attempts are for and count for: kinds, levels, practice alone; read back
`bars`            the bars that were missed, practised until they are right twice in a row
`comparison`      both charts side by side: bars that belong together, how each place went, and
                  what is wrong with a bar, in a word
`lessons`         what is heard by name in a lesson, its quick questions and their answers
`first_chart`     the first four bars that a newcomer writes
`importing`       a record from an export
================  ==========================================================================
"""

from trainer.drill.bars import (
    RIGHT_IN_A_ROW,
    BarPractice,
    Stretch,
    are_right,
    begin_bars,
    find_bars,
    loop_s,
    practised_bars,
    stretches_to_practise,
)
from trainer.drill.comparison import ComparedBars, State, bar_difference, compare_bars
from trainer.drill.daily import DailySets, NextItem
from trainer.drill.drills import MOST_TYPED, Drill, Drills, check_length
from trainer.drill.first_chart import (
    FIRST_CHART,
    PAGE_EXAMPLE,
    STEPS,
    BarCheck,
    FirstStep,
    check_first_bar,
    first_bars,
    play_first_bars,
)
from trainer.drill.importing import import_record
from trainer.drill.lessons import (
    LessonRecord,
    answer_question,
    begin_questions,
    find_run,
    is_finished,
    lesson_records,
    next_question,
    offered_lessons,
    play_example,
    play_question,
    play_sign,
    run_questions,
)
from trainer.drill.playback import (
    FULL_SPEED,
    SPEEDS,
    beat_times_s,
    check_speed,
    mix_of,
    play_answer,
    play_bars,
    play_part,
    play_song,
)
from trainer.drill.ratings import (
    Totals,
    bring_all_ratings_up,
    bring_ratings_up,
    let_results_count,
    rating_state,
    rebuild,
    totals,
)
from trainer.drill.results import (
    BARS,
    RECIPE,
    SEEN_BEFORE,
    SEEN_NOW,
    SPEED_TEST,
    Result,
    attempt_kind,
    exercise_kinds,
    find_result,
    level_of,
    level_verdict,
    passed_levels,
    why_no_speed_test,
)
from trainer.drill.stamps import read_stamps, write_stamps
from trainer.drill.submission import Place, Submitted, submit

__all__ = [
    "BARS",
    "FIRST_CHART",
    "FULL_SPEED",
    "MOST_TYPED",
    "PAGE_EXAMPLE",
    "RECIPE",
    "RIGHT_IN_A_ROW",
    "SEEN_BEFORE",
    "SEEN_NOW",
    "SPEEDS",
    "SPEED_TEST",
    "STEPS",
    "BarCheck",
    "BarPractice",
    "ComparedBars",
    "DailySets",
    "Drill",
    "Drills",
    "FirstStep",
    "LessonRecord",
    "NextItem",
    "Place",
    "Result",
    "State",
    "Stretch",
    "Submitted",
    "Totals",
    "answer_question",
    "are_right",
    "attempt_kind",
    "bar_difference",
    "beat_times_s",
    "begin_bars",
    "begin_questions",
    "bring_all_ratings_up",
    "bring_ratings_up",
    "check_first_bar",
    "check_length",
    "check_speed",
    "compare_bars",
    "exercise_kinds",
    "find_bars",
    "find_result",
    "find_run",
    "first_bars",
    "import_record",
    "is_finished",
    "lesson_records",
    "let_results_count",
    "level_of",
    "level_verdict",
    "loop_s",
    "mix_of",
    "next_question",
    "offered_lessons",
    "passed_levels",
    "play_answer",
    "play_bars",
    "play_example",
    "play_first_bars",
    "play_part",
    "play_question",
    "play_sign",
    "play_song",
    "practised_bars",
    "rating_state",
    "read_stamps",
    "rebuild",
    "run_questions",
    "stretches_to_practise",
    "submit",
    "totals",
    "why_no_speed_test",
    "write_stamps",
]
