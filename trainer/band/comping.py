"""What a piano plays after a chord's first attack, by feel and by how fully a section is played.

Patterns are common practice, no source.
"""

from __future__ import annotations

from trainer.band.feels import Role
from trainer.chart import Feel

__all__ = ["FULLER_COMPS", "LIGHT_COMPS", "Comp"]

D, M, B, O = Role.DOWN, Role.MID, Role.BACK, Role.OFF  # noqa: E741 - as drummers' charts do

# What is struck in a cell of each role: (subdivision, "c" chord or "r" rolled voice).
Comp = dict[Role, tuple[tuple[int, str], ...]]

SUSTAINED: Comp = {}
HALVES: Comp = {M: ((0, "c"),)}
BACKBEATS: Comp = {B: ((0, "c"),)}
BEATS: Comp = dict.fromkeys(Role, ((0, "c"),))
ROLLED: Comp = dict.fromkeys(Role, ((0, "r"), (1, "r"), (2, "r")))
OFF_BEATS: Comp = {B: ((0, "c"),), O: ((0, "c"),)}

LIGHT_COMPS: dict[Feel, tuple[Comp, ...]] = {
    Feel.STRAIGHT: (HALVES, {M: ((0, "c"),), B: ((0, "r"),)}, {M: ((1, "c"),)}, SUSTAINED),
    Feel.SHUFFLE: (BACKBEATS, {M: ((0, "c"),)}, {M: ((1, "c"),)}),
    Feel.TWO_BEAT: (SUSTAINED, BACKBEATS),
    Feel.TRAIN_BEAT: (SUSTAINED, BACKBEATS),
    Feel.HALF_TIME: (BACKBEATS, {O: ((1, "r"),), B: ((0, "c"),)}, SUSTAINED),
    Feel.WALTZ: (SUSTAINED, OFF_BEATS),
    Feel.SIX_EIGHT: (ROLLED, {B: ((0, "c"),), M: ((0, "c"),), O: ((0, "c"),)}),
    Feel.TWELVE_EIGHT: ({M: ((0, "c"),), B: ((0, "c"),)}, HALVES),
}
FULLER_COMPS: dict[Feel, tuple[Comp, ...]] = {
    Feel.STRAIGHT: (
        BEATS,
        {M: ((0, "c"), (1, "c")), B: ((0, "c"),)},
        {D: ((1, "c"),), M: ((0, "c"),), B: ((0, "c"),)},
        {M: ((1, "c"),), B: ((0, "c"),)},
    ),
    Feel.SHUFFLE: (
        {D: ((1, "c"),), M: ((1, "c"),), B: ((0, "c"),), O: ((0, "c"),)},
        {M: ((0, "c"),), B: ((0, "c"),), O: ((0, "c"),)},
        {M: ((1, "c"),), B: ((0, "c"),), O: ((0, "c"),)},
    ),
    Feel.TWO_BEAT: (OFF_BEATS, {M: ((0, "c"),), B: ((0, "c"),), O: ((0, "c"),)}),
    Feel.TRAIN_BEAT: (OFF_BEATS, {M: ((0, "c"),), B: ((0, "c"),), O: ((0, "c"),)}),
    Feel.HALF_TIME: (OFF_BEATS, {O: ((1, "c"),), B: ((0, "c"),)}),
    Feel.WALTZ: (OFF_BEATS, {O: ((0, "c"),), B: ((0, "c"), (1, "r"))}),
    Feel.SIX_EIGHT: (
        {B: ((0, "c"),), M: ((0, "c"),), O: ((0, "c"),)},
        {D: ((2, "c"),), B: ((0, "c"),), M: ((0, "c"),), O: ((0, "c"),)},
    ),
    Feel.TWELVE_EIGHT: (
        dict.fromkeys(Role, ((0, "c"), (1, "c"), (2, "c"))),
        dict.fromkeys(Role, ((0, "c"), (2, "c"))),
    ),
}
