"""Phrases: harmonic rhythm first, then chords drawn through it from opening to cadence."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from trainer.generate.dice import Wheel, chance, draw
from trainer.generate.draft import DraftBar, DraftPhrase
from trainer.generate.form import Material
from trainer.generate.harmony import Harmony, ends, starts
from trainer.generate.rhythm import BarPlan, Rhythm, plan_bars
from trainer.generate.sampler import NoPath, Step, sample_chain
from trainer.generate.tables import table

__all__ = ["MODEST", "Composer", "Wish", "chords_in"]


# A chord that the song has not played yet is brought in if it is more usual than this, as a share
# of all changes; rarer ones are left to chance. Some kinds of section leave all of them to others.
LET_BE = 0.003
MODEST = ("intro", "turnaround", "interlude", "outro")
# How gladly a whole phrase stays on a chord other than home.
DWELL = 0.5


class Wish(NamedTuple):
    """What is asked of a phrase: section kind, its place there, chords it must end on, best first
    (none for any), and the least number of chord changes."""

    kind: str
    opens: bool = False
    closes: bool = False
    last: tuple[str, ...] = ()
    least: int = 1


def chords_in(phrases: Iterable[DraftPhrase]) -> set[str]:
    """The chords of phrases."""
    return {chord for phrase in phrases for bar in phrase.bars for chord in bar.chords}


class Change(NamedTuple):
    """A place for a new chord: bar, event in it, and its class in the tables."""

    bar: int
    event: int
    place: str


@dataclass(slots=True)
class Composer:
    """Draws phrases of one song."""

    rng: random.Random
    model: Harmony
    rhythm: Rhythm
    favour: tuple[str, ...] = ()
    favour_share: float = 0.6
    home: float = 1.0
    used: set[str] = field(default_factory=set)

    def section(
        self, material: Material, before: str, last: tuple[str, ...] = (), least: int = 2
    ) -> list[DraftPhrase]:
        """The phrases of a material in order; equal letters are the same phrase.

        `before` is the chord that sounded last ("" for none); `last` are chords the section must
        end on, best first; `least` is how many chords its main phrases change to.
        """
        made: dict[str, DraftPhrase] = {}
        letters = material.letters
        for at, letter in enumerate(letters):
            if letter not in made:
                closes = letter == letters[-1]
                still = len(chords_in(made.values())) < 2
                moves = letters.count(letter) >= len(letters) - (least > 2) or (closes and still)
                moves = moves or (material.kind in MODEST and material.lengths[letter] < 4)
                wish = Wish(
                    material.kind,
                    opens=at == 0,
                    closes=closes,
                    last=last if closes else (),
                    least=least if moves else 1,
                )
                base = made.get(letter.rstrip("'"))
                length = material.lengths[letter]
                if base is not None and length > 2 and not (still and wish.least > 1):
                    made[letter] = self.variant(base, length, wish, before)
                else:
                    made[letter] = self.phrase(length, wish, before)
            before = made[letter].last_chord
        return [made[letter] for letter in letters]

    def phrase(self, length: int, wish: Wish, before: str) -> DraftPhrase:
        """A new phrase; one of four or eight bars may be its first half twice."""
        types, plans = self._plan(length, wish.least)
        looped = False
        if length in (4, 8) and wish.least < 3 and not wish.last:
            way = _repeats(wish.kind).spin(self.rng)
            looped = way == "two" and _moves(plans[: length // 2]) > 1
            if way == "one" and wish.least < 2:
                types, plans = plan_bars(self.rng, self.rhythm, length, still=True)
        played = plans[: length // 2] if looped else plans
        bars = [DraftBar(plan.beats, [""] * len(plan.beats)) for plan in played]
        changes = _changes(bars, [plan.held for plan in played], length)
        last = self.model.index.get(before, -1)
        first = starts(self.model, wish.kind, last, wish.opens, self.home)
        self._fill(bars, changes, first, wish, last)
        if looped:
            return DraftPhrase(bars * 2, types[: length // 2] * 2)
        return DraftPhrase(bars, types)

    def _plan(self, length: int, least: int) -> tuple[str, list[BarPlan]]:
        """A rhythm with at least so many changes, where the bars allow them."""
        still = self.model.size == 1
        for _ in range(12):
            types, plans = plan_bars(self.rng, self.rhythm, length, still=still)
            if still or _moves(plans) >= least:
                return types, plans
        return plan_bars(self.rng, self.rhythm, length, "N" * length)

    def variant(
        self, base: DraftPhrase, length: int, wish: Wish, before: str, keep: int = 0
    ) -> DraftPhrase:
        """A phrase that starts as `base` does for `keep` bars (half, if 0) and ends otherwise."""
        keep = min(keep or 2, length - 1, len(base.bars))
        same_rhythm = length == len(base.bars) and chance(self.rng, 0.6)
        kept = base.types if same_rhythm else base.types[:keep]
        types, plans = plan_bars(self.rng, self.rhythm, length, kept, still=self.model.size == 1)
        bars = list(base.bars[:keep])
        bars += [DraftBar(plan.beats, [""] * len(plan.beats)) for plan in plans[keep:]]
        changes = [
            change
            for change in _changes(bars, [plan.held for plan in plans], length)
            if change.bar >= keep
        ]
        said = _distinct(bars[:keep])
        p = self.model.index[said[-2]] if len(said) > 1 else self.model.index.get(before, -1)
        c = self.model.index[said[-1]]
        if changes:
            first = list(self.model.step(changes[0].place).row(p, c))
            self._fill(bars, changes, first, wish, c)
        else:
            _spread(bars)
        return DraftPhrase(bars, types)

    def _fill(
        self,
        bars: list[DraftBar],
        changes: list[Change],
        first: list[float],
        wish: Wish,
        before: int,
    ) -> None:
        """Draw a chord for every change and let the bars hold them."""
        steps = [self.model.step(change.place) for change in changes[1:]]
        free = [
            share if likely else 0.0 for likely, share in zip(first, self.model.shares, strict=True)
        ]
        for start, last in self._limits(first, free, wish, not steps):
            closes = wish.closes and self.model.home >= 0 and last[self.model.home] > 0
            leads = self.model.cadence(last) if closes else None
            for pinned in self._pinned(steps, wish.kind):
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

    def _pinned(self, steps: list[Step], kind: str) -> list[list[Step]]:
        """The steps with a wanted chord pinned at one of them, then the steps as they are."""
        if not steps or not chance(self.rng, self.favour_share):
            return [steps]
        if not self.favour and kind in MODEST:
            return [steps]
        wanted = {c: self.model.share(c) for c in self.favour if c in self.model.index}
        if not self.favour:
            new = (c for c in self.model.chords if c not in self.used)
            wanted = {c: self.model.share(c) for c in new if self.model.share(c) > LET_BE}
            wanted[""] = LET_BE
        name = draw(self.rng, wanted) if wanted else ""
        if not name:
            return [steps]
        chord = self.model.index[name]
        start = int(self.rng.random() * len(steps))
        ways = [
            [*steps[:at], steps[at]._replace(only=chord), *steps[at + 1 :]]
            for at in (*range(start, len(steps)), *range(start))
        ]
        return [*ways, steps]

    def _limits(
        self, first: list[float], free: list[float], wish: Wish, alone: bool
    ) -> list[tuple[list[float], list[float]]]:
        """Starts and ends to try in order: the asked end, or one drawn cadence, then any cadence.

        Where the number of changes cannot join start and end, the start gives way first, the end
        last; a phrase of one chord, `alone`, takes one that both starts and ends phrases.
        """
        chords = self.model.chords
        anywhere = [1.0] * len(chords)
        asked = [
            [float(chord == want) for chord in chords]
            for want in wish.last
            if want in self.model.index
        ]
        weights = ends(self.model, wish.kind, wish.closes)
        if not asked and alone:
            # A phrase of one chord is at home; elsewhere only what is sung may dwell, at times.
            away = 0.0 if wish.kind in MODEST else DWELL
            still = [
                weight * (1.0 if at == self.model.home else away)
                for at, weight in enumerate(weights)
            ]
            return [(first, still), (free, still), (free, free)]
        if not asked:
            drawn = Wheel(enumerate(weights)).spin(self.rng)
            asked = [[float(at == drawn) for at in range(len(chords))]]
            starts_at = [(first, asked[0]), (first, weights), (free, weights), (free, free)]
            return [*starts_at, (free, anywhere)]
        tries = [(start, end) for end in asked for start in (first, free)]
        return [*tries, (free, weights), (free, free), (free, anywhere)]


def _moves(plans: list[BarPlan]) -> int:
    """How many new chords a rhythm has."""
    return sum(len(plan.beats) - plan.held for plan in plans)


# Some phrases come out as loops or on one chord by themselves, some cannot be made to; these
# factors on the tables' shares bring the outcome near them.
LOOPED, STILL = 2.4, 0.7


@cache
def _repeats(kind: str) -> Wheel[str]:
    """Whether a phrase of a kind is to be two bars over and over, one chord, or neither."""
    row: dict[str, int] = table("form")["loops"].get(kind, {})
    total = max(1, sum(row.values()))
    two, one = LOOPED * row.get("two", 0) / total, STILL * row.get("one", 0) / total
    return Wheel([("two", two), ("one", one), ("no", 1 - two - one)])


def _changes(bars: list[DraftBar], held: list[bool], count: int) -> list[Change]:
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
        Change(number, event, _class(number, event, count, until - start))
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


def _spread(bars: list[DraftBar]) -> None:
    """Let held places sound the chord before them."""
    sounding = ""
    for bar in bars:
        for at, chord in enumerate(bar.chords):
            sounding = bar.chords[at] = chord or sounding
        bar.forms = list(bar.chords)


def _distinct(bars: list[DraftBar]) -> list[str]:
    """The chords of bars, repeats joined."""
    said: list[str] = []
    for bar in bars:
        for chord in bar.chords:
            if not said or said[-1] != chord:
                said.append(chord)
    return said
