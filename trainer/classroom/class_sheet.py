"""How a class wrote one song, bar by bar: who missed which bar, and what they wrote instead."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.chart import Chart
from trainer.chart.format import format_bar
from trainer.classroom.assignments import Assignments
from trainer.classroom.gradebook import counted
from trainer.classroom.statistics import ItemStatistics, item_statistics
from trainer.errors import ClassNotFound
from trainer.exercise import Exercise, exercise_from_json, read_answer
from trainer.store import (
    AcceptedChart,
    Assignment,
    AssignmentItem,
    ClassRecord,
    GradedAnswer,
    Member,
    read_report,
)

if TYPE_CHECKING:
    from trainer.store import Account, Learner, Repositories

__all__ = ["LEFT_OUT", "BarSheet", "ClassSheet", "ClassSheets", "SongOfItem", "WrittenBar"]

# What stands for a bar that was not written.
LEFT_OUT = ""
RIGHT = 1 - 1e-9


@dataclass(frozen=True, slots=True)
class WrittenBar:
    """What one learner wrote for a bar, `LEFT_OUT` for nothing, and the credit it got.

    `changed` says whether the teacher gave that credit, `comment` what the teacher said, "" for
    nothing.
    """

    member: Member
    attempt_id: int
    text: str
    credit: float
    changed: bool = False
    comment: str = ""

    @property
    def is_right(self) -> bool:
        """Whether it got all the credit."""
        return self.credit >= RIGHT


@dataclass(frozen=True, slots=True)
class BarSheet:
    """One bar of the song and what the class wrote for it.

    `section` is the name of the section that begins with it, "" for none. `instead` has what was
    written by those who missed it, each text with who wrote it, the most frequent first.
    """

    number: int
    section: str
    text: str
    written: tuple[WrittenBar, ...]
    statistics: ItemStatistics

    @property
    def missed(self) -> tuple[WrittenBar, ...]:
        """What those wrote who did not get all the credit."""
        return tuple(each for each in self.written if not each.is_right)

    @property
    def instead(self) -> tuple[tuple[str, tuple[Member, ...]], ...]:
        """What was written instead, and by whom, the most frequent first."""
        found: dict[str, list[Member]] = {}
        for each in self.missed:
            found.setdefault(each.text, []).append(each.member)
        ordered = sorted(found.items(), key=lambda pair: (-len(pair[1]), pair[0]))
        return tuple((text, tuple(members)) for text, members in ordered)


@dataclass(frozen=True, slots=True)
class SongOfItem:
    """A song that was handed out for an item: its digest, title, and how many answers count."""

    song: str
    title: str
    answers: int


@dataclass(frozen=True, slots=True)
class ClassSheet:
    """A song of an item and what the class wrote for it.

    `others` are learners whose answers were graded against an accepted chart with another number of
    bars, so that they stand beside no bar of this one.
    """

    school_class: ClassRecord
    assignment: Assignment
    item: AssignmentItem
    exercise: Exercise
    song: str
    songs: tuple[SongOfItem, ...]
    bars: tuple[BarSheet, ...]
    answers: tuple[tuple[Member, GradedAnswer], ...]
    accepted: tuple[AcceptedChart, ...]
    others: tuple[Member, ...]


@dataclass(frozen=True, slots=True)
class _Answer:
    """An answer with what was read of it: texts and credits by bar of the song, and comments."""

    member: Member
    attempt_id: int
    texts: Mapping[int, str]
    credits: Mapping[int, float]
    changed: frozenset[int]
    comments: Mapping[int, str]


class ClassSheets:
    """The sheets of the classes that one account teaches."""

    def __init__(
        self, store: Repositories, account: Account, learner: Learner, clock: Callable[[], datetime]
    ) -> None:
        self.store = store
        self._assignments = Assignments(store, account, learner, clock)

    def sheet(self, item_uid: str, song: str = "") -> ClassSheet:
        """How the class wrote a song of an item; without a digest, the one with most answers, or
        the item's own where nothing was handed out. Raises ClassNotFound."""
        item = self.store.assignments.item(item_uid)
        assignment = self.store.assignments.get(item.assignment_id) if item is not None else None
        if item is None or assignment is None:
            raise ClassNotFound("There is no such item here.")
        found, assignment = self._assignments.find(assignment.uid)
        members = {each.account_id: each for each in self.store.classes.members(found.id)}
        exercises = {
            digest: exercise_from_json(data)
            for (_, digest), data in self.store.assigned.exercises_of([item.id]).items()
        }
        answers = self._counting(assignment, item)
        songs = _songs(exercises, answers)
        chosen = song or (songs[0].song if songs else "")
        if song and song not in exercises:
            raise ClassNotFound("There is no such song in this item.")
        exercise = exercises.get(chosen)
        if exercise is None:
            exercise = self.store.assignments.with_song(item).exercise
        charts = self.store.class_grades.accepted([item.id])
        accepted = tuple(each for each in charts if each.song == chosen)
        of_song = [(members[a.attempt.account_id], a) for a in answers if a.attempt.song == chosen]
        read, others = self._read(item, exercise, of_song, accepted)
        return ClassSheet(
            found,
            assignment,
            item,
            exercise,
            chosen,
            songs,
            _bars(exercise, read, of_song),
            tuple(of_song),
            accepted,
            others,
        )

    def _counting(self, assignment: Assignment, item: AssignmentItem) -> list[GradedAnswer]:
        """The answer of each learner that counts."""
        answers = self.store.assigned.answers_to([item.id])
        mine: dict[int, list[GradedAnswer]] = {}
        for answer in answers:
            mine.setdefault(answer.attempt.account_id, []).append(answer)
        chosen = []
        for each in mine.values():
            best = counted((answer.attempt for answer in each), assignment.counts)
            chosen += [answer for answer in each if answer.attempt is best]
        return chosen

    def _read(
        self,
        item: AssignmentItem,
        exercise: Exercise,
        answers: Sequence[tuple[Member, GradedAnswer]],
        accepted: Sequence[AcceptedChart],
    ) -> tuple[list[_Answer], tuple[Member, ...]]:
        overrides = self.store.class_grades.overrides_of([item.id])
        lengths = {each.id: _length(exercise, each.text) for each in accepted}
        length = len(exercise.chart.bars())
        read, others = [], []
        for member, answer in answers:
            if lengths.get(answer.attempt.grade.accepted_id or 0, length) != length:
                others.append(member)
                continue
            texts, credit = _rows(exercise, answer)
            changes = overrides.get(answer.attempt.attempt_id, ())
            new = {each.bar: each.credit for each in changes if each.credit is not None}
            read.append(
                _Answer(
                    member,
                    answer.attempt.attempt_id,
                    texts,
                    {**credit, **{bar: value for bar, value in new.items() if bar}},
                    frozenset(new),
                    {each.bar: each.comment for each in changes},
                )
            )
        return read, tuple(others)


def _songs(
    exercises: Mapping[str, Exercise], answers: Sequence[GradedAnswer]
) -> tuple[SongOfItem, ...]:
    count = dict.fromkeys(exercises, 0)
    for answer in answers:
        count[answer.attempt.song] += 1
    found = [
        SongOfItem(song, exercise.chart.title, count[song]) for song, exercise in exercises.items()
    ]
    return tuple(sorted(found, key=lambda each: (-each.answers, each.title, each.song)))


def _rows(exercise: Exercise, answer: GradedAnswer) -> tuple[dict[int, str], dict[int, float]]:
    """What was written for each bar of the song, and its credit, by the bar's number."""
    chart = read_answer(exercise, answer.text).chart
    written = _bar_texts(chart)
    texts: dict[int, str] = {}
    credit: dict[int, float] = {}
    report = read_report(answer.report, f"attempt {answer.attempt.attempt_id}")
    for row in report.bars:
        if row.reference is None:
            continue
        texts[row.reference] = LEFT_OUT if row.answer is None else written[row.answer - 1]
        credit[row.reference] = row.score
    return texts, credit


def _bar_texts(chart: Chart | None) -> list[str]:
    return [] if chart is None else [format_bar(bar, chart) for bar in chart.bars()]


def _length(exercise: Exercise, text: str) -> int:
    chart = read_answer(exercise, text).chart
    return 0 if chart is None else len(chart.bars())


def _bars(
    exercise: Exercise,
    read: Sequence[_Answer],
    answers: Sequence[tuple[Member, GradedAnswer]],
) -> tuple[BarSheet, ...]:
    """Every bar of the song with what the class wrote for it."""
    totals = {answer.attempt.attempt_id: answer.attempt.grade.score for _, answer in answers}
    names = _section_names(exercise.chart)
    found, count = [], len(exercise.chart.bars())
    for number, text in enumerate(_bar_texts(exercise.chart), 1):
        written = tuple(
            WrittenBar(
                each.member,
                each.attempt_id,
                each.texts.get(number, LEFT_OUT),
                each.credits.get(number, 0.0),
                number in each.changed,
                each.comments.get(number, ""),
            )
            for each in read
        )
        # The bar itself is left out of the score that it is compared with.
        rest = [totals[each.attempt_id] - each.credit / count for each in written]
        statistics = item_statistics([each.credit for each in written], rest, RIGHT)
        found.append(BarSheet(number, names.get(number, ""), text, written, statistics))
    return tuple(found)


def _section_names(chart: Chart) -> dict[int, str]:
    """The names of sections by the number of the bar that they begin with."""
    names, number = {}, 1
    for section in chart.sections:
        names[number] = section.name
        number += sum(len(phrase.bars) for phrase in section.phrases)
    return names
