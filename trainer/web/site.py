"""What every page works with: the record, the sound, the course, the templates."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, Any, Protocol

from fastapi import Depends, HTTPException, Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from trainer.chart import Chart
from trainer.exercise import (
    Exercise,
    Level,
    exercise_from_json,
    exercise_to_json,
    load_course,
    load_songs,
)
from trainer.web.chosen import COOKIE, read_choice
from trainer.web.sittings import Sittings, owner_mark
from trainer.web.views.sheet import Cell

if TYPE_CHECKING:
    from fastapi import APIRouter

    from trainer.band import Arrangement
    from trainer.store import ExerciseRecord, Learner, Store

__all__ = ["AudioInfo", "AudioLibrary", "Here", "Site"]


class AudioInfo(Protocol):
    """What is known of a sound before it is made. `error` says why it cannot be."""

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        ...

    @property
    def error(self) -> str | None:
        """Why it cannot be made."""
        ...


class AudioLibrary(Protocol):
    """Where sounds are kept: `/audio/{key}.wav` gives what was offered."""

    @property
    def router(self) -> APIRouter:
        """Routes `/{key}.wav` and `/{key}.flac`."""
        ...

    def register(self, arrangement: Arrangement) -> str:
        """A key for the arrangement that says nothing about it."""
        ...

    def info(self, key: str) -> AudioInfo:
        """What is known of a sound."""
        ...

    def prefetch(self, key: str) -> None:
        """Begin to make a sound that will soon be asked for."""
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
    environment.filters["percent"] = _percent
    environment.filters["moment"] = _moment
    environment.filters["day"] = _day
    environment.filters["localday"] = lambda when: _day(when.astimezone())
    environment.filters["duration"] = _duration
    environment.filters["metre"] = _metre
    environment.filters["bar"] = _bar
    return environment


@dataclass
class Site:
    """One learner's page. `now` gives the time, aware and in UTC."""

    store: Store
    audio: AudioLibrary
    now: Callable[[], datetime]
    learner_name: str

    def seen_by(self, name: str) -> Site:
        """The page of another learner."""
        return self if name == self.learner_name else replace(self, learner_name=name)

    @property
    def sittings(self) -> Sittings:
        """What this learner is writing."""
        return Sittings(self.store, self.learner)

    def check_owner(self, token: str) -> None:
        """Refuse what a page sends that was opened for another learner. HTTPException 409."""
        mark, dot, _ = token.partition(".")
        if dot and (self.known is None or mark != owner_mark(self.known)):
            raise HTTPException(
                409,
                f"This page was opened for another learner, and now {self.learner_name} is "
                "chosen. What you wrote stays here; choose the learner again to go on.",
            )

    @property
    def today(self) -> date:
        """The day on the clock of this machine."""
        return self.now().astimezone().date()

    @property
    def course(self) -> tuple[Level, ...]:
        """The levels in order."""
        return _course()

    @property
    def songs(self) -> tuple[Exercise, ...]:
        """The hand-written songs."""
        return _songs()

    @property
    def known(self) -> Learner | None:
        """The learner, None before the hearing caution was shown."""
        return self.store.learners.get(self.learner_name)

    @property
    def learner(self) -> Learner:
        """The learner."""
        return self.known or self.store.learners.get_or_add(self.learner_name, self.now())

    def keep(self, exercise: Exercise) -> ExerciseRecord:
        """Put an exercise on record."""
        origin = "song" if "song" in exercise.recipe else "generated"
        return self.store.exercises.keep(exercise_to_json(exercise), origin)

    def exercise(self, exercise_id: str) -> tuple[ExerciseRecord, Exercise]:
        """An exercise on record. Raises HTTPException 404."""
        kept = self.store.exercises.get(exercise_id)
        if kept is None:
            raise HTTPException(
                404, "There is no such exercise here. Choose one on the start page."
            )
        return kept, exercise_from_json(kept.data)

    def level(self, number: int | None) -> Level | None:
        """A level of the course, None if there is none of that number."""
        return next((level for level in self.course if level.number == number), None)

    def sound(self, arrangement: Arrangement, *, soon: bool = False) -> dict[str, Any]:
        """A sound as the page's scripts take it: address, length, why it cannot be made.

        One that will `soon` be asked for is begun.
        """
        key = self.audio.register(arrangement)
        if soon:
            self.audio.prefetch(key)
        info = self.audio.info(key)
        return {
            "url": f"/audio/{key}.wav",
            "duration_s": round(info.duration_s, 2),
            "error": info.error,
        }

    def page(
        self, name: str, values: Mapping[str, Any] | None = None, status: int = 200
    ) -> HTMLResponse:
        """A page from its template."""
        text = (
            templates().get_template(name).render({"who": self.learner_name} | dict(values or {}))
        )
        return HTMLResponse(text, status)


@lru_cache(maxsize=1)
def _course() -> tuple[Level, ...]:
    return load_course()


@lru_cache(maxsize=1)
def _songs() -> tuple[Exercise, ...]:
    return load_songs()


def _bar(cell: Cell) -> str:
    """A bar of a sheet as HTML. While a text is typed nearly all of its bars stay as they were."""
    return _bar_html(replace(cell, number=0))


@lru_cache(maxsize=8192)
def _bar_html(cell: Cell) -> str:
    module: Any = templates().get_template("_sheet.html").module
    html: str = module.bar(cell)
    return html


def _percent(share: float) -> str:
    """A share as people read it; only the whole is 100."""
    return f"{min(99, round(100 * share)) if share < 1 else 100} %"


def _metre(chart: Chart) -> str:
    """Meter and feel, said once where both are the same."""
    return f"{chart.meter}" + ("" if chart.feel == str(chart.meter) else f", {chart.feel}")


def _moment(when: datetime) -> str:
    """A moment on the clock of this machine."""
    local = when.astimezone()
    return f"{local.day} {local:%b %Y, %H:%M}"


def _day(when: date) -> str:
    """A day as people write it."""
    return f"{when.day} {when:%b %Y}"


def _duration(minutes: float) -> str:
    """A time spent, in hours and minutes."""
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest} min" if hours else f"{rest} min"


def new_seed() -> int:
    """A seed nobody chose, short enough to read out to somebody."""
    return secrets.randbelow(1_000_000)


def _here(request: Request) -> Site:
    site: Site = request.app.state.site
    chosen = read_choice(request.cookies.get(COOKIE, ""), site.learner_name)
    if chosen is not None and site.store.learners.get(chosen) is not None:
        return site.seen_by(chosen)
    usual = site.store.learners.usual(site.learner_name)
    return site if usual is None else site.seen_by(usual.name)


Here = Annotated[Site, Depends(_here)]
