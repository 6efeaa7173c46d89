"""Assignments: made and changed by the teachers of a class.

Before it opens everything of an assignment may change. Afterwards only what cannot take anything
from a learner may: later ends, more tries, a lower mark, more listens. Other weights are for
`trainer.classroom.regrading`, which shows what they do first. Every change is logged.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from trainer.classroom.classes import Classes
from trainer.classroom.items import ItemPlan, draw_seed, make_items, with_new_songs
from trainer.errors import AssignmentError, ClassNotFound
from trainer.exercise import Exercise
from trainer.grade import Weights, weights_for, weights_from
from trainer.songbook import Songbook
from trainer.store import Account, Assignment, ClassRecord, ItemWithSong, storable

if TYPE_CHECKING:
    from trainer.store import Learner, Repositories

__all__ = [
    "COUNTS",
    "MOST_ITEMS",
    "NEVER",
    "RESULTS",
    "AssignmentSettings",
    "Assignments",
    "hidden_until",
    "subject_of",
    "weights_of",
]

COUNTS = ("best", "last", "first")
RESULTS = ("at once", "closed", "teacher")
MOST_ITEMS, MOST_TRIES, LONGEST_TITLE = 50, 20, 120
# Results that wait for the teacher are hidden until this moment.
NEVER = datetime(9999, 1, 1, tzinfo=UTC)
NOT_HERE = "There is no such assignment here."
OPENED = "This assignment has opened, so {what}. Learners who've begun would be graded differently."
USELESS_TRY = (
    "Everybody gets the same song and sees its chart with the first result, so further tries can't "
    "count. Show the results later, allow one try, or give everyone a different song."
)


@dataclass(frozen=True, slots=True)
class AssignmentSettings:
    """What a teacher decides about an assignment; the fields are those of
    `trainer.store.Assignment`. Raises AssignmentError for what cannot be."""

    title: str
    opens_at: datetime | None = None
    closes_at: datetime | None = None
    late_until: datetime | None = None
    late_cost: float = 0.0
    scheme: Mapping[str, Any] | None = None
    pass_mark: float = 0.8
    tries: int = 1
    counts: str = "best"
    results: str = "closed"

    def __post_init__(self) -> None:
        title = " ".join(storable(self.title).split())
        if not 1 <= len(title) <= LONGEST_TITLE:
            raise AssignmentError(f"The title needs 1 to {LONGEST_TITLE} characters.")
        object.__setattr__(self, "title", title)
        self._check_times()
        if not 0 <= self.late_cost <= 1 or not 0 <= self.pass_mark <= 1:
            raise AssignmentError("The mark to pass and what lateness costs are 0% to 100%.")
        if not 1 <= self.tries <= MOST_TRIES:
            raise AssignmentError(f"A learner has 1 to {MOST_TRIES} tries.")
        if self.counts not in COUNTS:
            raise AssignmentError(f"Found {self.counts!r}, expected one of {', '.join(COUNTS)}.")
        if self.results not in RESULTS:
            raise AssignmentError(f"Found {self.results!r}, expected one of {', '.join(RESULTS)}.")
        if self.scheme is not None:
            weights_from(dict(self.scheme))

    def _check_times(self) -> None:
        if self.opens_at and self.closes_at and self.closes_at <= self.opens_at:
            raise AssignmentError("An assignment can't be due before it opens.")
        if self.late_until and not self.closes_at:
            raise AssignmentError("Say when the work is due before you say how late it may be.")
        if self.late_until and self.closes_at and self.late_until <= self.closes_at:
            raise AssignmentError("Late work ends after the work is due.")
        if self.results == "closed" and self.closes_at is None:
            raise AssignmentError(
                "Results that come after the end need an end. Say when the work is due, or show "
                "the results at once or yourself."
            )


class Assignments:
    """The assignments of the classes that one account teaches.

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
        self._songbook = Songbook(store, learner, clock)

    def of_class(self, class_uid: str) -> tuple[Assignment, ...]:
        """The assignments of a class, those due last first. Raises ClassNotFound."""
        return self.store.assignments.of_class(self.classes.teach(class_uid).id)

    def find(self, uid: str) -> tuple[ClassRecord, Assignment]:
        """An assignment of a class that the account teaches. Raises ClassNotFound."""
        assignment = self.store.assignments.find(uid)
        found = None if assignment is None else self.store.classes.get(assignment.class_id)
        if assignment is None or found is None:
            raise ClassNotFound(NOT_HERE)
        return self.classes.teach(found.uid), assignment

    def items(self, assignment: Assignment) -> tuple[ItemWithSong, ...]:
        """The items of an assignment in their order, with their songs."""
        return self.store.assignments.items_with_songs(assignment)

    def make(
        self, class_uid: str, settings: AssignmentSettings, plans: Sequence[ItemPlan] = ()
    ) -> Assignment:
        """Make an assignment of a class. Raises ClassNotFound, AssignmentError, SongNotFound,
        NotationError."""
        found = self._open_class(class_uid)
        items = self._made(plans)
        _check_tries(settings, items)
        new = Assignment(
            id=0,
            uid="",
            class_id=found.id,
            shown_at=None,
            made_by=self.account.id,
            made_at=self.clock(),
            **_values(settings),
        )
        return self._add(new, items)

    def change(self, uid: str, settings: AssignmentSettings) -> Assignment:
        """Change an assignment; after it has opened, only what takes nothing from a learner.
        Raises ClassNotFound, AssignmentError."""
        _, before = self.find(uid)
        items = self.items(before)
        _check_tries(settings, items)
        values = _values(settings)
        now = self.clock()
        if before.has_opened(now):
            _check_change(before, settings, now)

        def work(store: Repositories) -> Assignment:
            after = store.assignments.change(before, **values)
            if after.results == "closed" and after.ends_at != before.ends_at:
                store.assigned.hide([each.id for each in items], hidden_until(after) or now)
            self._log(store, "assignment changed", before, after)
            return after

        return self.store.transact(work)

    def add_items(self, uid: str, plan: ItemPlan) -> tuple[ItemWithSong, ...]:
        """Add what a plan makes to an assignment that has not opened. Raises ClassNotFound,
        AssignmentError, SongNotFound, NotationError."""
        assignment = self._not_opened(uid, "nothing can be added to it")
        there = self.items(assignment)
        items = [*there, *self._made([plan])]
        _check_tries(assignment, items)
        return self._set_items(assignment, items, "item added", plan.kind)

    def remove_item(self, uid: str, item_uid: str) -> tuple[ItemWithSong, ...]:
        """Remove an item of an assignment that has not opened. Raises ClassNotFound,
        AssignmentError."""
        assignment = self._not_opened(uid, "nothing can be taken out of it")
        items = [each for each in self.items(assignment) if each.uid != item_uid]
        return self._set_items(assignment, items, "item removed", item_uid)

    def move_item(self, uid: str, item_uid: str, place: int) -> tuple[ItemWithSong, ...]:
        """Move an item to a place (from 1) of an assignment that has not opened. Raises
        ClassNotFound, AssignmentError."""
        assignment = self._not_opened(uid, "its order stays")
        items = list(self.items(assignment))
        moved = _item_of(items, item_uid)
        items.remove(moved)
        items.insert(min(max(place, 1), len(items) + 1) - 1, moved)
        return self._set_items(assignment, items, "item moved", item_uid)

    def change_item(
        self,
        uid: str,
        item_uid: str,
        *,
        title: str | None = None,
        points: float | None = None,
        new_song: bool = False,
    ) -> ItemWithSong:
        """Give an item another title, and before the assignment opens other points or another song
        as difficult. Raises ClassNotFound, AssignmentError."""
        if new_song or points is not None:
            assignment = self._not_opened(uid, "its songs and points stay")
        else:
            _, assignment = self.find(uid)
        items = list(self.items(assignment))
        before = _item_of(items, item_uid)
        after = with_new_songs(before, self._seed) if new_song else before
        after = replace(
            after,
            title=before.title if title is None else _clean_title(title),
            points=before.points if points is None else points,
        )
        items[items.index(before)] = after
        self._set_items(assignment, items, "item changed", item_uid)
        return after

    def allow_listens(self, uid: str, item_uid: str, listens: int) -> ItemWithSong:
        """Allow an item to be heard more often, 0 for without limit; what was handed out already
        keeps its number. Raises ClassNotFound, AssignmentError for fewer listens."""
        _, assignment = self.find(uid)
        items = list(self.items(assignment))
        before = _item_of(items, item_uid)
        is_fewer = before.listens == 0 or 0 < listens < before.listens
        if before.one_pass or not 0 <= listens <= 9 or (is_fewer and listens != before.listens):
            raise AssignmentError("A song may be heard more often than before, not less.")
        after = replace(before, listens=listens)
        items[items.index(before)] = after
        self._set_items(assignment, items, "listens changed", item_uid)
        return after

    def copy(self, uid: str, to_class: str, *, new_songs: bool = True) -> Assignment:
        """Copy an assignment to a class that the account teaches, without its times; with
        `new_songs`, generated songs become others as difficult. Raises ClassNotFound."""
        _, source = self.find(uid)
        target = self._open_class(to_class)
        items = self.items(source)
        if new_songs:
            items = tuple(with_new_songs(each, self._seed) for each in items)
        copied = replace(
            source,
            class_id=target.id,
            opens_at=None,
            closes_at=None,
            late_until=None,
            shown_at=None,
            results="teacher" if source.results == "closed" else source.results,
            made_by=self.account.id,
            made_at=self.clock(),
            copied_from=source.uid,
        )
        return self._add(copied, items)

    def show_results(self, uid: str) -> Assignment:
        """Let the learners see their results from now on. Raises ClassNotFound."""
        _, before = self.find(uid)
        now = self.clock()
        if before.shows_results(now):
            return before

        def work(store: Repositories) -> Assignment:
            after = store.assignments.change(before, shown_at=now)
            store.assigned.hide([each.id for each in store.assignments.items(before)], now)
            self._log(store, "results shown", before, after)
            return after

        return self.store.transact(work)

    def delete(self, uid: str) -> None:
        """Remove an assignment for which nothing was handed out yet. Raises ClassNotFound,
        AssignmentError."""
        _, assignment = self.find(uid)
        if self.store.assigned.any_handed_out(assignment.id):
            raise AssignmentError("Learners have worked at this assignment, so it stays.")

        def work(store: Repositories) -> None:
            store.assignments.delete(assignment)
            self._log(store, "assignment deleted", assignment, None)

        self.store.transact(work)

    def _made(self, plans: Sequence[ItemPlan]) -> list[ItemWithSong]:
        made = [item for plan in plans for item in make_items(plan, self._songbook, self._seed)]
        if len(made) > MOST_ITEMS:
            raise AssignmentError(f"An assignment has up to {MOST_ITEMS} items.")
        return made

    def _add(self, new: Assignment, items: Sequence[ItemWithSong]) -> Assignment:
        placed = [replace(each, position=place) for place, each in enumerate(items, 1)]

        def work(store: Repositories) -> Assignment:
            made = store.assignments.add(new, placed)
            self._log(store, "assignment made", made, made)
            return made

        return self.store.transact(work)

    def _set_items(
        self, assignment: Assignment, items: Sequence[ItemWithSong], what: str, about: str
    ) -> tuple[ItemWithSong, ...]:
        if len(items) > MOST_ITEMS:
            raise AssignmentError(f"An assignment has up to {MOST_ITEMS} items.")
        placed = [replace(each, position=place) for place, each in enumerate(items, 1)]
        now = self.clock()

        def work(store: Repositories) -> tuple[ItemWithSong, ...]:
            store.assignments.set_items(assignment, placed)
            store.audit_log.add(
                what, subject_of(assignment), at=now, who=self.account.uid, after={"item": about}
            )
            return store.assignments.items_with_songs(assignment)

        return self.store.transact(work)

    def _not_opened(self, uid: str, what: str) -> Assignment:
        _, assignment = self.find(uid)
        if assignment.has_opened(self.clock()):
            raise AssignmentError(OPENED.format(what=what))
        return assignment

    def _open_class(self, uid: str) -> ClassRecord:
        found = self.classes.teach(uid)
        if found.closed_at is not None:
            raise AssignmentError(f"{found.name} is closed. Open it again to assign something.")
        return found

    def _log(
        self, store: Repositories, what: str, before: Assignment, after: Assignment | None
    ) -> None:
        store.audit_log.add(
            what,
            subject_of(before),
            at=self.clock(),
            who=self.account.uid,
            before=None if before is after else _plain(before),
            after=None if after is None else _plain(after),
        )


def subject_of(assignment: Assignment) -> str:
    """What the log calls an assignment."""
    return f"assignment {assignment.uid}"


def hidden_until(assignment: Assignment) -> datetime | None:
    """When the results of an assignment are shown that are not shown now; None if they are shown at
    once."""
    if assignment.results == "at once" or assignment.shown_at is not None:
        return None
    if assignment.results == "closed":
        return assignment.ends_at
    return NEVER


def weights_of(assignment: Assignment, exercise: Exercise) -> Weights:
    """What counts how much in an exercise of an assignment: its scheme, or the usual weights of
    what the exercise asks."""
    if assignment.scheme is None:
        return weights_for(exercise.ask)
    return weights_from(dict(assignment.scheme))


def _values(settings: AssignmentSettings) -> dict[str, Any]:
    return {field.name: getattr(settings, field.name) for field in fields(settings)}


def _plain(assignment: Assignment) -> dict[str, Any]:
    """The values of an assignment for the log."""
    names = {field.name for field in fields(AssignmentSettings)} | {"shown_at"}
    return {
        name: value.isoformat() if isinstance(value, datetime) else value
        for name, value in asdict(assignment).items()
        if name in names
    }


def _item_of(items: Sequence[ItemWithSong], uid: str) -> ItemWithSong:
    found = next((each for each in items if each.uid == uid), None)
    if found is None:
        raise ClassNotFound("There is no such item in this assignment.")
    return found


def _clean_title(title: str) -> str:
    cleaned = " ".join(storable(title).split())
    if not 1 <= len(cleaned) <= LONGEST_TITLE:
        raise AssignmentError(f"The title needs 1 to {LONGEST_TITLE} characters.")
    return cleaned


def _check_tries(settings: AssignmentSettings | Assignment, items: Sequence[ItemWithSong]) -> None:
    """Raise AssignmentError for further tries at a song whose chart was shown after the first."""
    is_shown = settings.results == "at once" and settings.tries > 1
    if is_shown and any(each.same_song for each in items):
        raise AssignmentError(USELESS_TRY)


def _check_change(before: Assignment, after: AssignmentSettings, now: datetime) -> None:
    """Raise AssignmentError for a change that would take something from learners who have begun."""
    problems = {
        "it stays open": after.opens_at != before.opens_at,
        "it can't be due sooner": _ends_sooner(after.closes_at, before.closes_at),
        "late work can't end sooner": before.late_until is not None
        and after.closes_at == before.closes_at
        and _is_sooner(after.late_until, before.late_until),
        "lateness can't cost more": after.late_cost > before.late_cost
        and before.late_until is not None,
        "the mark to pass can't be raised": after.pass_mark > before.pass_mark,
        "learners keep their tries": after.tries < before.tries,
        "which try counts stays": after.counts != before.counts and before.tries > 1,
        "its weights are changed in the gradebook, where you see what they do": (
            after.scheme != before.scheme
        ),
        "when results are shown stays": after.results != before.results,
    }
    found = next((what for what, is_so in problems.items() if is_so), None)
    if found is not None:
        raise AssignmentError(OPENED.format(what=found))
    if before.shows_results(now) and before.results != "at once":
        is_longer = after.closes_at != before.closes_at or after.late_until != before.late_until
        if is_longer or after.tries != before.tries:
            raise AssignmentError(
                "The results are shown, so the charts are known. Copy the assignment with new "
                "songs to give more time."
            )


def _ends_sooner(after: datetime | None, before: datetime | None) -> bool:
    """Whether work is due sooner than before; None is never."""
    return after is not None and (before is None or after < before)


def _is_sooner(after: datetime | None, before: datetime | None) -> bool:
    """Whether late work ends sooner than before; None is not at all."""
    return before is not None and (after is None or after < before)
