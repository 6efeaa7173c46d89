"""The bass: each chord's bass note on its first attack, then the line of the feel.

The bass note is the slash degree if there is one, else the root. Nothing else is played under a
slash chord: the degree sounds long, and again on the next strong beat.
"""

from __future__ import annotations

import random

from trainer.band.bass_lines import FULLER_LINES, LIGHT_LINES, STRONG, Line
from trainer.band.humanize import Attack
from trainer.band.section_patterns import SectionPatterns
from trainer.band.timeline import ChordSpan, GridPoint, Timeline
from trainer.chart import Articulation

__all__ = ["HIGHEST", "LOWEST", "place_near", "play_bass"]

LOWEST, HIGHEST = 28, 55
# The middle of the neck: small loudspeakers do not give the fundamentals of the lowest notes.
USUAL_LOW, USUAL_HIGH = 33, 46
CHOKE_QUARTERS = 0.25
# The share of the changes of chord that a note leads into, in the last bar of a stretch and before.
LEADING_ON_SHARE, APPROACH_SHARE = 0.55, 0.3
# How much harder a chord's first attack is played than the rest of the line, and a slash bass that
# is new than others.
FIRST, SLASH = 10, 22
# How much softer notes other than the bass note are.
OTHERS_SOFTER = 6


def place_near(pitch_class: int, near: int, low: int, high: int) -> int:
    """The pitch of a pitch class that is nearest to `near`, from `low` to `high`.

    The range must span at least an octave.
    """
    lowest = low + (pitch_class - low) % 12
    return min(range(lowest, high + 1, 12), key=lambda pitch: abs(pitch - near))


def _fifth(span: ChordSpan, note: int) -> int:
    """The fifth of a chord below `note` where the register allows, else above it."""
    fifths = [tone for tone in span.tones if (tone - span.tones[0]) % 12 in (6, 7, 8)]
    if not fifths:
        return note
    below = note - (note - fifths[0]) % 12
    return below if below >= LOWEST else below + 12


def _walk(span: ChordSpan, note: int, step: int) -> int:
    """The step-th note of a walk up the chord tones and back.

    Where the upper tones are a chord of their own, as in minor and major sevenths, the walk leaves
    out the third, on which that chord would be heard.
    """
    up = sorted((tone - note) % 12 for tone in span.tones[:3] if (tone - note) % 12)
    if span.holds_another_triad:
        up = [*up[1:], 12]
    if not up:
        return note
    there_and_back = [*up, *up[-2::-1]]
    return note + there_and_back[step % len(there_and_back)]


def _line(span: ChordSpan, note: int, pattern: Line) -> list[tuple[GridPoint, int]]:
    """The notes after the first attack: when they are played, and at which pitch."""
    if span.is_slash:
        strong = STRONG[span.bar.feel]
        return [(p, note) for p in span.grid_points if p.sub == 0 and p.role in strong]
    walked, line = 0, []
    for point in span.grid_points:
        for sub, tone in pattern.get(point.role, ()):
            if sub != point.sub:
                continue
            if tone == "w":
                line.append((point, _walk(span, note, walked)))
                walked += 1
            else:
                line.append((point, note if tone == "r" else _fifth(span, note)))
    return line


def _approach(
    span: ChordSpan, following: ChordSpan, target: int, rng: random.Random
) -> tuple[float, int] | None:
    """A passing note into the next chord, as (time, pitch), or None.

    It stands in the last half beat or beat of the chord. Chords of less than two beats and slash
    chords have none, since it would blur them.
    """
    pulse = span.bar.cells[0].length
    if not (span.has_later_attacks and following.chord is not None) or following.pushed:
        return None
    if span.end - span.start < 2 * pulse - 1e-6 or span.bass == following.bass:
        return None
    late = [point for point in span.grid_points if point.time >= span.end - 1 - 1e-6]
    share = LEADING_ON_SHARE if span.bar.last_in_stretch else APPROACH_SHARE
    if not late or span.is_slash or rng.random() >= share:
        return None
    long_enough = span.end - span.start >= 3 * pulse - 1e-6
    point = late[0] if long_enough and rng.random() < 0.5 else late[-1]
    steps = [-2, -1, 1, 2]
    diatonic = [step for step in steps if (target + step) % 12 in following.bar.scale]
    chosen = rng.choice(diatonic or steps) if rng.random() < 0.7 else rng.choice((-1, 1))
    return point.time, max(LOWEST, min(HIGHEST, target + chosen))


def _notes_struck(
    span: ChordSpan, note: int, pattern: Line, rng: random.Random, following: ChordSpan | None
) -> list[tuple[float, int]]:
    """The times and pitches of all notes of a span with later attacks."""
    struck = [(span.start, note)]
    struck += [(point.time, pitch) for point, pitch in _line(span, note, pattern)]
    if following is not None and following.bass is not None:
        target = place_near(following.bass, note, USUAL_LOW, USUAL_HIGH)
        approach = _approach(span, following, target, rng)
        if approach is not None:
            struck = [(time, pitch) for time, pitch in struck if time < approach[0] - 1e-6]
            struck.append(approach)
    return struck


def play_bass(timeline: Timeline, rng: random.Random) -> list[Attack]:
    """The attacks of the bass."""
    lines = SectionPatterns(rng.getrandbits(32), LIGHT_LINES, FULLER_LINES)
    attacks: list[Attack] = []
    note = 36
    for span, following in zip(timeline.spans, (*timeline.spans[1:], None), strict=True):
        if span.bass is None:
            continue
        note = place_near(span.bass, note, USUAL_LOW, USUAL_HIGH)
        velocity = int(72 + 28 * span.bar.energy) + SLASH * (span.is_slash and not span.bass_stays)
        if not span.has_later_attacks:
            choked = span.articulation is Articulation.CHOKE
            end = min(span.start + CHOKE_QUARTERS, span.end) if choked else span.end
            attacks.append(Attack(span.start, end, (note,), velocity + FIRST, span.start))
            continue
        struck = _notes_struck(span, note, lines.pattern(span.bar), rng, following)
        ends = [time for time, _ in struck[1:]] + [span.end]
        for place, ((time, pitch), end) in enumerate(zip(struck, ends, strict=True)):
            accent = FIRST if place == 0 else -OTHERS_SOFTER * (pitch != note)
            attacks.append(Attack(time, end, (pitch,), velocity + accent, span.start))
    return attacks
