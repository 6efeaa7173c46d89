"""What every page works with: the learner, the store, the sounds, the course and the templates."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache
from hashlib import blake2b
from typing import TYPE_CHECKING, Annotated, Any, Protocol
from urllib.parse import quote

from fastapi import Depends, HTTPException, Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from trainer.drill import SEEN_BEFORE, SEEN_NOW, DailySets, Drills, offered_lessons
from trainer.exercise import (
    Exercise,
    Lesson,
    Level,
    NamedRecipe,
    SignExample,
    load_course,
    load_lessons,
    load_recipes,
    load_signs,
    load_songs,
)
from trainer.grade import whole_percent
from trainer.practice import level_lessons
from trainer.songbook import Songbook
from trainer.web import formatting
from trainer.web.audio.asking import sound_address
from trainer.web.learner_cookie import LEARNER_COOKIE, read_learner
from trainer.web.views.sheet import BarDrawing, SheetLine

if TYPE_CHECKING:
    from fastapi import APIRouter

    from trainer.band import Arrangement
    from trainer.store import Account, ExerciseRecord, Learner, Store

__all__ = [
    "SOUNDS",
    "CautionFirst",
    "Context",
    "LearnerContext",
    "PageContext",
    "PublicContext",
    "SoundInfo",
    "SoundLibrary",
    "page_address",
    "templates",
]


# Begins the paths of all sounds.
SOUNDS = "/audio"
# Lines of sheets kept as HTML, about 6 kB each: those of a dozen long songs, or of one as long as
# any.
MOST_LINES = 1024
# Two lines of a sheet have the same key by chance once in 10**19 times.
KEY_BYTES = 8


class CautionFirst(Exception):
    """Raised when the learner has to be shown the hearing caution before anything else.

    `then` is the id of the exercise to go on with afterwards, "" for none.
    """

    def __init__(self, then: str = "") -> None:
        super().__init__("the hearing caution comes first")
        self.then = then


class SoundInfo(Protocol):
    """What is known of a sound before it is made. `error` says why it cannot be."""

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        ...

    @property
    def error(self) -> str | None:
        """Why it cannot be made."""
        ...


class SoundLibrary(Protocol):
    """Where sounds are kept: `/audio/{key}.wav` gives what was offered."""

    @property
    def router(self) -> APIRouter:
        """Routes `/{key}.wav` and `/{key}.flac`."""
        ...

    def register(self, arrangement: Arrangement) -> str:
        """A key for the arrangement that says nothing about it."""
        ...

    def info(self, key: str) -> SoundInfo:
        """What is known of a sound."""
        ...

    def prefetch(self, key: str) -> None:
        """Begin to make a sound that will soon be asked for."""
        ...

    def make_ready(self, key: str) -> None:
        """Have a sound that may be asked for begin at once then."""
        ...


@lru_cache(maxsize=1)
def templates() -> Environment:
    """The templates, loaded once."""
    environment = Environment(
        loader=PackageLoader("trainer.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    for name in ("percent", "moment", "day", "local_day", "duration", "meter_and_feel", "notation"):
        environment.filters[name] = getattr(formatting, name)
    environment.filters["whole_percent"] = whole_percent
    environment.filters["bar_content"] = _bar_content
    environment.filters["keyed_line"] = _keyed_line
    environment.globals |= {"SEEN_NOW": SEEN_NOW, "SEEN_BEFORE": SEEN_BEFORE}
    return environment


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who makes a request: the learner, and the account that they are signed in with, if any."""

    learner: Learner | None
    account: Account | None = None


@dataclass(frozen=True, slots=True)
class PageContext:
    """The application as one request sees it.

    Attributes
    ----------
    clock : gives the moment, aware and in UTC.
    owner : name of the learner that the page was started for.
    learner : who practises; None before the first learner was shown the hearing caution.
    account : who is signed in; None at home, where nobody signs in.
    is_class : whether people sign in.
    address : path and query of the page that is asked for; "" for a request that may change
        something.
    """

    store: Store
    audio: SoundLibrary
    clock: Callable[[], datetime]
    owner: str
    learner: Learner | None = None
    account: Account | None = None
    is_class: bool = False
    address: str = ""

    @property
    def today(self) -> date:
        """The day on the clock of this machine."""
        return self.clock().astimezone().date()

    @property
    def course(self) -> tuple[Level, ...]:
        """The levels in order."""
        return _course()

    @property
    def songs(self) -> tuple[Exercise, ...]:
        """The hand-written songs."""
        return _songs()

    @property
    def recipes(self) -> tuple[NamedRecipe, ...]:
        """The recipes that have names."""
        return _recipes()

    @property
    def lessons(self) -> tuple[Lesson, ...]:
        """The lessons, by group and order."""
        return _lessons()

    @property
    def opening_lessons(self) -> Mapping[str, tuple[Lesson, ...]]:
        """The lessons that each level of the course opens with, by the level's id."""
        return _opening_lessons()

    @property
    def signs(self) -> tuple[SignExample, ...]:
        """Every sign of a chart."""
        return _signs()

    def level(self, number: int | None) -> Level | None:
        """A level of the course, None if there is none of that number."""
        return next((level for level in self.course if level.number == number), None)

    def sound(
        self,
        arrangement: Arrangement,
        *,
        soon: bool = False,
        perhaps: bool = False,
        page: str = "",
    ) -> dict[str, Any]:
        """A sound as the page's scripts take it: address, length, why it cannot be made.

        One that will `soon` be asked for is begun, one that `perhaps` will be is made ready. `page`
        is the page that gives this sound, if it is not the one that is asked for: another process
        asks it again (`trainer.web.audio.asking`).
        """
        key = self.audio.register(arrangement)
        if soon:
            self.audio.prefetch(key)
        elif perhaps:
            self.audio.make_ready(key)
        info = self.audio.info(key)
        return {
            "url": sound_address(SOUNDS, key, "wav", page or self.address),
            "duration_s": round(info.duration_s, 2),
            "error": info.error,
        }

    def sound_file(self, arrangement: Arrangement, kind: str) -> str:
        """The address of a sound as a "wav" or "flac" file."""
        return sound_address(SOUNDS, self.audio.register(arrangement), kind, self.address)

    def page(
        self, name: str, values: Mapping[str, Any] | None = None, status: int = 200
    ) -> HTMLResponse:
        """A page from its template."""
        who = self.owner if self.learner is None else self.learner.name
        known = {"who": who, "account": self.account, "is_class": self.is_class}
        text = templates().get_template(name).render(known | dict(values or {}))
        return HTMLResponse(text, status)


@dataclass(frozen=True, slots=True)
class LearnerContext(PageContext):
    """The application as a learner sees it who was shown the hearing caution."""

    learner: Learner

    @property
    def drills(self) -> Drills:
        """The learner's drills."""
        return Drills(self.store, self.learner, self.clock)

    @property
    def sets(self) -> DailySets:
        """The sets of the learner's day."""
        return DailySets(self.drills, self.course)

    @property
    def songbook(self) -> Songbook:
        """The learner's songbook."""
        return Songbook(self.store, self.learner, self.clock)

    def offered_lessons(self, levels: Iterable[Level]) -> tuple[Lesson, ...]:
        """The lessons that levels open with and that the learner has not done yet."""
        return offered_lessons(self.store, self.learner, self.lessons, levels)

    def exercise(self, exercise_id: str) -> ExerciseRecord:
        """The learner's exercise of that id. Raises HTTPException 404."""
        record = self.store.exercises.get(self.learner, exercise_id)
        if record is None:
            raise HTTPException(
                404, "There is no such exercise here. Choose one on the start page."
            )
        return record


@lru_cache(maxsize=1)
def _course() -> tuple[Level, ...]:
    return load_course()


@lru_cache(maxsize=1)
def _lessons() -> tuple[Lesson, ...]:
    return load_lessons()


@lru_cache(maxsize=1)
def _opening_lessons() -> Mapping[str, tuple[Lesson, ...]]:
    return {level.id: level_lessons(_lessons(), level) for level in _course()}


@lru_cache(maxsize=1)
def _signs() -> tuple[SignExample, ...]:
    return load_signs()


@lru_cache(maxsize=1)
def _recipes() -> tuple[NamedRecipe, ...]:
    return load_recipes()


@lru_cache(maxsize=1)
def _songs() -> tuple[Exercise, ...]:
    return load_songs()


def _bar_content(bar: BarDrawing) -> str:
    """What a bar shows and says, as HTML. While a text is typed nearly all bars stay as they
    were."""
    return _bar_html(replace(bar, number=0))


@lru_cache(maxsize=8192)
def _bar_html(bar: BarDrawing) -> str:
    module: Any = templates().get_template("_sheet.html").module
    html: str = module.bar_content(bar)
    return html


def _keyed_line(line: SheetLine, shown: Collection[str]) -> str:
    """A line of the sheet of a text as HTML, with its key: lines with the same key are the same. A
    line whose key is among those `shown` is only its key, for the page has the rest."""
    key, html = _line_html(line)
    return f'<div data-key="{key}"></div>' if key in shown else html


@lru_cache(maxsize=MOST_LINES)
def _line_html(line: SheetLine) -> tuple[str, str]:
    module: Any = templates().get_template("_written.html").module
    drawn = str(module.written_line(line, ""))
    key = blake2b(drawn.encode(), digest_size=KEY_BYTES).hexdigest()
    return key, drawn.replace('data-key=""', f'data-key="{key}"', 1).strip()


def home_visitor(request: Request) -> Visitor:
    """At home: the learner of the browser's cookie, else the one that the page is for."""
    context: PageContext = request.app.state.context
    learners = context.store.learners
    uid = read_learner(request.cookies.get(LEARNER_COOKIE, ""), context.owner)
    chosen = learners.by_uid(uid) if uid is not None else None
    return Visitor(chosen or learners.usual(context.owner))


def _public_context(request: Request) -> PageContext:
    """The context of a request, with whoever makes it."""
    context: PageContext = request.app.state.context
    visitor: Visitor = request.app.state.find_visitor(request)
    return replace(
        context,
        learner=visitor.learner,
        account=visitor.account,
        address=page_address(request),
    )


def page_address(request: Request) -> str:
    """Path and query of a page that is asked for; "" for a request that may change something."""
    if request.method != "GET":
        return ""
    query = f"?{request.url.query}" if request.url.query else ""
    return quote(request.url.path, safe="/") + query


def _context(request: Request) -> LearnerContext:
    """The context of a request. Raises CautionFirst."""
    known = _public_context(request)
    if known.learner is None or known.learner.caution_at is None:
        is_page = request.method == "GET"
        raise CautionFirst(request.path_params.get("exercise_id", "") if is_page else "")
    return LearnerContext(
        known.store,
        known.audio,
        known.clock,
        known.owner,
        known.learner,
        known.account,
        known.is_class,
        known.address,
    )


# Of whoever asks, and of a learner who may practise.
PublicContext = Annotated[PageContext, Depends(_public_context)]
Context = Annotated[LearnerContext, Depends(_context)]
