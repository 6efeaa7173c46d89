"""The first four bars that a newcomer hears and writes, and the reply to each answer.

Nothing of it is stored: it shows what a number chart is and tests nobody.
"""

from __future__ import annotations

import random
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from trainer.band import Arrangement, Mix, arrange
from trainer.chart import Chart, Key, excerpt, parse, parse_tolerant

__all__ = [
    "FIRST_CHART",
    "OTHER_KEY",
    "PAGE_EXAMPLE",
    "STEPS",
    "BarCheck",
    "FirstStep",
    "check_first_bar",
    "first_bars",
    "play_first_bars",
]

FIRST_CHART = parse("title: Ferry Landing\nmeter: 4/4\ntempo: 84\nkey: A\n\n1 4 5 1\n")
# The same chart is played once more in this key, to show why bands use numbers.
OTHER_KEY = Key("C")
# A song as a band would get it.
PAGE_EXAMPLE = parse(
    "title: Ferry Landing\nmeter: 4/4\ntempo: 84\nkey: A\n\n"
    "Verse:\n1 4 1 5\n1 4 5 1\nChorus:\n4 1 5 6-\n4 5 1 1\n"
)
ONE_NUMBER = "Type one number, from 1 to 7."
LETTER = "That is a letter name. Count up from home instead, and type the number you reach."
# A chord in letter names, such as F, Bb or Dm7.
LETTER_NAME = re.compile(r"[A-G][#b♯♭]?[a-z0-9]*", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True)
class FirstStep:
    """One of the bars: what to do, what is said when it is right, and of what was typed instead.

    `hints` are by the root that was typed; `hint` is said of anything else.
    """

    ask: str
    praise: str
    hint: str
    hints: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BarCheck:
    """Whether what was typed is the bar, and what is said of it."""

    is_right: bool
    said: str


STEPS = (
    FirstStep(
        ask="Hear the first bar. It is home: the chord the song could end on. Home is always "
        "1, so type 1.",
        praise="That is already a chart: one bar, one number.",
        hint="The band starts at home here, and home is always 1.",
    ),
    FirstStep(
        ask="Now hear two bars. In the second one the band has left home. Sing the bass note of "
        "home and count up the scale until you reach the new one: one, two, three, and so on.",
        praise="Yes, the 4. It moves away from home and is in no hurry to get back.",
        hint="Follow the bass. From home it goes up: one, two, three, four.",
        hints={
            "1": "The bass has moved, so the band is not at home any more. Count up from 1.",
            "5": "Close, but that is one step too far. Count again: one, two, three, four.",
        },
    ),
    FirstStep(
        ask="Three bars now. In the third one the band goes up one more step. This chord leans: "
        "it wants to go home.",
        praise="Yes, the 5. Feel how it pulls?",
        hint="It is one step above the bar before, and the bar before was 4.",
        hints={"4": "That was the bar before. Now the bass has gone up one more step."},
    ),
    FirstStep(
        ask="Now all four. Where does the band come to rest?",
        praise="Home again. That was your first chart.",
        hint="The song could end here. That is home.",
        hints={"5": "The 5 was the bar before. Now the pull is gone: the band has come home."},
    ),
)


def check_first_bar(number: int, text: str) -> BarCheck:
    """What to say of what was typed for a bar, from 1."""
    step = STEPS[number - 1]
    parsed = parse_tolerant(text)
    bars = parsed.chart.bars() if parsed.chart is not None else ()
    chords = [event.chord for bar in bars for event in bar.events]
    chord = chords[0] if len(chords) == 1 and not parsed.problems else None
    if chord is None:
        is_letter = LETTER_NAME.fullmatch(text.strip()) is not None
        return BarCheck(False, LETTER if is_letter else ONE_NUMBER)
    right = FIRST_CHART.bars()[number - 1].events[0].chord
    if chord == right:
        return BarCheck(True, step.praise)
    if right is not None and chord.root == right.root:
        plain = f"The number is right. Leave out the rest: a plain {chord.root} is what you heard."
        return BarCheck(False, plain)
    return BarCheck(False, step.hints.get(str(chord.root), step.hint))


def first_bars(count: int) -> Chart:
    """The first `count` bars of the chart."""
    return excerpt(FIRST_CHART, 1, count)


def play_first_bars(count: int, *, in_other_key: bool = False) -> Arrangement:
    """The band playing the first `count` bars, in the other key if `in_other_key` says so."""
    chart = first_bars(count)
    if in_other_key:
        chart = replace(chart, key=OTHER_KEY)
    rng = random.Random("first chart")
    return arrange(chart, rng=rng, band="small", mix=Mix(bass_lift_db=6.0))
