"""Keyboards: a piano that comps, or a steel-like pad that swells.

Chords are voiced for four voices, and each voice moves as little as it can to the next chord.
"""

from __future__ import annotations

import random
from functools import lru_cache
from itertools import combinations_with_replacement

from trainer.band.comping import FULLER_COMPS, LIGHT_COMPS, Comp
from trainer.band.humanize import Attack
from trainer.band.parts import Bend
from trainer.band.section_patterns import SectionPatterns
from trainer.band.timeline import ChordSpan, Timeline
from trainer.chart import Articulation, Feel

__all__ = ["VOICES", "play_keyboard", "swell_bends", "voice_chords"]

VOICES = 4
LOWEST, HIGHEST, CENTRE = 48, 74, 60
# In a slash chord the lowest voice lies no lower than this: the low register is the bassist's.
ABOVE_A_SLASH_BASS = 55
CHOKE_QUARTERS = 0.25
# A swell starts this far under the note (±8192 is ±2 semitones) and is in tune a little later.
SWELL_FROM, SWELL_STEPS, SWELL_QUARTERS = -2600, 6, 0.3
SWELL_SHARE = 0.4

Voicing = tuple[int, ...]


def _wanted(tones: tuple[int, ...]) -> tuple[int, ...]:
    """The tones that four voices play of a chord.

    A chord of more tones leaves its fifth out first, then its root, which the bass plays.
    """
    spare = [(tones[0] + 7) % 12, tones[0]][: max(0, len(tones) - VOICES)]
    kept = tuple(tone for tone in tones if tone not in spare)
    return kept[:2] + kept[-2:] if len(kept) > VOICES else kept


@lru_cache(maxsize=2048)
def _voicings(tones: tuple[int, ...]) -> tuple[Voicing, ...]:
    """Every close voicing of the tones within the register, sorted."""
    doubled = {
        tuple(sorted((*tones, *extra)))
        for extra in combinations_with_replacement(tones, VOICES - len(tones))
    }
    found: set[Voicing] = set()
    for classes in doubled:
        for bottom in range(LOWEST, LOWEST + 12):
            if bottom % 12 not in classes:
                continue
            rest = list(classes)
            rest.remove(bottom % 12)
            stack = [bottom]
            # Upwards from the bottom voice, each class at its next place above the last.
            while rest:
                rest.sort(key=lambda tone: (tone - stack[-1] - 1) % 12)
                stack.append(stack[-1] + 1 + (rest.pop(0) - stack[-1] - 1) % 12)
            found.add(tuple(stack))
    return tuple(
        sorted(
            moved
            for voicing in found
            for shift in (0, 12)
            if (moved := tuple(pitch + shift for pitch in voicing))[-1] <= HIGHEST
            and len(set(moved)) == VOICES
        )
    )


def _doubling(voicing: Voicing, root: int) -> float:
    """The cost of the doubled tones: none for the root, little for the fifth, more for others."""
    doubled = [
        pitch % 12
        for place, pitch in enumerate(voicing)
        if any(other % 12 == pitch % 12 for other in voicing[:place])
    ]
    return sum(
        0.0 if tone == root else 1.0 if (tone - root) % 12 in (6, 7, 8) else 3.0 for tone in doubled
    )


@lru_cache(maxsize=8192)
def _next_voicing(
    tones: tuple[int, ...], root: int, before: Voicing | None, lowest: int = LOWEST
) -> Voicing:
    """The voicing nearest to the one before, with a slight preference for the middle of the
    register. No voice lies below `lowest`.
    """

    def cost(voicing: Voicing) -> float:
        middle = sum(voicing) / VOICES
        drift = abs(middle - CENTRE)
        doubling = _doubling(voicing, root)
        if before is None:
            return drift + doubling
        moved = sum(abs(a - b) for a, b in zip(voicing, before, strict=True))
        return moved + max(0.0, drift - 4.0) * 1.5 + drift * 0.05 + doubling

    allowed = [voicing for voicing in _voicings(tones) if voicing[0] >= lowest]
    return min(allowed or _voicings(tones), key=cost)


def voice_chords(timeline: Timeline) -> list[Voicing | None]:
    """A voicing of four voices for each span, None if there is no chord."""
    before: Voicing | None = None
    voicings: list[Voicing | None] = []
    for span in timeline.spans:
        if span.chord is None:
            voicings.append(None)
            continue
        lowest = ABOVE_A_SLASH_BASS if span.is_slash else LOWEST
        before = _next_voicing(_wanted(span.tones), span.tones[0], before, lowest)
        voicings.append(before)
    return voicings


def _comp(span: ChordSpan, voicing: Voicing, velocity: int, comp: Comp) -> list[Attack]:
    """The attacks of a piano in one span."""
    strokes = [(span.start, voicing)]
    rolled = 0
    for point in span.grid_points:
        for sub, how in comp.get(point.role, ()):
            if sub != point.sub:
                continue
            rolled += how == "r"
            # Up the chord and back down.
            place = (1, 2, 3, 2, 1, 2)[(rolled - 1) % 6]
            strokes.append((point.time, voicing if how == "c" else (voicing[place],)))
    ends = [time for time, _ in strokes[1:]] + [span.end]
    return [
        Attack(
            time,
            span.end if len(struck) == 1 else end,
            struck,
            velocity - _softer(span, time),
            span.start,
            0.0,
            span.accents(struck),
        )
        for (time, struck), end in zip(strokes, ends, strict=True)
    ]


def _softer(span: ChordSpan, time: float) -> int:
    """How much softer a chord or a rolled voice is than the first chord of its span.

    Between the dotted beats of 6/8 and 12/8 it is softest, since the beats have to stand out.
    """
    if time == span.start:
        return 0
    between = any(point.time == time and point.sub for point in span.grid_points)
    return 20 if between and span.bar.feel in (Feel.SIX_EIGHT, Feel.TWELVE_EIGHT) else 9


def play_keyboard(timeline: Timeline, rng: random.Random, pad: bool) -> list[Attack]:
    """The attacks of the keyboard: a pad strikes each chord once and sustains it, a piano comps."""
    comps = SectionPatterns(rng.getrandbits(32), LIGHT_COMPS, FULLER_COMPS)
    attacks: list[Attack] = []
    for span, voicing in zip(timeline.spans, voice_chords(timeline), strict=True):
        if voicing is None:
            continue
        velocity = int(54 + 30 * span.bar.energy) + span.newness
        accents = span.accents(voicing)
        if span.articulation is Articulation.CHOKE:
            end = min(span.start + CHOKE_QUARTERS, span.end)
            attacks.append(Attack(span.start, end, voicing, velocity + 8, span.start, 0.0, accents))
        elif pad or not span.has_later_attacks:
            attacks.append(
                Attack(span.start, span.end, voicing, velocity, span.start, 0.0, accents)
            )
        else:
            attacks += _comp(span, voicing, velocity, comps.pattern(span.bar))
    return attacks


def swell_bends(timeline: Timeline, lead_in: float, rng: random.Random) -> tuple[Bend, ...]:
    """Pitch bends by which some of the longer pad chords slide into tune, as on a steel guitar."""
    bends: list[Bend] = []
    for span in timeline.spans:
        plain = span.articulation is None and span.chord is not None
        if not plain or span.end - span.start < 2 or rng.random() >= SWELL_SHARE:
            continue
        for step in range(SWELL_STEPS + 1):
            share = step / SWELL_STEPS
            value = round(SWELL_FROM * (1 - share))
            bends.append(Bend(lead_in + span.start + share * SWELL_QUARTERS, value))
    return tuple(bends)
