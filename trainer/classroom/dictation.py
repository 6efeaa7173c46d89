"""Live dictation: a teacher plays a song to the room, and the class writes it at once.

Its state is in the store alone, so that any server process can answer. A learner sees the phase,
its revision and their own text, and nothing of the song: what they write becomes an exercise of
theirs only at the end, when it is graded and stored as an attempt at an assignment whose results
wait for the teacher.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer.classroom.assignments import Assignments
from trainer.classroom.classes import Classes
from trainer.classroom.dictation_answers import KEPT, item_of, sounding_bar, whole_song
from trainer.classroom.handing_out import ClassWork, place_of
from trainer.classroom.items import ItemPlan, draw_seed, make_items
from trainer.drill import Drills, submit
from trainer.errors import AssignmentError, ClassNotFound
from trainer.exercise import exercise_to_json
from trainer.songbook import Songbook
from trainer.store import Assignment, Dictation, ItemWithSong, storable

if TYPE_CHECKING:
    from trainer.store import Account, DictationAnswer, Learner, Repositories

__all__ = ["IS_OVER", "NOT_HERE", "DictationDesk"]

NOT_HERE = "There is no such dictation here."
IS_OVER = "This dictation is over."
LONGEST_TITLE = 120


class DictationDesk:
    """The dictations of the classes that one account teaches.

    Parameters
    ----------
    learner : the account's own learner, whose songbook songs come from.
    clock : gives the moment, aware and in UTC.
    seed : draws the seeds of songs.
    """

    def __init__(
        self,
        store: Repositories,
        account: Account,
        learner: Learner,
        clock: Callable[[], datetime],
        seed: Callable[[], int] = draw_seed,
    ) -> None:
        self.store, self.account, self.clock = store, account, clock
        self._seed = seed
        self.classes = Classes(store, account, clock)
        self._assignments = Assignments(store, account, learner, clock, seed)
        self._songbook = Songbook(store, learner, clock)

    def start(self, class_uid: str, plan: ItemPlan, title: str = "") -> Dictation:
        """Begin a dictation with a song that is made by a plan. Raises ClassNotFound,
        AssignmentError, SongNotFound, NotationError."""
        if plan.kind == "skill":
            raise AssignmentError("A dictation is one song. Choose a level, a recipe or a song.")
        return self._start(class_uid, make_items(plan, self._songbook, self._seed)[0], title)

    def start_item(self, class_uid: str, item_uid: str, title: str = "") -> Dictation:
        """Begin a dictation with the song of an item of an assignment that the account teaches.
        Raises ClassNotFound, AssignmentError."""
        item = self.store.assignments.item(item_uid)
        assignment = None if item is None else self.store.assignments.get(item.assignment_id)
        if item is None or assignment is None:
            raise ClassNotFound("There is no such item here.")
        self._assignments.find(assignment.uid)
        if not item.same_song:
            raise AssignmentError("Everybody has a song of their own there. Choose another item.")
        return self._start(class_uid, self.store.assignments.with_song(item), title)

    def find(self, uid: str) -> Dictation:
        """A dictation of a class that the account teaches. Raises ClassNotFound."""
        found = self.store.dictations.find(uid)
        school_class = None if found is None else self.store.classes.get(found.class_id)
        if found is None or school_class is None:
            raise ClassNotFound(NOT_HERE)
        self.classes.teach(school_class.uid)
        return found

    def of_class(self, class_uid: str) -> tuple[Dictation, ...]:
        """The dictations of a class, newest first. Raises ClassNotFound."""
        return self.store.dictations.of_class(self.classes.teach(class_uid).id)

    def play(self, uid: str, first: int = 1, last: int | None = None) -> Dictation:
        """Note that the band begins now, from a bar up to a bar, or to the end. Raises
        ClassNotFound, AssignmentError."""
        bars = self.find(uid).bars
        end = bars if last is None else last
        if not 1 <= first <= end <= bars:
            raise AssignmentError(f"The song has bars 1 to {bars}. Found {first} to {end}.")

        def begun(dictation: Dictation, now: datetime) -> dict[str, Any]:
            return {
                "phase": "playing",
                "first_bar": first,
                "last_bar": end,
                "began_at": now,
                "plays": dictation.plays + (first == 1),
            }

        return self._change(uid, begun)

    def stop(self, uid: str) -> Dictation:
        """Note that the band has stopped. Raises ClassNotFound, AssignmentError."""
        self.find(uid)
        return self._change(uid, lambda _, __: {"phase": "stopped"})

    def end(self, uid: str) -> Dictation:
        """End a dictation and grade what was written, each answer in a transaction of its own.

        If the server stops on the way, ending it again goes on. Raises ClassNotFound.
        """
        found = self.find(uid)
        if not found.is_over:
            found = self._change(
                uid, lambda _, now: {"phase": "over", "ended_at": now}, may_be_over=True
            )
        assignment = self.store.transact(lambda store: self._assignment(store, uid))
        (item,) = self.store.assignments.items_with_songs(assignment)
        for answer in self.store.dictations.answers(found):
            if answer.text.strip() and answer.attempt_id is None:
                self._grade(found, assignment, item, answer)
        if assignment.opens_at is None:
            moments = {"opens_at": found.made_at, "closes_at": self.clock()}
            self.store.assignments.change(assignment, **moments)
        return self.find(uid)

    def assignment(self, dictation: Dictation) -> Assignment | None:
        """The assignment where the answers of a dictation are; None before its end."""
        if dictation.assignment_id is None:
            return None
        return self.store.assignments.get(dictation.assignment_id)

    def _start(self, class_uid: str, item: ItemWithSong, title: str) -> Dictation:
        found = self.classes.teach(class_uid)
        if found.closed_at is not None:
            raise AssignmentError(f"{found.name} is closed. Open it again to play to it.")
        called = " ".join(storable(title).split()) or "Dictation"
        if len(called) > LONGEST_TITLE:
            raise AssignmentError(f"The title needs 1 to {LONGEST_TITLE} characters.")
        song = {name: getattr(item, name) for name in KEPT}
        song["source"] = dict(item.source)
        song["exercise"] = exercise_to_json(replace(item.exercise, take=item.take))
        bars = len(item.exercise.chart.bars())
        return self.store.dictations.add(
            found.id, called, song, bars, self.account.id, self.clock()
        )

    def _change(
        self,
        uid: str,
        values: Callable[[Dictation, datetime], dict[str, Any]],
        *,
        may_be_over: bool = False,
    ) -> Dictation:
        """Change a dictation with what has sounded until now. One that is over is left as it is
        with `may_be_over`. Raises ClassNotFound; AssignmentError if it is over otherwise."""
        now = self.clock()

        def work(store: Repositories) -> Dictation:
            before = store.dictations.find(uid, lock="change")
            if before is None:
                raise ClassNotFound(NOT_HERE)
            if before.is_over:
                if may_be_over:
                    return before
                raise AssignmentError(IS_OVER)
            song = whole_song(store.dictations.song(before))
            heard = max(before.heard, sounding_bar(before, song, now))
            changed = values(before, now) | {"revision": before.revision + 1, "heard": heard}
            store.dictations.change(before, **changed)
            if changed["phase"] == "over":
                store.dictations.hand_in(before.id, None, now)
            return replace(before, **changed)

        return self.store.transact(work)

    def _assignment(self, store: Repositories, uid: str) -> Assignment:
        """The assignment of a dictation that is over, made if it is not there yet."""
        found = store.dictations.find(uid, lock="change")
        assert found is not None
        if found.assignment_id is not None:
            made = store.assignments.get(found.assignment_id)
            if made is None:
                raise ClassNotFound(NOT_HERE)
            return made
        new = Assignment(
            id=0,
            uid="",
            class_id=found.class_id,
            title=found.title,
            opens_at=None,
            closes_at=None,
            late_until=None,
            late_cost=0.0,
            scheme=None,
            pass_mark=0.8,
            tries=1,
            counts="best",
            results="teacher",
            shown_at=None,
            made_by=self.account.id,
            made_at=self.clock(),
        )
        made = store.assignments.add(new, [item_of(found, store.dictations.song(found))])
        store.dictations.change(found, assignment_id=made.id)
        store.audit_log.add(
            "dictation ended",
            f"assignment {made.uid}",
            at=self.clock(),
            who=self.account.uid,
            after={"title": found.title},
        )
        return made

    def _grade(
        self,
        dictation: Dictation,
        assignment: Assignment,
        item: ItemWithSong,
        answer: DictationAnswer,
    ) -> None:
        """Hand the song out to who wrote an answer, and hand the answer in."""

        def work(store: Repositories) -> None:
            # Another request that ends the dictation waits for this, and the other way round.
            store.dictations.find(dictation.uid, lock="change")
            now_written = store.dictations.answer(dictation.id, answer.account_id)
            if now_written is None or now_written.attempt_id is not None:
                return
            account = store.accounts.by_id(answer.account_id)
            learner = None if account is None else store.learners.by_id(account.learner_id)
            if account is None or learner is None:
                return
            # On a clock that stands still: nobody knows how long the learner worked.
            now = self.clock()
            drills = Drills(store, learner, lambda: now)
            drill = ClassWork(account, drills).take_down(assignment, item)
            for _ in range(dictation.plays):
                drills.listen(drill.record.key, token=drill.token)
            place = place_of(store, drill.record, now)
            done = submit(
                drills, drill.record.key, answer.text, token=drill.token, paused=True, place=place
            )
            store.dictations.set_attempt(dictation.id, account.id, done.attempt.id)

        self.store.transact(work)
