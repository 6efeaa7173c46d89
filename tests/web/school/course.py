"""A class of a course whose scores a platform takes."""

from __future__ import annotations

from typing import Any

from tests.web.classroom.lockside import Lockside
from tests.web.classroom.school import School
from tests.web.school.platform import (
    INSTRUCTOR,
    ISSUER,
    LTI,
    WeirPlatform,
    line_item,
)
from trainer.classroom.passback import Passback
from trainer.store import Waiting


def lockside_of(college: School) -> Lockside:
    """A class whose learners are people of the platform, and which is the class of its course."""
    made = Lockside(college)
    store, now = college.store, college.clock()
    found = store.classes.find(made.class_uid)
    assert found is not None
    store.lti.add_course(ISSUER, "1", "choir", found.id, now)
    for name in ("ada", "wren", "zoe"):
        store.identities.add(made.account(name), ISSUER, f"P-{name}", now)
    return made


def passback(lockside: Lockside) -> Passback:
    """What sends the scores of the server."""
    learning = lockside.school.app.state.systems.learning
    assert learning is not None
    found: Passback = learning.passback
    return found


def link(lockside: Lockside, platform: WeirPlatform, uid: str, **more: Any) -> None:
    """The teacher opens the link of an assignment in the course, so that its line item is known."""
    custom = {f"{LTI}custom": {"assignment": uid}}
    platform.launch(
        lockside.school.browser(), "P-ada", (INSTRUCTOR,), **(line_item() | custom | more)
    )


def waiting(lockside: Lockside, uid: str) -> Waiting | None:
    """How the scores of an assignment are on their way."""
    assignment = lockside.school.store.assignments.find(uid)
    assert assignment is not None
    return lockside.school.store.lti.waiting(assignment.id)
