"""The chain of chords: what follows what, where in a phrase, within an allowed vocabulary.

The chance of the next chord joins what the two chords before it say (a trigram backed off to a
bigram and to single chords) with what its place says (where in the phrase, how long it lasts).
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, lru_cache
from operator import itemgetter, mul
from typing import Any

from trainer.generate.markov_chain import Transition
from trainer.generate.tables import table

__all__ = [
    "ChordModel",
    "chord_model",
    "chord_shares",
    "end_weights",
    "following",
    "following_times",
    "lift",
    "likely_start",
    "mode_name",
    "start_weights",
    "usual_chords",
]

# Additive weights of the coarser estimate in the finer one, in counts.
BIGRAM_PRIOR, TRIGRAM_PRIOR, PLACE_PRIOR = 4.0, 12.0, 12.0
LEAST_SEEN = 20
# Chords that occur in a smaller share of songs than this are often annotation errors; diminished
# chords, which pass, may be rarer.
LEAST_PRESENT, LEAST_PASSING = 0.07, 0.04
# The weight of each chord before the home chord where a section closes (common practice, no
# source).
LEADING = {
    "major": {"5": 1.0, "4": 1.0, "b7": 1.0, "4-": 1.0, "5-": 0.6, "2-": 0.5, "2": 0.4, "b2": 0.5},
    "minor": {"5": 1.0, "5-": 1.0, "b7": 1.0, "4-": 1.0, "4": 1.0, "b6": 0.6, "2o": 0.6},
}
UNLED = 0.2
# The chance of a change between chords that the tables do not have.
UNSEEN = 1e-5
# Added to shares, so that nothing is impossible.
FLOOR = 0.005


def mode_name(minor: bool) -> str:
    """The name of a mode in the tables."""
    return "minor" if minor else "major"


class _Chain:
    """The whole chain of a mode, over every chord of the tables."""

    def __init__(self, mode: str) -> None:
        counts: dict[str, Any] = table("chords")[mode]
        self.chords = tuple(sorted(counts["unigram"]))
        self.index = {chord: at for at, chord in enumerate(self.chords)}
        total: int = sum(counts["unigram"].values())
        self.shares: list[float] = [(counts["unigram"][chord] + 1) / total for chord in self.chords]
        self.presence = _presence(counts["sets"])
        self._counts = counts
        # Pairs of chords that the tables have followed often enough to tell what comes next.
        self.known = {
            tuple(self.index[chord] for chord in pair.split(" "))
            for pair, row in counts["trigram"].items()
            if sum(row.values()) >= LEAST_SEEN
        }
        self._bigrams: dict[int, list[float]] = {}
        self._rows: dict[tuple[str, int, int], list[float]] = {}

    def bigram(self, c: int) -> list[float]:
        """Chances of the next chord after `c`."""
        found = self._bigrams.get(c)
        if found is None:
            row = self._counts["bigram"].get(self.chords[c], {})
            total = sum(row.values()) + BIGRAM_PRIOR
            found = [
                0.0 if n == c else (row.get(chord, 0) + BIGRAM_PRIOR * self.shares[n]) / total
                for n, chord in enumerate(self.chords)
            ]
            self._bigrams[c] = found
        return found

    def row(self, place: str, p: int, c: int) -> list[float]:
        """Weights of the next chord after `p` (-1: any) and `c` at a place, not normalised."""
        found = self._rows.get((place, p, c))
        if found is None:
            coarse = self.bigram(c)
            fine = coarse if p < 0 else self.trigram(p, c)
            placed = self._counts["placed"].get(f"{place} {self.chords[c]}", {})
            total = sum(placed.values()) + PLACE_PRIOR
            found = [
                weight * (placed.get(chord, 0) / base + PLACE_PRIOR) / total if base else 0.0
                for chord, weight, base in zip(self.chords, fine, coarse, strict=True)
            ]
            self._rows[place, p, c] = found
        return found

    def trigram(self, p: int, c: int) -> list[float]:
        """Chances of the next chord after `p`, `c`."""
        row = self._counts["trigram"].get(f"{self.chords[p]} {self.chords[c]}", {})
        total = sum(row.values()) + TRIGRAM_PRIOR
        return [
            (row.get(chord, 0) + TRIGRAM_PRIOR * coarse) / total
            for chord, coarse in zip(self.chords, self.bigram(c), strict=True)
        ]


def _presence(sets: Mapping[str, int]) -> dict[str, float]:
    """Share of the songs that use each chord."""
    songs, present = 0, dict[str, int]()
    for chords, count in sets.items():
        songs += count
        for chord in chords.split(" "):
            present[chord] = present.get(chord, 0) + count
    return {chord: count / songs for chord, count in present.items()}


@lru_cache(maxsize=2)
def _chain(mode: str) -> _Chain:
    return _Chain(mode)


@lru_cache(maxsize=65536)
def following(mode: str, past: str, chord: str, after: str) -> float:
    """The chance of the chord after `past` ("" for any) and `chord`, all of them tokens."""
    chain = _chain(mode)
    c, n = chain.index.get(chord, -1), chain.index.get(after, -1)
    if c < 0 or n < 0:
        return UNSEEN
    p = chain.index.get(past, -1)
    return (chain.bigram(c) if p < 0 else chain.trigram(p, c))[n]


@cache
def usual_chords(mode: str) -> frozenset[str]:
    """The chords that songs may use where a recipe names none."""
    present = _chain(mode).presence
    return frozenset(
        chord
        for chord, share in present.items()
        if share >= (LEAST_PASSING if chord.endswith("o") else LEAST_PRESENT)
    )


class ChordModel:
    """The chain of a mode, restricted to a vocabulary and weighted by a style.

    `chords` are the tokens of the vocabulary, at least one, all in the tables; the states of the
    chain are their indices. `tilt` has a factor for each of them.
    """

    def __init__(self, mode: str, chords: tuple[str, ...], tilt: tuple[float, ...]) -> None:
        self.mode, self.chords, self.size = mode, chords, len(chords)
        self.index = {chord: at for at, chord in enumerate(chords)}
        self._chain = _chain(mode)
        self.home = self.index.get("1-" if mode == "minor" else "1", -1)
        self._places = [self._chain.index[chord] for chord in chords]
        self.shares = [self._chain.shares[place] for place in self._places]
        self._pick = itemgetter(*self._places, 0)
        # A song that has a chord at all plays it more often than the average song does.
        self.tilt = [
            lean / self._chain.presence[chord] for chord, lean in zip(chords, tilt, strict=True)
        ]
        self._known: list[list[int]] = [
            [p for p, a in enumerate(self._places) if (a, b) in self._chain.known]
            for b in self._places
        ]
        self._transitions: dict[str, Transition] = {}

    def share(self, chord: str) -> float:
        """The share of the chord among all chord changes of the tables."""
        return self.shares[self.index[chord]]

    def transition(self, place: str) -> Transition:
        """The transition into a place: weights of the next chord after the two before."""
        found = self._transitions.get(place)
        if found is None:
            found = self._transitions[place] = Transition(
                [self._row(place, -1, c) for c in self._places],
                [
                    {p: self._row(place, self._places[p], c) for p in known}
                    for c, known in zip(self._places, self._known, strict=True)
                ],
            )
        return found

    def cadence(self, last: list[float]) -> list[list[float]]:
        """Weights of a last chord by the chord before it: home is mostly led to by certain
        chords."""
        leading = LEADING[self.mode]
        rows = []
        for chord in self.chords:
            row = list(last)
            row[self.home] *= leading.get(chord, UNLED)
            rows.append(row)
        return rows

    def _row(self, place: str, p: int, c: int) -> list[float]:
        """A row of the whole chain for the chords of the vocabulary, weighted by the style."""
        return list(map(mul, self._pick(self._chain.row(place, p, c)), self.tilt))


@lru_cache(maxsize=512)
def chord_model(mode: str, chords: tuple[str, ...], tilt: tuple[float, ...]) -> ChordModel:
    """The chord model of a mode, vocabulary and style, made once."""
    return ChordModel(mode, chords, tilt)


@lru_cache(maxsize=1024)
def chord_shares(mode: str, name: str, key: str) -> dict[str, float]:
    """Shares of the chords in a row of the tables."""
    row: dict[str, int] = table("chords")[mode][name].get(key, {})
    total = sum(row.values())
    return {chord: count / total for chord, count in row.items()}


@lru_cache(maxsize=65536)
def following_times(mode: str, chord: str, after: str, count: int) -> float:
    """The chance of so many changes from one chord to another."""
    return _multiplied(following(mode, "", chord, after), count)


@lru_cache(maxsize=16384)
def likely_start(mode: str, name: str, key: str, chord: str, count: int = 1) -> float:
    """The share of a chord in a row of the tables of starts, never 0, `count` times."""
    return _multiplied(chord_shares(mode, name, key).get(chord, 0.0) + FLOOR, count)


@lru_cache(maxsize=16384)
def lift(mode: str, name: str, key: str, chord: str, count: int = 1) -> float:
    """How much more often than elsewhere a chord stands in a row of the tables, such as at the end
    of a chorus; never 0; `count` times."""
    share = chord_shares(mode, name, key).get(chord, 0.0)
    chain = _chain(mode)
    at = chain.index.get(chord, -1)
    return _multiplied((share + FLOOR) / ((chain.shares[at] if at >= 0 else 0.0) + FLOOR), count)


def _multiplied(part: float, count: int) -> float:
    """The product of so many equal parts."""
    product = 1.0
    for _ in range(count):
        product *= part
    return product


def start_weights(
    model: ChordModel, kind: str, before: int, opens_section: bool, home: float = 1.0
) -> list[float]:
    """The weights of the first chord of a phrase.

    `kind` is that of the section; `before` is the chord that sounded last, -1 at the beginning of
    the song; `home` is a factor on the 1 there.
    """
    after = model.chords[before] if before >= 0 else "none"
    context = f"section {after}" if opens_section else after
    by_chord = chord_shares(model.mode, "start", context)
    by_kind = chord_shares(model.mode, "section_start", kind) if opens_section else {}
    weights = [
        tilt * (by_chord.get(chord, 0.0) + by_kind.get(chord, 0.0) + 0.1 * share)
        for chord, tilt, share in zip(model.chords, model.tilt, model.shares, strict=True)
    ]
    if before < 0 and model.home >= 0:
        weights[model.home] *= home
    return weights


# A phrase ends only on chords on which at least this share of phrases end.
LEAST_END = 0.02


def end_weights(model: ChordModel, kind: str, closes_section: bool) -> list[float]:
    """The weights of the last chord of a phrase; chords on which hardly any phrase ends have 0."""
    shares = chord_shares(model.mode, "section_end" if closes_section else "phrase_end", kind)
    kept = [
        shares[chord] * tilt if shares.get(chord, 0.0) >= LEAST_END else 0.0
        for chord, tilt in zip(model.chords, model.tilt, strict=True)
    ]
    return kept if any(kept) else [shares.get(c, 0.0) or model.share(c) for c in model.chords]
