"""The twelve-bar blues: three phrases of four bars on 1, 4 and 5 in fixed places.

Common practice, no source: the plain form, the quick change in bar 2, and several endings in the
last four bars.
"""

from __future__ import annotations

import random

from trainer.generate.rhythm import HarmonicRhythm, draw_bar_rhythm
from trainer.generate.sketch import BarSketch, PhraseSketch
from trainer.generate.weighted_choice import choose, happens

__all__ = ["LETTERS", "blues_chorus"]

LETTERS = ("A", "B", "C")


def blues_chorus(
    rng: random.Random, rhythm: HarmonicRhythm, tokens: tuple[str, ...], minor: bool
) -> list[PhraseSketch]:
    """The three phrases of a chorus with the chords of a vocabulary (`tokens`)."""
    one, four = ("1-", "4-") if minor else ("1", "4")
    split = rhythm.splits > 0
    first = [one, four if happens(rng, 0.4) else one, one, one]
    second = [four, four, one, one]
    ways = {f"5 {four} {one} {one}": 4.0, f"5 {four} {one} 5": 5.0, f"5 5 {one} {one}": 1.5}
    if minor:
        if "b6" in tokens:
            ways[f"b6 5 {one} {one}"] = 5.0
    else:
        if "2-" in tokens:
            ways[f"2- 5 {one} {one}"] = 2.0
        if "6-" in tokens and "2-" in tokens and split:
            ways[f"2- 5 {one}|6- 2-|5"] = 1.0
    if split:
        ways[f"5 {four} {one} {one}|5"] = 4.0 * rhythm.splits + 1
    third = choose(rng, ways).split(" ")
    if rhythm.splits == 1:
        return [
            _phrase(
                rng,
                rhythm,
                [f"{c}|{five}" for c, five in zip(line, _turn(line, four), strict=True)],
            )
            for line in (first, second, [c.split("|")[0] for c in third])
        ]
    return [_phrase(rng, rhythm, line) for line in (first, second, third)]


def _turn(line: list[str], four: str) -> list[str]:
    """A second chord for every bar: 5 after any chord but 5, which takes 4."""
    return [four if chord == "5" else "5" for chord in line]


def _phrase(rng: random.Random, rhythm: HarmonicRhythm, line: list[str]) -> PhraseSketch:
    bars = []
    types = ""
    before = ""
    for text in line:
        chords = text.split("|")
        if len(chords) == 1:
            beats: tuple[int, ...] = (rhythm.meter.beats,)
            types += "H" if chords[0] == before else "N"
        else:
            beats = draw_bar_rhythm(rng, rhythm._replace(uneven=0.0), "S", "3").beats
            beats = (rhythm.meter.beats // 2,) * 2 if len(beats) != 2 else beats
            types += "S"
        bars.append(BarSketch(beats, chords))
        before = chords[-1]
    return PhraseSketch(bars, types)
