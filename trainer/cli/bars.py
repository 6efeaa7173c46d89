"""`bars`: the bars that were missed last, looped and written until they are right."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.cli.common import ask_word
from trainer.cli.options import Data, Learner, SoundfontFile, SoundTo
from trainer.errors import SettingsError

if TYPE_CHECKING:
    from trainer.cli.session import Session
    from trainer.drill import BarPractice, Result, Submitted

__all__ = ["bars"]

PROMPT = "Enter to go on, or type slower, faster, key (for another key) or stop  "
WORDS = ("", "slower", "faster", "key", "stop")
# Another key is a fourth up: in twelve steps it has been in all of them.
FOURTH = 5
# The attempts among which the last one is looked for that missed anything.
NEWEST = 100


def bars(
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
    to: SoundTo = None,
) -> None:
    """Practise the bars that you missed in your last song, looped, until they are right.

    The bar before them is filled in already. Write each group of bars right twice in a row, at any
    speed and in any key. This is practice: it does not count for levels, ratings or the speed test.
    """
    from trainer.cli.session import Session

    with Session.open(data, learner, soundfont) as session:
        result = _last_missed(session)
        if result is None:
            raise SettingsError(
                "bars",
                "no song with missed bars",
                "a song that you wrote lately and missed bars of",
            )
        _practise(session, result, to)


def _last_missed(session: Session) -> Result | None:
    """The last attempt at a song that missed bars."""
    from trainer.drill import find_result, stretches_to_practise
    from trainer.exercise import EXCERPT

    for attempt in session.store.attempts.history(session.learner, limit=NEWEST):
        result = find_result(session.store, session.learner, attempt.id)
        if result is None or EXCERPT in result.exercise.recipe:
            continue
        if stretches_to_practise(result.report, result.exercise.chart):
            return result
    return None


def _practise(session: Session, result: Result, to: Path | None) -> None:
    """One try after another, until all bars are there or the person has had enough."""
    from trainer.drill import RIGHT_IN_A_ROW, SPEEDS, are_right, practised_bars

    speed, shift = 0, 0
    while True:
        practice = practised_bars(session.store, session.learner, result)
        assert practice is not None
        if practice.is_done:
            session.console.print("You've got every bar that you missed.", style="bold")
            return
        tried = _try(session, practice, shift, SPEEDS[speed], to)
        if tried is None:
            session.console.print("To continue: chart-trainer bars")
            return
        if are_right(tried.report.bars):
            rights = practice.rights[practice.number] + 1
            again = "Once more." if rights < RIGHT_IN_A_ROW else "You've got these bars."
            session.console.print(f"Right. {again}", style="bold")
        else:
            _say_wrong(session, tried)
        word = ask_word(session.console, PROMPT, WORDS)
        if word == "stop":
            return
        if word == "key":
            shift = (shift + FOURTH) % 12
        elif word:
            speed += 1 if word == "slower" else -1
            speed = min(max(0, speed), len(SPEEDS) - 1)


def _try(
    session: Session, practice: BarPractice, shift: int, speed: int, to: Path | None
) -> Submitted | None:
    """One try at the stretch under way; None when it is left for another time."""
    from trainer.cli.song import Song
    from trainer.drill import begin_bars, submit

    drills = session.drills
    drill = begin_bars(drills, practice, practice.number, shift)
    stretch, song = practice.stretch, practice.result.exercise.chart
    session.console.print(
        f"\nBars {stretch.first}-{stretch.last} of {song.title}, key of {drill.exercise.chart.key},"
        f" {speed}% of the tempo. Count them from bar 1 here. Type `play` to hear them in a loop.",
        style="bold",
        markup=False,
    )
    made = Song.prepare(drills, drill, session.soundfont, to, session.console, loop_speed=speed)
    prompt = session.prompt(drill, made)
    if practice.lead_in and not prompt.typed.lines:
        prompt.typed.add(practice.lead_in, None)
        session.console.print(f"  1  {practice.lead_in}", markup=False)
    if not prompt.run():
        return None
    return submit(drills, drill.record.key, prompt.typed.text, token=drill.token)


def _say_wrong(session: Session, tried: Submitted) -> None:
    from trainer.cli.report import print_report

    session.console.print("Not right yet.", style="bold")
    chart = tried.exercise.exercise.chart
    print_report(session.console, chart, tried.answer.chart, tried.report)
