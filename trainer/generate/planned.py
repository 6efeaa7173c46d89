"""Songs from plans: a plan says how a song is built, a world which chords it mixes.

The chords of the world are assigned to the numbers of the plan by Metropolis sampling: pairs of
chords are exchanged with a probability that depends on how well the chord changes, openings and
endings of the whole song then fit those of real songs (N. Metropolis et al., "Equation of state
calculations by fast computing machines", 1953). Lines that vary an earlier line keep its chords.
Any other line may exchange its chords once more, by how likely the line is (a trigram backed off to
a bigram).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise, permutations

from trainer.chart import Meter
from trainer.generate.harmony import (
    following,
    following_times,
    lift,
    likely_start,
    mode_name,
    usual_chords,
)
from trainer.generate.plans import QUARTERS, SILENT, BarPlan, Plan, World, line_mark
from trainer.generate.sketch import BarSketch, PhraseSketch, SectionSketch
from trainer.generate.tables import table
from trainer.generate.tokens import spell
from trainer.generate.weighted_choice import WeightedChoice, happens

__all__ = ["LONGEST_COPY", "PlannedSong", "beats_of", "write"]

# At most this many orders of chords are tried for a line of many chords.
LINE_WAYS = 24
# Exchanges of two chords proposed for each other chord of the world, and the most such chords.
PROPOSALS, MOST_PROPOSED = 16, 8
# How far a chord may move when the chords of a line are reordered, in ranks.
RANK_NOISE = 3.0
# How often a line that varies no other exchanges its chords.
EXCHANGES = 0.2
# The factor for a chord that lacks a form that its number has in the plan.
LACKS_FORM = 0.35
# A chord change counts at most so often for the whole song.
MOST_COUNTED = 3
MOST_TILT = 2.5

# So many bars in a row may have the chords of the plan's source; a longer run is broken where a
# line is new.
LONGEST_COPY = 16
# The tables' names of what stands above a triad, as forms.
FORMS = {
    "plain": "", "7": "^7", "maj7": "^maj7", "6": "^6", "9": "^9", "add9": "^add9", "sus4": "^sus4",
    "sus4 7": "^7sus4", "sus4 9": "^9sus4", "o 7": "^7", "h 7": "h",
}  # fmt: skip

# Chords, forms, wanted basses and quarters.
_BarKey = tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...], tuple[int, ...]]


@dataclass(slots=True)
class _Line:
    """A finished line: its phrase, the token of each number, and its bars by what they hold, which
    lines derived from it share, and whether its source has the same chords."""

    phrase: PhraseSketch
    tokens: dict[int, str]
    bars: dict[_BarKey, BarSketch]
    copied: bool


@lru_cache(maxsize=256)
def beats_of(quarters: tuple[int, ...], meter: Meter) -> tuple[int, ...]:
    """The beats of the chords of a bar, from their quarters of the bar; in 3/4 and 6/8 there are at
    most three and two chords."""
    if len(quarters) == 1:
        return (meter.beats,)
    if meter.beats % 4 == 0:
        return tuple(part * meter.beats // 4 for part in quarters)
    if meter.beats == 6:
        return (3, 3)
    if len(quarters) > 2:
        return (1, 1, 1)
    return (1, 2) if quarters[0] < quarters[1] else (2, 1)


@dataclass(slots=True)
class PlannedSong:
    """Makes the sections of one song from a plan and a world.

    `limited` says that no chord outside the world may be played, `adds_forms` that chords may take
    forms that the world does not have; `tilt` has a factor for some
    chords, by which they are moved to more often, or less; `near_source` says that no line may have
    the chords of the plan's source where another has a choice. `tokens` are the chords of the
    plan's numbers, `forms` the forms of each chord.
    """

    rng: random.Random
    plan: Plan
    world: World
    meter: Meter
    limited: bool
    adds_forms: bool
    tilt: Mapping[str, float]
    near_source: bool = False
    tokens: dict[int, str] = field(default_factory=dict)
    forms: dict[str, list[str]] = field(default_factory=dict)
    lines: dict[int, _Line] = field(default_factory=dict)

    def copied_bars(self) -> int:
        """The longest run of bars that have the chords of the plan's source, before lines exchange
        chords; lines on one chord neither break a run nor make one longer."""
        plan = self.plan
        alike = []
        for line, mark in zip(plan.lines, plan.marks, strict=True):
            walk = _walk(line)
            same = line_mark(tuple(self.tokens[each] for each in walk)) == mark
            alike.append((len(line) if len(walk) > 1 else 0) if same else -1)
        longest = run = 0
        for _, numbers in plan.sections:
            for number in numbers:
                run = run + alike[number] if alike[number] >= 0 else 0
                longest = max(longest, run)
        return longest

    def sections(self, names: Sequence[str]) -> list[SectionSketch]:
        """The sections of the song, called by `names`."""
        made = []
        last, run = "", 0
        for (kind, numbers), name in zip(self.plan.sections, names, strict=True):
            phrases = []
            for at, number in enumerate(numbers):
                if number not in self.lines:
                    place = _Place(kind, last, at == 0, at == len(numbers) - 1)
                    self.lines[number] = self._line(number, place, run)
                phrase = self.lines[number].phrase
                run = run + len(phrase.bars) if self.lines[number].copied else 0
                last = phrase.last_chord or last
                phrases.append(phrase)
            made.append(SectionSketch(name, kind, phrases))
        return made

    def assign_chords(self) -> None:
        """Assign the chords of the world to the numbers of the plan."""
        self.forms = {token: list(forms) for token, forms in self.world.forms.items()}
        home, *others = self.world.forms
        while len(others) < self.plan.chords - 1 and not self.limited:
            others.append(self._any_chord(frozenset(self.forms)))
            self.forms[others[-1]] = [""]
        facts = _facts(self.plan)
        count = self.plan.chords - 1
        # A plan of more chords than the world has takes some of them twice; one of fewer may take
        # any of them.
        chords = [others[at % len(others)] if others else home for at in range(count)]
        tokens = [home, *chords, *others[count:]]
        # Assignments come up again and again; only those of the plan's numbers tell them apart.
        fits: dict[tuple[str, ...], float] = {}

        def fit() -> float:
            assigned = tuple(tokens[: count + 1])
            if assigned not in fits:
                fits[assigned] = self._fit(facts, assigned)
            return fits[assigned]

        likely = fit()
        proposals = PROPOSALS * min(len(others), MOST_PROPOSED) if len(others) > 1 else 0
        for _ in range(proposals):
            a = 1 + int(self.rng.random() * count)
            b = 1 + int(self.rng.random() * (len(tokens) - 1))
            tokens[a], tokens[b] = tokens[b], tokens[a]
            trial = fit()
            if self.rng.random() * likely < trial:
                likely = trial
            else:
                tokens[a], tokens[b] = tokens[b], tokens[a]
        self.tokens = dict(enumerate(tokens[: count + 1]))

    def _fit(self, facts: _Facts, tokens: Sequence[str]) -> float:
        """How well the plan goes with an assignment of chords."""
        weight = facts.likelihood(mode_name(self.plan.minor), tokens)
        for token, number in zip(tokens, self.plan.forms, strict=False):
            for _ in range(number - len(self.forms[token])):
                weight *= LACKS_FORM
        if self.tilt:
            for _, number, count in facts.changes:
                if tokens[number] in self.tilt:
                    lean = min(self.tilt[tokens[number]], MOST_TILT)
                    for _ in range(2 * count):
                        weight *= lean
        return max(weight, 1e-300)

    def _near_order(self, tokens: Sequence[str]) -> list[str]:
        """The tokens in about the same order."""
        keys = [at + RANK_NOISE * self.rng.random() for at in range(len(tokens))]
        return [token for _, token in sorted(zip(keys, tokens, strict=True))]

    def _line(self, number: int, place: _Place, run: int) -> _Line:
        """Fill a line of the plan with chords; `run` bars before it are as in the plan's source."""
        source = self.lines.get(self.plan.derived[number])
        bars = self.plan.lines[number]
        tokens = dict(source.tokens) if source else {0: self.tokens[0]}
        walk = _walk(bars)
        mark = self.plan.marks[number]
        unknown = [each for each in dict.fromkeys(walk) if each not in tokens]
        if unknown:
            near = self.near_source or run + len(bars) > LONGEST_COPY
            self._choose(unknown, walk, tokens, place, mark if near else -1)
        copied = line_mark(tuple(tokens[each] for each in walk)) == mark
        shared = dict(source.bars) if source else {}
        phrase = PhraseSketch([self._bar(bar, tokens, shared) for bar in bars], "")
        return _Line(phrase, tokens, shared, copied)

    def _choose(
        self, unknown: list[int], walk: list[int], tokens: dict[int, str], place: _Place, mark: int
    ) -> None:
        """Choose the chords of the unknown numbers of a line, so that it does not have a mark (-1:
        any will do)."""
        usual = [self.tokens[each] for each in unknown]
        taken = set(tokens.values())
        if taken & set(usual) or len(set(usual)) < len(usual):
            ways = [usual]
        elif happens(self.rng, EXCHANGES):
            ways = self._orders(usual)
        else:
            ways = [usual]
        trials = [tokens | dict(zip(unknown, way, strict=True)) for way in ways]
        lines = [tuple(trial[each] for each in walk) for trial in trials]
        if mark >= 0 and all(line_mark(line) == mark for line in lines):
            others = [token for token in self.world.forms if token not in taken]
            for _ in range(LINE_WAYS):
                drawn = self._near_order(others)[: len(unknown)]
                if len(drawn) == len(unknown):
                    trials.append(tokens | dict(zip(unknown, drawn, strict=True)))
            trials += [
                tokens | {each: self._any_chord(taken) for each in unknown}
                for _ in range(LINE_WAYS // 4)
            ]
            lines = [tuple(trial[each] for each in walk) for trial in trials]
        mode = mode_name(self.plan.minor)
        weighted = []
        for trial, line in zip(trials, lines, strict=True):
            weight = place.likelihood(mode, line)
            if mark >= 0 and line_mark(line) == mark:
                weight = 0.0
            for each in unknown:
                if self.plan.forms[each] > len(self.forms.get(trial[each], ("",))):
                    weight *= LACKS_FORM
            weighted.append((trial, weight))
        if all(weight <= 0 for _, weight in weighted):
            weighted = [(trials[0], 1.0)]
        tokens.update(WeightedChoice(weighted).choose(self.rng))

    def _orders(self, tokens: list[str]) -> list[list[str]]:
        """The tokens in every order, or in some where there are many."""
        if len(tokens) <= 4:
            return [list(way) for way in permutations(tokens)]
        return [self._near_order(tokens) for _ in range(LINE_WAYS)]

    def _any_chord(self, taken: AbstractSet[str]) -> str:
        """A usual chord of the mode, in or outside the world, if no recipe names the chords."""
        if self.limited:
            pool = [token for token in self.world.forms if token not in taken]
            return pool[int(self.rng.random() * len(pool))] if pool else self.tokens[0]
        mode = mode_name(self.plan.minor)
        pool = [t for t in usual_chords(mode) if t not in taken]
        if not pool:
            return _common_chords(mode).choose(self.rng)
        token = _common_chords(mode).choose(self.rng)
        while token in taken:
            token = _common_chords(mode).choose(self.rng)
        return token

    def _bar(
        self, bar: BarPlan, tokens: dict[int, str], shared: dict[_BarKey, BarSketch]
    ) -> BarSketch:
        """A bar of a line; `shared` holds those that are known, and takes the new ones."""
        chords: list[str] = []
        forms: list[str] = []
        wanted: list[str] = []
        lengths: list[int] = []
        for event in bar:
            token = "" if event.chord == SILENT else tokens[event.chord]
            form = self._form(token, event.form) if token else ""
            if chords and (chords[-1], forms[-1], wanted[-1]) == (token, form, event.bass):
                lengths[-1] += event.quarters
                continue
            chords.append(token)
            forms.append(form)
            wanted.append(event.bass)
            lengths.append(event.quarters)
        key = tuple(chords), tuple(forms), tuple(wanted), tuple(lengths)
        if key not in shared:
            shared[key] = _sketch(chords, forms, wanted, key[3], self.meter)
        return shared[key]

    def _form(self, token: str, number: int) -> str:
        """The chord of a token in one of the forms that the song has for it."""
        forms = self.forms.setdefault(token, [""])
        while number >= len(forms) and self.adds_forms:
            more = _more_forms(mode_name(self.plan.minor), token, frozenset(forms))
            if more is None:
                break
            forms.append(more.choose(self.rng))
        return write(token, forms[min(number, len(forms) - 1)])


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a line is: the kind of its section, the chord before it, and whether it opens or closes
    the section."""

    kind: str
    before: str
    opens: bool
    closes: bool

    def likelihood(self, mode: str, walk: Sequence[str]) -> float:
        """How likely a line is to make these chord changes here, up to a factor."""
        if not walk:
            return 1.0
        after = self.before or "none"
        row = f"section {after}" if self.opens else after
        weight = likely_start(mode, "start", row, walk[0])
        weight *= lift(mode, "section_end" if self.closes else "phrase_end", self.kind, walk[-1])
        past = ""
        for a, b in pairwise(walk):
            if a != b:
                weight *= following(mode, past, a, b)
                past = a
        return weight


@dataclass(frozen=True, slots=True)
class _Facts:
    """What a plan does with its numbers: how often they follow each other, and which of them open
    and close sections and close lines, by kind; each with a count."""

    changes: tuple[tuple[int, int, int], ...]
    opens: tuple[tuple[str, int, int], ...]
    joins: tuple[tuple[int, int, int], ...]
    ends: tuple[tuple[str, str, int, int], ...]

    def likelihood(self, mode: str, tokens: Sequence[str]) -> float:
        """How likely real songs are to do this with some tokens, up to a factor."""
        weight = 1.0
        for a, b, count in self.changes:
            weight *= following_times(mode, tokens[a], tokens[b], count)
        for kind, number, count in self.opens:
            weight *= likely_start(mode, "section_start", kind, tokens[number], count)
        for a, b, count in self.joins:
            weight *= likely_start(mode, "start", tokens[a], tokens[b], count)
        for row, kind, number, count in self.ends:
            weight *= lift(mode, row, kind, tokens[number], count)
        return weight


@lru_cache(maxsize=1024)
def _facts(plan: Plan) -> _Facts:
    """The facts of a plan."""
    changes: Counter[tuple[int, int]] = Counter()
    walks = [_walk(line) for line in plan.lines]
    for walk in walks:
        changes.update(pairwise(walk))
    opens: Counter[tuple[str, int]] = Counter()
    joins: Counter[tuple[int, int]] = Counter()
    ends: Counter[tuple[str, str, int]] = Counter()
    known: set[tuple[str, int, int]] = set()
    for kind, numbers in plan.sections:
        before = -1
        for at, number in enumerate(numbers):
            walk = walks[number]
            if walk and (kind, before, number) not in known:
                known.add((kind, before, number))
                closes = at == len(numbers) - 1
                ends["section_end" if closes else "phrase_end", kind, walk[-1]] += 1
                if at == 0:
                    opens[kind, walk[0]] += 1
                elif walks[before]:
                    joins[walks[before][-1], walk[0]] += 1
            before = number
    return _Facts(
        tuple((*key, min(n, MOST_COUNTED)) for key, n in changes.items()),
        tuple((*key, min(n, MOST_COUNTED)) for key, n in opens.items()),
        tuple((*key, min(n, MOST_COUNTED)) for key, n in joins.items()),
        tuple((*key, min(n, MOST_COUNTED)) for key, n in ends.items()),
    )


@lru_cache(maxsize=2)
def _common_chords(mode: str) -> WeightedChoice[str]:
    """The usual chords of a mode by their share of all changes."""
    counts = table("chords")[mode]["unigram"]
    return WeightedChoice((token, counts[token]) for token in sorted(usual_chords(mode)))


@lru_cache(maxsize=4096)
def _more_forms(mode: str, token: str, known: frozenset[str]) -> WeightedChoice[str] | None:
    """The forms that songs use for a chord besides those known, None if there are none."""
    row = table("chords")[mode]["extension"].get(token, {})
    spelt = {write(token, form) for form in known}
    weighted: dict[str, float] = {}
    for name, count in sorted(row.items()):
        form = FORMS.get(name)
        if form is not None and write(token, form) not in spelt:
            weighted[form] = weighted.get(form, 0.0) + count
    return WeightedChoice(weighted.items()) if weighted else None


def _walk(bars: Sequence[BarPlan]) -> list[int]:
    """The numbers of the chords of a line, none twice in a row."""
    found: list[int] = []
    for bar in bars:
        for event in bar:
            if event.chord != SILENT and (not found or found[-1] != event.chord):
                found.append(event.chord)
    return found


def _sketch(
    chords: list[str],
    forms: list[str],
    wanted: list[str],
    quarters: tuple[int, ...],
    meter: Meter,
) -> BarSketch:
    """A bar of the song; where the meter has no room for all of its chords, the first and the last
    are kept. A short bar of the plan is short if half a bar of the meter can be."""
    short = sum(quarters) < QUARTERS and meter.beats % 4 == 0
    if short:
        beats = tuple(part * meter.beats // QUARTERS for part in quarters)
    else:
        beats = beats_of(quarters, meter)
    if len(beats) < len(chords):
        chords, forms, wanted = (
            [each[0], each[-1]][: len(beats)] for each in (chords, forms, wanted)
        )
        if len(beats) == 3:
            beats = (2, 1)
    if len(beats) == 2 and len(chords) == 2 and forms[0] == forms[1] and wanted[0] == wanted[1]:
        chords, forms, wanted, beats = chords[:1], forms[:1], wanted[:1], (sum(beats),)
    bar = BarSketch(beats, chords)
    bar.forms, bar.wanted, bar.short = forms, wanted, short
    return bar


@lru_cache(maxsize=1024)
def write(token: str, form: str) -> str:
    """A token in a form: the chord as it is spelt, without bass."""
    if token.endswith("o"):
        if form == "h":
            return token[:-1] + "ø"
        return spell(token) + (form if form == "^7" else "")
    if token.endswith("-"):
        return token + (form if form in ("^6", "^7", "^9", "^add9", "^maj7") else "")
    return spell(token) + ("" if form == "h" else form)
