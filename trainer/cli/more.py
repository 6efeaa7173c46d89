"""`more`: ten more of one skill, after a level said that it is not there yet."""

from __future__ import annotations

from typing import Annotated

import typer

from trainer.cli.exercises import level_numbered
from trainer.cli.options import Data, Learner, SoundfontFile, SoundTo
from trainer.cli.today import practise

__all__ = ["more"]


def more(
    skill: Annotated[str, typer.Argument(help="The skill, as the result names it: bass 5/7.")],
    level: Annotated[int, typer.Option("--level", help="The level whose skill it is.")],
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
    to: SoundTo = None,
) -> None:
    """Ten short exercises of just one skill, as difficult as on its level.

    They come before what is open of the day's set, which waits. Stop when you like.
    """
    from trainer.cli.session import Session
    from trainer.drill import DailySets
    from trainer.exercise import load_course
    from trainer.practice import MORE

    found = level_numbered(level)
    with Session.open(data, learner, soundfont) as session:
        sets = DailySets(session.drills, load_course())
        sets.more_of(found, skill)
        if practise(session, sets, to, only=MORE):
            session.console.print("That was ten of it. Now a song: chart-trainer drill")
