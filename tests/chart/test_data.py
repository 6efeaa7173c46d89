from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest

from tests.chart.test_parse import SONG
from trainer.chart import chart_from_json, chart_to_json, parse
from trainer.errors import ChartError

Data = dict[str, Any]


@pytest.fixture
def data() -> Data:
    """A song as JSON gives it back."""
    text = SONG.replace("4 5 1d", "[up 2] (4 0) [2/4] (5' 1'p) b7-^7/#4d")
    loaded: Data = json.loads(json.dumps(chart_to_json(parse(text))))
    return loaded


def event(data: Data, bar: int = 0, at: int = 0) -> Data:
    """An event of the Tag."""
    found: Data = data["sections"][1]["phrases"][0]["bars"][bar]["events"][at]
    return found


def test_the_shape(data: Data) -> None:
    """The keys and values are those that every reader of our JSON relies on."""
    assert {key: data[key] for key in ("title", "meter", "tempo", "feel", "key")} == {
        "title": "Second Lamp past the Sluice", "meter": "4/4", "tempo": 92.0, "feel": "straight",
        "key": "D",
    }  # fmt: skip
    assert parse(data["text"]) == chart_from_json(data)
    tag = data["sections"][1]
    assert (tag["name"], tag["kind"]) == ("Tag", "tag")
    first, second, third = tag["phrases"][0]["bars"]
    assert (first["meter"], first["key_change"]) == ("4/4", 2)
    assert first["events"] == [
        {"chord": "4", "degree": "4", "quality": "", "extension": "", "bass": None,
         "beats": "2", "articulation": None},
        {"chord": None, "degree": None, "quality": "", "extension": "", "bass": None,
         "beats": "2", "articulation": None},
    ]  # fmt: skip
    assert (second["meter"], second["events"][1]["articulation"]) == ("2/4", "push")
    assert third["events"] == [
        {"chord": "b7-^7/#4", "degree": "b7", "quality": "-", "extension": "7", "bass": "#4",
         "beats": "4", "articulation": "hold"},
    ]  # fmt: skip


def test_beats_are_fractions_as_text() -> None:
    """Thirds of a bar are written as fractions."""
    events = chart_to_json(parse("(1 4 5)"))["sections"][0]["phrases"][0]["bars"][0]["events"]
    assert [one["beats"] for one in events] == ["4/3"] * 3


def test_unknown_and_derived_keys_are_passed_over(data: Data) -> None:
    """Keys may be added; kind and text may be missing."""
    expected = chart_from_json(data)
    data["added"] = data["sections"][0]["added"] = 1
    del data["text"], data["sections"][0]["kind"]
    assert chart_from_json(data) == expected


def test_text_in_another_layout_is_the_same_chart(data: Data) -> None:
    """A text laid out otherwise is accepted as long as it says the same chart."""
    expected = chart_from_json(data)
    data["text"] = data["text"].replace(" . ", "\n")
    assert chart_from_json(data) == expected


def put(**values: object) -> Callable[[Data], None]:
    """Change the chart's own values."""
    return lambda data: data.update(values)


def put_event(**values: object) -> Callable[[Data], None]:
    """Change values of the first chord of the Tag."""
    return lambda data: event(data).update(values)


def drop(key: str) -> Callable[[Data], None]:
    """Leave a key out."""
    return lambda data: data.pop(key)


WHERE = "section 2, phrase 1, bar 1, event 1"


@pytest.mark.parametrize(
    ("change", "where", "expected"),
    [
        (drop("title"), "chart", "a text under 'title'"),
        (drop("sections"), "chart", "a list under 'sections'"),
        (put(title=7), "title", "a text"),
        (put(title="a\nb"), "title", "one line"),
        (put(meter="4:4"), "meter", "4/4"),
        (put(meter="4/5"), "meter", "2, 4, 8 or 16"),
        (put(tempo="92"), "tempo", "a number from 20 to 400"),
        (put(tempo=True), "tempo", "a number from 20 to 400"),
        (put(tempo=float("nan")), "tempo", "a number from 20 to 400"),
        (put(tempo=10**400), "tempo", "a number from 20 to 400"),
        (put(feel="rock"), "feel", "one of straight, shuffle"),
        (put(feel="waltz"), "feel", "straight, shuffle"),
        (put(key="H"), "key", "D, Bb, F# or E minor"),
        (put(sections={}), "sections", "a list"),
        (put(sections=[]), "chart", "at least one bar"),
        (put(sections=[1]), "section 1", "an object"),
        (put(sections=[{"name": "A", "phrases": []}]), "section 1", "one phrase"),
        (put(text="1 8"), "text", "the notation of the sections"),
        (put(text="1 4"), "text", "the same chart in both"),
        (put_event(beats=2), f"{WHERE}, beats", "a text"),
        (put_event(beats="two"), f"{WHERE}, beats", "a fraction"),
        (put_event(beats="1/0"), f"{WHERE}, beats", "a fraction"),
        (put_event(beats="0"), f"{WHERE}, beats", "a fraction"),
        (put_event(beats="-2"), f"{WHERE}, beats", "a fraction"),
        (put_event(beats="3"), "section 2, phrase 1, bar 1", "4 beats in 4/4"),
        (put_event(degree="8"), f"{WHERE}, degree", "'5' or 'b7'"),
        (put_event(degree=None), f"{WHERE}, degree", "a text"),
        (put_event(bass="x"), f"{WHERE}, bass", "'5' or 'b7'"),
        (put_event(bass="4"), f"{WHERE}, chord 4", "no bass where the bass is the root"),
        (put_event(quality="m"), f"{WHERE}, chord on 4", "one of"),
        (put_event(extension="8"), f"{WHERE}, chord 4", "one of"),
        (put_event(chord="5"), f"{WHERE}, chord", "'4' by its parts"),
        (put_event(articulation="loud"), f"{WHERE}, articulation", "hold, push, choke"),
        (put_event(chord=None, articulation="hold"), f"{WHERE}, no chord (0)", "no articulation"),
    ],
)
def test_what_cannot_be_is_refused(
    data: Data, change: Callable[[Data], None], where: str, expected: str
) -> None:
    """A wrong value is refused with its place and what was expected."""
    changed = copy.deepcopy(data)
    change(changed)
    with pytest.raises(ChartError) as caught:
        chart_from_json(changed)
    assert caught.value.where == where
    assert expected in caught.value.expected


@pytest.mark.parametrize("value", [None, [], "1 4 5", 7, True])
def test_only_an_object_is_a_chart(value: object) -> None:
    """Anything but an object is refused."""
    with pytest.raises(ChartError, match=r"chart: found .*, expected an object"):
        chart_from_json(value)
