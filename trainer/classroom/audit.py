"""What stands in the log of changes: who did what to whom or what, and the values before and after.

An entry is stored in the transaction of the change itself, so that neither is there without the
other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.store import Account

__all__ = ["Done", "subject_of"]


class Done:
    """What can be done to an account, in the words of the log."""

    MADE = "account made"
    PASSWORD_SET = "password set by a link"  # noqa: S105 - words, not a password
    PASSWORD_CHANGED = "password changed"  # noqa: S105 - words, not a password
    ROLE_CHANGED = "role changed"
    NAME_CHANGED = "shown name changed"
    SWITCHED_OFF = "account switched off"
    SWITCHED_ON = "account switched on"
    LINK_MADE = "link made"
    SIGNED_OUT = "signed out everywhere"
    DELETED = "account deleted"
    CONNECTED = "school sign-in connected"
    DISCONNECTED = "school sign-in disconnected"


def subject_of(account: Account) -> str:
    """What the log calls an account: it says nothing about the person once they are deleted."""
    return f"account {account.uid}"
