"""`drill`: one exercise from the count-off to the advice, or a choice of them at a prompt."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.cli.common import now, percent, read_line
from trainer.cli.exercises import exercise_source, song_named
from trainer.cli.options import Data, Learner, LevelNumber, RecipeName, Seed, SoundfontFile, SoundTo
from trainer.errors import SettingsError

if TYPE_CHECKING:
    from trainer.cli.session import Session
    from trainer.drill import Drill
    from trainer.exercise import Exercise, Level
    from trainer.practice import CourseMap, LevelPlace
    from trainer.store import LevelBest

__all__ = ["drill"]

PROMPT = "Type a level (Enter for {next}), levels, songs, a song's title, or quit  "


def drill(
    level: LevelNumber = None,
    recipe: RecipeName = None,
    song: Annotated[
        str | None, typer.Option("--song", help="A hand-written song, by its title or part of it.")
    ] = None,
    seed: Seed = None,
    code: Annotated[
        str | None, typer.Option("--code", help="A friend's song, by the code they gave you.")
    ] = None,
    to: SoundTo = None,
    go_on: Annotated[
        bool, typer.Option("--continue", help="Continue the last drill that you left.")
    ] = False,
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
) -> None:
    """Hear a song, write its chart line by line, see what you missed.

    If you name no exercise, you choose one at a prompt.
    """
    is_named = any(value is not None for value in (level, recipe, song))
    if go_on and (is_named or seed is not None or code is not None):
        raise SettingsError("--continue", "another exercise named as well", "--continue alone")
    if code is not None and (is_named or seed is not None):
        raise SettingsError("--code", "another exercise named as well", "--code alone")
    make = exercise_source(level, recipe, song) if is_named else None
    if code is not None:
        make = _of_code(code)
    from trainer.cli.session import Session
    from trainer.exercise import new_seed

    with Session.open(data, learner, soundfont) as session:
        if make is not None:
            exercise = make(new_seed() if seed is None else seed)
            _run(session, session.drills.begin(exercise), to)
        elif go_on:
            left = session.drills.latest()
            if left is None:
                raise SettingsError(
                    "--continue",
                    "no unfinished drill",
                    "one that you left; to begin one: chart-trainer drill",
                )
            _run(session, left, to)
        else:
            _choose(session, to)


def _of_code(code: str) -> Callable[[int], Exercise]:
    """What gives the exercise of a friend's code, whatever the seed. Raises SettingsError."""
    from trainer.exercise import Catalogue, exercise_of_code

    exercise = exercise_of_code(code, Catalogue.load())
    return lambda _: exercise


def _run(session: Session, drill: Drill, to: Path | None) -> None:
    """Drill an exercise, and tell the code by which a friend gets the same song."""
    from trainer.exercise import Catalogue, song_code

    submitted = session.run(drill, to)
    code = submitted and song_code(submitted.exercise.exercise, Catalogue.load())
    if code:
        session.console.print(
            f"To give this song to a friend: chart-trainer drill --code {code}",
            markup=False,
            soft_wrap=True,
        )


def _choose(session: Session, to: Path | None) -> None:
    """Ask what to drill and drill it, until the person has had enough."""
    from trainer.exercise import load_course, load_songs

    course = load_course()
    session.console.print("Hear a song once, write its number chart, see what you missed.")
    while True:
        best = session.store.attempts.best_by_level(session.learner)
        found = _map(session, course, best)
        level = found.next
        left = session.drills.latest()
        if left is not None:
            session.console.print(
                f"You left {left.exercise.chart.title} unfinished. Type continue to go on with it.",
                markup=False,
            )
        if found.why:
            session.console.print(found.why, markup=False)
        line = read_line(PROMPT.format(next=f"{level.number}, {level.title}"))
        word = "quit" if line is None else line.strip()
        if word.lower() == "quit":
            return
        if left is not None and word.lower() == "continue":
            _run(session, left, to)
        elif word.lower() == "levels":
            _show_levels(session, found, best)
        elif word.lower() == "songs":
            for song in load_songs():
                session.console.print(f"  {song.chart.title}", markup=False)
        else:
            exercise = _chosen(session, word, course, level)
            if exercise is not None:
                _run(session, session.drills.begin(exercise), to)


def _map(session: Session, course: tuple[Level, ...], best: Mapping[str, LevelBest]) -> CourseMap:
    """The map of the course, as the page has it too."""
    from trainer.drill import passed_levels, rating_state
    from trainer.practice import course_map

    state = rating_state(session.store, session.learner)
    return course_map(course, state, now(), passed=passed_levels(best), tried=best)


def _chosen(
    session: Session, word: str, course: tuple[Level, ...], usual: Level
) -> Exercise | None:
    """The exercise that a word at the prompt means; None, and a word about it, when none."""
    from trainer.exercise import make_exercise, new_seed

    if not word:
        return make_exercise(usual.recipe, new_seed(), usual)
    if word.isdecimal():
        level = next((level for level in course if str(level.number) == word), None)
        if level is not None:
            return make_exercise(level.recipe, new_seed(), level)
        session.console.print(
            f"There is no level {word[:20]}. The levels go from 1 to {course[-1].number}."
        )
        return None
    try:
        return song_named(word)
    except SettingsError as error:
        session.console.print(str(error), markup=False)
        return None


def _show_levels(session: Session, found: CourseMap, best: Mapping[str, LevelBest]) -> None:
    """Every level with what it adds, a tick at what is heard well, and how it went."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 1, 0, 0))
    for name in ("", "level", "adds", ""):
        table.add_column(name)
    for place in found.places:
        level = place.level
        if level.part:
            table.add_row("", Text(level.part, "bold"))
        adds = ", ".join(name + (" \N{CHECK MARK}" if heard else "") for name, heard in place.adds)
        result = _result(place, best.get(level.id), found)
        table.add_row(str(level.number), Text(level.title), Text(adds), result)
    session.console.print(table)
    if found.why:
        session.console.print(found.why, markup=False)
    session.console.print(
        "A tick stands at what you hear well. Pass any level, and the course goes on from there.",
        markup=False,
    )


def _result(place: LevelPlace, reached: LevelBest | None, found: CourseMap) -> str:
    """How a level went, or why it is skipped."""
    needed = f"you need {place.level.pass_mark:.0%}"
    if reached is not None:
        best = percent(reached.score)
        return f"passed, {best}" if reached.passed else f"best {best}, {needed}"
    if place.level is found.next:
        return f"next, {needed}"
    if place.is_skipped:
        return "skipped, you hear this" if place.standing == "heard" else "skipped"
    return "not tried yet"
