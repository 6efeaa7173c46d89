"""The gradebook: learners by items and by skills, and one learner's work.

How the class wrote one song, bar by bar, is in `trainer.classroom.class_sheet`. Everything is read
in a number of queries that does not depend on how many learners or items there are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.classroom.assignments import Assignments
from trainer.classroom.skill_sums import AttemptKey, SkillSums, Sums
from trainer.classroom.statistics import ItemStatistics, item_statistics
from trainer.errors import ClassNotFound
from trainer.exercise import exercise_from_json
from trainer.practice import Conditions, Tally, attempt_tally
from trainer.store import (
    AssignedAttempt,
    Assignment,
    AssignmentItem,
    ClassRecord,
    EarlierGrade,
    Member,
    Override,
)

if TYPE_CHECKING:
    from trainer.store import Account, Learner, Repositories

__all__ = [
    "Cell",
    "GradeRow",
    "GradeTable",
    "Gradebook",
    "LearnerWork",
    "SkillCell",
    "SkillTable",
    "Try",
    "counted",
    "row_of",
]

_SUMS = SkillSums()


@dataclass(frozen=True, slots=True)
class Cell:
    """What a learner has for an item: every attempt, and the one that counts, None if none does.

    `is_changed` says whether the teacher changed or commented on a bar of it.
    """

    attempts: tuple[AssignedAttempt, ...] = ()
    counting: AssignedAttempt | None = None
    is_changed: bool = False

    @property
    def score(self) -> float | None:
        """The score that counts; None without one."""
        return None if self.counting is None else self.counting.grade.score

    @property
    def is_practice(self) -> bool:
        """Whether something was handed in and none of it counts."""
        return bool(self.attempts) and self.counting is None


@dataclass(frozen=True, slots=True)
class GradeRow:
    """A learner's row. `score` is the mean over all items, weighted by their points, with nothing
    for what is missing; `so_far` is over what is there, None for nothing."""

    member: Member
    cells: tuple[Cell, ...]
    score: float
    so_far: float | None
    passed: bool

    @property
    def done(self) -> int:
        """For how many items there is a score."""
        return sum(cell.score is not None for cell in self.cells)


@dataclass(frozen=True, slots=True)
class GradeTable:
    """Learners by items. `statistics` has one entry for each item, `mean` is the class's mean score
    of those who handed in something, None without them."""

    school_class: ClassRecord
    assignment: Assignment
    items: tuple[AssignmentItem, ...]
    rows: tuple[GradeRow, ...]
    statistics: tuple[ItemStatistics, ...]
    mean: float | None


@dataclass(frozen=True, slots=True)
class SkillCell:
    """How a learner did in a skill: in how many bars it was, and the share of credit, 0 to 1."""

    bars: int
    credit: float


@dataclass(frozen=True, slots=True)
class SkillTable:
    """Learners by skills, over the attempts that count; the class as a whole in `all`."""

    school_class: ClassRecord
    assignment: Assignment
    skills: tuple[str, ...]
    rows: tuple[tuple[Member, Mapping[str, SkillCell]], ...]
    all: Mapping[str, SkillCell]


@dataclass(frozen=True, slots=True)
class Try:
    """One attempt of a learner at an item, with what the teacher changed and the grades before."""

    attempt: AssignedAttempt
    counts: bool
    overrides: tuple[Override, ...]
    earlier: tuple[EarlierGrade, ...] = ()


@dataclass(frozen=True, slots=True)
class LearnerWork:
    """One learner's work for an assignment: each item with its tries."""

    school_class: ClassRecord
    assignment: Assignment
    row: GradeRow
    items: tuple[tuple[AssignmentItem, tuple[Try, ...]], ...]


class Gradebook:
    """The gradebook of one account, over the classes that it teaches."""

    def __init__(
        self, store: Repositories, account: Account, learner: Learner, clock: Callable[[], datetime]
    ) -> None:
        self.store, self.clock = store, clock
        self._assignments = Assignments(store, account, learner, clock)

    def table(self, uid: str) -> GradeTable:
        """Learners by items of an assignment. Raises ClassNotFound."""
        found, assignment = self._assignments.find(uid)
        items = self.store.assignments.items(assignment)
        ids = [each.id for each in items]
        attempts = self.store.assigned.attempts_of(ids)
        changed = self.store.class_grades.overrides_of(ids).keys()
        members = self.store.classes.members(found.id)
        rows = _rows(assignment, items, members, attempts, changed)
        means = [row.score for row in rows if row.done]
        return GradeTable(
            found,
            assignment,
            items,
            rows,
            tuple(_statistics(assignment, items, rows)),
            sum(means) / len(means) if means else None,
        )

    def skills(self, uid: str) -> SkillTable:
        """Learners by skills, over what counts of an assignment. Raises ClassNotFound."""
        table = self.table(uid)
        counting = [
            (row.member, cell.counting)
            for row in table.rows
            for cell in row.cells
            if cell.counting is not None
        ]
        attempts = {_key(member, one): one for member, one in counting}

        def make(lacking: list[AttemptKey]) -> Mapping[AttemptKey, Sums]:
            return self._skill_sums(table.items, {key: attempts[key] for key in lacking})

        sums = _SUMS.of(attempts, make)
        whole = Tally()
        own = {row.member.account_id: Tally() for row in table.rows}
        for member, attempt in counting:
            shown = sums[_key(member, attempt)]
            whole.add_skills(shown)
            own[member.account_id].add_skills(shown)
        everybody = _cells(whole)
        ordered = sorted(everybody, key=lambda skill: (everybody[skill].credit, skill))
        rows = tuple((row.member, _cells(own[row.member.account_id])) for row in table.rows)
        return SkillTable(table.school_class, table.assignment, tuple(ordered), rows, everybody)

    def _skill_sums(
        self, items: Sequence[AssignmentItem], attempts: Mapping[AttemptKey, AssignedAttempt]
    ) -> Mapping[AttemptKey, Sums]:
        """What some attempts showed of each skill, from their graded bars."""
        data = self.store.assigned.exercises_of([each.id for each in items])
        exercises = {key: exercise_from_json(value) for key, value in data.items()}
        bars = self.store.attempts.bars([attempt.attempt_id for attempt in attempts.values()])
        found = {}
        for key, attempt in attempts.items():
            exercise = exercises[attempt.item_id, attempt.song]
            how = Conditions(attempt.handed_in_at, attempt.listens, attempt.paused)
            found[key] = dict(attempt_tally(exercise, bars[attempt.attempt_id], how).skills)
        return found

    def learner(self, uid: str, account_uid: str) -> LearnerWork:
        """One learner's work for an assignment. Raises ClassNotFound."""
        table = self.table(uid)
        row = next((each for each in table.rows if each.member.uid == account_uid), None)
        if row is None:
            raise ClassNotFound("There is nobody like that in this class.")
        grades = self.store.class_grades
        overrides = grades.overrides_of([each.id for each in table.items])
        ids = [attempt.attempt_id for cell in row.cells for attempt in cell.attempts]
        earlier = grades.earlier_of(ids)
        found = []
        for item, cell in zip(table.items, row.cells, strict=True):
            tries = tuple(
                Try(
                    attempt,
                    attempt is cell.counting,
                    overrides.get(attempt.attempt_id, ()),
                    earlier.get(attempt.attempt_id, ()),
                )
                for attempt in cell.attempts
            )
            found.append((item, tries))
        return LearnerWork(table.school_class, table.assignment, row, tuple(found))


def _key(member: Member, attempt: AssignedAttempt) -> AttemptKey:
    return member.uid, attempt.attempt_id, attempt.handed_in_at


def row_of(store: Repositories, assignment: Assignment, account_id: int) -> GradeRow | None:
    """An account's row in the gradebook of an assignment; None if it has none."""
    items = store.assignments.items(assignment)
    attempts = store.assigned.attempts_of([each.id for each in items], account_id)
    member = store.classes.member(assignment.class_id, account_id)
    rows = _rows(assignment, items, [] if member is None else [member], attempts, ())
    return rows[0] if rows else None


def counted(attempts: Iterable[AssignedAttempt], counts: str) -> AssignedAttempt | None:
    """The attempt that counts: the best (of equal ones the first), last or first of those at which
    the learner listened and had not seen the chart; None if there is none."""
    in_order = sorted((each for each in attempts if each.counts), key=lambda each: each.number)
    if not in_order:
        return None
    if counts == "best":
        return max(in_order, key=lambda each: each.grade.score)
    return in_order[-1 if counts == "last" else 0]


def _rows(
    assignment: Assignment,
    items: Sequence[AssignmentItem],
    members: Sequence[Member],
    attempts: Sequence[AssignedAttempt],
    changed: Iterable[int],
) -> tuple[GradeRow, ...]:
    """A row for every learner who is in the class, or handed in something before they left."""
    work: dict[tuple[int, int], list[AssignedAttempt]] = {}
    for attempt in attempts:
        work.setdefault((attempt.account_id, attempt.item_id), []).append(attempt)
    worked = {account for account, _ in work}
    with_changes = frozenset(changed)
    rows = []
    for member in members:
        is_here = member.role == "learner" and member.left_at is None
        if not is_here and member.account_id not in worked:
            continue
        cells = tuple(
            _cell(work.get((member.account_id, item.id), ()), assignment.counts, with_changes)
            for item in items
        )
        rows.append(_row(assignment, items, member, cells))
    return tuple(rows)


def _cell(attempts: Sequence[AssignedAttempt], counts: str, changed: frozenset[int]) -> Cell:
    is_changed = any(each.attempt_id in changed for each in attempts)
    return Cell(tuple(attempts), counted(attempts, counts), is_changed)


def _row(
    assignment: Assignment,
    items: Sequence[AssignmentItem],
    member: Member,
    cells: tuple[Cell, ...],
) -> GradeRow:
    scored = [
        (item.points, cell.score)
        for item, cell in zip(items, cells, strict=True)
        if cell.score is not None
    ]
    got = sum(points * score for points, score in scored)
    there = sum(points for points, _ in scored)
    everything = sum(item.points for item in items)
    score = got / everything if everything else 0.0
    passed = bool(items) and score >= assignment.pass_mark - 1e-9
    return GradeRow(member, cells, score, got / there if there else None, passed)


def _statistics(
    assignment: Assignment, items: Sequence[AssignmentItem], rows: Sequence[GradeRow]
) -> Iterator[ItemStatistics]:
    """The statistics of each item: its scores, with each learner's score in all other items."""
    everything = sum(item.points for item in items)
    for at, item in enumerate(items):
        other = everything - item.points
        scores, rest = [], []
        for row in rows:
            score = row.cells[at].score
            if score is not None:
                scores.append(score)
                rest.append(row.score * everything - item.points * score)
        beside = [got / other for got in rest] if len(items) > 1 else None
        yield item_statistics(scores, beside, assignment.pass_mark)


def _cells(tally: Tally) -> dict[str, SkillCell]:
    return {
        skill: SkillCell(bars, credit / bars) for skill, (bars, credit, _) in tally.skills.items()
    }
