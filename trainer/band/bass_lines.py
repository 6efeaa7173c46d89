"""Lines of the bass after a chord's first attack, by feel and by how fully a section is played.

Lines are common practice, no source.
"""

from __future__ import annotations

from trainer.band.feels import Role
from trainer.chart import Feel

__all__ = ["FULLER_LINES", "LIGHT_LINES", "STRONG", "Line"]

D, M, B, O = Role.DOWN, Role.MID, Role.BACK, Role.OFF  # noqa: E741 - as drummers' charts do

# What is played in a cell of each role: (subdivision, tone). "r" is the bass note again, "f" the
# fifth, "w" the next tone of a walk.
Line = dict[Role, tuple[tuple[int, str], ...]]

# The roles on which the bass of a slash chord is played again.
STRONG: dict[Feel, tuple[Role, ...]] = {
    **dict.fromkeys(Feel, (D, M)),
    Feel.HALF_TIME: (D, M, B),
    Feel.SIX_EIGHT: (D, M, B),
}

EIGHTHS: Line = dict.fromkeys(Role, ((0, "r"), (1, "r")))
BEATS: Line = dict.fromkeys(Role, ((0, "r"),))
HALVES: Line = {M: ((0, "r"),)}
DOTTED: Line = {B: ((1, "r"),), M: ((0, "r"),)}
ROOT_AND_FIFTH: Line = {M: ((0, "f"),)}
WALKING: Line = {M: ((0, "w"),), B: ((0, "w"),), O: ((0, "w"),)}

LIGHT_LINES: dict[Feel, tuple[Line, ...]] = {
    Feel.STRAIGHT: (HALVES, DOTTED, {M: ((0, "r"), (1, "r"))}),
    Feel.SHUFFLE: (WALKING, ROOT_AND_FIFTH, {M: ((0, "r"),), B: ((1, "r"),)}),
    Feel.TWO_BEAT: (ROOT_AND_FIFTH, HALVES),
    Feel.TRAIN_BEAT: (ROOT_AND_FIFTH, HALVES),
    Feel.HALF_TIME: ({B: ((1, "r"),)}, {B: ((0, "r"),)}, {}),
    Feel.WALTZ: ({M: ((0, "f"),)}, {M: ((0, "f"),), B: ((0, "r"),)}),
    Feel.SIX_EIGHT: (
        {B: ((0, "r"),), M: ((0, "r"),)},
        {B: ((0, "f"),), M: ((0, "r"),)},
        {B: ((0, "r"), (2, "r")), M: ((0, "r"),)},
    ),
    Feel.TWELVE_EIGHT: (
        {M: ((0, "f"),), B: ((0, "r"),)},
        HALVES,
        {M: ((0, "r"),), B: ((2, "r"),)},
    ),
}
FULLER_LINES: dict[Feel, tuple[Line, ...]] = {
    Feel.STRAIGHT: (
        EIGHTHS,
        BEATS,
        {D: ((1, "r"),), B: ((1, "r"),), M: ((0, "r"), (1, "r"))},
        {**EIGHTHS, B: ((0, "r"),)},
    ),
    Feel.SHUFFLE: (
        {M: ((0, "w"),), B: ((0, "w"), (1, "r")), O: ((0, "w"),)},
        WALKING,
        {D: ((1, "r"),), M: ((0, "w"), (1, "r")), B: ((0, "w"),), O: ((0, "w"),)},
    ),
    Feel.TWO_BEAT: (ROOT_AND_FIFTH, {M: ((0, "f"),), B: ((1, "r"),)}),
    Feel.TRAIN_BEAT: (ROOT_AND_FIFTH, {M: ((0, "f"),), B: ((1, "r"),)}),
    Feel.HALF_TIME: (
        {O: ((1, "r"),), B: ((0, "r"), (1, "f"))},
        {B: ((0, "r"),), O: ((1, "r"),)},
        {D: ((1, "r"),), B: ((0, "r"), (1, "r"))},
    ),
    Feel.WALTZ: (
        {M: ((0, "f"),), B: ((0, "f"),)},
        {O: ((0, "r"),), M: ((0, "f"),), B: ((0, "f"),)},
    ),
    Feel.SIX_EIGHT: (
        {D: ((2, "r"),), B: ((0, "r"), (2, "f")), M: ((0, "r"),)},
        {B: ((0, "f"), (2, "r")), M: ((0, "r"),)},
        {D: ((2, "r"),), B: ((0, "r"),), M: ((0, "r"),)},
    ),
    Feel.TWELVE_EIGHT: (
        {M: ((0, "f"),), B: ((0, "r"), (2, "r"))},
        {D: ((2, "r"),), M: ((0, "r"), (2, "r")), B: ((0, "r"),)},
    ),
}
