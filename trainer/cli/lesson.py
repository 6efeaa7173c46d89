"""`lesson`: a sign or a confusion by ear, each sound by name, then five quick questions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import groupby
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.cli.common import ask_word
from trainer.cli.options import Data, Learner, SoundfontFile, SoundTo
from trainer.cli.playing import sound_player
from trainer.errors import SettingsError

if TYPE_CHECKING:
    from rich.console import Console

    from trainer.band import Arrangement
    from trainer.cli.session import Session
    from trainer.drill import LessonRecord
    from trainer.exercise import Lesson, Question
    from trainer.store import LessonRun

__all__ = ["lesson"]

# What the choices of a lesson are called at the prompt, in their order.
LETTERS = ("a", "b", "c")


def lesson(
    name: Annotated[
        str | None,
        typer.Argument(metavar="LESSON", help="A lesson, such as hold. Leave it out to list them."),
    ] = None,
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
    to: SoundTo = None,
) -> None:
    """Hear a sign, or chords that get mixed up, then answer five quick questions.

    This is practice: it does not count for levels or ratings.
    """
    from trainer.cli.session import Session
    from trainer.drill import lesson_records
    from trainer.exercise import load_lessons

    lessons = load_lessons()
    found = _find(lessons, name) if name is not None else None
    with Session.open(data, learner, soundfont) as session:
        if found is None:
            _list(session.console, lessons, lesson_records(session.store, session.learner))
            return
        play = sound_player(session.console, session.soundfont, to)
        try:
            if _hear(session, found, play):
                _ask_all(session, found, play)
        finally:
            play(None)


def _find(lessons: tuple[Lesson, ...], name: str) -> Lesson:
    """The lesson of that id. Raises SettingsError."""
    for each in lessons:
        if each.id == name.strip().lower():
            return each
    ids = ", ".join(each.id for each in lessons)
    raise SettingsError("lesson", repr(name[:80]), f"one of {ids}")


def _list(
    console: Console, lessons: tuple[Lesson, ...], records: Mapping[str, LessonRecord]
) -> None:
    for group, inside in groupby(lessons, key=lambda each: each.group):
        console.print(f"{group[:1].upper()}{group[1:]}", style="bold", markup=False)
        for each in inside:
            record = records.get(each.id)
            best = record.best if record is not None else None
            state = f"best {best} of 5" if best is not None else ""
            console.print(f"  {each.id:<26} {each.title:<28} {state}".rstrip(), markup=False)
    console.print("To hear one: chart-trainer lesson hold")


def _hear(session: Session, found: Lesson, play: Callable[[Arrangement | None], bool]) -> bool:
    """Play the choices by name as often as asked for; whether the questions come next."""
    from trainer.drill import play_example

    say = session.console.print
    say(found.title, style="bold", markup=False)
    say(_plain(found.about), markup=False)
    say(f"What to listen for: {_plain(found.listen_for)}", markup=False)
    letters = LETTERS[: len(found.choices)]
    prompt = f"{_names(found)}. Type a letter to hear it, Enter for the questions, or stop  "
    while True:
        word = ask_word(session.console, prompt, ("", *letters, "stop"))
        if word not in letters:
            return word == ""
        play(play_example(found, letters.index(word)))


def _ask_all(session: Session, found: Lesson, play: Callable[[Arrangement | None], bool]) -> None:
    """The questions that are left of a run, one after another; what is answered is kept."""
    from trainer.drill import begin_questions, is_finished, next_question
    from trainer.exercise import QUESTIONS, new_seed

    run = begin_questions(session.drills, found, new_seed())
    while (question := next_question(found, run)) is not None:
        run, goes_on = _ask(session, question, run, play)
        if not goes_on and not is_finished(run):
            session.console.print(f"To continue: chart-trainer lesson {found.id}")
            return
    session.console.print(f"You got {run.right} of {QUESTIONS} right.", style="bold")


def _ask(
    session: Session,
    question: Question,
    run: LessonRun,
    play: Callable[[Arrangement | None], bool],
) -> tuple[LessonRun, bool]:
    """One question to its answer, and both to hear again; the run then, and whether it goes on."""
    from trainer.drill import answer_question, play_question

    found = question.lesson
    letters = LETTERS[: len(found.choices)]
    prompt = (
        f"{question.number}. {found.question} {_names(found)} (Enter to hear it again, or stop)  "
    )
    word = ""
    while word == "":
        play(play_question(question))
        word = ask_word(session.console, prompt, ("", *letters, "stop"))
    if word == "stop":
        return run, False
    run = answer_question(session.drills, found, run, question.number, letters.index(word))
    played, chosen = run.answers[question.number - 1]
    said = f"Right: {played}." if played == chosen else f"It was {played}, not {chosen}."
    session.console.print(said, style="bold", markup=False)
    while True:
        word = ask_word(session.console, f"{_names(found)} to hear it again, or Enter to go on  ",
                        ("", *letters, "stop"))  # fmt: skip
        if word not in letters:
            play(None)
            return run, word == ""
        play(play_question(question, letters.index(word)))


def _names(found: Lesson) -> str:
    """The choices with their letters."""
    pairs = zip(LETTERS, found.choices, strict=False)
    return ", ".join(f"{letter} = {choice.name}" for letter, choice in pairs)


def _plain(text: str) -> str:
    """A lesson's text as the terminal shows it."""
    return text.replace("`", "")
