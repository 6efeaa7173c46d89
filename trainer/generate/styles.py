"""The styles: declared departures of a song from the average of the tables.

What each plays at which tempo is common practice, no source. `tilt` multiplies how often a chord
is moved to, `rates` multiplies a feature's rate for settings with `variety` (a waltz has few
pushes); `forms` are section orders by letter with weights, drawn in a `form_share` of the songs,
the others taking an order like those in the tables.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from trainer.chart import Feel, Meter

__all__ = ["STYLES", "Style"]

FOUR, THREE, SIX, TWELVE = Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(12, 8)


@dataclass(frozen=True, slots=True)
class Style:
    """A style: feel, meter, tempo range in pulses of the meter a minute, and its departures.

    `extensions` multiplies the rate of extensions; `sevenths` says that 1 and 4 take a 7 at rest,
    as blues does; `minor` that its 1 is minor; `blues` that its verses are twelve bars.
    `band` names the band that plays it by default. Letters of `forms`: I intro, V verse,
    P pre-chorus, C chorus, B bridge, S solo, N interlude, T turnaround, O outro.
    """

    name: str
    feel: Feel
    meter: Meter
    tempo_bpm: tuple[float, float]
    tilt: Mapping[str, float] = field(default_factory=dict)
    rates: Mapping[str, float] = field(default_factory=dict)
    extensions: float = 1.0
    sevenths: bool = False
    minor: bool = False
    blues: bool = False
    forms: Mapping[str, float] = field(default_factory=dict)
    form_share: float = 0.0
    band: str = "full"


_ALL = (
    Style(
        "ballad",
        Feel.STRAIGHT,
        FOUR,
        (58, 78),
        tilt={"6-": 1.3, "3-": 1.3, "2-": 1.2, "b7": 0.5, "b3": 0.5},
        rates={"splits": 1.4, "slash_chords": 1.6, "pushes": 0.5, "holds": 1.6, "chokes": 0.4},
        extensions=1.2,
        forms={"I V V B V T V O": 2, "I V C V C B C O": 3},
        form_share=0.3,
    ),
    Style(
        "two-beat",
        Feel.TWO_BEAT,
        FOUR,
        (92, 132),
        tilt={"5": 1.3, "2": 1.4, "b7": 0.4, "b3": 0.3, "b6": 0.3},
        rates={"splits": 0.7, "slash_chords": 0.7, "pushes": 0.4},
        extensions=0.6,
        forms={"I V C V C S C": 3, "I V V C V C": 1, "I V C T V C O": 2},
        form_share=0.4,
    ),
    Style(
        "train beat",
        Feel.TRAIN_BEAT,
        FOUR,
        (100, 138),
        tilt={"1": 1.2, "5": 1.3, "b3": 0.4, "b6": 0.4, "3-": 0.6},
        rates={"splits": 0.5, "slash_chords": 0.5, "pushes": 0.5, "chokes": 1.5},
        extensions=0.5,
        forms={"I V C V C S V C": 3, "I V C V S V C O": 2},
        form_share=0.4,
    ),
    Style(
        "shuffle",
        Feel.SHUFFLE,
        FOUR,
        (94, 136),
        tilt={"4": 1.15, "2": 1.2, "6": 1.3, "3-": 0.5},
        rates={"splits": 1.0, "chokes": 1.6},
        extensions=1.5,
        sevenths=True,
        forms={"I V C V C S C": 2, "I V V B V S V": 1},
        form_share=0.25,
    ),
    Style(
        "waltz",
        Feel.WALTZ,
        THREE,
        (84, 126),
        tilt={"5": 1.3, "2": 1.3, "b7": 0.4, "b3": 0.3, "b6": 0.3},
        rates={"splits": 0.35, "pushes": 0.1, "slash_chords": 1.1},
        extensions=0.7,
        forms={"I V C V C": 2, "I V V B V": 2, "I V C V S C": 2},
        form_share=0.5,
    ),
    Style(
        "6/8",
        Feel.SIX_EIGHT,
        SIX,
        (50, 72),
        tilt={"6-": 1.4, "3-": 1.3, "b7": 0.6},
        rates={"splits": 0.8, "pushes": 0.2, "holds": 1.4, "slash_chords": 1.1},
    ),
    Style(
        "half-time rock",
        Feel.HALF_TIME,
        FOUR,
        (120, 156),
        tilt={"b7": 1.5, "b6": 1.3, "b3": 1.6, "2-": 0.6, "2": 0.7},
        rates={"splits": 0.7, "pushes": 1.4, "chokes": 1.6},
        extensions=0.5,
        forms={"I V C V C B C O": 3, "I V P C V P C B C": 3},
        form_share=0.4,
    ),
    Style(
        "straight pop",
        Feel.STRAIGHT,
        FOUR,
        (92, 136),
        tilt={"b7": 1.4, "5-": 1.8, "2-": 1.1, "3-": 1.1, "5": 0.95},
        rates={"pushes": 1.3},
        forms={"I V P C V P C B C": 1, "I V C V C B C C": 1, "I V C V C O": 1},
        form_share=0.2,
    ),
    Style(
        "gospel 12/8",
        Feel.TWELVE_EIGHT,
        TWELVE,
        (54, 76),
        tilt={"2-": 1.3, "6": 1.5, "2": 1.5, "3": 1.5, "b5o": 6.0},
        rates={"splits": 1.6, "slash_chords": 1.6, "pushes": 0.2, "holds": 1.3, "chokes": 1.3},
        extensions=1.5,
        sevenths=True,
        forms={"I V C V C B C O": 2, "I V V B V O": 2},
        form_share=0.4,
    ),
    Style(
        "string-band",
        Feel.TWO_BEAT,
        FOUR,
        (104, 150),
        tilt={"1": 1.2, "5": 1.15, "b7": 2.4, "6-": 0.8, "3-": 0.4, "b3": 0.3, "b6": 0.3},
        rates={"splits": 0.5, "slash_chords": 0.4, "pushes": 0.3},
        extensions=0.2,
        forms={"I V C S V C S V C": 3, "I V C S V C": 2, "I V V S V V S V": 1},
        form_share=0.8,
        band="small",
    ),
    Style(
        "twelve-bar blues",
        Feel.SHUFFLE,
        FOUR,
        (88, 130),
        rates={"splits": 0.6, "chokes": 1.8, "slash_chords": 0.6},
        extensions=3.4,
        sevenths=True,
        blues=True,
        forms={"I V V S V": 3, "I V V S S V": 2, "I V V V S V": 2, "V V S V V": 1},
        form_share=1.0,
        band="small",
    ),
    Style(
        "minor-key",
        Feel.STRAIGHT,
        FOUR,
        (72, 132),
        tilt={},
        minor=True,
    ),
)
STYLES: dict[str, Style] = {style.name: style for style in _ALL}
