"""Charts as plain data for JSON, and back with every value checked."""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import StrEnum
from fractions import Fraction
from typing import Any, TypeVar

from trainer.chart.format import format_chart
from trainer.chart.header import METER
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
BEATS = re.compile(r"[1-9]\d{0,3}(?:/[1-9]\d{0,3})?", re.ASCII)
DEGREE = re.compile(r"([b#]?)([1-7])")
ALTERATIONS = {"": 0, "#": 1, "b": -1}
TYPE_NAMES = {str: "a text", int: "a whole number", dict: "an object", list: "a list"}


def chart_to_json(chart: Chart) -> dict[str, Any]:
    """Turn a chart into what `json.dumps` takes; `text` is its notation, the rest its parts."""
    return {
        "title": chart.title,
        "meter": str(chart.meter),
        "tempo": float(chart.tempo),
        "feel": chart.feel.value,
        "key": str(chart.key),
        "text": format_chart(chart),
        "sections": [_section_to_json(section) for section in chart.sections],
    }


def chart_from_json(data: object) -> Chart:
    """Read what `chart_to_json` wrote.

    Unknown keys are passed over, and `kind` and `text` may be missing. Raises ChartError naming
    the place ("section 2, phrase 1, bar 3, beats") for a value that cannot be, and where `text` or
    `chord` say another thing than the parts do.
    """
    whole = _typed(data, dict, "chart")
    title = _get(whole, "title", str, "")
    meter = _meter(whole, "")
    key = Key.parse(_get(whole, "key", str, ""))
    feel = _one_of(Feel, _get(whole, "feel", str, ""), "feel")
    sections = _each(whole, "sections", "", "section", _section)
    chart = Chart(title, meter, _tempo(whole), feel, key, sections)
    _check_text(whole, chart)
    return chart


def _section_to_json(section: Section) -> dict[str, Any]:
    phrases = [{"bars": [_bar_to_json(bar) for bar in p.bars]} for p in section.phrases]
    return {"name": section.name, "kind": section.kind, "phrases": phrases}


def _bar_to_json(bar: Bar) -> dict[str, Any]:
    events = [_event_to_json(event) for event in bar.events]
    return {"meter": str(bar.meter), "key_change": bar.key_change, "events": events}


def _event_to_json(event: Event) -> dict[str, Any]:
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


def _section(data: object, where: str) -> Section:
    section = _typed(data, dict, where)
    phrases = _each(section, "phrases", where, "phrase", _phrase)
    return _made(where, Section, _get(section, "name", str, where), phrases)


def _phrase(data: object, where: str) -> Phrase:
    return _made(where, Phrase, _each(_typed(data, dict, where), "bars", where, "bar", _bar))


def _bar(data: object, where: str) -> Bar:
    bar = _typed(data, dict, where)
    meter = _meter(bar, where)
    events = _each(bar, "events", where, "event", _event)
    return _made(where, Bar, meter, events, _get(bar, "key_change", int, where))


def _event(data: object, where: str) -> Event:
    event = _typed(data, dict, where)
    beats = _get(event, "beats", str, where)
    if BEATS.fullmatch(beats) is None:
        raise ChartError(_at(where, "beats"), _shown(beats), "a fraction as text, '2' or '4/3'")
    articulation = None
    if event.get("articulation") is not None:
        name = _get(event, "articulation", str, where)
        articulation = _one_of(Articulation, name, _at(where, "articulation"))
    return _made(where, Event, _chord(event, where), Fraction(beats), articulation)


def _chord(event: dict[str, Any], where: str) -> Chord | None:
    """The chord of an event from its parts, which `chord` must not contradict."""
    if "chord" in event and event["chord"] is None:
        return None
    root = _degree(_get(event, "degree", str, where), _at(where, "degree"))
    bass = None
    if event.get("bass") is not None:
        bass = _degree(_get(event, "bass", str, where), _at(where, "bass"))
    quality, extension = (_get(event, name, str, where) for name in ("quality", "extension"))
    chord = _made(where, Chord, *root, quality, extension, bass)
    if _get(event, "chord", str, where) != str(chord):
        raise ChartError(
            _at(where, "chord"), _shown(event["chord"]), f"{str(chord)!r} by its parts"
        )
    return chord


def _check_text(whole: dict[str, Any], chart: Chart) -> None:
    if "text" not in whole:
        return
    text = _get(whole, "text", str, "")
    if text == format_chart(chart):
        return
    try:
        same = parse(text, source="text") == chart
    except NotationError as error:
        raise ChartError("text", str(error), "the notation of the sections") from error
    if not same:
        raise ChartError("text", "another chart than in the sections", "the same chart in both")


def _tempo(whole: dict[str, Any]) -> float:
    tempo = whole.get("tempo")
    low, high = TEMPO_BPM
    if isinstance(tempo, int | float) and not isinstance(tempo, bool) and low <= tempo <= high:
        return float(tempo)
    raise ChartError("tempo", _shown(tempo), f"a number from {low:g} to {high:g}")


def _meter(data: dict[str, Any], where: str) -> Meter:
    text = _get(data, "meter", str, where)
    match = METER.fullmatch(text)
    if match is None:
        raise ChartError(_at(where, "meter"), _shown(text), "a meter such as '4/4'")
    return _made(where, Meter, int(match[1]), int(match[2]))


def _degree(text: str, where: str) -> Degree:
    match = DEGREE.fullmatch(text)
    if match is None:
        raise ChartError(where, _shown(text), "a degree such as '5' or 'b7'")
    return Degree(int(match[2]), ALTERATIONS[match[1]])


def _get(data: dict[str, Any], key: str, kind: type[T], where: str) -> T:
    """The value under a key, of the type it must have."""
    if key not in data:
        raise ChartError(where or "chart", f"no {key}", f"{TYPE_NAMES[kind]} under {key!r}")
    return _typed(data[key], kind, _at(where, key))


def _typed(value: object, kind: type[T], where: str) -> T:
    if not isinstance(value, kind) or isinstance(value, bool):
        raise ChartError(where, _shown(value), TYPE_NAMES[kind])
    return value


def _each(
    data: dict[str, Any], key: str, where: str, name: str, read: Callable[[object, str], T]
) -> tuple[T, ...]:
    """Every value of a list, read with its place: "section 2, bar 1"."""
    values: list[object] = _get(data, key, list, where)
    return tuple(read(value, _at(where, f"{name} {n}")) for n, value in enumerate(values, 1))


def _made(where: str, make: Callable[..., T], *arguments: object) -> T:
    """Make a part of the chart; an error gets the place put before it."""
    try:
        return make(*arguments)
    except ChartError as error:
        raise ChartError(_at(where, error.where), error.found, error.expected) from error


def _one_of(kind: type[E], name: str, where: str) -> E:
    values = [member.value for member in kind]
    if name not in values:
        raise ChartError(where, _shown(name), "one of " + ", ".join(values))
    return kind(name)


def _at(where: str, what: str) -> str:
    if not where:
        return what
    last = where.rsplit(", ", 1)[-1]
    same = last.partition(" ")[0] == what.partition(" ")[0]
    return where if same else f"{where}, {what}"


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:59] + "…"
