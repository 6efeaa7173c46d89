"""What a singer changes in a line that comes back: some of its rhythm, sometimes its ending.

The first bar, which holds the motif, stays as it was, so that the section is known at once. Pitches
stay too, but for the ending. Common practice, no source.
"""

from __future__ import annotations

import random
from typing import NamedTuple

from trainer.band.timeline import ChordSpan, TimelinePhrase

__all__ = ["SungNote", "vary"]

# By kind of section: shares of the lines whose rhythm is varied, and whose ending is. Choruses are
# what listeners sing along with, so they change least.
SHARES = {"verse": (0.6, 0.4), "chorus": (0.35, 0.15)}
OTHER_SHARES = (0.5, 0.25)
MOST_CHANGES = 2
# In quarters: a syllable is never shorter.
SHORTEST = 0.25
# In semitones: a changed ending lies no further from the old one and from the note before it.
FARTHEST_ENDING = 4
NEAR = 1e-6


class SungNote(NamedTuple):
    """A note of the voice: start and end in quarters, pitch, and the chord span it is sung in."""

    start: float
    end: float
    pitch: int
    span: ChordSpan


def vary(
    notes: list[SungNote], phrase: TimelinePhrase, register: tuple[int, int], rng: random.Random
) -> list[SungNote]:
    """A line as it is sung when it comes back; `register` is its lowest and highest pitch.

    A phrase of which nothing is sung, such as one without chords, gives an empty list.
    """
    if not notes:
        return []
    rhythm_share, ending_share = SHARES.get(phrase.bars[0].kind, OTHER_SHARES)
    varies, ends = rng.random() < rhythm_share, rng.random() < ending_share
    sung = list(notes)
    if varies and len(phrase.bars) > 1:
        for _ in range(rng.randint(1, MOST_CHANGES)):
            _change_rhythm(sung, phrase.bars[0].end, rng)
    if ends:
        _change_ending(sung, register, rng)
    return sung


def _upbeats(note: SungNote, start: float, end: float) -> list[float]:
    """The grid points between the beats of a note's chord with room for a syllable on each side."""
    return [
        point.time
        for point in note.span.grid_points
        if note.span.has_later_attacks
        and point.sub
        and start + SHORTEST - NEAR <= point.time <= end - SHORTEST + NEAR
    ]


def _is_joined(before: SungNote, note: SungNote) -> bool:
    """Whether a note follows another at once under the same chord."""
    return before.span is note.span and abs(before.end - note.start) < NEAR


def _is_held(note: SungNote, length: float) -> bool:
    """Whether a note of this length is sung long, which only a tone of the triad may be."""
    long = length > note.span.bar.cells[0].length + NEAR
    return not long or note.pitch % 12 in note.span.tones[:3]


def _change_rhythm(notes: list[SungNote], after: float, rng: random.Random) -> None:
    """Change one note that starts after a time: split it, or join, delay or anticipate it."""
    places = [place for place in range(1, len(notes)) if notes[place].start >= after - NEAR]
    rng.shuffle(places)
    ways = [_split, _join, _delay, _anticipate]
    rng.shuffle(ways)
    for place in places:
        for way in ways:
            changed = way(notes[place - 1], notes[place])
            if changed is not None and (place < len(notes) - 1 or way is _split):
                notes[place - 1 : place + 1] = changed
                return


def _split(before: SungNote, note: SungNote) -> list[SungNote] | None:
    """A syllable more on the same pitch."""
    upbeats = _upbeats(note, note.start, note.end)
    if not upbeats:
        return None
    at = upbeats[0]
    return [before, note._replace(end=at), note._replace(start=at)]


def _join(before: SungNote, note: SungNote) -> list[SungNote] | None:
    """A syllable less: the note before is held on."""
    joined = _is_joined(before, note) and _is_held(before, note.end - before.start)
    return [before._replace(end=note.end)] if joined else None


def _delay(before: SungNote, note: SungNote) -> list[SungNote] | None:
    """The note after its beat, as a singer lies back; the note before is held on."""
    upbeats = _upbeats(note, note.start, note.end)
    if not upbeats or not _is_joined(before, note):
        return None
    if not (_is_held(before, upbeats[0] - before.start) and upbeats[0] - note.start < 1):
        return None
    return [before._replace(end=upbeats[0]), note._replace(start=upbeats[0])]


def _anticipate(before: SungNote, note: SungNote) -> list[SungNote] | None:
    """The note before its beat, on the last subdivision of the beat before."""
    upbeats = _upbeats(note, before.start, note.start + SHORTEST)
    if not upbeats or not _is_joined(before, note) or note.start - upbeats[-1] < NEAR:
        return None
    if not _is_held(note, note.end - upbeats[-1]):
        return None
    return [before._replace(end=upbeats[-1]), note._replace(start=upbeats[-1])]


def _change_ending(notes: list[SungNote], register: tuple[int, int], rng: random.Random) -> None:
    """End on another tone of the chord, or turn to it and back."""
    last = notes[-1]
    before = notes[-2].pitch if len(notes) > 1 else last.pitch
    others = [
        pitch
        for pitch in range(register[0], register[1] + 1)
        if pitch % 12 in last.span.tones[:3]
        and 0 < abs(pitch - last.pitch) <= FARTHEST_ENDING
        and abs(pitch - before) <= FARTHEST_ENDING
    ]
    if not others:
        return
    other = last._replace(pitch=rng.choice(others))
    pulse = last.span.bar.cells[0].length
    turn = last.start + pulse
    roomy = last.span.has_later_attacks and last.end - last.start >= 2 * pulse - NEAR
    if not roomy or rng.random() < 0.5:
        notes[-1] = other
    else:
        notes[-1:] = [other._replace(end=turn), last._replace(start=turn)]
