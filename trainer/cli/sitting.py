"""One sitting with an exercise at the terminal: play, write, grade, keep, hear both."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Self

from rich.console import Console

from trainer.chart import Chart, Header, chart_to_json
from trainer.cli.audition import Audition
from trainer.cli.desk import WORDS, Desk, read_line
from trainer.cli.graded import print_report
from trainer.cli.pad import Pad
from trainer.errors import SettingsError
from trainer.exercise import Exercise, bar_skills, exercise_from_json, exercise_to_json
from trainer.grade import Report, Timing, grade, report_to_json, weights_for
from trainer.store import Sitting, Store
from trainer.store.learners import NOBODY_NAMED

if TYPE_CHECKING:
    from trainer.store import ExerciseRecord, Learner

__all__ = ["Room", "sit"]


@dataclass(slots=True)
class Room:
    """Whoever sits down and what is around: the record, the screen, the soundfont."""

    store: Store
    learner: Learner
    soundfont: Path | None
    console: Console = field(default_factory=lambda: Console(highlight=False))

    @classmethod
    @contextmanager
    def open(
        cls,
        data: Path | None,
        name: str,
        soundfont: Path | None,
        *,
        printing_json: bool = False,
    ) -> Iterator[Self]:
        """Open the record and find the learner; a new one is shown the hearing caution.

        With `printing_json` what is said goes to standard error.
        """
        with Store.open(data) as store:
            known = store.learners.usual(name)
            if known is None:
                _refuse_slip(store, name)
            room = cls(store, known or store.learners.get_or_add(name, _now()), soundfont)
            if printing_json:
                room.console = Console(highlight=False, stderr=True)
            if known is None:
                from trainer.sound import HEARING_CAUTION

                room.console.print(HEARING_CAUTION)
            yield room

    def left_last(self) -> Exercise | None:
        """The exercise last written on and not handed in."""
        latest = self.store.drafts.latest(self.learner)
        kept = self.store.exercises.get(latest[0]) if latest is not None else None
        return exercise_from_json(kept.data) if kept is not None else None


def _refuse_slip(store: Store, name: str) -> None:
    """Raise SettingsError for a name nobody has, where it may be a slip: others have a record."""
    others = ", ".join(person.name for person in store.learners.all())
    if others and name != NOBODY_NAMED:
        expected = f"one who has a record here: {others}; to add one: chart-trainer record add NAME"
        raise SettingsError("--learner", repr(name), expected)


def sit(room: Room, exercise: Exercise, to: Path | None = None) -> Report | None:
    """Sit one exercise through. None when it is left for another time; what was typed is kept."""
    started = _now()
    kept = room.store.exercises.keep(
        exercise_to_json(exercise), "song" if "song" in exercise.recipe else "generated"
    )
    audition = Audition.prepare(exercise, room.soundfont, to, room.console)
    desk = _desk(room, exercise, kept, audition)
    _introduce(room.console, exercise, desk)
    try:
        handed_in = desk.write()
    except KeyboardInterrupt:
        handed_in = False
        room.console.print()
    if not handed_in:
        lines = len(desk.pad.lines)
        kept_lines = f"Kept {lines} line{'s' * (lines != 1)}."
        room.console.print(
            f"{kept_lines} Go on with: chart-trainer drill --continue"
            if lines
            else "Nothing was written, so nothing is kept."
        )
        return None
    report, answer = _grade(exercise, desk, audition)
    # What was written to a file was played by whoever wrote the chart.
    listens = desk.listens or int(audition.in_file)
    _record(room, exercise, kept, desk, report, answer, started, listens)
    for number in sorted(desk.pad.draft().invalid_bars):
        room.console.print(f"Your bar {number} could not be read and counts as no chord.")
    print_report(room.console, exercise.chart, answer, report)
    audition.offer_both(answer, read_line)
    return report


def _desk(room: Room, exercise: Exercise, kept: ExerciseRecord, audition: Audition) -> Desk:
    chart = exercise.chart
    header = Header(meter=chart.meter, tempo=chart.tempo, feel=chart.feel, key=chart.key)
    draft = room.store.drafts.load(room.learner, kept)
    if draft is not None:
        room.console.print("Going on after what you wrote before:")
        room.console.print(draft.text, markup=False)
    return Desk(
        pad=Pad.of(draft.text if draft else "", header),
        console=room.console,
        read=read_line,
        keep=lambda text: room.store.drafts.save(room.learner, kept, text, _now()),
        clock=time.monotonic,
        into_file=audition.into_file,
        playback=audition.player,
        listens_allowed=exercise.listens,
        # A script that is piped in ends so; a person presses Ctrl-D to get away.
        end_hands_in=not sys.stdin.isatty(),
    )


def _introduce(console: Console, exercise: Exercise, desk: Desk) -> None:
    chart = exercise.chart
    console.print(f"{chart.title}: {chart.meter}, {chart.feel}", style="bold", markup=False)
    if desk.playback is not None:
        allowed = f"{exercise.listens} listens" if exercise.listens > 1 else "one listen"
        console.print(
            f"You have {allowed}." if exercise.listens else "Listen as often as you like."
        )
    console.print(WORDS, markup=False)


def _grade(exercise: Exercise, desk: Desk, audition: Audition) -> tuple[Report, Chart | None]:
    answer = desk.pad.draft().chart
    timing = None
    if desk.first_play_s is not None:
        timing = Timing(
            bar_done_s=desk.pad.bars_done_s(),
            bar_times_s=audition.bar_times_s,
            seconds_per_beat=audition.seconds_per_beat,
            listens=desk.listens,
            paused=desk.was_paused,
        )
    report = grade(exercise.chart, answer, weights=weights_for(exercise.ask), timing=timing)
    return report, answer


def _record(
    room: Room,
    exercise: Exercise,
    kept: ExerciseRecord,
    desk: Desk,
    report: Report,
    answer: Chart | None,
    started: datetime,
    listens: int,
) -> None:
    room.store.attempts.record(
        room.learner,
        kept,
        desk.pad.text,
        report_to_json(report),
        Sitting(
            started_at=started,
            listens=listens,
            paused=desk.was_paused,
            first_pass=report.speed.first_pass if report.speed else False,
            lag_beats=report.speed.lag_beats if report.speed else (),
            day=_now().astimezone().date(),
        ),
        _now(),
        answer_chart=chart_to_json(answer) if answer is not None else None,
        bar_skills=bar_skills(exercise.chart),
    )


def _now() -> datetime:
    return datetime.now(UTC)
