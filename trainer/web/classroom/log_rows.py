"""The log of changes in words: names in place of ids, moments and shares as people read them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer.web.formatting import moment, percent

if TYPE_CHECKING:
    from trainer.store import AuditEntry, Repositories

__all__ = ["LogRow", "log_rows"]

DELETED, AT_THE_MACHINE = "a deleted account", "somebody at the machine"
# What values of the log are called; others by their own name.
CALLED = {
    "opens_at": "opens", "closes_at": "due", "late_until": "late work until",
    "late_cost": "late work loses", "pass_mark": "mark to pass", "counts": "try that counts",
    "results": "learners see results", "shown_at": "results shown", "scheme": "scoring",
    "scores": "answers graded again",
}  # fmt: skip
MOMENTS = frozenset({"opens_at", "closes_at", "late_until", "shown_at"})
SHARES = frozenset({"late_cost", "pass_mark", "credit", "score"})


@dataclass(frozen=True, slots=True)
class LogRow:
    """An entry of the log, with who and what in words."""

    at: datetime
    who: str
    what: str
    subject: str
    changed: str


def log_rows(store: Repositories, entries: Iterable[AuditEntry]) -> list[LogRow]:
    """Entries of the log in words."""
    entries = list(entries)
    people = {each.uid: each.shown_name for each in store.accounts.all()}
    names = {subject: _name(store, people, subject) for subject in {e.subject for e in entries}}
    return [
        LogRow(
            entry.at,
            AT_THE_MACHINE if entry.who is None else people.get(entry.who, DELETED),
            entry.what,
            names[entry.subject],
            _changes(entry.before or {}, entry.after or {}),
        )
        for entry in entries
    ]


def _name(store: Repositories, people: Mapping[str, str], subject: str) -> str:
    """What a subject is called, as long as it is there."""
    kind, _, uid = subject.partition(" ")
    if kind == "account":
        return people.get(uid, DELETED)
    if kind == "class":
        school_class = store.classes.find(uid)
        return subject if school_class is None else school_class.name
    if kind == "assignment":
        assignment = store.assignments.find(uid)
        return subject if assignment is None else assignment.title
    return subject


def _changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    """What changed, or what was there from the start."""
    parts = []
    for name in sorted({*before, *after}):
        old, new = _value(name, before.get(name)), _value(name, after.get(name))
        if old or new:
            called = CALLED.get(name, name.replace("_", " "))
            is_new = not old or old == new
            parts.append(f"{called}: {new}" if is_new else f"{called}: {old} → {new or 'none'}")
    return "; ".join(parts)


def _value(name: str, value: Any) -> str:
    """A value as people read it, "" for none."""
    if value is None:
        return ""
    if name in MOMENTS:
        return moment(datetime.fromisoformat(value))
    if name in SHARES:
        return percent(value)
    if name == "scores":
        return str(len(value))
    return "changed" if isinstance(value, Mapping) else str(value)
