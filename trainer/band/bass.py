"""Bass: the slash degree or the root on every chord's first attack, then the line of the feel."""

from __future__ import annotations

import random

from trainer.band.feels import Role
from trainer.band.human import Gesture
from trainer.band.timeline import Slot, Span, Timeline
from trainer.chart.model import Articulation, Feel

__all__ = ["HIGHEST", "LOWEST", "place_near", "play_bass"]

LOWEST, HIGHEST = 28, 55
HOME_LOW, HOME_HIGH = 28, 43
CHOKE_QUARTERS = 0.25
APPROACH_SHARE = 0.35
FULL = 0.7
# How much harder a chord's first attack is played than the rest of the line.
FIRST = 10
D, M, B, O = Role.DOWN, Role.MID, Role.BACK, Role.OFF  # noqa: E741 - as drummers' charts do

# What follows the first attack, by feel and role: (subdivision, tone). "r" is the bass note again,
# "f" the fifth, "w" the next tone of a walk.
Line = dict[Role, tuple[tuple[int, str], ...]]
EIGHTHS: Line = dict.fromkeys(Role, ((0, "r"), (1, "r")))
LIGHT: dict[Feel, Line] = {
    Feel.STRAIGHT: {M: ((0, "r"),)},
    Feel.SHUFFLE: {M: ((0, "w"),), B: ((0, "w"),), O: ((0, "w"),)},
    Feel.TWO_BEAT: {M: ((0, "f"),)},
    Feel.TRAIN_BEAT: {M: ((0, "f"),)},
    Feel.HALF_TIME: {B: ((1, "r"),)},
    Feel.WALTZ: {M: ((0, "f"),)},
    Feel.SIX_EIGHT: {B: ((0, "r"),), M: ((0, "r"),)},
    Feel.TWELVE_EIGHT: {M: ((0, "f"),), B: ((0, "r"),)},
}
FULLER: dict[Feel, Line] = {
    Feel.STRAIGHT: EIGHTHS,
    Feel.SHUFFLE: {M: ((0, "w"),), B: ((0, "w"), (1, "r")), O: ((0, "w"),)},
    Feel.TWO_BEAT: {M: ((0, "f"),)},
    Feel.TRAIN_BEAT: {M: ((0, "f"),)},
    Feel.HALF_TIME: {O: ((1, "r"),), B: ((0, "r"), (1, "f"))},
    Feel.WALTZ: {M: ((0, "f"),), B: ((0, "f"),)},
    Feel.SIX_EIGHT: {D: ((2, "r"),), B: ((0, "r"), (2, "f")), M: ((0, "r"),)},
    Feel.TWELVE_EIGHT: {M: ((0, "f"),), B: ((0, "r"), (2, "r"))},
}


def place_near(pitch_class: int, near: int, low: int, high: int) -> int:
    """The pitch of a class nearest to another within limits that span an octave or more."""
    lowest = low + (pitch_class - low) % 12
    return min(range(lowest, high + 1, 12), key=lambda pitch: abs(pitch - near))


def _fifth(span: Span, note: int) -> int:
    """The chord's fifth below the note where the register allows, else above; for a slash the
    octave, so that the bass stays plain."""
    assert span.bass is not None
    fifths = [tone for tone in span.tones if (tone - span.tones[0]) % 12 in (6, 7, 8)]
    if span.bass != span.tones[0] or not fifths:
        return note - 12 if note - 12 >= LOWEST else note + 12
    below = note - (note - fifths[0]) % 12
    return below if below >= LOWEST else below + 12


def _walk(span: Span, note: int, step: int) -> int:
    """The step-th tone of a walk up the chord from the bass note and back; a slash bass stays."""
    if span.bass != span.tones[0]:
        return note
    up = sorted((tone - note) % 12 for tone in span.tones[:3] if (tone - note) % 12)
    if not up:
        return note
    there_and_back = [*up, *up[-2::-1]]
    return note + there_and_back[step % len(there_and_back)]


def _line(span: Span, note: int) -> list[tuple[Slot, int]]:
    """What the bass plays after the first attack."""
    table = FULLER if span.bar.energy >= FULL else LIGHT
    pattern = table[span.bar.feel]
    walked, line = 0, []
    for slot in span.slots:
        for sub, tone in pattern.get(slot.role, ()):
            if sub != slot.sub:
                continue
            if tone == "w":
                line.append((slot, _walk(span, note, walked)))
                walked += 1
            else:
                line.append((slot, note if tone == "r" else _fifth(span, note)))
    return line


def _approach(
    span: Span, following: Span, target: int, rng: random.Random
) -> tuple[float, int] | None:
    """A passing note into the next chord, in the last half beat or beat before it, or none.

    Never in a chord of less than two beats, which it would blur.
    """
    pulse = span.bar.cells[0].length
    if not (span.plays_on and following.chord is not None) or following.pushed:
        return None
    if span.end - span.start < 2 * pulse - 1e-6 or span.bass == following.bass:
        return None
    late = [slot for slot in span.slots if slot.time >= span.end - 1 - 1e-6]
    if not late or rng.random() >= APPROACH_SHARE:
        return None
    long_enough = span.end - span.start >= 3 * pulse - 1e-6
    slot = late[0] if long_enough and rng.random() < 0.5 else late[-1]
    steps = [-2, -1, 1, 2]
    diatonic = [step for step in steps if (target + step) % 12 in following.bar.scale]
    chosen = rng.choice(diatonic or steps) if rng.random() < 0.7 else rng.choice((-1, 1))
    return slot.time, max(LOWEST, min(HIGHEST, target + chosen))


def _attacks(
    span: Span, note: int, rng: random.Random, following: Span | None
) -> list[tuple[float, int]]:
    """Times and pitches of a span that plays on."""
    attacks = [(span.start, note)]
    attacks += [(slot.time, pitch) for slot, pitch in _line(span, note)]
    if following is not None and following.bass is not None:
        target = place_near(following.bass, note, HOME_LOW, HOME_HIGH)
        approach = _approach(span, following, target, rng)
        if approach is not None:
            attacks = [attack for attack in attacks if attack[0] < approach[0] - 1e-6]
            attacks.append(approach)
    return attacks


def play_bass(timeline: Timeline, rng: random.Random) -> list[Gesture]:
    """The bass part."""
    gestures: list[Gesture] = []
    note = 36
    for span, following in zip(timeline.spans, (*timeline.spans[1:], None), strict=True):
        if span.bass is None:
            continue
        note = place_near(span.bass, note, HOME_LOW, HOME_HIGH)
        velocity = int(72 + 28 * span.bar.energy)
        if not span.plays_on:
            stopped = span.articulation is Articulation.STOP
            end = min(span.start + CHOKE_QUARTERS, span.end) if stopped else span.end
            gestures.append(Gesture(span.start, end, (note,), velocity + FIRST, span.start))
            continue
        attacks = _attacks(span, note, rng, following)
        ends = [time for time, _ in attacks[1:]] + [span.end]
        for place, ((time, pitch), end) in enumerate(zip(attacks, ends, strict=True)):
            accent = FIRST if place == 0 else 0
            gestures.append(Gesture(time, end, (pitch,), velocity + accent, span.start))
    return gestures
