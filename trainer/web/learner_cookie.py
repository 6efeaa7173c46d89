"""Which learner a browser has chosen: a cookie that no script reads and no other site sends."""

from __future__ import annotations

from urllib.parse import quote, unquote

from starlette.responses import Response

__all__ = ["LEARNER_COOKIE", "forget_learner", "read_learner", "remember_learner"]

LEARNER_COOKIE = "learner"
# As long as browsers keep a cookie at most (RFC 6265bis section 5.5).
KEPT_S = 400 * 86_400
# A learner's uid is shorter.
LONGEST_UID = 100


def remember_learner(answer: Response, uid: str, owner: str) -> None:
    """Have the browser remember the learner of that uid.

    `owner` is the name that the page was started for: a choice holds only while that is the same.
    """
    value = f"{quote(owner, safe='')}:{quote(uid, safe='')}"
    answer.set_cookie(
        LEARNER_COOKIE, value, max_age=KEPT_S, path="/", httponly=True, samesite="strict"
    )


def forget_learner(answer: Response) -> None:
    """Have the browser forget its choice."""
    answer.delete_cookie(LEARNER_COOKIE, path="/", httponly=True, samesite="strict")


def read_learner(value: str, owner: str) -> str | None:
    """The uid in a cookie's value; None if it has none, or was chosen for another owner."""
    chosen_for, _, uid = value.partition(":")
    if unquote(chosen_for) != owner or not 0 < len(uid) <= LONGEST_UID:
        return None
    return unquote(uid)
