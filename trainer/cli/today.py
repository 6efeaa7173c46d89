"""`today`: the daily set, from finding the level on the first day to one more set.

`more`: ten more exercises on one skill that a level still needs.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.cli.common import ask_word, now, print_json
from trainer.cli.exercises import level_numbered
from trainer.cli.options import Data, Json, Learner, SoundfontFile, SoundTo

if TYPE_CHECKING:
    from trainer.cli.session import Session
    from trainer.drill import DailySets, NextItem
    from trainer.store import SetItem

__all__ = ["more", "today"]

PROMPT = "Enter to begin, skip, or stop  "
PLACING = "Enter to begin, skip, all to skip finding the level, or stop  "


def today(
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
    to: SoundTo = None,
    another: Annotated[
        bool, typer.Option("--another", help="Do another set when today's is done.")
    ] = False,
    show: Annotated[bool, typer.Option("--show", help="Show the set and exit.")] = False,
    as_json: Json = False,
) -> None:
    """Practise for about ten minutes: what is due, what is weak and what is new, and why.

    The first time, a few short exercises find your level. Stop when you like: the rest waits.
    """
    from trainer.cli.session import Session
    from trainer.drill import DailySets
    from trainer.exercise import load_course

    with Session.open(data, learner, soundfont, printing_json=as_json) as session:
        sets = DailySets(session.drills, load_course())
        if another:
            sets.another()
        if as_json:
            print_json(_plain(sets.plan()))
        elif show:
            _show(session, sets.plan())
        elif _practise(session, sets, to):
            session.console.print("That's today's set. For another: chart-trainer today --another")


def more(
    skill: Annotated[
        str, typer.Argument(help='The skill, as the result names it, such as "bass 5/7".')
    ],
    level: Annotated[int, typer.Option("--level", help="The level it belongs to.")],
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
    to: SoundTo = None,
) -> None:
    """Do ten short exercises on just one skill, as hard as on its level.

    They come before the rest of today's set, which waits. Stop when you like.
    """
    from trainer.cli.session import Session
    from trainer.drill import DailySets
    from trainer.exercise import load_course
    from trainer.practice import MORE

    found = level_numbered(level)
    with Session.open(data, learner, soundfont) as session:
        sets = DailySets(session.drills, load_course())
        sets.more_of(found, skill)
        if _practise(session, sets, to, only=MORE):
            session.console.print("You've done all ten. Now try a song: chart-trainer drill")


def _practise(session: Session, sets: DailySets, to: Path | None, only: str | None = None) -> bool:
    """Go through the present set, or as far as its items are of the kind `only`; whether it came to
    its end."""
    was_placing = False
    while (given := sets.next()) is not None and only in (None, given.item.kind):
        placing = given.item.kind == "placement"
        if was_placing and not placing:
            _say_found(session)
        was_placing = placing
        _introduce(session, given)
        word = _asked(session, PLACING if placing else PROMPT, placing=placing)
        if word == "skip":
            sets.skip(given.item)
        elif word == "all":
            sets.skip_placement()
        elif word == "stop":
            session.console.print("To continue the set: chart-trainer today")
            return False
        elif session.run(given.drill, to) is None:
            return False
    return True


def _asked(session: Session, prompt: str, *, placing: bool) -> str:
    """The answer at the prompt: nothing to begin, skip, stop or, while placing, all. Anything else
    is asked again."""
    words = ("", "skip", "stop", *(("all",) if placing else ()))
    return ask_word(session.console, prompt, words)


def _say_found(session: Session) -> None:
    from trainer.drill import rating_state
    from trainer.exercise import load_course
    from trainer.practice import describe_placement

    found = describe_placement(rating_state(session.store, session.learner), load_course(), now())
    if found:
        session.console.print(f"\nDone. {found}", markup=False)


def _introduce(session: Session, given: NextItem) -> None:
    item = given.item
    session.console.print()
    minutes = f", about {item.minutes:.0f} min" if item.minutes and item.minutes >= 1 else ""
    session.console.print(
        f"{item.position} of {given.total}{minutes}: {item.reason}", style="bold", markup=False
    )


def _show(session: Session, items: tuple[SetItem, ...]) -> None:
    for item in items:
        session.console.print(f"{item.position:>2}  {item.status:<8} {item.reason}", markup=False)


def _plain(items: tuple[SetItem, ...]) -> dict[str, Any]:
    names = ("position", "kind", "skills", "reason", "status", "exercise_id", "expected", "minutes")
    return {
        "day": items[0].day.isoformat(),
        "set": items[0].number,
        "items": [{name: getattr(item, name) for name in names} for item in items],
    }
