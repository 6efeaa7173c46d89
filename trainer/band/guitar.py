"""The guitar: real chord shapes with a capo where a player would use one.

It strums, or picks the lighter sections of slow songs, with the patterns of `strumming`.
"""

from __future__ import annotations

import random
from functools import lru_cache
from typing import NamedTuple

from trainer.band.feels import Role
from trainer.band.humanize import Attack
from trainer.band.shapes import Shape, choose_capo, find_shape, pitches
from trainer.band.strumming import BASS_FIRST, FULL, StrumPlan
from trainer.band.timeline import ChordSpan, GridPoint, Timeline
from trainer.chart import Articulation, Feel

__all__ = ["INSTRUMENTAL", "capo_for", "play_guitar", "shape_for"]

INSTRUMENTAL = ("intro", "turnaround", "solo", "interlude", "outro")
SPREAD_S = 0.007
# How much louder the thumb strikes the bass string and softer the rest: in a plain chord, in a
# slash chord, and in one whose bass is that of the chord before.
THUMB, SLASH_THUMB, PEDAL_THUMB = (16, 5), (40, 0), (28, 0)
# In semitones: strings nearer than this to the bass blur it, in a slash chord all within an octave.
CLOSE, SLASH_CLOSE = 4, 11
LEAST_STRINGS = 3
# How much softer strings are picked after the first pinch, and between the dotted beats.
PICKED_SOFTER, BETWEEN_BEATS_SOFTER = 8, 22
COMPOUND = (Feel.SIX_EIGHT, Feel.TWELVE_EIGHT)
# How much softer a guitar alone strikes a chord that stays over a new bass: the bass is the news.
STAYING_SOFTER = 6
CHOKE_QUARTERS = 0.25
# Under a slash chord the guitar leaves everything below the open G string to the bassist, or below
# the D string where fewer strings than these would be left.
ABOVE_THE_BASS = (55, 50)
# Slower than this many seconds a pulse the guitar picks the lighter sections instead of strumming.
PICKING_S = 0.72


class _Grip(NamedTuple):
    """A fretted chord: its sounding pitches from the lowest string, and the other bass pitch."""

    all: tuple[int, ...]
    other_bass: int


def capo_for(timeline: Timeline) -> int:
    """The fret of the capo for a song, 0 for none."""
    chords = [
        (span.tones[0], span.chord.quality, span.chord.extension, span.bass)
        for span in timeline.spans
        if span.chord is not None and span.bass is not None
    ]
    return choose_capo(chords)


def shape_for(span: ChordSpan, capo: int) -> Shape:
    """The shape of a span's chord, with frets counted from the capo."""
    assert span.chord is not None
    assert span.bass is not None
    relative = tuple((tone - capo) % 12 for tone in span.tones)
    chord = span.chord
    bass = (span.bass - capo) % 12
    return find_shape(relative[0], chord.quality, chord.extension, relative, bass)


@lru_cache(maxsize=4096)
def _grip(shape: Shape, capo: int, root: int, bass: int, bassist: bool) -> _Grip:
    # Two strings in unison count once: a MIDI channel has one voice a pitch.
    sounding = tuple(dict.fromkeys(pitch for _, pitch in pitches(shape, capo)))
    if bassist and bass != root:
        for lowest in ABOVE_THE_BASS:
            above = tuple(pitch for pitch in sounding if pitch >= lowest)
            if len(above) >= LEAST_STRINGS:
                sounding = above
                break
    elif bass != root:
        sounding = _without_bass_tone(_clear_of_bass(sounding, SLASH_CLOSE), bass)
    low = sounding[1:3]
    fifths = [pitch for pitch in low if (pitch - root) % 12 in (6, 7, 8)]
    plain = root == bass and low
    return _Grip(sounding, (fifths or list(low))[0] if plain else sounding[0])


def _clear_of_bass(sounding: tuple[int, ...], close: int) -> tuple[int, ...]:
    """The strings without those within `close` of the lowest that sound again higher up."""
    bass, *rest = sounding
    for pitch in tuple(rest):
        doubled = any(other > pitch and other % 12 == pitch % 12 for other in rest)
        if pitch - bass <= close and doubled and len(rest) >= LEAST_STRINGS:
            rest.remove(pitch)
    return (bass, *rest)


def _without_bass_tone(sounding: tuple[int, ...], bass: int) -> tuple[int, ...]:
    """The strings of a slash chord without those that repeat the bass higher up, if two others are
    left: a third that is doubled sounds like a root, and a foreign bass like a chord tone."""
    lowest, *rest = sounding
    others = [pitch for pitch in rest if pitch % 12 != bass]
    return (lowest, *others) if len({pitch % 12 for pitch in others}) > 1 else sounding


def _strings(grip: _Grip, stroke: str) -> tuple[int, ...]:
    """The pitches of a stroke in the order in which the pick meets them."""
    notes = grip.all
    if stroke == "b":
        return notes[:1]
    if stroke == "a":
        return (grip.other_bass,)
    if stroke == "h":
        return notes[1:] or notes
    if stroke == "d":
        return notes[: max(3, len(notes) - 2)]
    if stroke == "U":
        return notes[:-5:-1] if len(notes) > 4 else notes[:0:-1] or notes
    return notes


def _is_split(span: ChordSpan) -> bool:
    """Whether the bar holds another chord as well."""
    bar = span.bar
    return span.written_start > bar.start + 1e-6 or span.written_end < bar.end - 1e-6


def _strum(span: ChordSpan, grip: _Grip, velocity: int, plan: StrumPlan) -> list[Attack]:
    """The attacks of a span strummed with the pattern of its bar."""
    bar = span.bar
    roomy = span.written_end - span.written_start >= 2 * bar.cells[0].length - 1e-6
    bass_first = bar.feel in BASS_FIRST and roomy and not span.pushed and span.first.sub == 0
    bass_first = bass_first and grip.all[0] % 12 == span.bass
    strokes = [(span.start, "b" if bass_first else "D", 1.0)]
    pattern = plan.strokes(bar, _is_split(span))
    for point in span.grid_points:
        found = pattern.get((point.cell, point.sub))
        if found is not None:
            strokes.append((point.time, *found))
    attacks = []
    for time, stroke, loudness in strokes:
        notes = _strings(grip, stroke)
        accents = _accents(span, grip, notes)
        loud = int(velocity * loudness)
        attacks.append(Attack(time, span.end, notes, loud, span.start, SPREAD_S, accents))
    return attacks


def _accents(span: ChordSpan, grip: _Grip, notes: tuple[int, ...]) -> tuple[int, ...]:
    """Velocity added to each note, as `ChordSpan.accents` gives it.

    The two low strings get none, since accents there would blur the chord.
    """
    accents = span.accents(notes)
    return tuple(0 if n in grip.all[:2] else more for n, more in zip(notes, accents, strict=True))


def _pick(span: ChordSpan, grip: _Grip, velocity: int, plan: StrumPlan) -> list[Attack]:
    """The attacks of a span picked string by string, the first a pinch of bass and top strings."""
    assert span.chord is not None
    notes = grip.all
    pinch = (notes[0], *notes[-2:])
    accents = _accents(span, grip, pinch)
    attacks = [Attack(span.start, span.end, pinch, velocity, span.start, 0.002, accents)]
    roll = plan.roll(span.bar)
    for place, point in enumerate(span.grid_points):
        on_beat = point.sub == 0 and point.role is not Role.OFF
        # The other bass string where the chord is plain, else the thumb keeps to the bass.
        bass_rank = 1 if span.bass == span.tones[0] and not span.chord.extension else 0
        rank = bass_rank if on_beat and point.role is Role.MID else roll[place % len(roll)]
        struck: tuple[int, ...] = (notes[min(rank, len(notes) - 1)],)
        softer = PICKED_SOFTER
        if span.bar.feel in COMPOUND and point.sub == 0:
            # The dotted beat is pinched, so that it stands out from the eighths between.
            struck = tuple(dict.fromkeys((notes[min(bass_rank, len(notes) - 1)], notes[-1])))
            softer = 0
        elif span.bar.feel in COMPOUND:
            softer = BETWEEN_BEATS_SOFTER
        accents = _accents(span, grip, struck)
        loud = velocity - softer
        attacks.append(Attack(point.time, span.end, struck, loud, span.start, 0.0, accents))
    return attacks


def _run(
    span: ChordSpan, grip: _Grip, velocity: int, grid_points: tuple[GridPoint, ...]
) -> list[Attack]:
    """A run down the strings at the end of a phrase where nobody sings."""
    notes = grip.all[::-1]
    return [
        Attack(point.time, span.end, (notes[place % len(notes)],), velocity, span.start)
        for place, point in enumerate(grid_points)
    ]


def _thumb(span: ChordSpan, first: Attack) -> Attack:
    """A first attack with its bass string brought out, as a player without a bassist does."""
    louder, softer = THUMB
    if span.is_slash:
        louder, softer = PEDAL_THUMB if span.bass_stays else SLASH_THUMB
        louder += STAYING_SOFTER * span.chord_stays
    bass, *rest = first.pitches
    accents = [more - softer for more in first.accents[1:]]
    # A close third beside the bass blurs it; the pick passes over it where it sounds above as well.
    if rest and rest[0] - bass <= CLOSE and rest[0] % 12 in {pitch % 12 for pitch in rest[1:]}:
        del rest[0], accents[0]
    return first._replace(pitches=(bass, *rest), accents=(first.accents[0] + louder, *accents))


def _over_slash_bass(
    span: ChordSpan, grip: _Grip, first: Attack, later: list[Attack]
) -> list[Attack]:
    """The later attacks of a slash chord that a guitar plays alone.

    The thumb brings the bass out again on the next strong beats, also where the pattern has no
    stroke; other strokes leave it ringing. `first` is the first attack without the thumb.
    """
    strong = {
        point.time
        for point in span.grid_points
        if point.sub == 0 and point.role in (Role.DOWN, Role.MID)
    }
    struck = {attack.start for attack in later}
    later = later + [first._replace(start=time) for time in strong - struck]
    found = []
    for attack in sorted(later):
        if attack.start in strong:
            again = attack._replace(pitches=grip.all, accents=_accents(span, grip, grip.all))
            found.append(_thumb(span, again))
            continue
        kept = [
            (pitch, accent)
            for pitch, accent in zip(attack.pitches, attack.accents, strict=True)
            if pitch != grip.all[0]
        ]
        if kept:
            notes, accents = zip(*kept, strict=True)
            found.append(attack._replace(pitches=notes, accents=accents))
    return found


def _closing(span: ChordSpan) -> tuple[GridPoint, ...]:
    """The grid points of a phrase's last half bar, in sections where nobody sings; else none."""
    bar = span.bar
    if bar.kind not in INSTRUMENTAL or not bar.last_in_phrase:
        return ()
    half = (bar.start + bar.end) / 2
    return tuple(point for point in span.grid_points if point.time >= half - 1e-6)


def _play_span(
    span: ChordSpan,
    grip: _Grip,
    plan: StrumPlan,
    picking: bool,
    closing: tuple[GridPoint, ...],
) -> list[Attack]:
    """The attacks of one span; `closing` are the grid points taken by a run, if any."""
    velocity = int(58 + 36 * span.bar.energy)
    velocity += span.newness
    if not span.has_later_attacks:
        choked = span.articulation is Articulation.CHOKE
        end = min(span.start + CHOKE_QUARTERS, span.end) if choked else span.end
        accents = _accents(span, grip, grip.all)
        return [Attack(span.start, end, grip.all, velocity + 10, span.start, SPREAD_S, accents)]
    attacks = (_pick if picking else _strum)(span, grip, velocity, plan)
    if closing:
        kept = [attack for attack in attacks if attack.start < closing[0].time - 1e-6]
        return kept + _run(span, grip, velocity, closing)
    return attacks


def play_guitar(
    timeline: Timeline,
    seconds_per_quarter: float,
    rng: random.Random,
    band: str,
    capo: int | None = None,
) -> list[Attack]:
    """The attacks of the guitar, with the capo at a fret or where its shapes are easiest.

    Without a bassist the thumb brings the bass out; with one the low strings leave the bass of
    slash chords to the bassist. Without a lead the guitar fills the phrase ends where nobody sings.
    """
    bassist = band != "work tape"
    capo = capo_for(timeline) if capo is None else capo
    picks = rng.random() < 0.7
    plan = StrumPlan(rng.getrandbits(32))
    attacks: list[Attack] = []
    for span in timeline.spans:
        if span.chord is None or span.bass is None:
            continue
        grip = _grip(shape_for(span, capo), capo, span.tones[0], span.bass, bassist)
        slow = span.bar.cells[0].length * seconds_per_quarter >= PICKING_S
        picking = picks and slow and span.bar.energy < FULL and span.bar.feel not in BASS_FIRST
        played = _play_span(span, grip, plan, picking, _closing(span) if band != "full" else ())
        if not bassist:
            if span.is_slash and span.chord_stays:
                played = [each._replace(velocity=each.velocity - STAYING_SOFTER) for each in played]
            plain = played[0]
            played[0] = _thumb(span, plain)
            if span.is_slash and span.has_later_attacks and not _closing(span):
                played[1:] = _over_slash_bass(span, grip, plain, played[1:])
        attacks += played
    return attacks
