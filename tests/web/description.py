"""The OpenAPI description of the server's own routes: `python -m tests.web.description class|home`.

It is made from the application itself (FastAPI reads parameters and forms from the routes), so that
no route can be left out. Here stand only the forms that routes read by hand, and which statuses
routes answer, by rules where a rule says it.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from fastapi import FastAPI, params
from fastapi.openapi.utils import get_openapi
from fastapi.routing import RouteContext

from trainer.web.classroom.access import declared_access, routes_of
from trainer.web.context import _context
from trainer.web.school.lti import _learning

if TYPE_CHECKING:
    from fastapi.dependencies.models import Dependant

REASONS = {
    200: "What was asked for",
    204: "Done; there is nothing to say",
    206: "A part of a sound",
    303: "Done, or first something else: see there",
    304: "It has not changed",
    400: "What was sent can't be read",
    401: "Somebody has to sign in first",
    403: "Whoever asks may not",
    404: "There is no such thing for whoever asks",
    409: "Not as things stand, or first something else",
    413: "Too long",
    416: "A sound has no such part",
    422: "Something that was sent is wrong",
    429: "That went wrong too often",
}
_SETTINGS = (
    "title", "opens_at", "closes_at", "late_until", "late_cost", "pass_mark", "tries", "counts",
    "results", "scheme", "weight-root",
)  # fmt: skip
# What routes look for that read a form by hand, by the names of their functions.
HAND_READ = {
    "make": _SETTINGS,
    "change": _SETTINGS,
    "add_item": ("what", "songs", "listens", "tempo", "points", "one_pass"),
    "change_scheme": ("scheme", "do", "weight-root", "weight-quality", "weight-bass"),
    "merge": ("left", "right", "title"),
}
# Where forms are read by hand: dependencies, and the functions of routes.
READERS = frozenset({"read_form", "merge"})
# Reads a body that is a text and no form.
TEXT_READER = "read_text"
# What no rule says.
BESIDES: dict[str, set[int]] = {
    "POST /account/delete": {429},
    "POST /account/password": {429},
    "POST /account/school": {429},
    "POST /join": {429},
    "POST /sign-in": {429},
}


def describe(app: FastAPI) -> dict[str, Any]:
    """The description of an application."""
    with warnings.catch_warnings():
        # GET and HEAD of a sound are one function.
        warnings.filterwarnings("ignore", "Duplicate Operation ID")
        document = get_openapi(title="Chart trainer", version="1", routes=app.routes)
    is_class = app.state.class_server is not None
    for route in routes_of(app):
        for method in route.methods or ():
            operation = document["paths"][route.path][method.lower()]
            if (fields := _hand_read(route)) is not None:
                operation["requestBody"] = _form(fields)
            elif _reads_text(route):
                operation["requestBody"] = {
                    "content": {"text/plain": {"schema": {"type": "string"}}}
                }
            found = sorted(statuses(route, method, is_class=is_class))
            operation["responses"] = {str(each): {"description": REASONS[each]} for each in found}
    return document


def statuses(route: RouteContext, method: str, *, is_class: bool) -> set[int]:
    """The statuses that a route may answer with."""
    takes, calls = set(_calls(route)), str(route.path)
    found = {200} | BESIDES.get(f"{method} {route.path}", set())
    if method in {"POST", "PUT"}:
        found |= {204, 303}
    if calls == "/alive":
        found = {204}
    if calls.startswith("/audio/"):
        found |= {206, 304, 416}
    if _has_form(route):
        found |= {400, 413}
    if _has_parameters(route):
        found |= {404, 422}
    if _context in takes or method == "POST":
        found |= {303, 409}
    if _learning in takes or calls.startswith(("/sign-in/school", "/account/school")):
        found |= {303, 404, 422}
    access = declared_access(route) if is_class else None
    if access is not None and not access.is_open:
        found |= {303, 401, 403}
    elif is_class:
        found |= {303}
    return found


def _hand_read(route: RouteContext) -> tuple[str, ...] | None:
    """The fields of a form that a route reads by hand; None if it reads none."""
    if not READERS.isdisjoint(getattr(call, "__name__", "") for call in _calls(route)):
        return HAND_READ[name_of(route)]
    return None


def name_of(route: RouteContext) -> str:
    """The name of the function that answers a route."""
    return str(getattr(route.endpoint, "__name__", ""))


def _reads_text(route: RouteContext) -> bool:
    return TEXT_READER in {getattr(call, "__name__", "") for call in _calls(route)}


def _form(fields: tuple[str, ...]) -> dict[str, Any]:
    schema = {"type": "object", "properties": {name: {"type": "string"} for name in fields}}
    return {"content": {"application/x-www-form-urlencoded": {"schema": schema}}}


def _has_form(route: RouteContext) -> bool:
    return (
        _hand_read(route) is not None
        or _reads_text(route)
        or any(isinstance(each.field_info, params.Form) for each in _dependant(route).body_params)
    )


def _has_parameters(route: RouteContext) -> bool:
    found = _dependant(route)
    return bool(found.path_params or found.query_params) or _has_form(route)


def _calls(route: RouteContext) -> Iterator[Any]:
    """Every dependency of a route."""
    waiting = [_dependant(route)]
    for each in waiting:
        yield each.call
        waiting.extend(each.dependencies)


def _dependant(route: RouteContext) -> Dependant:
    found: Dependant = route.dependant
    return found


def _main() -> None:
    import json
    import sys
    import tempfile
    from contextlib import ExitStack
    from pathlib import Path

    from tests.web.classroom.school import School
    from tests.web.fakes import FakeLibrary
    from trainer.store import Store
    from trainer.web import create_app

    with tempfile.TemporaryDirectory() as folder, Store.open(folder) as store, ExitStack() as stack:
        library = FakeLibrary(Path(folder))
        is_class = sys.argv[1:] == ["class"]
        app = School(store, library, stack).app if is_class else create_app(store, library)
        print(json.dumps(describe(app), indent=2))  # noqa: T201 - this is what the command is for


if __name__ == "__main__":
    _main()
