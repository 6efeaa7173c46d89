"""Charts as plain data for JSON, and back with every value checked.

The checks are written by hand: this room imports the standard library only, and messages name a
value's place in the song ("section 2, bar 1"), counted from 1, with the value that was found.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from typing import Any, TypeVar

from trainer.chart.format import format_chart
from trainer.chart.header import METER
from trainer.chart.hits import hit_names, parse_hits
from trainer.chart.keys import Key
from trainer.chart.model import (
    TEMPO_BPM,
    Articulation,
    Bar,
    Chart,
    Chord,
    Degree,
    Event,
    Feel,
    Meter,
    Phrase,
    Section,
)
from trainer.chart.parse import parse
from trainer.errors import ChartError, NotationError

__all__ = ["chart_from_json", "chart_to_json"]

T = TypeVar("T")
E = TypeVar("E", bound=StrEnum)
Json = dict[str, Any]
BEATS = re.compile(r"[1-9]\d{0,3}(?:/[1-9]\d{0,3})?", re.ASCII)
DEGREE = re.compile(r"([b#]?)([1-7])")
TYPE_NAMES = {
    str: "a text",
    int: "a whole number",
    bool: "true or false",
    dict: "an object",
    list: "a list",
}


def chart_to_json(chart: Chart) -> Json:
    """Turn a chart into what `json.dumps` takes; `text` is its notation, the rest its parts."""
    return {
        "title": chart.title,
        "meter": str(chart.meter),
        "tempo": float(chart.tempo),
        "feel": chart.feel.value,
        "key": str(chart.key),
        **_only_said(capo=chart.capo, comments=list(chart.comments)),
        **({} if chart.count_off == 1 else {"count_off": chart.count_off}),
        "text": format_chart(chart),
        "sections": [_section_to_json(section) for section in chart.sections],
    }


def chart_from_json(data: object) -> Chart:
    """Read what `chart_to_json` wrote.

    Unknown keys are ignored; `kind` and `text` may be missing. Raises ChartError naming the place
    ("section 2, phrase 1, bar 3, beats") for a value that is not allowed, and where `text` or
    `chord` contradict the parts.
    """
    whole = _Object(data)
    title, meter = whole.get("title", str), whole.meter()
    key = Key.parse(whole.get("key", str))
    feel = whole.member("feel", Feel)
    capo = whole.get("capo", int) if whole.has("capo") else None
    count_off = whole.get("count_off", int) if whole.has("count_off") else 1
    sections = whole.each("sections", _section)
    comments = whole.texts("comments")
    chart = Chart(title, meter, whole.tempo(), feel, key, sections, capo, count_off, comments)
    _check_text(whole, chart)
    return chart


def _section_to_json(section: Section) -> Json:
    phrases = [
        {"bars": [_bar_to_json(bar) for bar in p.bars], **_only_said(comments=list(p.comments))}
        for p in section.phrases
    ]
    words = _only_said(notes=list(section.notes), comments=list(section.comments))
    return {"name": section.name, "kind": section.kind, "phrases": phrases, **words}


def _only_said(**values: object) -> Json:
    """The values that a chart has at all; the keys of the others are left out."""
    return {key: value for key, value in values.items() if value not in (None, [])}


def _bar_to_json(bar: Bar) -> Json:
    events = [_event_to_json(event) for event in bar.events]
    data = {"meter": str(bar.meter), "key_change": bar.key_change, "events": events}
    signs = {"open": bar.is_open, "fade": bar.fades}
    words = _only_said(notes=list(bar.notes), hits=hit_names(bar.hits))
    return {**data, **{sign: True for sign, written in signs.items() if written}, **words}


def _event_to_json(event: Event) -> Json:
    chord = event.chord
    return {
        "chord": None if chord is None else str(chord),
        "degree": None if chord is None else str(chord.root),
        "quality": "" if chord is None else chord.quality,
        "extension": "" if chord is None else chord.extension,
        "bass": None if chord is None or chord.bass is None else str(chord.bass),
        "beats": str(event.beats),
        "articulation": None if event.articulation is None else event.articulation.value,
    }


class _Object:
    """A JSON object, with its name in the object that holds it; None and "" for the chart itself.

    Every method raises ChartError for a value that is missing or not allowed.
    """

    __slots__ = ("_holder", "_name", "values")

    def __init__(self, value: object, holder: _Object | None = None, name: str = "") -> None:
        self._holder, self._name = holder, name
        if not _is(value, dict):
            raise _wrong(self.where or "chart", value, dict)
        self.values: Json = value  # type: ignore[assignment] # just checked

    @property
    def where(self) -> str:
        """The place in the chart, worked out only where a message names it."""
        return "" if self._holder is None else _at(self._holder.where, self._name)

    def get(self, key: str, kind: type[T]) -> T:
        """The value under a key, of the type it must have."""
        if key not in self.values:
            expected = f"{TYPE_NAMES[kind]} under {key!r}"
            raise ChartError(self.where or "chart", f"no {key}", expected)
        value = self.values[key]
        if not _is(value, kind):
            raise _wrong(_at(self.where, key), value, kind)
        found: T = value
        return found

    def has(self, key: str) -> bool:
        """Whether there is a value other than null under a key."""
        return self.values.get(key) is not None

    def each(self, key: str, read: Callable[[_Object], T]) -> tuple[T, ...]:
        """Every object of the list under a key ("bars"), read with its place ("bar 1")."""
        values: list[object] = self.get(key, list)
        name = key.removesuffix("s")
        return tuple(
            [read(_Object(value, self, f"{name} {n}")) for n, value in enumerate(values, 1)]
        )

    def texts(self, key: str) -> tuple[str, ...]:
        """Every text of the list under a key; none where there is no such key."""
        values: list[object] = self.get(key, list) if self.has(key) else []
        for number, value in enumerate(values, 1):
            if not isinstance(value, str):
                raise _wrong(_at(self.where, f"{key.removesuffix('s')} {number}"), value, str)
        return tuple(str(value) for value in values)

    def match(self, key: str, pattern: re.Pattern[str], expected: str) -> re.Match[str]:
        """The text under a key as the whole of a pattern."""
        text = self.get(key, str)
        match = pattern.fullmatch(text)
        if match is None:
            raise ChartError(_at(self.where, key), _quoted(text), expected)
        return match

    def member(self, key: str, kind: type[E]) -> E:
        """The member of an enumeration that the text under a key names."""
        name = self.get(key, str)
        if name not in tuple(kind):
            raise ChartError(_at(self.where, key), _quoted(name), "one of " + ", ".join(kind))
        return kind(name)

    def meter(self) -> Meter:
        """The meter under `meter`."""
        match = self.match("meter", METER, "a meter such as '4/4'")
        return self.make(Meter, int(match[1]), int(match[2]))

    def degree(self, key: str) -> Degree:
        """The degree under a key."""
        match = self.match(key, DEGREE, "a degree such as '5' or 'b7'")
        return Degree.of(match[0])

    def tempo(self) -> float:
        """The tempo under `tempo`."""
        tempo, (low, high) = self.values.get("tempo"), TEMPO_BPM
        if isinstance(tempo, int | float) and not isinstance(tempo, bool) and low <= tempo <= high:
            return float(tempo)
        raise ChartError("tempo", _quoted(tempo), f"a number from {low:g} to {high:g}")

    def make(self, part: Callable[..., T], *arguments: object) -> T:
        """Make a part of the chart; its ChartError gets this object's place put before its own."""
        try:
            return part(*arguments)
        except ChartError as error:
            raise ChartError(_at(self.where, error.where), error.found, error.expected) from error


def _section(section: _Object) -> Section:
    phrases = section.each("phrases", _phrase)
    words = section.texts("notes"), section.texts("comments")
    return section.make(Section, section.get("name", str), phrases, *words)


def _phrase(phrase: _Object) -> Phrase:
    return phrase.make(Phrase, phrase.each("bars", _bar), phrase.texts("comments"))


def _bar(bar: _Object) -> Bar:
    events = bar.each("events", _event)
    is_open, fades = (bar.has(sign) and bar.get(sign, bool) for sign in ("open", "fade"))
    meter, notes = bar.meter(), bar.texts("notes")
    beats = ",".join(bar.texts("hits"))
    hits = bar.make(parse_hits, beats, meter) if beats else ()
    key_change = bar.get("key_change", int)
    return bar.make(Bar, meter, events, key_change, is_open, fades, notes, hits)


def _event(event: _Object) -> Event:
    """The event in an object. A chart repeats few of them, so each is read once."""
    try:
        return _known_event(tuple(event.values.items()))
    except (ChartError, TypeError):
        # Read again to say where; a TypeError is of a value that cannot be remembered, a list.
        return _read_event(event)


@lru_cache(maxsize=2048)
def _known_event(items: tuple[tuple[str, object], ...]) -> Event:
    return _read_event(_Object(dict(items)))


def _read_event(event: _Object) -> Event:
    beats = event.match("beats", BEATS, "a fraction as text, '2' or '4/3'")[0]
    articulation = event.member("articulation", Articulation) if event.has("articulation") else None
    return event.make(Event, _chord(event), Fraction(beats), articulation)


def _chord(event: _Object) -> Chord | None:
    """The chord of an event from its parts; `chord` must say the same."""
    if event.values.get("chord", "") is None:
        return None
    root = event.degree("degree")
    bass = event.degree("bass") if event.has("bass") else None
    quality, extension = event.get("quality", str), event.get("extension", str)
    chord = event.make(Chord, *root, quality, extension, bass)
    written = event.get("chord", str)
    if written != str(chord):
        where = _at(event.where, "chord")
        raise ChartError(where, _quoted(written), f"{str(chord)!r} by its parts")
    return chord


def _check_text(whole: _Object, chart: Chart) -> None:
    """Raise ChartError unless `text`, if there is one, is the notation of the chart."""
    if "text" not in whole.values:
        return
    text = whole.get("text", str)
    if text == format_chart(chart):
        return
    try:
        same = parse(text, source="text") == chart
    except NotationError as error:
        raise ChartError("text", str(error), "the notation of the sections") from error
    if not same:
        raise ChartError("text", "another chart than in the sections", "the same chart in both")


def _is(value: object, kind: type) -> bool:
    """Whether the value is of a type; true and false are no whole numbers."""
    return isinstance(value, kind) and (kind is bool or not isinstance(value, bool))


def _wrong(where: str, value: object, kind: type) -> ChartError:
    return ChartError(where, _quoted(value), TYPE_NAMES[kind])


def _at(where: str, what: str) -> str:
    """A place within a place; "bar" within "bar 1" adds nothing."""
    if not where:
        return what
    last = where.rsplit(", ", 1)[-1]
    same = last.partition(" ")[0] == what.partition(" ")[0]
    return where if same else f"{where}, {what}"


def _quoted(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:59] + "…"
