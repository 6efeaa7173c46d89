"""Bars whose rhythm the chart gives: everybody strikes together where a hit is written.

Pitched players strike the chord that holds, and nothing between; drums accent each hit with kick
and snare and keep time under it. A chord that is pushed into such a bar still comes before its bar
line, since the chart says so.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.band.drum_patterns import CLOSED_HAT, KICK, OPEN_HAT, RIDE, SNARE
from trainer.band.humanize import Attack
from trainer.band.timeline import ChordSpan, Timeline, TimelineBar
from trainer.chart import Articulation

__all__ = ["play_hits"]

TIME_KEYS = (CLOSED_HAT, RIDE, OPEN_HAT)
HARDER, SOFTER_TIME = 8, 0.75
CHOKE_QUARTERS, DRUM_QUARTERS = 0.25, 0.25
SINGERS = ("voice", "lead")
NEAR = 1e-6


def play_hits(
    called: str, attacks: list[Attack], timeline: Timeline, hits: Sequence[tuple[float, ...]]
) -> list[Attack]:
    """The attacks with the bars that have hits played on these only; `hits` in quarters, by bar."""
    if not any(hits):
        return attacks
    spans: dict[int, list[ChordSpan]] = {}
    for span in timeline.spans:
        spans.setdefault(span.bar.number, []).append(span)
    for bar, times in zip(timeline.bars, hits, strict=True):
        if times:
            attacks = _bar_of_hits(called, attacks, bar, spans[bar.number], times)
    return sorted(attacks, key=lambda attack: attack.start)


def _bar_of_hits(
    called: str,
    attacks: list[Attack],
    bar: TimelineBar,
    spans: list[ChordSpan],
    times: tuple[float, ...],
) -> list[Attack]:
    kept: list[Attack] = []
    inside: list[Attack] = []
    of_chords: list[tuple[Attack, ChordSpan]] = []
    for attack in attacks:
        span = _span_of(attack, spans)
        in_bar = bar.start - NEAR <= attack.start < bar.end - NEAR
        # A chord pushed into the next bar is not of this one's rhythm.
        pushed_in = attack.earliest_start >= spans[-1].end - NEAR
        (inside if in_bar and not pushed_in else kept).append(attack)
        of_chords += [(attack, span)] if span is not None else []
    if called == "drums":
        return kept + _accents(inside, spans, times)
    for number, time in enumerate(times):
        played = [each for each, span in of_chords if span.start - NEAR <= time < span.end - NEAR]
        span = next((each for each in spans if each.start - NEAR <= time < each.end - NEAR), None)
        if span is not None and span.chord is not None and played:
            following = times[number + 1] if number + 1 < len(times) else span.end
            kept.append(_struck(called, played, span, time, min(following, span.end)))
    return kept


def _span_of(attack: Attack, spans: list[ChordSpan]) -> ChordSpan | None:
    """The chord of a bar that an attack is of, by the moment that it may not come before."""
    return next(
        (each for each in spans if each.start - NEAR <= attack.earliest_start < each.end - NEAR),
        None,
    )


def _struck(called: str, played: list[Attack], span: ChordSpan, time: float, end: float) -> Attack:
    """A chord struck on a hit, with pitches that the player has of it."""
    if span.articulation is Articulation.CHOKE:
        end = min(end, time + CHOKE_QUARTERS)
    if called in SINGERS:
        sung = [each for each in played if each.start <= time + NEAR] or played[:1]
        of_chord = [each for each in sung if each.pitches[0] % 12 in span.tones]
        pitches = (of_chord or sung)[-1].pitches
    elif called == "bass":
        pitches = played[0].pitches
    else:
        pitches = tuple(sorted({pitch for each in played for pitch in each.pitches}))
    velocity = min(127, max(each.velocity for each in played) + HARDER)
    return Attack(time, end, pitches, velocity, time, max(each.spread_s for each in played))


def _accents(
    inside: list[Attack], spans: list[ChordSpan], times: tuple[float, ...]
) -> list[Attack]:
    """Kick and snare on the hits, and the cymbal's time under them, softer."""
    time_kept = [
        each._replace(velocity=max(1, int(each.velocity * SOFTER_TIME)))
        for each in inside
        if each.pitches[0] in TIME_KEYS
    ]
    velocity = max((each.velocity for each in inside), default=80)
    loud = min(127, velocity + HARDER)
    ends = [*times[1:], spans[-1].end]
    accents = [
        Attack(time, min(time + DRUM_QUARTERS, max(end, time + NEAR)), (key,), loud, time)
        for time, end in zip(times, ends, strict=True)
        for key in (KICK, SNARE)
    ]
    return time_kept + accents
