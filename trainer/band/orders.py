"""What the notes of a chart ask of each player in each bar.

A note holds from its bar on, until another contradicts it or the section ends. Players out stay out
until they are called in. Of "down", "up", "lift" and "build" the last one holds, and so does the
last of stop-time and ringing out; "as before" ends them all. A walk-up is for its bar only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from trainer.chart import Action, Bar, Chart, Instruction, has_notes, read_band_words
from trainer.chart.band_words import PLAYERS

__all__ = ["BarOrders", "Loudness", "bar_orders", "noted_energy"]

EVERYBODY = frozenset(PLAYERS)
LEVELS = (Action.DOWN, Action.UP, Action.LIFT, Action.BUILD)
# What `slowing` carries out.
TEMPO = (Action.SLOW_DOWN, Action.A_TEMPO)
TEXTURES = (Action.STOP_TIME, Action.RING_OUT)
# How fully the band plays by each level, 0 to 1, and by how many decibels it plays softer or louder
# than a section of that energy.
QUIET, UP_BY, LEAST_UP, LEAST_LIFT, LIFT_BY = 0.38, 0.2, 0.7, 0.85, 0.15
LEVEL_DB = {Action.DOWN: -2.5, Action.UP: 1.0, Action.LIFT: 2.0}
# A build goes from and to these energies at least, and from and to these decibels.
BUILD_FROM, BUILD_TO = 0.4, 0.9
BUILD_DB = (-6.0, 2.5)


class Loudness(NamedTuple):
    """By how many decibels a player's strokes are harder at the beginning and the end of a bar."""

    first_db: float
    last_db: float


@dataclass(frozen=True, slots=True)
class BarOrders:
    """What holds in a bar.

    Attributes
    ----------
    out : the players who do not play, by the names in `PLAYERS`.
    energy : how fully the whole band plays, as an action with the share of a build that is over at
        the middle of the bar; None if the notes don't say.
    loudness : what is said about how loud a player plays.
    texture : stop-time or ring out, or None.
    fills : the players who answer the singer at the end of a phrase.
    walks_up : whether the bass steps up into the next bar.
    """

    out: frozenset[str] = frozenset()
    energy: tuple[Action, float] | None = None
    loudness: dict[str, Loudness] = field(default_factory=dict)
    texture: Action | None = None
    fills: frozenset[str] = frozenset()
    walks_up: bool = False


@dataclass(frozen=True, slots=True)
class _State:
    """What holds at a place in a section; `levels` has the bar where each began."""

    out: frozenset[str] = frozenset()
    levels: dict[str, tuple[Action, int]] = field(default_factory=dict)
    texture: Action | None = None
    fills: frozenset[str] = frozenset()
    walks_up: bool = False

    def after(self, instruction: Instruction, bar: int) -> _State:
        """The state after an instruction that stands before a bar."""
        action, players = instruction
        if action is Action.AS_BEFORE:
            return _State()
        if action in TEMPO:
            return self
        if action in LEVELS:
            return replace(self, levels={**self.levels, **dict.fromkeys(players, (action, bar))})
        if action in TEXTURES:
            return replace(self, texture=action)
        if action is Action.FILLS:
            return replace(self, fills=self.fills | players)
        if action is Action.WALK_UP:
            return replace(self, walks_up=True)
        return self._with_players(action, players)

    def _with_players(self, action: Action, players: frozenset[str]) -> _State:
        if action is Action.OUT:
            return replace(self, out=self.out | players)
        if action is Action.ONLY:
            return replace(self, out=EVERYBODY - players - {"voice"})
        # Who comes in plays on in time.
        texture = None if players == EVERYBODY else self.texture
        return replace(self, out=self.out - players, texture=texture)


def bar_orders(chart: Chart) -> tuple[BarOrders, ...]:
    """What holds in each bar of a chart; () if nothing is said in it."""
    if not has_notes(chart):
        return ()
    found: list[BarOrders] = []
    for section in chart.sections:
        bars = [bar for phrase in section.phrases for bar in phrase.bars]
        states = _states(section.notes, bars)
        found += [_orders(states, place) for place in range(len(bars))]
    return tuple(found)


def _states(notes: Sequence[str], bars: Sequence[Bar]) -> list[_State]:
    """What holds in each bar of a section with notes of its own."""
    state, found = _State(), []
    for place, bar in enumerate(bars):
        for note in (*(notes if place == 0 else ()), *bar.notes):
            for instruction in read_band_words(note):
                state = state.after(instruction, place)
        found.append(state)
        state = replace(state, walks_up=False)
    return found


def _orders(states: Sequence[_State], place: int) -> BarOrders:
    state = states[place]
    loudness, energy = {}, None
    for player, level in state.levels.items():
        first, last = _shares(states, place, player, level)
        loudness[player] = _loudness(level[0], first, last)
    levels = set(state.levels.values())
    if len(levels) == 1 and set(state.levels) == EVERYBODY:
        (level,) = levels
        first, last = _shares(states, place, "drums", level)
        energy = (level[0], (first + last) / 2)
    return BarOrders(state.out, energy, loudness, state.texture, state.fills, state.walks_up)


def _shares(
    states: Sequence[_State], place: int, player: str, level: tuple[Action, int]
) -> tuple[float, float]:
    """What share of the bars of a level are over at the beginning and the end of one of them."""
    first, end = level[1], place
    while end < len(states) and states[end].levels.get(player) == level:
        end += 1
    return (place - first) / (end - first), (place + 1 - first) / (end - first)


def _loudness(action: Action, first: float, last: float) -> Loudness:
    if action is not Action.BUILD:
        return Loudness(LEVEL_DB[action], LEVEL_DB[action])
    low, high = BUILD_DB
    return Loudness(low + (high - low) * first, low + (high - low) * last)


def noted_energy(energy: float, orders: BarOrders) -> float:
    """How fully a bar is played that has the energy of its section."""
    if orders.energy is None:
        return energy
    action, share = orders.energy
    if action is Action.DOWN:
        return min(energy, QUIET)
    if action is Action.UP:
        return min(max(energy + UP_BY, LEAST_UP), 1.0)
    if action is Action.LIFT:
        return min(max(energy, LEAST_LIFT) + LIFT_BY, 1.0)
    low, high = min(energy, BUILD_FROM), max(energy, BUILD_TO)
    return low + (high - low) * share
