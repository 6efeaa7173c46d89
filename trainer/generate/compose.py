"""Phrases: harmonic rhythm first, then chords drawn through it from opening to cadence."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from trainer.generate.form import SectionPlan
from trainer.generate.harmony import ChordModel, end_weights, start_weights
from trainer.generate.markov_chain import NoPath, Transition, sample_chain
from trainer.generate.rhythm import BarRhythm, HarmonicRhythm, draw_bar_rhythms
from trainer.generate.sketch import BarSketch, PhraseSketch
from trainer.generate.tables import table
from trainer.generate.weighted_choice import WeightedChoice, choose, happens

__all__ = ["CONNECTING_KINDS", "Composer", "PhraseConstraint", "chords_in"]


# A chord that the song has not played yet is brought in if its share of all changes is higher than
# this; rarer ones are left to chance. The kinds of section that connect others bring in none.
RARE_SHARE = 0.003
CONNECTING_KINDS = ("intro", "turnaround", "interlude", "outro")
# The weight of a chord other than home as the only one of a phrase; that of home is 1.
AWAY_WEIGHT = 0.5


class PhraseConstraint(NamedTuple):
    """What a phrase must satisfy.

    `kind` is that of its section; `opens` and `closes` say that it is the section's first or last
    phrase; `last` are the chords it may end on, best first, empty for any; `least` is the least
    number of chord changes.
    """

    kind: str
    opens: bool = False
    closes: bool = False
    last: tuple[str, ...] = ()
    least: int = 1


def chords_in(phrases: Iterable[PhraseSketch]) -> set[str]:
    """The tokens of all chords in some phrases."""
    return {chord for phrase in phrases for bar in phrase.bars for chord in bar.chords}


class ChordChange(NamedTuple):
    """A place where the chord changes: its bar and event from 0, and its class in the tables."""

    bar: int
    event: int
    place: str


@dataclass(slots=True)
class Composer:
    """Draws the phrases of one song.

    `favour` are chords that a share of the phrases, `favour_share`, should hold; `home` is a factor
    on the weight of the 1 at the beginning of the song; `used` collects the chords played so far.
    """

    rng: random.Random
    model: ChordModel
    rhythm: HarmonicRhythm
    favour: tuple[str, ...] = ()
    favour_share: float = 0.6
    home: float = 1.0
    used: set[str] = field(default_factory=set)

    def section(
        self, plan: SectionPlan, before: str, last: tuple[str, ...] = (), least: int = 2
    ) -> list[PhraseSketch]:
        """The phrases of a section in order; equal letters are the same phrase.

        `before` is the chord that sounded last ("" for none); `last` are chords the section must
        end on, best first; `least` is the least number of chord changes in its main phrases.
        """
        made: dict[str, PhraseSketch] = {}
        letters = plan.letters
        for at, letter in enumerate(letters):
            if letter not in made:
                closes = letter == letters[-1]
                still = len(chords_in(made.values())) < 2
                moves = letters.count(letter) >= len(letters) - (least > 2) or (closes and still)
                moves = moves or (plan.kind in CONNECTING_KINDS and plan.lengths[letter] < 4)
                constraint = PhraseConstraint(
                    plan.kind,
                    opens=at == 0,
                    closes=closes,
                    last=last if closes else (),
                    least=least if moves else 1,
                )
                base = made.get(letter.rstrip("'"))
                length = plan.lengths[letter]
                if base is not None and length > 2 and not (still and constraint.least > 1):
                    made[letter] = self.variant(base, length, constraint, before)
                else:
                    made[letter] = self.phrase(length, constraint, before)
            before = made[letter].last_chord
        return [made[letter] for letter in letters]

    def phrase(self, length: int, constraint: PhraseConstraint, before: str) -> PhraseSketch:
        """A new phrase of `length` bars; one of four or eight bars may be its first half twice."""
        types, rhythms = self._draw_rhythms(length, constraint.least)
        looped = False
        if length in (4, 8) and constraint.least < 3 and not constraint.last:
            way = _repeats(constraint.kind).choose(self.rng)
            looped = way == "two" and _moves(rhythms[: length // 2]) > 1
            if way == "one" and constraint.least < 2:
                types, rhythms = draw_bar_rhythms(self.rng, self.rhythm, length, still=True)
        played = rhythms[: length // 2] if looped else rhythms
        bars = [BarSketch(each.beats, [""] * len(each.beats)) for each in played]
        changes = _changes(bars, [each.held for each in played], length)
        last = self.model.index.get(before, -1)
        first = start_weights(self.model, constraint.kind, last, constraint.opens, self.home)
        self._fill(bars, changes, first, constraint, last)
        if looped:
            return PhraseSketch(bars * 2, types[: length // 2] * 2)
        return PhraseSketch(bars, types)

    def _draw_rhythms(self, length: int, least: int) -> tuple[str, list[BarRhythm]]:
        """Rhythm types and bar rhythms with at least `least` chord changes, where possible."""
        still = self.model.size == 1
        for _ in range(12):
            types, rhythms = draw_bar_rhythms(self.rng, self.rhythm, length, still=still)
            if still or _moves(rhythms) >= least:
                return types, rhythms
        return draw_bar_rhythms(self.rng, self.rhythm, length, "N" * length)

    def variant(
        self,
        base: PhraseSketch,
        length: int,
        constraint: PhraseConstraint,
        before: str,
        keep: int = 0,
    ) -> PhraseSketch:
        """A phrase with the first `keep` bars of `base` (2 where `keep` is 0) and a new ending."""
        keep = min(keep or 2, length - 1, len(base.bars))
        same_rhythm = length == len(base.bars) and happens(self.rng, 0.6)
        kept = base.types if same_rhythm else base.types[:keep]
        types, rhythms = draw_bar_rhythms(
            self.rng, self.rhythm, length, kept, still=self.model.size == 1
        )
        bars = list(base.bars[:keep])
        bars += [BarSketch(each.beats, [""] * len(each.beats)) for each in rhythms[keep:]]
        changes = [
            change
            for change in _changes(bars, [each.held for each in rhythms], length)
            if change.bar >= keep
        ]
        sounded = _distinct(bars[:keep])
        p = self.model.index[sounded[-2]] if len(sounded) > 1 else self.model.index.get(before, -1)
        c = self.model.index[sounded[-1]]
        if changes:
            first = list(self.model.transition(changes[0].place).row(p, c))
            self._fill(bars, changes, first, constraint, c)
        else:
            _spread(bars)
        return PhraseSketch(bars, types)

    def _fill(
        self,
        bars: list[BarSketch],
        changes: list[ChordChange],
        first: list[float],
        constraint: PhraseConstraint,
        before: int,
    ) -> None:
        """Draw a chord for every change and let the bars hold them."""
        steps = [self.model.transition(change.place) for change in changes[1:]]
        free = [
            share if likely else 0.0 for likely, share in zip(first, self.model.shares, strict=True)
        ]
        for start, last in self._starts_and_ends(first, free, constraint, not steps):
            closes = constraint.closes and self.model.home >= 0 and last[self.model.home] > 0
            leads = self.model.cadence(last) if closes else None
            for pinned in self._pinned(steps, constraint.kind):
                try:
                    path = sample_chain(self.rng, start, pinned, last, before, leads)
                except NoPath:
                    continue
                self.used.update(self.model.chords[state] for state in path)
                for change, state in zip(changes, path, strict=True):
                    bars[change.bar].chords[change.event] = self.model.chords[state]
                _spread(bars)
                return
        raise NoPath(f"no phrase of {len(changes)} chords from {', '.join(self.model.chords)}")

    def _pinned(self, steps: list[Transition], kind: str) -> list[list[Transition]]:
        """The steps with one of them pinned to a wanted chord, for each place in turn, and at last
        the steps as they are."""
        if not steps or not happens(self.rng, self.favour_share):
            return [steps]
        if not self.favour and kind in CONNECTING_KINDS:
            return [steps]
        wanted = {c: self.model.share(c) for c in self.favour if c in self.model.index}
        if not self.favour:
            new = (c for c in self.model.chords if c not in self.used)
            wanted = {c: self.model.share(c) for c in new if self.model.share(c) > RARE_SHARE}
            wanted[""] = RARE_SHARE
        name = choose(self.rng, wanted) if wanted else ""
        if not name:
            return [steps]
        chord = self.model.index[name]
        start = int(self.rng.random() * len(steps))
        ways = [
            [*steps[:at], steps[at]._replace(only=chord), *steps[at + 1 :]]
            for at in (*range(start, len(steps)), *range(start))
        ]
        return [*ways, steps]

    def _starts_and_ends(
        self, first: list[float], free: list[float], constraint: PhraseConstraint, alone: bool
    ) -> list[tuple[list[float], list[float]]]:
        """Weights of the first and last chord, in the order in which they are to be tried.

        First comes the end that is asked for, or one drawn cadence, then any cadence. Where the
        number of changes cannot join start and end, the start is relaxed before the end. A phrase
        of one chord, `alone`, takes a chord that both starts and ends phrases.
        """
        chords = self.model.chords
        anywhere = [1.0] * len(chords)
        asked = [
            [float(chord == want) for chord in chords]
            for want in constraint.last
            if want in self.model.index
        ]
        weights = end_weights(self.model, constraint.kind, constraint.closes)
        if not asked and alone:
            # A phrase of one chord is mostly at home; only what is sung may stay elsewhere.
            away = 0.0 if constraint.kind in CONNECTING_KINDS else AWAY_WEIGHT
            still = [
                weight * (1.0 if at == self.model.home else away)
                for at, weight in enumerate(weights)
            ]
            return [(first, still), (free, still), (free, free)]
        if not asked:
            drawn = WeightedChoice(enumerate(weights)).choose(self.rng)
            asked = [[float(at == drawn) for at in range(len(chords))]]
            starts_at = [(first, asked[0]), (first, weights), (free, weights), (free, free)]
            return [*starts_at, (free, anywhere)]
        tries = [(start, end) for end in asked for start in (first, free)]
        return [*tries, (free, weights), (free, free), (free, anywhere)]


def _moves(rhythms: list[BarRhythm]) -> int:
    """The number of chord changes in some bars."""
    return sum(len(each.beats) - each.held for each in rhythms)


# Some phrases come out as loops or with one chord by chance, others cannot be made so; these
# factors on the tables' shares correct the outcome.
LOOPED, STILL = 2.4, 0.7


@cache
def _repeats(kind: str) -> WeightedChoice[str]:
    """Whether a phrase repeats two bars ("two"), holds one chord ("one") or neither ("no")."""
    row: dict[str, int] = table("form")["loops"].get(kind, {})
    total = max(1, sum(row.values()))
    two, one = LOOPED * row.get("two", 0) / total, STILL * row.get("one", 0) / total
    return WeightedChoice([("two", two), ("one", one), ("no", 1 - two - one)])


def _changes(bars: list[BarSketch], held: list[bool], count: int) -> list[ChordChange]:
    """The places for new chords in a phrase of `count` bars, classed as the tables class them."""
    found: list[tuple[int, int, float]] = []
    for number, bar in enumerate(bars):
        at, total = 0, sum(bar.beats)
        for event, beats in enumerate(bar.beats):
            if event or number == 0 or not held[number]:
                found.append((number, event, number + at / total))
            at += beats
    after = [start for _, _, start in found[1:]] + [float(len(bars))]
    return [
        ChordChange(number, event, _class(number, event, count, until - start))
        for (number, event, start), until in zip(found, after, strict=True)
    ]


def _class(number: int, event: int, count: int, bars: float) -> str:
    """Place and duration class of a change."""
    if event:
        place = "n" if number == count - 1 else "m"
    elif number == 0:
        place = "s"
    else:
        place = "l" if number == count - 1 else "oe"[(number + 1) % 2]
    return place + ("0" if bars < 0.99 else "1" if bars < 1.99 else "2")


def _spread(bars: list[BarSketch]) -> None:
    """Fill in the chord before at every place where the chord does not change."""
    sounding = ""
    for bar in bars:
        for at, chord in enumerate(bar.chords):
            sounding = bar.chords[at] = chord or sounding
        bar.forms = list(bar.chords)


def _distinct(bars: list[BarSketch]) -> list[str]:
    """The chords of some bars without immediate repetitions."""
    sounded: list[str] = []
    for bar in bars:
        for chord in bar.chords:
            if not sounded or sounded[-1] != chord:
                sounded.append(chord)
    return sounded
