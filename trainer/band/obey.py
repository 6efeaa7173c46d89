"""What a player has played, changed as the notes of the chart ask.

Every player first plays a chart as if nothing were said in it; `obey` then takes attacks away,
moves them or adds some. The chords stay what they are: a player who strikes a chord anew strikes
pitches that they have played of it, and a fill has the chord's own tones.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import groupby

from trainer.band.answers import play_answers
from trainer.band.drum_patterns import KICK, SNARE
from trainer.band.hits import play_hits
from trainer.band.humanize import Attack
from trainer.band.orders import BarOrders, bar_orders
from trainer.band.timeline import ChordSpan, Timeline, TimelineBar
from trainer.band.walk_up import walk_up
from trainer.chart import Action, Chart

__all__ = ["NotedBars", "noted_bars", "obey"]

# The players of an arrangement by the names that notes call them.
CALLED = {"pad": "keys", "foot": "foot", "home": "home"}
SINGERS = ("voice", "lead")
STOP_QUARTERS = 0.5
DB_A_DECADE = 40.0
NEAR = 1e-6


@dataclass(frozen=True, slots=True)
class NotedBars:
    """A timeline with what holds in each bar, and where everybody hits, in quarters."""

    timeline: Timeline
    orders: tuple[BarOrders, ...]
    hits: tuple[tuple[float, ...], ...]

    bar_starts: list[float]
    span_starts: list[float]

    def bar_at(self, time: float) -> TimelineBar:
        """The bar in which something starts; what is pushed before the first bar is of that bar."""
        return self.timeline.bars[max(0, bisect_right(self.bar_starts, time + NEAR) - 1)]

    def span_of(self, attack: Attack) -> ChordSpan:
        """The chord that an attack is of, by the moment that it may not come before."""
        place = bisect_right(self.span_starts, attack.earliest_start + NEAR) - 1
        return self.timeline.spans[max(0, place)]


def noted_bars(chart: Chart, timeline: Timeline) -> NotedBars | None:
    """What is said in a chart, bar by bar; None if nothing is."""
    orders = bar_orders(chart)
    if not orders:
        return None
    hits = tuple(
        tuple(_hit_time(bar, 4 * float(hit) / bar.meter.unit) for hit in written.hits)
        for bar, written in zip(timeline.bars, chart.bars(), strict=True)
    )
    starts = [bar.start for bar in timeline.bars], [span.start for span in timeline.spans]
    return NotedBars(timeline, orders, hits, *starts)


def _hit_time(bar: TimelineBar, offset: float) -> float:
    """When a hit is struck, in quarters: an eighth is swung where the band swings."""
    time = bar.start + offset
    nearest = min(bar.grid_points, key=lambda point: abs(point.time - time)).time
    return nearest if abs(nearest - time) < 0.2 else time


def obey(player: str, attacks: list[Attack], noted: NotedBars | None) -> list[Attack]:
    """What a player plays of a chart with notes, from what they would play without them."""
    if noted is None or player == "foot":
        return attacks
    called = CALLED.get(player, player)
    attacks = _with_textures(called, attacks, noted)
    attacks = play_hits(called, attacks, noted.timeline, noted.hits)
    if called == "bass":
        attacks = _with_walks(attacks, noted)
    answering = [
        called in orders.fills and not hits
        for orders, hits in zip(noted.orders, noted.hits, strict=True)
    ]
    attacks = play_answers(called, attacks, noted.timeline, answering)
    found = []
    for attack in attacks:
        bar = noted.bar_at(attack.start)
        orders = noted.orders[bar.number - 1]
        if called not in orders.out:
            found.append(_at_its_loudness(attack, called, bar, orders))
    return found


def _at_its_loudness(attack: Attack, called: str, bar: TimelineBar, orders: BarOrders) -> Attack:
    """An attack as loud as is asked for where it stands in its bar."""
    loudness = orders.loudness.get(called)
    if loudness is None:
        return attack
    share = (attack.start - bar.start) / (bar.end - bar.start)
    decibels = loudness.first_db + (loudness.last_db - loudness.first_db) * share
    velocity = round(attack.velocity * 10 ** (decibels / DB_A_DECADE))
    return attack._replace(velocity=max(1, min(127, velocity)))


def _with_textures(called: str, attacks: list[Attack], noted: NotedBars) -> list[Attack]:
    """The attacks with each chord struck once in bars of stop-time and where the band rings out.

    `attacks` are in the order of their chords.
    """
    if called in SINGERS or not any(orders.texture for orders in noted.orders):
        return attacks
    found: list[Attack] = []
    for span, group in groupby(attacks, key=noted.span_of):
        of_span = list(group)
        texture = noted.orders[span.bar.number - 1].texture
        if texture is None or span.chord is None:
            found += of_span
        else:
            found += _struck_once(called, of_span, span, stops=texture is Action.STOP_TIME)
    return found


def _struck_once(
    called: str, of_span: list[Attack], span: ChordSpan, *, stops: bool
) -> list[Attack]:
    """A chord struck at its beginning and either stopped at once or left to ring."""
    if called == "drums":
        velocity = max(attack.velocity for attack in of_span)
        if stops:
            keys: tuple[int, ...] = (KICK, SNARE)
        else:
            at_once = [each for each in of_span if abs(each.start - span.start) < NEAR]
            keys = tuple(dict.fromkeys(key for each in at_once for key in each.pitches))
        end = span.start + STOP_QUARTERS if stops else span.end
        return [
            Attack(span.start, min(end, span.end), (key,), velocity, span.start) for key in keys
        ]
    first = min(of_span, key=lambda attack: attack.start)
    pitches = first.pitches if called == "bass" else _all_pitches(of_span)
    end = min(span.start + STOP_QUARTERS, span.end) if stops else span.end
    if not span.has_later_attacks:
        end = min(end, first.end)
    velocity = max(attack.velocity for attack in of_span)
    return [Attack(span.start, end, pitches, velocity, span.start, first.spread_s)]


def _all_pitches(attacks: list[Attack]) -> tuple[int, ...]:
    return tuple(sorted({pitch for attack in attacks for pitch in attack.pitches}))


def _with_walks(attacks: list[Attack], noted: NotedBars) -> list[Attack]:
    """The attacks of the bass with a walk-up in the bars that ask for one."""
    for bar, orders, hits in zip(noted.timeline.bars, noted.orders, noted.hits, strict=True):
        if orders.walks_up and not hits:
            attacks = walk_up(attacks, bar)
    return attacks
