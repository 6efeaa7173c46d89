"""What teachers type about an assignment, read from forms; and moments as a form shows them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from trainer.classroom.assignments import AssignmentSettings
from trainer.classroom.items import ItemPlan
from trainer.errors import AssignmentError
from trainer.grade import SCHEMES, Weights

__all__ = [
    "SCHEME_WEIGHTS",
    "form_moment",
    "read_moment",
    "read_plan",
    "read_scheme",
    "read_settings",
    "read_share",
]

# The weights that a teacher changes on the page, with what each is about.
SCHEME_WEIGHTS = (
    ("root", "Chord number"),
    ("quality", "Minor, sevenths and so on"),
    ("bass", "Bass note"),
    ("placement", "Beats in split bars"),
    ("articulation", "Holds, pushes, chokes"),
    ("meter", "Bars of another length"),
    ("key_change", "Key changes"),
    ("phrases", "Phrase ends"),
    ("form", "Order of sections"),
)
HIGHEST = 1e6
Form = Mapping[str, str]


def form_moment(moment: datetime | None) -> str:
    """A moment as a field of a form shows it, on the clock of this machine; "" for none."""
    return "" if moment is None else f"{moment.astimezone():%Y-%m-%dT%H:%M}"


def read_moment(text: str, what: str) -> datetime | None:
    """The moment typed in a field, on the clock of this machine; None for nothing. Raises
    AssignmentError."""
    if not text.strip():
        return None
    try:
        found = datetime.fromisoformat(text.strip())
        if not 2000 <= found.year <= 2199:
            raise ValueError(text)
        return found.astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise AssignmentError(
            f"{what}: found {text[:30]!r}, expected a day and a time such as 2026-03-02 19:30."
        ) from error


def read_number(text: str, what: str) -> float:
    """A number typed in a field. Raises AssignmentError."""
    try:
        found = float(text.strip().replace(",", "."))
    except ValueError:
        found = float("nan")
    if not -HIGHEST < found < HIGHEST:
        raise AssignmentError(f"{what}: found {text[:30]!r}, expected a number.")
    return found


def read_share(text: str, what: str) -> float:
    """A share typed as a per cent, 0 for nothing. Raises AssignmentError."""
    return read_number(text.strip().removesuffix("%") or "0", what) / 100


def read_scheme(form: Form) -> dict[str, Any] | None:
    """The scheme chosen, with the weights that differ from it; None for the usual weights of each
    exercise. Raises AssignmentError."""
    name = form.get("scheme", "")
    changes: dict[str, Any] = {}
    base = SCHEMES.get(name, Weights())
    for part, label in SCHEME_WEIGHTS:
        typed = form.get(f"weight-{part}", "").strip()
        if typed and (value := read_number(typed, label)) != getattr(base, part):
            changes[part] = value
    if not name and not changes:
        return None
    return {"scheme": name or "standard", **changes}


def read_settings(form: Form, scheme: Mapping[str, Any] | None) -> AssignmentSettings:
    """The settings in a form. Raises AssignmentError, SettingsError."""
    return AssignmentSettings(
        title=form.get("title", ""),
        opens_at=read_moment(form.get("opens_at", ""), "Opens"),
        closes_at=read_moment(form.get("closes_at", ""), "Due"),
        late_until=read_moment(form.get("late_until", ""), "Late work until"),
        late_cost=read_share(form.get("late_cost", ""), "Late work loses"),
        scheme=scheme,
        pass_mark=read_share(form.get("pass_mark", "80"), "Mark to pass"),
        tries=int(read_number(form.get("tries", "1"), "Tries")),
        counts=form.get("counts", "best"),
        results=form.get("results", "closed"),
    )


def read_plan(form: Form) -> ItemPlan:
    """What is to be assigned, as the form for adding says. Raises AssignmentError."""
    kind, _, name = form.get("what", "").partition(":")
    skill = ""
    if kind == "skill":
        name, _, skill = name.partition(":")
    listens = form.get("listens", "")
    return ItemPlan(
        kind,
        name,
        skill=skill,
        key=form.get("key", ""),
        same_song=form.get("songs", "same") == "same",
        listens=int(read_number(listens, "Listens")) if listens else None,
        tempo=int(read_number(form.get("tempo", "100"), "Tempo")),
        one_pass=form.get("one_pass", "") == "yes",
        points=read_number(form.get("points", "1"), "Points"),
    )
