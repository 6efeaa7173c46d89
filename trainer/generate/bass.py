"""Slash chords: a bass note under a chord only where the bass line asks for it.

A bass other than the root is taken when the line holds or moves by step through it (1 5/7 6-,
1 1/3 4, 4/1 over a held 1, 6- 6-/5 4), when a third in the bass steps on to the next chord, when
the fifth stays in the bass and its chord follows (1/5 5), or when a major chord a step below its
bass, a suspended dominant, goes on to its 1 (4/5 1). Sevenths in the bass fall by step; notes
outside the chord are a pedal on 1 or 5. Among those, the tables say how usual each is.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from functools import lru_cache
from typing import NamedTuple

from trainer.generate.sketch import BarSketch, SharedBar
from trainer.generate.tables import table
from trainer.generate.tokens import parse_chord, parse_degree, spell, spell_bass
from trainer.generate.weighted_choice import WeightedChoice, poisson_sample

__all__ = ["add_basses", "add_planned_basses", "drop_unexplained", "explains_bass", "spell_slash"]


# A factor on the weight of a slash chord at the beginning of a section.
OPENING = 0.2
# Basses, in semitones above the 1, of suspended dominants (4/5, 1/2, b7/1) and of pedals.
SUSPENDED, PEDALS, FIVE = (7, 2, 0), (0, 7), 7


@lru_cache(maxsize=256)
def _root(token: str) -> int:
    return parse_chord(token).root.semitones


def _apart(a: int, b: int) -> int:
    """Smallest distance of two pitch classes."""
    return min((a - b) % 12, (b - a) % 12)


def explains_bass(before: int | None, root: int, minor: bool, bass: int, after: int | None) -> bool:
    """Whether the line through the basses `before`, `bass` and `after` explains the bass.

    All are semitones above the 1; `before` and `after` are None if the phrase has no chord
    there. `root` and `minor` are those of the chord over the bass.
    """
    if after is None or bass == root:
        return False
    above = (bass - root) % 12
    if above == (3 if minor else 4):
        return 0 < _apart(bass, after) <= 2
    if above == 7 and bass == after:
        return True
    if above == 2 and not minor and bass in SUSPENDED:
        return after == bass or (after - bass) % 12 == 5
    enters = before is not None and _apart(before, bass) <= 2
    if above in (10, 11):
        return bass != 1 and enters and (bass - after) % 12 in (1, 2)
    # A bass a third under a major chord would make it a minor seventh, which has its own name.
    if above == 9 or (above != 7 and bass not in PEDALS):
        return False
    # A pedal holds on; a passing fifth steps through.
    least = 1 if above == 7 and bass not in PEDALS else 0
    return enters and least <= _apart(bass, after) <= (2 if above == 7 else 0)


@lru_cache(maxsize=16384)
def _holds_or_rests(
    before: int | None, root: int, minor: bool, bass: int, after: int | None
) -> bool:
    """Whether a bass that real songs have, but not a walk, is explained.

    It is a pedal held through (1 2-/1 1), a third that is held (1/3 3-), a minor dominant eleventh
    going home (2-/5 1), or a held bass that steps on to the root of its chord (5 4/5 4).
    """
    if after is None or bass == root:
        return False
    above = (bass - root) % 12
    if above == (3 if minor else 4) and bass == after:
        return True
    if bass in PEDALS and before == bass == after and above != 9:
        return True
    if above == 5 and minor and bass == FIVE:
        return after in (bass, 0)
    return above == 2 and not minor and before == bass == (after + 2) % 12


class BassCandidate(NamedTuple):
    """A chord that could take a bass: its bar and event, the basses with weights, and whether the
    bar would be split so that a passing bass comes half-way."""

    shared: SharedBar
    event: int
    basses: tuple[tuple[str, float], ...]
    passing: bool


@lru_cache(maxsize=65536)
def _basses(
    mode: str, before: str, chord: str, after: str, passing: bool, free: bool
) -> tuple[tuple[str, float], ...]:
    """The basses that the line explains for a chord between two bass degrees, with weights from
    the tables; `free` takes those of songs with a plan, too."""
    counts = table("chords")[mode]
    root = _root(chord)
    uses = counts["unigram"].get(chord, 0) + 20
    found = []
    for bass, count in counts["bass"].get(chord, {}).items():
        semitones = parse_degree(bass).semitones
        line = (_degree(before), root, chord.endswith(("-", "o")), semitones, _degree(after))
        if not explains_bass(*line) and not (free and _holds_or_rests(*line)):
            continue
        if passing and not (
            semitones != _degree(after) and _apart(semitones, _degree(after) or 0) <= 2
        ):
            continue
        name = f"{chord}/{bass}"
        fit = _part(counts["bass_from"].get(name, {}), before) * _part(
            counts["bass_to"].get(name, {}), after
        )
        found.append((bass, count / uses * fit))
    return tuple(found)


@lru_cache(maxsize=256)
def _degree(name: str) -> int | None:
    return parse_degree(name).semitones if name else None


def _part(row: Mapping[str, int], name: str) -> float:
    """The share of a neighbour in a row of the tables, smoothed so that it is never 0."""
    return (row.get(name, 0) + 0.3) / (sum(row.values()) + 3)


def add_basses(
    rng: random.Random,
    mode: str,
    shared_bars: list[SharedBar],
    rate: float,
    may_split: bool,
    allowed: frozenset[str] = frozenset(),
) -> None:
    """Put slash chords into a share of the bars heard, where the bass line explains them.

    `rate` is that share, 0 to 1. `may_split` lets a bar of one chord be split for a bass that
    passes to the next chord. `allowed` holds the slash chords there may be, as in "5/7"; empty
    allows all.
    """
    if rate <= 0:
        return
    total = 0
    candidates: list[BassCandidate] = []
    for shared in shared_bars:
        total += shared.copies
        candidates += _candidates(mode, shared, may_split, allowed)
    weights = []
    for candidate in candidates:
        weight = 0.0
        for _, part in candidate.basses:
            weight += part
        opens = not candidate.event and candidate.shared.opens_section
        weights.append(weight * OPENING if opens else weight)
    copies = [candidate.shared.copies for candidate in candidates]
    for at in poisson_sample(rng, weights, copies, rate * total):
        _apply(rng, mode, candidates[at], allowed)


def add_planned_basses(
    rng: random.Random,
    mode: str,
    shared_bars: list[SharedBar],
    rate: float,
    preferred: AbstractSet[str],
    allowed: frozenset[str] = frozenset(),
) -> int:
    """Put slash chords where a plan wants them and the bass line explains them.

    `rate` is the share of the wanted ones that are kept; `preferred` are the slash chords that the
    song has rather than others; `allowed` as in `add_basses`. Returns how many of the bars heard
    should have one.
    """
    kept = 0
    drawn: dict[tuple[str, str, str], bool] = {}
    for shared in shared_bars:
        bar = shared.bar
        for event, wanted in enumerate(bar.wanted):
            chord = bar.chords[event]
            if not wanted or not chord:
                continue
            key = (wanted, chord, bar.forms[event])
            if key not in drawn:
                drawn[key] = rng.random() < rate
            if not drawn[key]:
                continue
            around = _neighbours(shared, event)
            found = _common_basses(mode, chord, around, False, allowed, free=True)
            kept += shared.copies
            weights = [
                (bass, weight * _preference(chord, bass, wanted, preferred))
                for bass, weight in found
            ]
            if weights:
                bar.basses[event] = WeightedChoice(weights).choose(rng)
    return kept


# Factors on the weight of a bass of the class that is wanted, and of one that the song has.
OF_CLASS, OF_SONG = 30.0, 4.0


def drop_unexplained(mode: str, shared_bars: list[SharedBar]) -> None:
    """Take away the basses that the line does not explain, now that all are known."""
    found = True
    while found:
        found = False
        for shared in shared_bars:
            bar = shared.bar
            for event, bass in enumerate(bar.basses):
                if not bass:
                    continue
                around = _neighbours(shared, event)
                explained = _common_basses(
                    mode, bar.chords[event], around, False, frozenset(), free=True
                )
                if bass not in [name for name, _ in explained]:
                    bar.basses[event], found = "", True


def _preference(chord: str, bass: str, wanted: str, preferred: AbstractSet[str]) -> float:
    """How much a bass is preferred for being of the class wanted and one of the song's."""
    above = ((_degree(bass) or 0) - _root(chord)) % 12
    of_class = "h" if bass == "1" else {3: "t", 4: "t", 7: "f"}.get(above, "o")
    fits = OF_CLASS if of_class == wanted else 1.0
    return fits * (OF_SONG if f"{chord}/{bass}" in preferred else 1.0)


def _bass_at(bar: BarSketch | None, event: int) -> str:
    """The bass degree of an event, "" if there is no bar."""
    return (bar.basses[event] or bar.chords[event].rstrip("-o")) if bar else ""


def _neighbours(shared: SharedBar, event: int) -> list[tuple[str, str]]:
    """The bass degrees before and after an event, for every occurrence of its bar."""
    bar = shared.bar
    inside = event + 1 < len(bar.beats)
    if event and inside:
        return [(_bass_at(bar, event - 1), _bass_at(bar, event + 1))]
    found: dict[tuple[str, str], None] = {}
    for before, after in shared.around():
        low = _bass_at(bar, event - 1) if event else _bass_at(before, -1)
        found[low, _bass_at(bar, event + 1) if inside else _bass_at(after, 0)] = None
    return list(found)


def _common_basses(
    mode: str,
    chord: str,
    around: list[tuple[str, str]],
    passing: bool,
    allowed: frozenset[str],
    free: bool = False,
) -> tuple[tuple[str, float], ...]:
    """The basses of a chord that are allowed and explained between all pairs of basses around
    it."""
    own = chord.rstrip("-o")
    rows = [
        _basses(mode, own if passing else low, chord, after, passing, free) for low, after in around
    ]
    common = rows[0]
    if allowed:
        common = tuple(each for each in common if _written(chord, each[0]) in allowed)
    for row in rows[1:]:
        names = [bass for bass, _ in row]
        common = tuple((bass, weight) for bass, weight in common if bass in names)
    return common


def spell_slash(name: str) -> str:
    """The slash chord of the tables' token and bass, as "2/b5", as it is written in a chart."""
    chord, _, bass = name.partition("/")
    return _written(chord, bass)


@lru_cache(maxsize=4096)
def _written(chord: str, bass: str) -> str:
    """A slash chord as it is written in a chart."""
    form = spell(chord)
    return f"{form}/{spell_bass(form, bass)}"


def _candidates(
    mode: str, shared: SharedBar, may_split: bool, allowed: frozenset[str]
) -> list[BassCandidate]:
    """The chords of one bar that could take a bass."""
    if shared.bar.short:
        return []
    found = []
    may_split = may_split and shared.bar.whole and shared.bar.beats[0] % 2 == 0
    for event, chord in enumerate(shared.bar.chords):
        if not chord:
            continue
        around = _neighbours(shared, event)
        basses = _common_basses(mode, chord, around, False, allowed)
        if basses:
            found.append(BassCandidate(shared, event, basses, False))
        passing_basses = _common_basses(mode, chord, around, True, allowed) if may_split else ()
        if passing_basses:
            found.append(BassCandidate(shared, event, passing_basses, True))
    return found


def _apply(
    rng: random.Random, mode: str, candidate: BassCandidate, allowed: frozenset[str]
) -> None:
    """Put a bass under the chord, unless new basses beside it mean that the line no longer explains
    it."""
    shared, event, passing = candidate.shared, candidate.event, candidate.passing
    bar = shared.bar
    if any(bar.basses) or (passing and not bar.whole):
        return
    for before, after in shared.around():
        if (before and before.basses[-1]) or (after and after.basses[0]):
            return
    around = _neighbours(shared, event)
    basses = _common_basses(mode, bar.chords[event], around, passing, allowed)
    if not basses:
        return
    bass = WeightedChoice(basses).choose(rng)
    if passing:
        half = bar.beats[0] // 2
        bar.beats = (half, half)
        bar.chords, bar.forms = bar.chords * 2, bar.forms * 2
        bar.basses, bar.articulations = ["", bass], ["", ""]
    else:
        bar.basses[event] = bass
