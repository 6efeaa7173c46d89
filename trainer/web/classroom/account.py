"""One's own account: name, password, sessions, taking a record along, export and deletion."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from trainer.drill import import_record
from trainer.errors import AccountError, FileError, InputError
from trainer.web.classroom.access import Person, PersonContext
from trainer.web.classroom.cookies import forget_session
from trainer.web.classroom.sign_in import browser_of, refused, signed_in_answer
from trainer.web.downloads import download
from trainer.web.numbers import RowNumber
from trainer.web.school.systems import systems_of

if TYPE_CHECKING:
    from trainer.store import Imported, Session

__all__ = ["IMPORT_PATH", "account_page", "router"]

router = APIRouter(prefix="/account")
IMPORT_PATH = "/account/import"
SEE_OTHER, NOT_FOUND = 303, 404
Field = Annotated[str, Form()]
# Somebody without a password may delete their account for this long after they have signed in.
JUST_NOW = timedelta(minutes=10)
# What the next page says after a change.
_TOLD = {
    "name": "Your name is changed.",
    "password": "Your password is changed. Every other browser is signed out.",
    "session": "That browser is signed out.",
    "connected": "Your account is connected. From now on you can sign in both ways.",
    "disconnected": "Your account isn't connected any more.",
}


@dataclass(frozen=True, slots=True)
class SessionRow:
    """A browser that is signed in; `is_this` says whether it is the one that asks."""

    id: int
    client: str
    made_at: datetime
    seen_at: datetime
    is_this: bool


@router.get("")
def account(request: Request, context: Person, told: str = "") -> Response:
    """Everything about one's own account."""
    return account_page(request, context, {"told": _TOLD.get(told, "")})


@router.post("/name")
def rename(request: Request, context: Person, name: Field = "") -> Response:
    """Be called something else."""
    try:
        context.server.accounts.set_shown_name(context.account, name)
    except AccountError as error:
        return refused(account_page(request, context, {"wrong_name": str(error)}), error)
    return RedirectResponse("/account?told=name", SEE_OTHER)


@router.post("/password")
def change_password(
    request: Request, context: Person, password: Field = "", new: Field = ""
) -> Response:
    """Set another password; every session ends, and this browser gets a new one."""
    browser = browser_of(request)
    try:
        session = context.server.sessions.change_password(context.account, password, new, browser)
    except AccountError as error:
        return refused(account_page(request, context, {"wrong_password": str(error)}), error)
    return signed_in_answer(request, session, "/account?told=password")


@router.post("/sessions/{session_id}/end")
def end_session(context: Person, session_id: RowNumber) -> Response:
    """Sign another browser out."""
    if not context.server.sessions.end(context.account, session_id):
        raise HTTPException(NOT_FOUND, "That browser isn't signed in any more.")
    return RedirectResponse("/account?told=session", SEE_OTHER)


@router.post("/sign-out-everywhere")
def sign_out_everywhere(request: Request, context: Person) -> Response:
    """End every session, this one too."""
    context.server.sessions.end_all(context.account)
    forget_session(request)
    return RedirectResponse(f"/sign-in?left={context.learner.uid}", SEE_OTHER)


@router.post("/import")
def take_along(request: Request, context: Person, record: UploadFile) -> Response:
    """Add the record that somebody kept elsewhere, such as at home."""
    try:
        done = import_record(context.store, _read(record), context.learner.name)
    except InputError as error:
        return refused(account_page(request, context, {"wrong_import": str(error)}), error)
    return account_page(request, context, {"imported": _said(done)})


@router.post("/export")
def export(context: Person) -> Response:
    """All that is stored about oneself, as JSON, to take elsewhere."""
    found = context.store.transfer.export_json(context.learner)
    found["account"] = _own_data(context)
    return download(found, f"{context.account.sign_in}.json")


@router.get("/delete")
def ask_delete(context: Person) -> Response:
    """Name what would go, and ask for the password."""
    return context.page("account_delete.html", _what_goes(context))


@router.post("/delete")
def delete(request: Request, context: Person, password: Field = "") -> Response:
    """Delete the account with everything that is one's own."""
    try:
        _check_again(request, context, password)
        context.server.accounts.delete(context.account, context.account)
    except AccountError as error:
        values = _what_goes(context) | {"wrong": str(error)}
        return refused(context.page("account_delete.html", values), error)
    forget_session(request)
    return RedirectResponse(f"/sign-in?left={context.learner.uid}", SEE_OTHER)


def account_page(request: Request, context: PersonContext, values: dict[str, Any]) -> HTMLResponse:
    """The page of one's own account, with what there is to tell."""
    this = context.signed_in.session.id
    rows = [_row(each, this) for each in context.server.sessions.of(context.account)]
    usual: dict[str, Any] = dict.fromkeys(
        ("told", "imported", "wrong_name", "wrong_password", "wrong_import", "wrong_school"), ""
    )
    usual |= {"sessions": rows} | _connections(request, context)
    return context.page("account.html", usual | values)


def _connections(request: Request, context: PersonContext) -> dict[str, Any]:
    """How somebody is connected with the systems of their school, and with which they can be."""
    systems = systems_of(request)
    provider, learning = systems.provider, systems.learning
    found = context.store.identities.of(context.account)
    platforms = () if learning is None else learning.platforms
    names = {each.settings.issuer: each.name for each in platforms}
    if provider is not None:
        names[provider.settings.issuer] = provider.name
    is_known = provider is not None and any(
        each.issuer == provider.settings.issuer for each in found
    )
    return {
        "identities": [(each, names.get(each.issuer, each.issuer)) for each in found],
        "school": None if provider is None or is_known else provider.name,
    }


def _check_again(request: Request, context: PersonContext, password: str) -> None:
    """See that it is the person themselves who asks for what cannot be taken back.

    Who has no password here has to have signed in just now.

    Raises
    ------
    AccountError
        If it is not.
    """
    if context.account.password_hash is not None:
        context.server.sessions.check_password(context.account, password, browser_of(request))
    elif context.clock() - context.signed_in.session.made_at > JUST_NOW:
        minutes = int(JUST_NOW.total_seconds()) // 60
        raise AccountError(
            f"Sign out and sign in again first. You then have {minutes} minutes to delete your "
            "account."
        )


def _row(session: Session, this: int) -> SessionRow:
    made, seen = session.made_at.astimezone(), session.seen_at.astimezone()
    return SessionRow(session.id, session.client, made, seen, session.id == this)


def _read(record: UploadFile) -> dict[str, Any]:
    """What an uploaded file holds. Raises FileError."""
    name = record.filename or "the file"
    try:
        found = json.loads(record.file.read().decode("utf-8"))
    except (ValueError, RecursionError) as error:
        raise FileError(
            f"{name} can't be read. Choose the file that Export gave you; its name ends in .json."
        ) from error
    if not isinstance(found, dict):
        raise FileError(f"{name}: found {type(found).__name__}, expected an exported record")
    return found


def _said(done: Imported) -> str:
    exercises = "1 exercise" if done.added == 1 else f"{done.added} exercises"
    parts = [f"{exercises} added"]
    if done.known:
        parts.append(f"{done.known} already here")
    if done.songs:
        parts.append("1 song added" if done.songs == 1 else f"{done.songs} songs added")
    return f"Your record is here: {', '.join(parts)}."


def _own_data(context: PersonContext) -> dict[str, Any]:
    """What is stored of an account, without what opens it."""
    account = context.account
    return {
        "sign_in": account.sign_in,
        "shown_name": account.shown_name,
        "role": account.role.value,
        "made_at": account.made_at.isoformat(),
        "sessions": [
            {"client": each.client, "made_at": each.made_at.isoformat()}
            for each in context.server.sessions.of(account)
        ],
        "identities": [
            {"issuer": each.issuer, "subject": each.subject, "made_at": each.made_at.isoformat()}
            for each in context.store.identities.of(account)
        ],
    }


def _what_goes(context: PersonContext) -> dict[str, Any]:
    store, learner = context.store, context.learner
    return {
        "attempts": store.attempts.count(learner),
        "songs": len(store.songs.all(learner)),
        "wrong": "",
    }
