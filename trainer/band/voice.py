"""The guide voice, whose line makes phrases audible, and the lead that plays in its place.

Each kind of section has a motif that opens every one of its phrases, so that the ear hears the
vocal start over. Each phrase comes to rest and takes a breath, and a pickup leads into the next.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import NamedTuple

from trainer.band.feels import Role
from trainer.band.guitar import INSTRUMENTAL
from trainer.band.humanize import Attack
from trainer.band.motif import Motif, motifs_for
from trainer.band.timeline import ChordSpan, Timeline, TimelineBar, TimelinePhrase
from trainer.chart import Articulation

__all__ = ["BREATH_QUARTERS", "lowest_pitch", "play_lead", "play_voice"]

BREATH_QUARTERS = 0.5
PICKUP_QUARTERS = 0.5
SHORTEST_QUARTERS = 0.2
CHOKE_QUARTERS = 0.25
LOWEST_PITCHES = range(57, 64)
USUAL_LOWEST_PITCH = 60
LEAP = 4
STRONG = (Role.DOWN, Role.MID)
NEAR = 1e-6


class _Onset(NamedTuple):
    time: float
    span: ChordSpan
    strong: bool


@dataclass(frozen=True, slots=True)
class _Singer:
    """A singing part: its lowest pitch, whether it uses passing tones, and its velocity."""

    lowest_pitch: int
    passing: bool
    velocity: int


def lowest_pitch(tonic: int) -> int:
    """The lowest pitch of the voice: the 1 or the 5 of the key that is nearer to middle C."""
    fits = [pitch for pitch in LOWEST_PITCHES if (pitch - tonic) % 12 in (0, 7)]
    return min(fits, key=lambda pitch: abs(pitch - USUAL_LOWEST_PITCH))


def _span_at(spans: tuple[ChordSpan, ...], time: float) -> ChordSpan:
    """The span that holds at a time, as written."""
    return next(span for span in reversed(spans) if span.written_start <= time + NEAR)


def _bar_onsets(phrase: TimelinePhrase, bar: TimelineBar, motif: Motif) -> list[_Onset]:
    """The onsets of one bar, moved or dropped as its articulations ask."""
    spans = tuple(span for span in phrase.spans if span.bar is bar)
    onsets = []
    for offset, cell, sub in motif.onsets(bar.cells, bar.index, bar.phrase_bars):
        span = _span_at(spans, bar.start + offset)
        first = bar.start + offset <= span.written_start + 0.24
        if span.chord is None or not (first or span.has_later_attacks):
            continue
        time = span.start if first else bar.start + offset
        if time < span.end - SHORTEST_QUARTERS:
            strong = first or (sub == 0 and bar.cells[cell].role in STRONG)
            onsets.append(_Onset(time, span, strong))
    sung = {onset.span.index for onset in onsets if onset.time == onset.span.start}
    # A chord change renews the note: none is held from one chord into the next.
    onsets += [
        _Onset(span.start, span, True)
        for span in spans
        if span.chord is not None and span.index not in sung
    ]
    return sorted({onset.time: onset for onset in onsets}.values())


def _renewed(phrase: TimelinePhrase, motif: Motif, limit: float) -> list[tuple[_Onset, float]]:
    """All onsets of a phrase with the ends of their notes; no note reaches beyond `limit`."""
    onsets = [onset for bar in phrase.bars for onset in _bar_onsets(phrase, bar, motif)]
    onsets = [onset for onset in onsets if onset.time < limit - SHORTEST_QUARTERS]
    notes = []
    for place, onset in enumerate(onsets):
        following = onsets[place + 1].time if place + 1 < len(onsets) else limit
        end = min(following, onset.span.end, limit)
        if onset.span.articulation is Articulation.CHOKE:
            end = min(end, onset.time + CHOKE_QUARTERS)
        notes.append((onset, end))
    return notes


def _pitch(
    onset: _Onset, long: bool, wanted: float, before: int, motif: Motif, singer: _Singer
) -> int:
    """The allowed pitch nearest to the wanted one: a chord tone on strong beats and long notes."""
    low, high = singer.lowest_pitch + motif.low, singer.lowest_pitch + motif.high
    # The triad: a seventh or ninth that is sung long makes another chord of it.
    tones = set(onset.span.tones[:3])
    if not (onset.strong or long) and singer.passing:
        clash = {(tone + step) % 12 for tone in tones for step in (-1, 1)}
        tones |= {tone for tone in onset.span.bar.scale if tone not in clash} | (
            set(onset.span.bar.scale) & {(tone + 2) % 12 for tone in tones}
        )
    fits = [pitch for pitch in range(low, high + 1) if pitch % 12 in tones]

    def cost(pitch: int) -> float:
        leap = abs(pitch - before)
        # What the bass of a slash chord plays already is left to it where another tone is near.
        bass = onset.span.bass != onset.span.tones[0] and pitch % 12 == onset.span.bass
        leaping = 2.0 * max(0, leap - LEAP)
        return abs(pitch - wanted) + leaping + (0.7 if leap == 0 else 0.0) + (1.5 if bass else 0.0)

    return min(fits, key=cost)


def _sing(
    notes: list[tuple[_Onset, float]], motif: Motif, singer: _Singer
) -> list[tuple[float, float, int, ChordSpan]]:
    """The notes of a phrase as (start, end, pitch, span), along the contour of its motif."""
    before = wanted = singer.lowest_pitch + motif.anchor
    sung = []
    for place, (onset, end) in enumerate(notes):
        pulse = onset.span.bar.cells[0].length
        long = end - onset.time > pulse + NEAR or place == len(notes) - 1
        if place:
            wanted = before + 2 * motif.contour[place % len(motif.contour)]
        pitch = _pitch(onset, long, wanted, before, motif, singer)
        sung.append((onset.time, end, pitch, onset.span))
        before = pitch
    return sung


def _breath_and_pickup(
    phrase: TimelinePhrase, following: TimelinePhrase | None, sings_next: bool
) -> tuple[float, float | None]:
    """When a phrase stops singing, and when the pickup into the next starts (None: no pickup)."""
    last = phrase.spans[-1]
    length = phrase.end - phrase.start
    roomy = last.end - last.written_start >= PICKUP_QUARTERS + BREATH_QUARTERS
    pickup = None
    if (
        following is not None
        and sings_next
        and last.has_later_attacks
        and roomy
        and length >= 2
        and not following.spans[0].pushed
        and following.spans[0].chord is not None
    ):
        late = [point for point in last.grid_points if point.sub > 0 and point.time >= last.end - 1]
        pickup = late[-1].time if late else None
    rest = 1.0 if length >= 4 else BREATH_QUARTERS
    return (pickup if pickup is not None else phrase.end) - rest, pickup


def _gesture(time: float, end: float, pitch: int, span: ChordSpan, singer: _Singer) -> Attack:
    velocity = singer.velocity + int(14 * span.bar.energy)
    return Attack(time, end, (pitch,), velocity, span.start)


def _phrases(
    timeline: Timeline, motifs: dict[str, Motif], singer: _Singer, kinds_sung: frozenset[str]
) -> list[Attack]:
    """The attacks of every phrase of the sung kinds, with the pickups between them."""
    attacks: list[Attack] = []
    pickup_from: tuple[float, ChordSpan] | None = None
    pairs = zip(timeline.phrases, (*timeline.phrases[1:], None), strict=True)
    for phrase, following in pairs:
        kind = phrase.bars[0].kind
        sings_next = following is not None and following.bars[0].kind in kinds_sung
        limit, pickup = _breath_and_pickup(phrase, following, sings_next)
        sung = []
        if kind in kinds_sung:
            motif = motifs[kind]
            sung = _sing(_renewed(phrase, motif, limit), motif, singer)
            if sung and pickup_from is not None:
                attacks.append(_lead_in(pickup_from, sung[0], motif, singer))
        attacks += [_gesture(time, end, pitch, span, singer) for time, end, pitch, span in sung]
        pickup_from = (pickup, phrase.spans[-1]) if pickup is not None else None
    return attacks


def _lead_in(
    pickup_from: tuple[float, ChordSpan],
    first: tuple[float, float, int, ChordSpan],
    motif: Motif,
    singer: _Singer,
) -> Attack:
    """The pickup into a phrase: a step below its first note where the register allows."""
    time, span = pickup_from
    target = first[2]
    low = singer.lowest_pitch + motif.low
    allowed = set(span.tones) | (set(span.bar.scale) if singer.passing else set())
    near = sorted(range(target - 4, target + 5), key=lambda p: (abs(p - target + 2), p))
    pitch = next((p for p in near if p != target and p >= low and p % 12 in allowed), target)
    pickup = _gesture(time, min(span.end, time + PICKUP_QUARTERS), pitch, span, singer)
    # Never early: the breath before it has its full length.
    return pickup._replace(earliest_start=time)


SUNG_KINDS = frozenset(
    {"verse", "pre-chorus", "chorus", "bridge", "tag", "other"} - set(INSTRUMENTAL)
)


def play_voice(timeline: Timeline, pulse_s: float, rng: random.Random) -> list[Attack]:
    """The attacks of the guide voice, which sings all sections but the instrumental ones."""
    singer = _Singer(lowest_pitch(timeline.bars[0].tonic), passing=True, velocity=84)
    return _phrases(timeline, motifs_for(rng, pulse_s), singer, SUNG_KINDS)


def play_lead(timeline: Timeline, pulse_s: float, rng: random.Random) -> list[Attack]:
    """The attacks of the lead, which plays the instrumental sections above the voice's register.

    It uses chord tones only.
    """
    singer = _Singer(lowest_pitch(timeline.bars[0].tonic) + 5, passing=False, velocity=72)
    return _phrases(timeline, motifs_for(rng, pulse_s), singer, frozenset(INSTRUMENTAL))
