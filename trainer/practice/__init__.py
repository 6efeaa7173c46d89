"""What a learner can hear, and what to practise next.

`gather` makes evidence of a graded attempt, `learn` takes it in, `rating` and `chance` say what is
known, `plan_set` and `make_item` what comes next and why. Every function is pure: the moment
(`now`, aware, UTC) and the randomness (`rng`) are passed in, and the state is a function of the
attempts alone. `python -m trainer.practice.simulate` shows what it is worth.
"""

from trainer.practice.aims import aimed_recipe, can_aim
from trainer.practice.attempt import (
    Conditions,
    attempt_evidence,
    attempt_speed,
    attempt_tally,
)
from trainer.practice.catalogue import say_skill
from trainer.practice.daily import MINUTES, Aim, plan_set, say_rate
from trainer.practice.evidence import Evidence, gather
from trainer.practice.graded import GradedBar, graded_bars
from trainer.practice.items import Item, course_skills, make_item, offers_for
from trainer.practice.memory import Memory
from trainer.practice.overview import SkillLine, interval, skill_lines
from trainer.practice.placement import is_placed, next_level, placement_aim, say_found
from trainer.practice.rating import MODEL, Rating, Skill, State, chance, learn, rating
from trainer.practice.situation import Situation, situation_of
from trainer.practice.speed import (
    SpeedHistory,
    SpeedResult,
    is_speed_test,
    say_standing,
    speed_history,
    speed_result,
    speed_test,
    why_not,
)
from trainer.practice.tally import Tally
from trainer.practice.words import explain, mistakes

__all__ = [
    "MINUTES",
    "MODEL",
    "Aim",
    "Conditions",
    "Evidence",
    "GradedBar",
    "Item",
    "Memory",
    "Rating",
    "Situation",
    "Skill",
    "SkillLine",
    "SpeedHistory",
    "SpeedResult",
    "State",
    "Tally",
    "aimed_recipe",
    "attempt_evidence",
    "attempt_speed",
    "attempt_tally",
    "can_aim",
    "chance",
    "course_skills",
    "explain",
    "gather",
    "graded_bars",
    "interval",
    "is_placed",
    "is_speed_test",
    "learn",
    "make_item",
    "mistakes",
    "next_level",
    "offers_for",
    "placement_aim",
    "plan_set",
    "rating",
    "say_found",
    "say_rate",
    "say_skill",
    "say_standing",
    "situation_of",
    "skill_lines",
    "speed_history",
    "speed_result",
    "speed_test",
    "why_not",
]
