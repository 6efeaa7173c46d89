"""Helping a learner who forgot their password: what the teachers of a class may do."""

from __future__ import annotations

from trainer.classroom.classes import Classes
from trainer.errors import ClassError
from trainer.store import Account, Role

__all__ = ["learner_to_help"]


def learner_to_help(classes: Classes, uid: str, account_uid: str) -> Account:
    """The account of a learner of a class, whose teacher may make a link for a new password.

    Another teacher's account, or an owner's, is for the owner of the server alone, also if they
    learn in this class.

    Raises
    ------
    ClassNotFound
        If whoever asks does not teach that class.
    ClassError
        If there is no such learner in it.
    """
    member = next((each for each in classes.members(uid) if each.uid == account_uid), None)
    found = classes.store.accounts.by_uid(account_uid) if member is not None else None
    if member is None or member.is_teacher or found is None:
        raise ClassError("There is no such learner in this class.")
    if found.role is not Role.LEARNER or found.disabled_at is not None:
        raise ClassError(
            f"Ask the owner of the server to make a new password link for {found.shown_name}."
        )
    return found
