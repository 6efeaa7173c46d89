"""What a learner does for a class: see what is due, begin an item, and hand it in.

An item becomes the learner's own exercise under a random id, with a recipe and a seed that make no
song (`trainer.exercise.handed_out_exercise`), so that drafts, listens, stamps and pauses work as
always and nothing that is shown leads to the chart. `place_of` says where an attempt belongs, and
`trainer.drill.submit` stores both in one transaction.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.classroom.assignments import hidden_until, weights_of
from trainer.classroom.grades import best_grade, regrade_answer
from trainer.classroom.items import another_song, draw_seed, level_of_item
from trainer.drill import let_results_count
from trainer.errors import AssignmentClosed, ClassNotFound
from trainer.exercise import ASSIGNED, Exercise, handed_out_exercise, song_digest
from trainer.grade import Weights
from trainer.store import Assigned, AssignedAttempt, Assignment, AssignmentItem, AttemptGrade

if TYPE_CHECKING:
    from trainer.drill import Drill, Drills
    from trainer.store import Account, AttemptRecord, ExerciseRecord, Repositories

__all__ = [
    "IS_HANDED_IN",
    "AssignedPlace",
    "ClassWork",
    "DueAssignment",
    "DueItem",
    "assignment_of",
    "place_of",
]

NOT_HERE = "There is no such work here, or it hasn't opened yet."
IS_OVER = (
    "This assignment is over, so it takes no more work. What you wrote here stays in the field."
)
IS_HANDED_IN = (
    "You've handed this song in. You can play it again once your teacher shows the results."
)
NO_TRY = "You've used all your tries at this item."


def _new_key() -> str:
    """The id of an exercise that is handed out: 144 random bits."""
    return secrets.token_urlsafe(18)


@dataclass(frozen=True, slots=True)
class DueItem:
    """An item as its learner sees it.

    `tries` are those that were handed out and `attempts` those handed in, in their order;
    `is_begun` says whether one is handed out and not handed in.
    """

    item: AssignmentItem
    tries: tuple[Assigned, ...]
    attempts: tuple[AssignedAttempt, ...]
    tries_left: int

    @property
    def is_begun(self) -> bool:
        """Whether a try is under way."""
        return len(self.tries) > len(self.attempts)

    @property
    def is_done(self) -> bool:
        """Whether something was handed in."""
        return bool(self.attempts)

    @property
    def can_work(self) -> bool:
        """Whether a try can begin or go on."""
        return self.is_begun or self.tries_left > 0


@dataclass(frozen=True, slots=True)
class DueAssignment:
    """An assignment as its learner sees it; `shows_results` says whether results are shown now."""

    assignment: Assignment
    class_name: str
    items: tuple[DueItem, ...]
    has_ended: bool
    is_late: bool
    shows_results: bool

    @property
    def done(self) -> int:
        """How many items something was handed in for."""
        return sum(each.is_done for each in self.items)

    @property
    def is_due(self) -> bool:
        """Whether there is something to do that was not done once."""
        return not self.has_ended and any(not each.is_done for each in self.items)


@dataclass(frozen=True, slots=True)
class AssignedPlace:
    """Where an attempt belongs: what was handed out, and how it is graded (`drill.submit`).

    `is_handed_in` says that an answer is there already; another is not taken until its result is
    shown, because the page of another result would show the chart.
    """

    given: Assigned
    item: AssignmentItem
    exercise: Exercise
    weights: Weights
    is_handed_in: bool = False

    def admit(self, store: Repositories, now: datetime) -> datetime | None:
        """Until when the result is hidden, None for not at all. Raises AssignmentClosed if no work
        is taken any more."""
        if self.is_handed_in:
            raise AssignmentClosed(IS_HANDED_IN)
        assignment = self._assignment(store)
        if assignment.has_ended(now):
            raise AssignmentClosed(IS_OVER)
        until = hidden_until(assignment)
        return until if until is None or now < until else None

    def keep(self, store: Repositories, attempt: AttemptRecord, text: str) -> None:
        """Store the attempt in its place, in the transaction that stores the attempt."""
        assignment = self._assignment(store)
        late = assignment.is_late(attempt.finished_at)
        grade = self._grade(store, assignment, attempt, text)
        if late:
            grade = replace(grade, score=grade.graded * (1 - assignment.late_cost))
        at = attempt.finished_at
        store.assigned.add_attempt(
            self.given, attempt.id, grade, at, late=late, counts=attempt.counts
        )

    def _grade(
        self, store: Repositories, assignment: Assignment, attempt: AttemptRecord, text: str
    ) -> AttemptGrade:
        charts = store.class_grades.accepted([self.item.id])
        accepted = [each for each in charts if each.song == self.given.song]
        weights = weights_of(assignment, self.exercise)
        if weights == self.weights:
            return best_grade(self.exercise, text, attempt.score, weights, accepted)
        # The teacher has changed the scheme since the answer was graded.
        detail = store.attempts.get(attempt.id)
        assert detail is not None
        return regrade_answer(self.exercise, text, detail.report, weights, accepted)

    def _assignment(self, store: Repositories) -> Assignment:
        assignment = store.assignments.get(self.item.assignment_id, lock="stay")
        if assignment is None:
            raise AssignmentClosed(IS_OVER)
        return assignment


def place_of(store: Repositories, record: ExerciseRecord, now: datetime) -> AssignedPlace | None:
    """Where an attempt at an exercise belongs; None if it was handed out for nothing, or the result
    of what was handed in is shown, so that another attempt is the learner's own practice."""
    found = assignment_of(store, record)
    given = store.assigned.of_exercise(record) if found is not None else None
    if given is None or found is None:
        return None
    assignment, item = found
    attempts = store.assigned.attempts_of([item.id], given.account_id)
    is_handed_in = any(each.number == given.number for each in attempts)
    if is_handed_in and assignment.shows_results(now):
        return None
    weights = weights_of(assignment, record.exercise)
    return AssignedPlace(given, item, record.exercise, weights, is_handed_in)


def assignment_of(
    store: Repositories, record: ExerciseRecord
) -> tuple[Assignment, AssignmentItem] | None:
    """The assignment and the item that an exercise was handed out for; None if for none."""
    if ASSIGNED not in record.exercise.recipe:
        return None
    given = store.assigned.of_exercise(record)
    item = store.assignments.item_by_id(given.item_id) if given is not None else None
    assignment = store.assignments.get(item.assignment_id) if item is not None else None
    return None if item is None or assignment is None else (assignment, item)


class ClassWork:
    """The work of one account for the classes it learns in.

    Parameters
    ----------
    drills : those of the account's learner; they have the store and the clock.
    key : makes the ids of exercises.
    seed : draws the seeds of songs.
    """

    def __init__(
        self,
        account: Account,
        drills: Drills,
        key: Callable[[], str] = _new_key,
        seed: Callable[[], int] = draw_seed,
    ) -> None:
        self.account, self.drills = account, drills
        self.store, self.clock = drills.store, drills.clock
        self._key, self._seed = key, seed

    def all(self) -> tuple[DueAssignment, ...]:
        """Every assignment that has opened in the account's classes, first due first."""
        assignments = self.store.assignments.open_to(self.account.id, self.clock())
        names = {each.id: each.name for each, _ in self.store.classes.of_account(self.account.id)}
        items = self.store.assignments.items_of([each.id for each in assignments])
        tries, attempts = self._work([each.id for each in items])
        return tuple(
            self._due(
                each,
                names[each.class_id],
                [item for item in items if item.assignment_id == each.id],
                tries,
                attempts,
            )
            for each in assignments
        )

    def find(self, uid: str) -> DueAssignment:
        """An assignment that has opened in a class of the account's. Raises ClassNotFound."""
        found = next((each for each in self.all() if each.assignment.uid == uid), None)
        if found is None:
            raise ClassNotFound(NOT_HERE)
        return found

    def begin(self, item_uid: str) -> Drill:
        """Begin a try at an item, or go on with the one under way.

        Raises
        ------
        ClassNotFound
            If there is no such item in what has opened for the account.
        AssignmentClosed
            If no work is taken any more, or all tries are used.
        """
        item = self.store.assignments.item(item_uid)
        assignment = self.store.assignments.get(item.assignment_id) if item is not None else None
        if item is None or assignment is None:
            raise ClassNotFound(NOT_HERE)
        due = self.find(assignment.uid)
        mine = next(each for each in due.items if each.item.uid == item_uid)
        if due.has_ended:
            raise AssignmentClosed(IS_OVER)
        if not mine.can_work:
            raise AssignmentClosed(NO_TRY)
        let_results_count(self.store, self.drills.learner, self.clock())
        if not mine.is_begun:
            self._hand_out(assignment, item, len(mine.tries) + 1)
        return self._go_on(item)

    def take_down(self, assignment: Assignment, item: AssignmentItem) -> Drill:
        """Hand out the song of a live dictation to be handed in at once; what it was written for
        need not have opened."""
        let_results_count(self.store, self.drills.learner, self.clock())
        self._hand_out(assignment, item, 1)
        return self._go_on(item)

    def _go_on(self, item: AssignmentItem) -> Drill:
        latest = self.store.assigned.of_account(self.account.id, [item.id])[-1]
        drill = self.drills.begin_known(latest.key)
        assert drill is not None
        return drill

    def _hand_out(self, assignment: Assignment, item: AssignmentItem, number: int) -> None:
        whole = self.store.assignments.with_song(item)
        song = whole.exercise
        if not item.same_song:
            song = another_song(whole, self.store.assigned.songs_of(item.id), self._seed)
        handed = self._handed(assignment, item, song)
        learner, now = self.drills.learner, self.clock()

        def work(store: Repositories) -> None:
            store.learners.lock(learner)
            if len(store.assigned.of_account(self.account.id, [item.id])) >= number:
                # Another window has begun the same try.
                return
            if self._has_seen(store, item):
                store.songs.show(learner, [song_digest(handed)])
            record = store.exercises.keep(learner, handed)
            store.assigned.hand_out(item.id, self.account.id, number, record, now)

        self.store.transact(work)

    def _handed(self, assignment: Assignment, item: AssignmentItem, song: Exercise) -> Exercise:
        return handed_out_exercise(
            song,
            self._key(),
            of=item.uid,
            listens=item.listens,
            one_pass=item.one_pass,
            level=level_of_item(item) if assignment.scheme is None else None,
            take=item.take if item.same_song else "",
        )

    def _has_seen(self, store: Repositories, item: AssignmentItem) -> bool:
        """Whether the learner knows the chart of the songbook that an item was made of, whatever
        its tempo is here."""
        digest = item.source.get("digest")
        return digest is not None and store.attempts.has_seen(
            self.drills.learner, digest, self.clock()
        )

    def _work(
        self, item_ids: list[int]
    ) -> tuple[tuple[Assigned, ...], tuple[AssignedAttempt, ...]]:
        return (
            self.store.assigned.of_account(self.account.id, item_ids),
            self.store.assigned.attempts_of(item_ids, self.account.id),
        )

    def _due(
        self,
        assignment: Assignment,
        class_name: str,
        items: list[AssignmentItem],
        tries: tuple[Assigned, ...],
        attempts: tuple[AssignedAttempt, ...],
    ) -> DueAssignment:
        now = self.clock()
        found = []
        for item in items:
            handed = tuple(each for each in tries if each.item_id == item.id)
            back = tuple(each for each in attempts if each.item_id == item.id)
            left = max(0, assignment.tries - len(handed))
            found.append(DueItem(item, handed, back, left))
        return DueAssignment(
            assignment,
            class_name,
            tuple(found),
            assignment.has_ended(now),
            assignment.is_late(now),
            assignment.shows_results(now),
        )
