"""A learner at the terminal: the record, the screen, and one drill after another."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Self

from rich.console import Console

from trainer.cli import common
from trainer.cli.prompt import WORDS, DrillPrompt, TypedLines
from trainer.cli.report import print_report, print_verdict, unreadable_bars
from trainer.cli.song import Song, offer_both
from trainer.drill import (
    SEEN_BEFORE,
    SEEN_NOW,
    Drill,
    Drills,
    Submitted,
    bring_ratings_up,
    level_of,
    offered_lessons,
    stretches_to_practise,
    submit,
)
from trainer.errors import SettingsError
from trainer.exercise import Lesson, header_for, load_lessons
from trainer.store import NOBODY_NAMED, Learner, Store

__all__ = ["Session"]


@dataclass(slots=True)
class Session:
    """A learner, their drills, and what is around: the record, the screen, the soundfont."""

    store: Store
    learner: Learner
    soundfont: Path | None
    console: Console = field(default_factory=lambda: Console(highlight=False))

    @classmethod
    @contextmanager
    def open(
        cls,
        location: Path | str | None,
        name: str,
        soundfont: Path | None = None,
        *,
        printing_json: bool = False,
    ) -> Iterator[Self]:
        """Open the record and find the learner; who has not seen the hearing caution is shown it.

        With `printing_json` what is said goes to standard error.

        Raises
        ------
        SettingsError
            If nobody has that name where others have a record: it may be a slip.
        """
        with Store.open(location) as store:
            learner = store.learners.usual(name)
            if learner is None:
                _refuse_slip(store, name)
                learner = store.learners.get_or_add(name, common.now())
            session = cls(store, learner, soundfont)
            if printing_json:
                session.console = Console(highlight=False, stderr=True)
            session._caution()
            bring_ratings_up(store, session.learner)
            yield session

    @property
    def drills(self) -> Drills:
        """The learner's drills, in this machine's time zone."""
        return Drills(self.store, self.learner, common.now)

    def _caution(self) -> None:
        if self.learner.caution_at is None:
            from trainer.sound import HEARING_CAUTION

            self.console.print(HEARING_CAUTION)
            self.learner = self.store.learners.caution_shown(self.learner, common.now())

    def run(self, drill: Drill, to: Path | None = None) -> Submitted | None:
        """One drill to its result. None when it is left for another time; what was typed is kept.

        `to` is a file that the song is written into instead of being played.
        """
        song = Song.prepare(self.drills, drill, self.soundfont, to, self.console)
        self._introduce(drill, song)
        prompt = self.prompt(drill, song)
        if not prompt.run():
            self._say_left(len(prompt.typed.lines))
            return None
        typed = prompt.typed
        submitted = submit(
            self.drills, drill.record.key, typed.text, token=drill.token, stamps=typed.stamps
        )
        self._show(submitted)
        offer_both(song, submitted, common.read_line)
        return submitted

    def _introduce(self, drill: Drill, song: Song) -> None:
        chart, allowed = drill.exercise.chart, drill.exercise.listens
        say = self.console.print
        say(f"{chart.title}: {chart.meter}, {chart.feel}", style="bold", markup=False)
        if drill.seen:
            say(SEEN_NOW)
        for lesson in self._offered(drill):
            say(
                f"New here: {lesson.title}. To hear it first: chart-trainer lesson {lesson.id}",
                markup=False,
            )
        if song.player is not None:
            left = drill.listens_left
            if left is None:
                say("Listen as often as you like.")
            elif drill.progress.listens:
                say(f"You have {left} of {allowed} listens left.")
            else:
                say(f"You have {f'{allowed} listens' if allowed > 1 else 'one listen'}.")
            if drill.position_s is not None:
                say("The last listen was interrupted. Type play to go on with it.")
        say(WORDS, markup=False)
        if drill.progress.text:
            say("What you have so far:")
            say(drill.progress.text, markup=False)

    def _offered(self, drill: Drill) -> tuple[Lesson, ...]:
        """The lessons to hear before the first exercise of a level; none once it is begun."""
        level = level_of(drill.exercise.level_id)
        if level is None or drill.progress.text or drill.progress.listens:
            return ()
        return offered_lessons(self.store, self.learner, load_lessons(), [level])

    def prompt(self, drill: Drill, song: Song) -> DrillPrompt:
        """The prompt of a drill, with what was typed before; each line is kept as it comes."""
        drills, key = self.drills, drill.record.key

        def keep(typed: TypedLines) -> None:
            drills.keep_text(key, typed.text, stamps=typed.stamps, token=drill.token)

        return DrillPrompt(
            typed=TypedLines.of(
                drill.progress.text, header_for(drill.exercise), drill.progress.stamps
            ),
            console=self.console,
            read=common.read_line,
            keep=keep,
            sound=song,
        )

    def _say_left(self, lines: int) -> None:
        self.console.print(
            f"Kept {lines} line{'s' * (lines != 1)}. To continue: chart-trainer drill --continue"
            if lines
            else "You wrote nothing, so nothing is kept."
        )

    def _show(self, submitted: Submitted) -> None:
        parsed = submitted.answer.parsed
        for question in parsed.questions:
            taken = f"It was read as {question.choices[0].label}."
            self.console.print(f"Line {question.line}: {question.asked} {taken}", markup=False)
        for number in unreadable_bars(parsed):
            self.console.print(f"Your bar {number} couldn't be read, so it counts as no chord.")
        if submitted.attempt.seen:
            self.console.print(SEEN_BEFORE, style="bold")
        chart = submitted.exercise.exercise.chart
        print_report(self.console, chart, submitted.answer.chart, submitted.report)
        level = level_of(submitted.attempt.level_id)
        if submitted.verdict is not None and level is not None and submitted.attempt.counts:
            print_verdict(self.console, submitted.verdict, level.number)
        if stretches_to_practise(submitted.report, chart):
            self.console.print("Practise the bars you missed: chart-trainer bars")


def _refuse_slip(store: Store, name: str) -> None:
    """Raise SettingsError for a name nobody has, where it may be a slip: others have a record."""
    others = ", ".join(person.name for person in store.learners.all())
    if others and name != NOBODY_NAMED:
        expected = (
            f"somebody who has a record here: {others}; to add a learner: chart-trainer record add "
            "NAME"
        )
        raise SettingsError("--learner", repr(name), expected)
