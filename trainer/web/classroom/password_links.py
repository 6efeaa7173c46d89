"""A teacher's link with which a learner of the class sets a new password."""

from __future__ import annotations

from fastapi import APIRouter, Depends
from fastapi.responses import HTMLResponse

from trainer.classroom.password_help import learner_to_help
from trainer.web.classroom.access import TEACHERS, Teacher
from trainer.web.classroom.classes import classes_of
from trainer.web.classroom.people import link_page

__all__ = ["router"]

router = APIRouter(prefix="/classes", dependencies=[Depends(TEACHERS)])


@router.post("/{uid}/members/{account_uid}/password")
def password_link(context: Teacher, uid: str, account_uid: str) -> HTMLResponse:
    """Show a link to hand on."""
    account = learner_to_help(classes_of(context), uid, account_uid)
    token = context.server.accounts.reset_link(account, context.account)
    return link_page(context, token, account, f"/classes/{uid}")
