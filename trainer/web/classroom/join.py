"""Joining a class by its code: with a new account, or with the one that is signed in."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from trainer.classroom import NewPerson
from trainer.classroom.classes import join_class
from trainer.errors import AccountError, ClassError
from trainer.store import Role
from trainer.web.classroom.access import ANYBODY, ClassServer
from trainer.web.classroom.sign_in import browser_of, in_turn, refused, signed_in_answer
from trainer.web.context import PageContext, PublicContext

if TYPE_CHECKING:
    from trainer.store import Account, Repositories

__all__ = ["router"]

router = APIRouter(prefix="/join", dependencies=[Depends(ANYBODY)])
SEE_OTHER, WRONG = 303, 422
# What tries at codes are counted as.
CODES = "the code of a class"
Field = Annotated[str, Form()]


@router.get("")
def ask(context: PublicContext) -> HTMLResponse:
    """Ask for a code, and, if nobody is signed in, for what a new account needs."""
    return _page(context)


@router.post("")
async def join(
    request: Request,
    context: PublicContext,
    code: Field = "",
    name: Field = "",
    shown: Field = "",
    password: Field = "",
) -> Response:
    """Join the class of a code; a new account is made together with that, or not at all."""
    person = NewPerson(name, shown, password)
    return await in_turn(request, partial(_answer, request, context, code, person))


def _answer(request: Request, context: PageContext, code: str, person: NewPerson) -> Response:
    server: ClassServer = request.app.state.class_server
    browser = browser_of(request)
    try:
        with server.sessions.slowed(CODES, browser, ClassError):
            if context.account is not None:
                join_class(context.store, context.account, code, context.clock())
                return RedirectResponse("/assigned", SEE_OTHER)
            account = server.accounts.sign_up(
                person,
                Role.LEARNER,
                also=lambda within, made: _join(within, made, code, context),
            )
    except (AccountError, ClassError) as error:
        fields = {"code": code, "name": person.sign_in, "shown": person.shown_name}
        return refused(_page(context, **fields, wrong=str(error)), error)
    return signed_in_answer(request, server.sessions.begin(account, browser), "/")


def _join(within: Repositories, account: Account, code: str, context: PageContext) -> None:
    join_class(within, account, code, context.clock())


def _page(
    context: PageContext, *, code: str = "", name: str = "", shown: str = "", wrong: str = ""
) -> HTMLResponse:
    values = {"code": code, "name": name, "shown": shown, "wrong": wrong}
    return context.page("join.html", values, WRONG if wrong else 200)
