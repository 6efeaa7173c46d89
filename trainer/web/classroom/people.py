"""The accounts of the server, for its owner: roles, links, switching off, deleting, and the log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends, Form, HTTPException, Query
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from trainer.errors import AccountError
from trainer.store import Role
from trainer.web.classroom.access import OWNERS, Owner, PersonContext
from trainer.web.classroom.log_rows import log_rows
from trainer.web.numbers import MOST_NUMBER

if TYPE_CHECKING:
    from trainer.store import Account

__all__ = ["link_page", "router"]

router = APIRouter(prefix="/people", dependencies=[Depends(OWNERS)])
SEE_OTHER, NOT_FOUND, WRONG = 303, 404, 422
LOG_PAGE = 100
Field = Annotated[str, Form()]


@dataclass(frozen=True, slots=True)
class PersonRow:
    """An account as listed; `last` is the day of its last use, None if it is not signed in."""

    account: Account
    last: date | None
    is_self: bool


@router.get("")
def people(context: Owner) -> Response:
    """Everybody who has an account."""
    return _page(context)


@router.post("/invite")
def invite(context: Owner) -> Response:
    """A link with which a teacher makes an account."""
    token = context.server.accounts.invite_teacher(context.account)
    return _link(context, token, None)


@router.get("/log")
def log(
    context: Owner, before: Annotated[int | None, Query(ge=0, le=MOST_NUMBER)] = None
) -> Response:
    """What was changed by whom, newest first."""
    found = context.store.audit_log.newest(LOG_PAGE + 1, before_id=before)
    shown = found[:LOG_PAGE]
    values = {
        "rows": log_rows(context.store, shown),
        "older": shown[-1].id if len(found) > LOG_PAGE else None,
    }
    return context.page("people_log.html", values)


@router.post("/{uid}/reset")
def reset(context: Owner, uid: str) -> Response:
    """A link with which somebody sets a new password."""
    account = _find(context, uid)
    if account.disabled_at is not None:
        raise HTTPException(WRONG, "Switch the account on first.")
    token = context.server.accounts.reset_link(account, context.account)
    return _link(context, token, account)


@router.post("/{uid}/role")
def change_role(context: Owner, uid: str, role: Field = "") -> Response:
    """Give somebody another role."""
    account = _find(context, uid)
    if role not in {each.value for each in Role}:
        raise HTTPException(WRONG, "Choose one of the roles.")
    try:
        context.server.accounts.set_role(account, Role(role), context.account)
    except AccountError as error:
        return _page(context, str(error))
    return RedirectResponse("/people", SEE_OTHER)


@router.post("/{uid}/off")
def switch_off(context: Owner, uid: str) -> Response:
    """Have somebody no longer sign in."""
    account = _find(context, uid)
    try:
        context.server.accounts.switch_off(account, context.account)
    except AccountError as error:
        return _page(context, str(error))
    return RedirectResponse("/people", SEE_OTHER)


@router.post("/{uid}/on")
def switch_on(context: Owner, uid: str) -> Response:
    """Let somebody sign in again."""
    context.server.accounts.switch_on(_find(context, uid), context.account)
    return RedirectResponse("/people", SEE_OTHER)


@router.get("/{uid}/delete")
def ask_delete(context: Owner, uid: str) -> Response:
    """Name what would go, and ask."""
    account = _find(context, uid)
    learner = context.store.learners.by_id(account.learner_id)
    attempts = 0 if learner is None else context.store.attempts.count(learner)
    return context.page("person_delete.html", {"person": account, "attempts": attempts})


@router.post("/{uid}/delete")
def delete(context: Owner, uid: str) -> Response:
    """Delete somebody's account with everything that is theirs."""
    account = _find(context, uid)
    try:
        context.server.accounts.delete(account, context.account)
    except AccountError as error:
        return _page(context, str(error))
    return RedirectResponse("/people", SEE_OTHER)


def _page(context: PersonContext, wrong: str = "") -> Response:
    last = context.store.sessions.last_use()
    rows = []
    for account in context.store.accounts.all():
        seen = last.get(account.id)
        day = None if seen is None else seen.astimezone().date()
        rows.append(PersonRow(account, day, account.id == context.account.id))
    values = {"people": rows, "roles": [role.value for role in Role], "wrong": wrong}
    return context.page("people.html", values, WRONG if wrong else 200)


def _link(context: PersonContext, token: str, person: Account | None) -> Response:
    return link_page(context, token, person, "/people")


def link_page(
    context: PersonContext, token: str, person: Account | None, back: str
) -> HTMLResponse:
    """A link to hand on: for somebody's password, or (nobody) for a teacher's account."""
    address = f"{context.server.origin}/link#{token}"
    values = {"address": address, "person": person, "back": back}
    return context.page("link_made.html", values)


def _find(context: PersonContext, uid: str) -> Account:
    """The account of that uid. Raises HTTPException 404."""
    found = context.store.accounts.by_uid(uid)
    if found is None:
        raise HTTPException(NOT_FOUND, "There is no such account here.")
    return found
