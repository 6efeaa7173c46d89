"""Recipes, exercises, and the course that orders them.

A recipe (`recipe`) is read from TOML (`recipe_text`), where each value is checked by the `rules`
and all values together for `contradictions`. With a seed it makes an exercise (`exercise`): a
chart, how it is played and what is asked of it. `skills` names what each bar of a chart can teach,
and `places` says what it means that a song has a skill three times. `course` finds the levels,
named recipes and hand-written songs that ship with the trainer. `lessons` are half a minute of
music each, in which a sign, or two sounds that people mix up, can be heard; `lesson_text` reads
them. `codes` writes an exercise as a short text for somebody else.
"""

from trainer.exercise.answer import (
    Answer,
    ChartOutline,
    chart_outline,
    header_for,
    read_answer,
)
from trainer.exercise.codes import Catalogue, exercise_of_code, song_code
from trainer.exercise.course import (
    find_course,
    load_course,
    load_level,
    load_recipes,
    load_songs,
    named_recipe,
)
from trainer.exercise.exercise import (
    ASSIGNED,
    EXCERPT,
    MOST_SEED,
    Exercise,
    chart_exercise,
    excerpt_exercise,
    exercise_from_json,
    exercise_to_json,
    handed_out_exercise,
    make_exercise,
    new_seed,
    own_song_exercise,
    parse_seed,
    song_digest,
    song_exercise,
)
from trainer.exercise.lesson_text import load_lesson, load_lessons
from trainer.exercise.lessons import (
    GROUPS,
    QUESTIONS,
    Choice,
    Lesson,
    Line,
    Question,
    make_questions,
)
from trainer.exercise.level_ids import FIRST_IDS, first_id
from trainer.exercise.places import KEY_BARS, LEAST_PLACES, count_places
from trainer.exercise.recipe import Help, Level, NamedRecipe, Recipe, recipe_to_dict
from trainer.exercise.recipe_text import (
    MOST_RECIPE_BYTES,
    load_recipe,
    recipe_from_dict,
    recipe_from_text,
)
from trainer.exercise.sign_examples import SignExample, load_signs
from trainer.exercise.skills import articulation_skills, bar_skills, chart_skills

__all__ = [
    "ASSIGNED",
    "EXCERPT",
    "FIRST_IDS",
    "GROUPS",
    "KEY_BARS",
    "LEAST_PLACES",
    "MOST_RECIPE_BYTES",
    "MOST_SEED",
    "QUESTIONS",
    "Answer",
    "Catalogue",
    "ChartOutline",
    "Choice",
    "Exercise",
    "Help",
    "Lesson",
    "Level",
    "Line",
    "NamedRecipe",
    "Question",
    "Recipe",
    "SignExample",
    "articulation_skills",
    "bar_skills",
    "chart_exercise",
    "chart_outline",
    "chart_skills",
    "count_places",
    "excerpt_exercise",
    "exercise_from_json",
    "exercise_of_code",
    "exercise_to_json",
    "find_course",
    "first_id",
    "handed_out_exercise",
    "header_for",
    "load_course",
    "load_lesson",
    "load_lessons",
    "load_level",
    "load_recipe",
    "load_recipes",
    "load_signs",
    "load_songs",
    "make_exercise",
    "make_questions",
    "named_recipe",
    "new_seed",
    "own_song_exercise",
    "parse_seed",
    "read_answer",
    "recipe_from_dict",
    "recipe_from_text",
    "recipe_to_dict",
    "song_code",
    "song_digest",
    "song_exercise",
]
