"""Extensions: what a song adds to its chords, the same way each time it plays them."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from functools import lru_cache

from trainer.generate.dice import Wheel, chance, fill
from trainer.generate.harmony import Harmony
from trainer.generate.layout import Spot
from trainer.generate.tables import table
from trainer.generate.words import spell, token_of

__all__ = ["Palette", "make_palette"]

# The tables' names of what stands above a triad, as this notation spells it; others are not used.
_SPELT = {
    "6": "^6",
    "7": "^7",
    "9": "^9",
    "add9": "^add9",
    "maj7": "^maj7",
    "maj9": "^maj9",
    "7alt": "^7#9",
    "sus4": "^sus4",
    "sus4 7": "^7sus4",
    "sus4 9": "^9sus4",
}
_MINOR = ("6", "7", "9", "add9")
_LEAST = 0.004


class Palette:
    """How a song spells each token: `usual` everywhere, `leading` only before some chords.

    `leading[token]` is (form, chords it leads to): a 1 with a 7 wants to go to 4.
    """

    def __init__(self, usual: dict[str, str], leading: dict[str, tuple[str, frozenset[str]]]):
        self.usual, self.leading = usual, leading

    def paint(self, spots: list[Spot]) -> None:
        """Spell the chords of a song's bars."""
        for spot in spots:
            bar = spot.bar
            for at, token in enumerate(bar.chords):
                form, targets = self.leading.get(token, ("", frozenset()))
                leads = bool(form) and all(chord in targets for chord in _following(spot, at))
                bar.forms[at] = form if leads else self.usual.get(token) or spell(token)


def _following(spot: Spot, event: int) -> set[str]:
    """The chords that come after an event wherever its bar is heard, "" for none."""
    if event + 1 < len(spot.bar.chords):
        return {spot.bar.chords[event + 1]}
    return {place.after.chords[0] if place.after else "" for place in spot.places}


@lru_cache(maxsize=256)
def _shares(mode: str, token: str) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Share of a chord's time that carries an extension, and the extensions by weight."""
    row: Mapping[str, int] = table("chords")[mode]["extension"].get(token, {})
    total = sum(row.values())
    allowed = _MINOR if token.endswith("-") else tuple(_SPELT)
    if not total or token.endswith("o"):
        return 0.0, ()
    kept = tuple(
        (_SPELT[name], count / total)
        for name, count in sorted(row.items())
        if name in allowed and count / total >= _LEAST
    )
    share = 0.0
    for _, part in kept:
        share += part
    return share, kept


@lru_cache(maxsize=1024)
def _chances(mode: str, tokens: tuple[str, ...], rate: float) -> dict[str, float]:
    """Chance that a song extends each chord, `rate` on average over the chords it plays."""
    counts = table("chords")[mode]["unigram"]
    copies = [counts.get(token, 0) + 1 for token in tokens]
    weights = [_shares(mode, token)[0] for token in tokens]
    likely = fill(weights, copies, rate * sum(copies))
    return dict(zip(tokens, likely, strict=True))


def make_palette(
    rng: random.Random,
    model: Harmony,
    rate: float,
    sevenths: bool,
    spelt: Mapping[str, Sequence[str]],
) -> Palette:
    """Decide a song's spellings.

    `rate` is the share of chords to carry an extension; `sevenths` lets 1 and 4 rest on a 7;
    `spelt` holds, for each token, the forms a recipe names (empty: all).
    """
    usual: dict[str, str] = {}
    leading: dict[str, tuple[str, frozenset[str]]] = {}
    likely = _chances(model.mode, model.chords, min(1.0, rate)) if rate > 0 else {}
    for token in model.chords:
        named = spelt.get(token)
        if named:
            usual[token] = named[int(rng.random() * len(named))]
        else:
            usual[token] = _plain(rng, model.mode, token)
        if not likely or not chance(rng, likely[token]) or "^" in usual[token]:
            continue
        if usual[token] != spell(token) and token_of(usual[token]) == token and named:
            continue
        form = usual[token] + Wheel(_shares(model.mode, token)[1]).spin(rng)
        if form in ("1^7", "4^7", "1^9", "4^9") and not sevenths:
            target = {"1": "4", "4": "b7"}[token]
            leading[token] = (form, frozenset([target]))
        elif "sus" in form:
            leading[token] = (form, frozenset(c for c in model.chords if c != token))
        else:
            usual[token] = form
    return Palette(usual, leading)


def _plain(rng: random.Random, mode: str, token: str) -> str:
    """The token as written, half-diminished where the tables mostly have it so."""
    if not token.endswith("o"):
        return spell(token)
    row = table("chords")[mode]["extension"].get(token, {})
    half, whole = row.get("h 7", 0), row.get("o", 0) + row.get("o 7", 0)
    if half and chance(rng, half / (half + whole)):
        return token[:-1] + "h"
    return spell(token)
