"""Which learner a browser has chosen: a cookie that no script reads and no other site sends."""

from __future__ import annotations

from urllib.parse import quote, unquote

from starlette.responses import Response

from trainer.errors import SettingsError
from trainer.store.learners import clean_name

__all__ = ["COOKIE", "forget_choice", "read_choice", "remember_choice"]

COOKIE = "learner"
# As long as browsers keep a cookie at most (RFC 6265bis section 5.5).
KEPT_S = 400 * 86_400


def remember_choice(answer: Response, name: str, owner: str) -> None:
    """Have the browser remember a learner.

    `owner` is whom the page was started for: a choice holds only while that is the same.
    """
    value = f"{quote(owner, safe='')}:{quote(name, safe='')}"
    answer.set_cookie(COOKIE, value, max_age=KEPT_S, path="/", httponly=True, samesite="strict")


def forget_choice(answer: Response) -> None:
    """Have the browser forget its choice."""
    answer.delete_cookie(COOKIE, path="/", httponly=True, samesite="strict")


def read_choice(value: str, owner: str) -> str | None:
    """The name in a cookie's value; None if it says none, or was chosen for another owner."""
    whose, colon, name = value.partition(":")
    if not colon or unquote(whose) != owner:
        return None
    try:
        return clean_name(unquote(name))
    except SettingsError:
        # Not a value of ours: whoever wrote it, nobody is chosen.
        return None
