"""Other chords for a line that would be as in its plan's source, by how likely the line then is."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from trainer.generate.harmony import following, lift, likely_start, mode_name, usual_chords
from trainer.generate.plan_facts import plan_changes
from trainer.generate.plans import Plan, line_mark
from trainer.generate.tables import table
from trainer.generate.weighted_choice import WeightedChoice

__all__ = ["Place", "any_chord", "copied_bars", "other_chords", "walks_of"]

# At most this many choices of chords are tried for a line, of the song's chords and of any.
LINE_WAYS, OTHER_WAYS = 24, 6


@dataclass(frozen=True, slots=True)
class Place:
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


@lru_cache(maxsize=4)
def walks_of(plan: Plan) -> tuple[tuple[int, ...], ...]:
    """The numbers of the chords of each line of a plan, none twice in a row."""
    return tuple(tuple([change.chord for change in line]) for line in plan_changes(plan))


def copied_bars(plan: Plan, tokens: Mapping[int, str]) -> int:
    """The longest run of bars that have the chords of the plan's source, if its numbers have these
    chords; lines on one chord neither break a run nor make one longer."""
    alike = []
    for line, walk, mark in zip(plan.lines, walks_of(plan), plan.marks, strict=True):
        same = line_mark(tuple([tokens[each] for each in walk])) == mark
        alike.append((len(line) if len(walk) > 1 else 0) if same else -1)
    longest = run = 0
    for _, numbers in plan.sections:
        for number in numbers:
            run = run + alike[number] if alike[number] >= 0 else 0
            longest = max(longest, run)
    return longest


def other_chords(
    rng: random.Random,
    plan: Plan,
    tokens: Mapping[int, str],
    unknown: Sequence[int],
    number: int,
    place: Place,
    pool: Sequence[str],
    limited: bool,
) -> dict[int, str]:
    """The chords of a line of a plan, with others for its `unknown` numbers, so that the line is
    not as in the plan's source.

    They are of the song's chords (`pool`) or, unless the song is `limited` to those, any usual
    ones. Where every choice is as in the source, the chords stay.
    """
    walk, mark, mode = walks_of(plan)[number], plan.marks[number], mode_name(plan.minor)
    taken = {tokens[each] for each in tokens if each not in unknown}
    others = [token for token in pool if token not in taken]
    trials = []
    for _ in range(LINE_WAYS):
        drawn = sorted(others, key=lambda _: rng.random())[: len(unknown)]
        if len(drawn) == len(unknown):
            trials.append({**tokens, **dict(zip(unknown, drawn, strict=True))})
    if not limited:
        trials += [
            {**tokens, **{each: any_chord(rng, mode, taken) for each in unknown}}
            for _ in range(OTHER_WAYS)
        ]
    weighted = []
    for trial in trials:
        line = tuple(trial[each] for each in walk)
        if line_mark(line) != mark:
            weighted.append((trial, place.likelihood(mode, line)))
    return WeightedChoice(weighted).choose(rng) if weighted else dict(tokens)


def any_chord(rng: random.Random, mode: str, taken: AbstractSet[str]) -> str:
    """A usual chord of a mode that is not taken, where there is one."""
    chords = _common_chords(mode)
    token = chords.choose(rng)
    while token in taken and not taken >= set(chords.items):
        token = chords.choose(rng)
    return token


@lru_cache(maxsize=2)
def _common_chords(mode: str) -> WeightedChoice[str]:
    """The usual chords of a mode by their share of all changes."""
    counts = table("chords")[mode]["unigram"]
    return WeightedChoice((token, counts[token]) for token in sorted(usual_chords(mode)))
