"""What `chart-trainer` shows without a command: the course, and a prompt to drill from."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.cli.choose import new_seed, song_named
from trainer.cli.desk import read_line
from trainer.cli.numbers import percent
from trainer.cli.sitting import Room, sit
from trainer.errors import SettingsError
from trainer.exercise import Exercise, Level, load_course, load_songs, make_exercise
from trainer.practice import next_level

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainer.store import LevelBest

__all__ = ["welcome"]

PROMPT = "Level (Enter: {next}), levels, songs, a song's title, or quit  "


def welcome(
    data: Path | None = None,
    learner: str = "me",
    soundfont: Path | None = None,
    to: Path | None = None,
) -> None:
    """Ask what to drill and drill it, until the person has had enough."""
    course = load_course()
    with Room.open(data, learner, soundfont) as room:
        room.console.print("Hear a song once, write its number chart, see what you missed.")
        while True:
            best = room.store.attempts.best_by_level(room.learner)
            level = _next(room, course, best)
            left = room.left_last()
            if left is not None:
                room.console.print(
                    f"You left {left.chart.title} unfinished: continue goes on with it.",
                    markup=False,
                )
            word = read_line(PROMPT.format(next=f"{level.number}, {level.title}"))
            if word is None or word.strip().lower() == "quit":
                return
            if left is not None and word.strip().lower() == "continue":
                sit(room, left, to)
                continue
            if word.strip().lower() == "levels":
                _show_levels(room, course, best)
            elif word.strip().lower() == "songs":
                for song in load_songs():
                    room.console.print(f"  {song.chart.title}", markup=False)
            else:
                exercise = _chosen(room, word.strip(), course, level)
                if exercise is not None:
                    sit(room, exercise, to)


def _next(room: Room, course: tuple[Level, ...], best: Mapping[int, LevelBest]) -> Level:
    """The level to go on with, as the page has it too."""
    return next_level(
        course,
        room.store.ratings.state(room.learner),
        datetime.now(UTC),
        passed={lv.number for lv in course if _is_passed(lv, best.get(lv.number))},
        tried=best,
    )


def _is_passed(level: Level, best: LevelBest | None) -> bool:
    return best is not None and best.score >= level.pass_mark


def _chosen(room: Room, word: str, course: tuple[Level, ...], usual: Level) -> Exercise | None:
    """The exercise that a word at the prompt means; None, and a word about it, when none."""
    if not word:
        return make_exercise(usual.recipe, new_seed(), usual)
    if word.isdecimal():
        level = next((level for level in course if level.number == int(word)), None)
        if level is not None:
            return make_exercise(level.recipe, new_seed(), level)
        room.console.print(f"found level {word}, expected 1 to {course[-1].number}")
        return None
    try:
        return song_named(word)
    except SettingsError as error:
        room.console.print(str(error), markup=False)
        return None


def _show_levels(room: Room, course: tuple[Level, ...], best: Mapping[int, LevelBest]) -> None:
    for level in course:
        reached = best.get(level.number)
        result = f"best {percent(reached.score)}" if reached else "not tried"
        room.console.print(
            f"{level.number:>3}  {level.title:<44} {result}, pass {level.pass_mark:.0%}",
            markup=False,
        )
