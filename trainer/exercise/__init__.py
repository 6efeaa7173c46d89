"""Recipes, exercises, and the course that orders them."""

from trainer.exercise.answer import (
    Answer,
    ChartOutline,
    chart_outline,
    header_for,
    read_answer,
)
from trainer.exercise.course import Level, find_course, load_course, load_level, load_songs
from trainer.exercise.exercise import (
    Exercise,
    exercise_from_json,
    exercise_to_json,
    make_exercise,
    song_digest,
    song_exercise,
)
from trainer.exercise.recipe import (
    Help,
    Recipe,
    load_recipe,
    recipe_from_dict,
    recipe_to_dict,
)
from trainer.exercise.skills import bar_skills, chart_skills

__all__ = [
    "Answer",
    "ChartOutline",
    "Exercise",
    "Help",
    "Level",
    "Recipe",
    "bar_skills",
    "chart_outline",
    "chart_skills",
    "exercise_from_json",
    "exercise_to_json",
    "find_course",
    "header_for",
    "load_course",
    "load_level",
    "load_recipe",
    "load_songs",
    "make_exercise",
    "read_answer",
    "recipe_from_dict",
    "recipe_to_dict",
    "song_digest",
    "song_exercise",
]
