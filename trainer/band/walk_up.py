"""A walk-up: the bass steps up the scale into the first note of the next bar."""

from __future__ import annotations

from trainer.band.bass import HIGHEST, LOWEST
from trainer.band.humanize import Attack
from trainer.band.timeline import TimelineBar

__all__ = ["walk_up"]

MOST_STEPS = 3
NEAR = 1e-6


def walk_up(attacks: list[Attack], bar: TimelineBar) -> list[Attack]:
    """The attacks of a bass with steps on the last beats of a bar, up to where it goes next.

    The first note of each chord stays. Nothing is changed if no chord follows at the bar line, or
    if the bar has no beat left to walk on.
    """
    inside = [each for each in attacks if bar.start - NEAR <= each.start < bar.end - NEAR]
    target = next((each for each in attacks if abs(each.start - bar.end) < NEAR), None)
    if target is None or not inside:
        return attacks
    last_chord = max(each.earliest_start for each in inside)
    starts = [bar.start + cell.start for cell in bar.cells]
    beats = [start for start in starts if start > last_chord + NEAR][-MOST_STEPS:]
    goal = target.pitches[0]
    if goal - 2 * MOST_STEPS < LOWEST and goal + 12 <= HIGHEST:
        goal += 12
    steps = _steps(goal, bar, len(beats))
    beats = beats[len(beats) - len(steps) :]
    if not beats:
        return attacks
    found = []
    for each in attacks:
        if each is target:
            found.append(each._replace(pitches=(goal,)))
        elif each.start < beats[0] - NEAR:
            found.append(each._replace(end=min(each.end, beats[0])))
        elif each.start >= bar.end - NEAR:
            found.append(each)
    ends = [*beats[1:], bar.end]
    found += [
        Attack(beat, end, (step,), target.velocity, beat)
        for beat, end, step in zip(beats, ends, steps, strict=True)
    ]
    return sorted(found, key=lambda attack: attack.start)


def _steps(goal: int, bar: TimelineBar, most: int) -> list[int]:
    """The last notes of the scale below a pitch, as many as there are beats."""
    below = [pitch for pitch in range(LOWEST, goal) if pitch % 12 in bar.scale]
    return below[-most:] if most else []
