"""The guide voice, whose line makes phrases audible, and the lead that plays in its place.

Each kind of section has a motif that opens every one of its phrases, so that the ear hears the
vocal start over. Many of them leap near the opening and step back. Each phrase comes to rest and
takes a breath, and a pickup leads into the next. When a section comes back, `variation` changes
what a singer changes.
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
from trainer.band.variation import SungNote, vary
from trainer.chart import Articulation

__all__ = ["BREATH_QUARTERS", "lowest_pitch", "play_lead", "play_voice"]

BREATH_QUARTERS = 0.5
PICKUP_QUARTERS = 0.5
SHORTEST_QUARTERS = 0.2
CHOKE_QUARTERS = 0.25
LOWEST_PITCHES = range(57, 64)
USUAL_LOWEST_PITCH = 60
# In semitones: what a move costs nothing up to, and what counts as a leap.
LEAP, LEAST_LEAP, WIDEST_LEAP = 4, 5, 12
LATEST_LEAP = 3
# Velocity a semitone above the middle of a line, and that of its last note and of a pickup.
HIGHER_IS_HARDER, SOFT_ENDING = 0.4, -4
# Velocity of a note on a strong beat, and of one between beats, against one on another beat.
STRONG_BEAT, OFF_BEAT = 5, -7
STRONG = (Role.DOWN, Role.MID)
NEAR = 1e-6


class _Onset(NamedTuple):
    time: float
    span: ChordSpan
    strong: bool


_TimedOnset = tuple[_Onset, float]


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


def _renewed(phrase: TimelinePhrase, motif: Motif, limit: float) -> list[_TimedOnset]:
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


def _fits(onset: _Onset, long: bool, motif: Motif, singer: _Singer) -> list[int]:
    """The allowed pitches of a note: chord tones on strong beats and long notes."""
    low, high = singer.lowest_pitch + motif.low, singer.lowest_pitch + motif.high
    # The triad: a seventh or ninth that is sung long makes another chord of it.
    tones = set(onset.span.tones[:3])
    if not (onset.strong or long) and singer.passing:
        clash = {(tone + step) % 12 for tone in tones for step in (-1, 1)}
        tones |= {tone for tone in onset.span.bar.scale if tone not in clash} | (
            set(onset.span.bar.scale) & {(tone + 2) % 12 for tone in tones}
        )
    return [pitch for pitch in range(low, high + 1) if pitch % 12 in tones]


def _pitch(onset: _Onset, fits: list[int], wanted: float, before: int) -> int:
    """The allowed pitch nearest to the wanted one."""

    def cost(pitch: int) -> float:
        leap = abs(pitch - before)
        # What the bass of a slash chord plays already is left to it where another tone is near.
        bass = onset.span.bass != onset.span.tones[0] and pitch % 12 == onset.span.bass
        leaping = 2.0 * max(0, leap - LEAP)
        return abs(pitch - wanted) + leaping + (0.7 if leap == 0 else 0.0) + (1.5 if bass else 0.0)

    return min(fits, key=cost)


def _leap_place(notes: list[_TimedOnset], motif: Motif, singer: _Singer) -> int | None:
    """The note that the leap of the motif reaches: near the opening, before a weak short note."""
    if not (motif.leap and singer.passing):
        return None
    for place in range(motif.leap_from, min(LATEST_LEAP, len(notes) - 2) + 1):
        following, end = notes[place + 1]
        if not following.strong and end - following.time <= _pulse(following) + NEAR:
            return place
    return None


def _pulse(onset: _Onset) -> float:
    return onset.span.bar.cells[0].length


def _leap_to(fits: list[int], before: int, leap: int) -> int | None:
    """The allowed pitch that is nearest to a leap of this size and way; None if none is a leap."""
    way = 1 if leap > 0 else -1
    wide = [pitch for pitch in fits if LEAST_LEAP <= way * (pitch - before) <= WIDEST_LEAP]
    return min(wide, key=lambda pitch: abs(pitch - before - leap), default=None)


def _step_back(onset: _Onset, before: int, leap: int) -> int:
    """The step of the scale by which a leap to `before` is recovered."""
    way = -1 if leap > 0 else 1
    steps = (before + way, before + 2 * way)
    allowed = (*onset.span.bar.scale, *onset.span.tones)
    # The whole tone first, as the half tone may clash with the third of the chord.
    return next((pitch for pitch in reversed(steps) if pitch % 12 in allowed), steps[0])


def _sing(notes: list[_TimedOnset], motif: Motif, singer: _Singer) -> list[SungNote]:
    """The notes of a phrase, along the contour of its motif."""
    before = wanted = singer.lowest_pitch + motif.anchor
    leap_place = _leap_place(notes, motif, singer)
    leapt = False
    sung = []
    for place, (onset, end) in enumerate(notes):
        long = end - onset.time > _pulse(onset) + NEAR or place == len(notes) - 1
        if leapt:
            pitch, leapt = _step_back(onset, before, motif.leap), False
        else:
            if place:
                wanted = before + 2 * motif.contour[place % len(motif.contour)]
            fits = _fits(onset, long, motif, singer)
            far = _leap_to(fits, before, motif.leap) if place == leap_place else None
            leapt = far is not None
            pitch = _pitch(onset, fits, wanted, before) if far is None else far
        sung.append(SungNote(onset.time, end, pitch, onset.span))
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


def _gesture(note: SungNote, singer: _Singer, harder: int = 0) -> Attack:
    """The attack of a note, by `harder` louder than the section asks for."""
    velocity = singer.velocity + int(22 * note.span.bar.energy) + harder
    return Attack(note.start, note.end, (note.pitch,), velocity, note.span.start)


def _emphasis(sung: list[SungNote]) -> list[int]:
    """Velocity added to each note of a line: by its beat and its height, less for the last one."""
    if not sung:
        return []
    middle = (max(note.pitch for note in sung) + min(note.pitch for note in sung)) / 2
    return [
        *(_beat(note) + round((note.pitch - middle) * HIGHER_IS_HARDER) for note in sung[:-1]),
        SOFT_ENDING,
    ]


def _beat(note: SungNote) -> int:
    """Velocity added for where a note stands: on a strong beat, on another, or between beats."""
    bar = note.span.bar
    for cell in bar.cells:
        if abs(bar.start + cell.start - note.start) < NEAR:
            return STRONG_BEAT if cell.role in STRONG else 0
    return OFF_BEAT if note.start > bar.start else STRONG_BEAT


def _phrases(
    timeline: Timeline,
    motifs: dict[str, Motif],
    singer: _Singer,
    kinds_sung: frozenset[str],
    seed: int,
) -> list[Attack]:
    """The attacks of every phrase of the sung kinds, with the pickups between them."""
    attacks: list[Attack] = []
    pickup_from: tuple[float, ChordSpan] | None = None
    first_sections: dict[str, int] = {}
    pairs = zip(timeline.phrases, (*timeline.phrases[1:], None), strict=True)
    for phrase, following in pairs:
        bar = phrase.bars[0]
        sings_next = following is not None and following.bars[0].kind in kinds_sung
        limit, pickup = _breath_and_pickup(phrase, following, sings_next)
        sung = []
        if bar.kind in kinds_sung:
            motif = motifs[bar.kind]
            sung = _sing(_renewed(phrase, motif, limit), motif, singer)
            if first_sections.setdefault(bar.kind, bar.section) != bar.section and singer.passing:
                # Its own seed, so that no other line depends on what is varied here.
                own = random.Random(f"{seed} {bar.section} {bar.phrase}")
                highest = singer.lowest_pitch + motif.high
                sung = vary(sung, phrase, (singer.lowest_pitch + motif.low, highest), own)
            if sung and pickup_from is not None:
                attacks.append(_lead_in(pickup_from, sung[0].pitch, motif, singer))
        attacks += [
            _gesture(note, singer, harder)
            for note, harder in zip(sung, _emphasis(sung), strict=True)
        ]
        pickup_from = (pickup, phrase.spans[-1]) if pickup is not None else None
    return attacks


def _lead_in(
    pickup_from: tuple[float, ChordSpan], target: int, motif: Motif, singer: _Singer
) -> Attack:
    """The pickup into a phrase: a step below its first note where the register allows."""
    time, span = pickup_from
    low = singer.lowest_pitch + motif.low
    allowed = set(span.tones) | (set(span.bar.scale) if singer.passing else set())
    near = sorted(range(target - 4, target + 5), key=lambda p: (abs(p - target + 2), p))
    pitch = next((p for p in near if p != target and p >= low and p % 12 in allowed), target)
    end = min(span.end, time + PICKUP_QUARTERS)
    pickup = _gesture(SungNote(time, end, pitch, span), singer, SOFT_ENDING)
    # Never early: the breath before it has its full length.
    return pickup._replace(earliest_start=time)


SUNG_KINDS = frozenset(
    {"verse", "pre-chorus", "chorus", "bridge", "tag", "other"} - set(INSTRUMENTAL)
)


def play_voice(timeline: Timeline, pulse_s: float, rng: random.Random) -> list[Attack]:
    """The attacks of the guide voice, which sings all sections but the instrumental ones."""
    singer = _Singer(lowest_pitch(timeline.bars[0].tonic), passing=True, velocity=78)
    motifs = motifs_for(rng, pulse_s)
    return _phrases(timeline, motifs, singer, SUNG_KINDS, rng.getrandbits(32))


def play_lead(timeline: Timeline, pulse_s: float, rng: random.Random) -> list[Attack]:
    """The attacks of the lead, which plays the instrumental sections above the voice's register.

    It uses chord tones only.
    """
    singer = _Singer(lowest_pitch(timeline.bars[0].tonic) + 5, passing=False, velocity=68)
    motifs = motifs_for(rng, pulse_s)
    return _phrases(timeline, motifs, singer, frozenset(INSTRUMENTAL), 0)
