"""Requests for every route of a class server, made from the route itself."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, get_args, get_origin

from fastapi import FastAPI, UploadFile, params
from fastapi.routing import RouteContext
from fastapi.testclient import TestClient
from httpx2 import Response

from tests.web.classroom.school import School
from tests.web.helpers import begin, hand_in, hear_out, keep_text
from trainer.exercise import load_signs
from trainer.web.classroom.access import Access, declared_access, routes_of
from trainer.web.song_sound import Wanted

# What the parameter of a path names, by how the path begins; the longest beginning counts. Nobody
# owns what is marked so: lessons, signs, and sounds, whose names cannot be guessed.
FILLED = {
    ("/write/", "exercise_id"): "opened",
    ("/preview/", "exercise_id"): "opened",
    ("/bars/", "exercise_id"): "stretch",
    ("/result/", "attempt_id"): "attempt",
    ("/handout/", "attempt_id"): "attempt",
    ("/lessons/", "lesson_id"): "lesson",
    ("/lessons/", "run_id"): "run",
    ("/signs/", "sign_id"): "sign",
    ("/songbook/", "uid"): "song",
    ("/preview/songbook/", "uid"): "song",
    ("/songbook/sets/", "uid"): "set",
    ("/account/sessions/", "session_id"): "session",
    ("/account/school/", "identity_id"): "identity",
    ("/people/", "uid"): "account",
    ("/result/", "kind"): "kind",
    ("/handout/", "side"): "side",
    ("/handout/", "kind"): "paper",
    ("/audio/", "name"): "sound",
    ("/classes/", "uid"): "class",
    ("/classes/", "class_uid"): "class",
    ("/classes/", "account_uid"): "member",
    ("/assignments/", "uid"): "assignment",
    ("/assignments/", "item_uid"): "item",
    ("/gradebook/", "uid"): "assignment",
    ("/gradebook/", "account_uid"): "member",
    ("/gradebook/songs/", "item_uid"): "item",
    ("/gradebook/songs/", "chart_id"): "chart",
    ("/gradebook/attempts/", "attempt_id"): "handed in",
    ("/assigned/", "uid"): "assignment",
    ("/assigned/items/", "item_uid"): "item",
    ("/assigned/classes/", "uid"): "class",
    ("/dictations/", "uid"): "dictation",
    ("/assigned/dictations/", "uid"): "dictation",
    ("/preview/dictations/", "uid"): "dictation",
}
# What belongs to a class; `test_class_access` drives its routes with everybody.
OF_A_CLASS = ("class", "member", "assignment", "item", "chart", "handed in", "dictation")
NOBODYS = {"lesson": "tag", "sign": load_signs()[0].id, "kind": "wav", "side": "played",
           "paper": "pdf", "sound": "x"} | dict.fromkeys(OF_A_CLASS, "0")  # fmt: skip
# What a form or an address is filled with, where a plain word will not do.
WORDS = {"text": "1 4 5 1", "name": "Wren", "shown": "Wren", "do": "save", "role": "learner",
         "format": ".txt", "seed": "1", "band": "full", "side": "played",
         "speed": "100", "tempo": "100", "key": "D",
         "packed": Wanted("1 4 5 1", "", None, "full", 1, None).packed()}  # fmt: skip


# After these somebody has to sign in again.
SIGNS_OUT = frozenset({"/sign-out", "/account/sign-out-everywhere"})
# The address names a song that the route does not read: it draws the text that is sent.
READS_NOTHING = frozenset({"POST /preview/songbook/{uid}"})


@dataclass(frozen=True)
class Request:
    """A route with one of its methods."""

    method: str
    route: RouteContext

    @property
    def path(self) -> str:
        """The address, with its parameters in braces."""
        return str(self.route.path)

    @property
    def access(self) -> Access:
        """Who may ask."""
        found = declared_access(self.route)
        assert found is not None, self
        return found

    def __str__(self) -> str:
        return f"{self.method} {self.path}"

    def owned(self) -> set[str]:
        """What in the address belongs to somebody."""
        if str(self) in READS_NOTHING:
            return set()
        named = {_filling(self.path, name) for name in _parameters(self.path)}
        return named - set(NOBODYS)

    def send(self, client: TestClient, known: Mapping[str, str], **how: Any) -> Response:
        """Ask with what is known put into the address, and the form filled in."""
        place = self.path
        for name in _parameters(place):
            value = (NOBODYS | dict(known))[_filling(self.path, name)]
            place = place.replace(f"{{{name}}}", value)
        query, form, files = _filled(self.route)
        return client.request(
            self.method, place, params=query, data=form or None, files=files or None,
            follow_redirects=False, **how,
        )  # fmt: skip


def class_names(one: Request) -> set[str]:
    """What the address of a route names of a class."""
    return {_filling(one.path, name) for name in _parameters(one.path)} & set(OF_A_CLASS)


def requests(app: FastAPI) -> Iterator[Request]:
    """Every route with every method."""
    found = [Request(method, route) for route in routes_of(app) for method in route.methods or ()]
    yield from sorted(found, key=lambda one: (one.method, one.path))


def _parameters(path: str) -> list[str]:
    return re.findall(r"{(\w+)}", path)


def _filling(path: str, name: str) -> str:
    """What a parameter of a path names. Raises LookupError for a route nobody told of."""
    key = _key_of(path, name)
    if key not in FILLED:
        raise LookupError(f"{path}: say in FILLED what {{{name}}} names")
    return FILLED[key]


def _key_of(path: str, name: str) -> tuple[str, str]:
    """Under what FILLED says what a parameter of a path names."""
    fitting = [start for start, key in FILLED if key == name and path.startswith(start)]
    return max(fitting, key=len, default=""), name


def _filled(route: RouteContext) -> tuple[dict[str, str], dict[str, str], dict[str, Any]]:
    """Values for the query, the form and the files of a route."""
    query: dict[str, str] = {}
    form: dict[str, str] = {}
    files: dict[str, Any] = {}
    endpoint: Any = route.endpoint
    for name, each in inspect.signature(endpoint, eval_str=True).parameters.items():
        kind, how = _read(each.annotation)
        if kind is UploadFile:
            files[name] = (f"{name}.txt", b"1 4 5 1")
        elif isinstance(how, params.Form):
            form[name] = WORDS.get(name, "1")
        elif _is_needed_in_query(each, how) and name not in _parameters(str(route.path)):
            query[name] = WORDS.get(name, "1")
    return query, form, files


def _is_needed_in_query(each: inspect.Parameter, how: Any) -> bool:
    is_query = isinstance(how, params.Query) or each.annotation in {str, int}
    return is_query and each.default is inspect.Parameter.empty


def _read(annotation: Any) -> tuple[Any, Any]:
    """The type of a parameter, and how it comes."""
    if get_origin(annotation) is Annotated:
        kind, *how = get_args(annotation)
        return kind, next((one for one in how if isinstance(one, params.Param | params.Body)), None)
    return annotation, None


def fill_path(path: str, known: Mapping[str, str], usual: Mapping[str, Any]) -> dict[str, Any]:
    """The parameters of a path with what is known; the others as usual."""
    filled = {name: FILLED.get(_key_of(path, name), "") for name in _parameters(path)}
    there = NOBODYS | dict(known)
    return {name: there.get(filled[name], usual[name]) for name in filled}


def evening(school: School, client: TestClient, name: str) -> dict[str, str]:
    """Have a learner make one of everything that has an id in an address; what each is called."""
    account = school.store.accounts.by_sign_in(name)
    assert account is not None
    school.store.identities.add(account, "https://login.example", name, school.clock())
    return work_of(client) | {
        "identity": str(school.store.identities.of(account)[0].id),
        "session": str(school.server.sessions.of(account)[0].id),
        "account": account.uid,
    }


def work_of(client: TestClient) -> dict[str, str]:
    """Have a learner make one of everything that they make by practising and in the songbook; what
    each is called."""
    result = hear_out(client, begin(client, level="1", seed="1"), "1 4 5 1")
    missed = hear_out(client, begin(client, level="1", seed="3"), "2- 2- 2- 2-")
    stretch = client.post(f"{missed}/practise", data={"bar": "1"}, follow_redirects=False)
    opened = begin(client, level="2", seed="2")
    keep_text(client, opened, "1 4")
    hand_in(client, begin(client, level="1", seed="4"), "1 4")
    run = client.post("/lessons/tag/begin", follow_redirects=False)
    song = client.post("/songbook/new", follow_redirects=False)
    text = {"text": "title: Lock Gate\n\n1 4 5 1", "began_from": "1"}
    client.post(song.headers["location"], data=text)
    made = client.post("/songbook/sets/new", data={"name": "Friday"}, follow_redirects=False)
    client.post(f"{made.headers['location']}/add", data={"song": _last(song.headers["location"])})
    return {
        "attempt": _last(result),
        "stretch": _last(stretch.headers["location"]),
        "opened": opened,
        "run": _last(run.headers["location"]),
        "song": _last(song.headers["location"]),
        "set": _last(made.headers["location"]),
    }


def _last(place: str) -> str:
    return place.partition("?")[0].rpartition("/")[2]
