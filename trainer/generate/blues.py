"""The twelve-bar blues: three phrases of four bars on 1, 4 and 5 in fixed places.

Common practice, no source: the plain form, the quick change in bar 2, and several endings in the
last four bars. A chorus that comes back differs in those places.
"""

from __future__ import annotations

import random

from trainer.generate.rhythm import HarmonicRhythm, draw_bar_rhythm
from trainer.generate.sketch import BarSketch, PhraseSketch
from trainer.generate.weighted_choice import choose, happens

__all__ = ["LETTERS", "blues_chorus", "later_blues_chorus"]

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


def later_blues_chorus(
    rng: random.Random,
    rhythm: HarmonicRhythm,
    phrases: list[PhraseSketch],
    minor: bool,
    goes_on: bool,
) -> list[PhraseSketch]:
    """A chorus that comes back, changed in one or two of the places where players change it: the
    quick change, bar 10, and, where another chorus comes (`goes_on`), the turnaround.

    Choruses of other lengths than three times four bars, or split throughout, stay.
    """
    if [len(phrase.bars) for phrase in phrases] != [4, 4, 4] or rhythm.splits == 1:
        return phrases
    one, four = ("1-", "4-") if minor else ("1", "4")
    first, second, third = phrases
    ways = {"quick change": 3.0}
    if third.bars[0].chords == ["5"] and third.bars[1].chords in (["5"], [four]):
        ways["bar 10"] = 1.5
    turns = goes_on and third.bars[3].chords[0] in (one, "5")
    if turns:
        ways["turnaround"] = 3.0
    for _ in range(1 + int(rng.random() * 2)):
        way = choose(rng, ways)
        if way == "quick change":
            quick = first.bars[1].chords == [four]
            first = _with_bar(first, 1, [one if quick else four], rhythm)
        elif way == "bar 10":
            straight = third.bars[1].chords == ["5"]
            third = _with_bar(third, 1, [four if straight else "5"], rhythm)
        else:
            third = _with_bar(third, 3, _turnaround(third.bars[3], one, rhythm), rhythm)
    return [first, second, third]


def _turnaround(bar: BarSketch, one: str, rhythm: HarmonicRhythm) -> list[str]:
    """Another last bar of a chorus: the 5, or half a bar of it, in place of the 1 and the other way
    round."""
    if bar.chords != [one]:
        return [one]
    return [one, "5"] if rhythm.splits > 0 and rhythm.meter.beats % 2 == 0 else ["5"]


def _with_bar(
    phrase: PhraseSketch, at: int, chords: list[str], rhythm: HarmonicRhythm
) -> PhraseSketch:
    """The phrase with other chords in one bar."""
    beats = (rhythm.meter.beats // len(chords),) * len(chords)
    bars = [*phrase.bars[:at], BarSketch(beats, chords), *phrase.bars[at + 1 :]]
    return PhraseSketch(bars, phrase.types)


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
