"""What a learner can hear, and what to practise next.

`gather` makes evidence of a graded attempt and `update_state` updates the learner's state with it.
`rating` and `success_probability` say what is known, `plan_set` and `choose_exercise` what comes
next and why. Every function is pure: the moment (`now`, aware, UTC) and the randomness (`rng`) are
arguments, and the state is a function of the attempts alone.
`python -m trainer.practice.simulate` measures how well this works on simulated learners.
"""

from trainer.practice.aims import aimed_recipe, can_aim
from trainer.practice.attempt import (
    Conditions,
    Tally,
    attempt_evidence,
    attempt_speed,
    attempt_tally,
)
from trainer.practice.catalogue import describe_skill
from trainer.practice.choice import expected_score
from trainer.practice.confusions import (
    RECENT_CONFUSIONS,
    describe_confusions,
    describe_mistakes,
)
from trainer.practice.course_map import (
    CourseMap,
    LevelPlace,
    Standing,
    course_map,
    next_level,
)
from trainer.practice.daily import (
    LEAST_BARS_FOR_RATE,
    Aim,
    describe_rate,
    longest_minutes,
    plan_set,
)
from trainer.practice.evidence import Evidence, gather
from trainer.practice.graded import MOST_LAG_BEATS, GradedBar, graded_bars, mean_lag
from trainer.practice.items import (
    MORE,
    MORE_EXERCISES,
    ChosenExercise,
    candidate_profiles,
    choose_exercise,
    course_skills,
    more_exercises,
    more_recipe,
)
from trainer.practice.lessons import (
    lesson_for_advice,
    lesson_for_pair,
    lesson_for_skill,
    level_lessons,
)
from trainer.practice.memory import Memory
from trainer.practice.overview import SkillSummary, credible_interval, skill_summaries
from trainer.practice.passing import SkillVerdict, Verdict, describe_verdict, judge
from trainer.practice.placement import describe_placement, is_placed, placement_aim
from trainer.practice.rating import (
    MODEL_VERSION,
    LearnerState,
    Rating,
    SkillState,
    rating,
    rating_probability,
    success_probability,
    update_state,
)
from trainer.practice.situation import Situation, situation_of
from trainer.practice.speed import (
    SpeedHistory,
    SpeedResult,
    describe_standing,
    disqualification,
    is_speed_test,
    speed_history,
    speed_result,
    speed_test,
)

__all__ = [
    "LEAST_BARS_FOR_RATE",
    "MODEL_VERSION",
    "MORE",
    "MORE_EXERCISES",
    "MOST_LAG_BEATS",
    "RECENT_CONFUSIONS",
    "Aim",
    "ChosenExercise",
    "Conditions",
    "CourseMap",
    "Evidence",
    "GradedBar",
    "LearnerState",
    "LevelPlace",
    "Memory",
    "Rating",
    "Situation",
    "SkillState",
    "SkillSummary",
    "SkillVerdict",
    "SpeedHistory",
    "SpeedResult",
    "Standing",
    "Tally",
    "Verdict",
    "aimed_recipe",
    "attempt_evidence",
    "attempt_speed",
    "attempt_tally",
    "can_aim",
    "candidate_profiles",
    "choose_exercise",
    "course_map",
    "course_skills",
    "credible_interval",
    "describe_confusions",
    "describe_mistakes",
    "describe_placement",
    "describe_rate",
    "describe_skill",
    "describe_standing",
    "describe_verdict",
    "disqualification",
    "expected_score",
    "gather",
    "graded_bars",
    "is_placed",
    "is_speed_test",
    "judge",
    "lesson_for_advice",
    "lesson_for_pair",
    "lesson_for_skill",
    "level_lessons",
    "longest_minutes",
    "mean_lag",
    "more_exercises",
    "more_recipe",
    "next_level",
    "placement_aim",
    "plan_set",
    "rating",
    "rating_probability",
    "situation_of",
    "skill_summaries",
    "speed_history",
    "speed_result",
    "speed_test",
    "success_probability",
    "update_state",
]
