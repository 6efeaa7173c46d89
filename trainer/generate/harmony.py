"""The chain of chords: what follows what, where in a phrase, within an allowed vocabulary.

The chance of the next chord joins what the two chords before it say (a trigram backed off to a
bigram and to single chords) with what its place says (where in the phrase, how long it lasts).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from trainer.generate.sampler import Rows
from trainer.generate.tables import table

__all__ = ["Harmony", "ends", "harmony", "mode_name", "starts"]

# Additive weights of the coarser estimate in the finer one, in counts.
BIGRAM_PRIOR, TRIGRAM_PRIOR, PLACE_PRIOR = 4.0, 8.0, 12.0


def mode_name(minor: bool) -> str:
    """The name of a mode in the tables."""
    return "minor" if minor else "major"


class _Counts:
    """The chord counts of a mode."""

    def __init__(self, mode: str) -> None:
        counts: dict[str, Any] = table("chords")[mode]
        self.unigram: Mapping[str, int] = counts["unigram"]
        self.total: int = sum(self.unigram.values())
        self.bigram: Mapping[str, Mapping[str, int]] = counts["bigram"]
        self.trigram: Mapping[str, Mapping[str, int]] = counts["trigram"]
        self.placed: Mapping[str, Mapping[str, int]] = counts["placed"]


@lru_cache(maxsize=2)
def _counts(mode: str) -> _Counts:
    return _Counts(mode)


class Harmony:
    """The chain of a mode, restricted to a vocabulary and tilted by a style.

    `chords` are the tokens of the vocabulary; states are their indices.
    """

    def __init__(self, mode: str, chords: tuple[str, ...], tilt: tuple[float, ...]) -> None:
        self.mode, self.chords = mode, chords
        self.index = {chord: at for at, chord in enumerate(chords)}
        self.size = len(chords)
        self.tilt = tilt
        self._data = _counts(mode)
        self._smooth = 1.0 / self._data.total
        self._bigrams: list[list[float] | None] = [None] * self.size
        self._trigrams: dict[tuple[int, int], list[float]] = {}
        self._places: dict[tuple[str, int], list[float]] = {}
        self._rows: dict[str, list[list[list[float] | None]]] = {}

    def share(self, chord: str) -> float:
        """How often the chord is changed to in the tables, never quite 0."""
        return self._data.unigram.get(chord, 0) / self._data.total + self._smooth

    def bigram(self, c: int) -> list[float]:
        """Chances of the next chord after `c`, over the vocabulary, not yet normalised."""
        found = self._bigrams[c]
        if found is None:
            row = self._data.bigram.get(self.chords[c], {})
            total = sum(row.values()) + BIGRAM_PRIOR
            found = [
                0.0 if n == c else (row.get(chord, 0) + BIGRAM_PRIOR * self.share(chord)) / total
                for n, chord in enumerate(self.chords)
            ]
            self._bigrams[c] = found
        return found

    def _trigram(self, p: int, c: int) -> list[float]:
        """Chances after `p`, `c`."""
        if p < 0 or p == c:
            return self.bigram(c)
        found = self._trigrams.get((p, c))
        if found is None:
            row = self._data.trigram.get(f"{self.chords[p]} {self.chords[c]}", {})
            total = sum(row.values()) + TRIGRAM_PRIOR
            found = [
                (row.get(chord, 0) + TRIGRAM_PRIOR * coarse) / total
                for chord, coarse in zip(self.chords, self.bigram(c), strict=True)
            ]
            self._trigrams[p, c] = found
        return found

    def _place(self, place: str, c: int) -> list[float]:
        """How much likelier each chord is after `c` at a place than anywhere, times its tilt."""
        found = self._places.get((place, c))
        if found is None:
            row = self._data.placed.get(f"{place} {self.chords[c]}", {})
            total = sum(row.values()) + PLACE_PRIOR
            found = [
                tilt * (row.get(chord, 0) + PLACE_PRIOR * coarse) / total / coarse if coarse else 0
                for chord, coarse, tilt in zip(self.chords, self.bigram(c), self.tilt, strict=True)
            ]
            self._places[place, c] = found
        return found

    def rows(self, place: str) -> Rows:
        """The step into a place: weights of the next chord after the two before, summing to 1."""
        made = self._rows.get(place)
        if made is None:
            made = [[None] * self.size for _ in range(self.size + 1)]
            self._rows[place] = made
        cells = made

        def row(p: int, c: int) -> Sequence[float]:
            found = cells[p][c]
            if found is None:
                found = self._row(place, p, c)
                cells[p][c] = found
            return found

        return row

    def _row(self, place: str, p: int, c: int) -> list[float]:
        """One normalised row."""
        weights = [a * b for a, b in zip(self._trigram(p, c), self._place(place, c), strict=True)]
        total = 0.0
        for weight in weights:
            total += weight
        return [weight / total for weight in weights] if total else weights


@lru_cache(maxsize=512)
def harmony(mode: str, chords: tuple[str, ...], tilt: tuple[float, ...]) -> Harmony:
    """The chain of a mode, vocabulary and tilt, made once."""
    return Harmony(mode, chords, tilt)


def starts(model: Harmony, kind: str, before: int, opens_section: bool) -> list[float]:
    """Weights of a phrase's first chord.

    `kind` is the section's, `before` the chord that sounded last, −1 at the top of the song.
    """
    counts = table("chords")[model.mode]
    after = model.chords[before] if before >= 0 else "none"
    by_chord = counts["start"].get(("section " if opens_section else "") + after, {})
    by_kind = counts["section_start"].get(kind, {}) if opens_section else {}
    return [
        tilt * (_part(by_chord, chord) + _part(by_kind, chord) + 0.1 * model.share(chord))
        for chord, tilt in zip(model.chords, model.tilt, strict=True)
    ]


# A phrase comes to rest only on chords that at least so many phrases rest on.
LEAST_END = 0.02


def ends(model: Harmony, kind: str, closes_section: bool) -> list[float]:
    """Weights of a phrase's last chord; chords that phrases hardly rest on weigh 0."""
    counts = table("chords")[model.mode]
    row = counts["section_end" if closes_section else "phrase_end"].get(kind, {})
    parts = [_part(row, chord) for chord in model.chords]
    kept = [part if part >= LEAST_END else 0.0 for part in parts]
    return (
        kept
        if any(kept)
        else [part or model.share(c) for part, c in zip(parts, model.chords, strict=True)]
    )


def _part(row: Mapping[str, int], chord: str) -> float:
    """Share of a chord in a row of counts."""
    total = sum(row.values())
    return row.get(chord, 0) / total if total else 0.0
