"""Extensions: what a song adds to its chords, the same way each time it plays them."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from functools import lru_cache

from trainer.generate.dice import Wheel, chance, fill
from trainer.generate.harmony import Harmony
from trainer.generate.layout import Spot
from trainer.generate.tables import table
from trainer.generate.words import spell

__all__ = ["Palette", "blues_palette", "make_palette"]

# The tables' names of what stands above a triad, as this notation spells it; others are not used.
_SPELT = {
    "6": "^6", "7": "^7", "9": "^9", "add9": "^add9", "maj7": "^maj7", "7alt": "^7#9",
    "sus4": "^sus4", "sus4 7": "^7sus4", "sus4 9": "^9sus4",
}  # fmt: skip
# What a chord may carry (common practice, no source): only the 5 is suspended, home chords stay
# restful, majors outside the key are dominants.
_REST, _DOMINANT = ("6", "add9", "maj7", "7"), ("7", "9")
_ALLOWED = {
    "1": _REST, "4": _REST, "5": ("7", "9", "sus4", "sus4 7", "sus4 9"),
    "b7": ("6", "add9", "maj7", "9"), "b3": ("add9", "maj7"), "b6": ("6", "add9", "maj7"),
    "2": _DOMINANT, "3": ("7", "7alt"), "6": _DOMINANT, "7": _DOMINANT,
    "4-": ("6", "7"), "1-": ("7", "6"),
}  # fmt: skip
_MINOR = ("7", "9", "add9")
_LEAST = 0.004
# Home chords and what each leads to with a 7.
HOMES = {"1": "4", "4": "b7"}
NOWHERE: tuple[str, frozenset[str]] = ("", frozenset())


class Palette:
    """How a song spells each token: `usual` everywhere, `leading` only before some chords.

    `leading[token]` is (form, chords it leads to): a 1 with a 7 wants to go to 4. `named` are the
    tokens whose spelling a recipe gives.
    """

    def __init__(
        self,
        usual: dict[str, str],
        leading: dict[str, tuple[str, frozenset[str]]],
        named: frozenset[str] = frozenset(),
    ) -> None:
        self.usual, self.leading, self.named = usual, leading, named

    def paint(self, spots: list[Spot]) -> None:
        """Spell the chords of a song's bars."""
        for spot in spots:
            bar = spot.bar
            for at, chord in enumerate(bar.chords):
                form, targets = self.leading.get(chord, NOWHERE)
                leads = bool(form) and _leads(spot, at, targets)
                if not leads:
                    form = self.usual.get(chord) or spell(chord)
                if bar.basses[at] and chord not in self.named and not form.endswith("^7"):
                    # A slash chord is busy enough.
                    form = form.split("^")[0]
                bar.forms[at] = form


def _leads(spot: Spot, event: int, targets: frozenset[str]) -> bool:
    """Whether a chord goes to one of the targets wherever its bar is heard.

    It has to come new: a chord that has sounded already is not suspended any more.
    """
    bar, chord = spot.bar, spot.bar.chords[event]
    if event:
        before = {bar.chords[event - 1]}
    else:
        before = {place.before.chords[-1] if place.before else "" for place in spot.places}
    if event + 1 < len(bar.chords):
        after = {bar.chords[event + 1]}
    else:
        after = {place.after.chords[0] if place.after else "" for place in spot.places}
    return chord not in before and after <= targets


@lru_cache(maxsize=512)
def _shares(mode: str, token: str, sevenths: bool) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Share of a chord's time that carries an extension, and the extensions by weight."""
    row: Mapping[str, int] = table("chords")[mode]["extension"].get(token, {})
    total = sum(row.values())
    allowed = _ALLOWED.get(token, _MINOR if token.endswith("-") else _DOMINANT)
    if not total or token.endswith("o"):
        return 0.0, ()
    kept = []
    for name, count in sorted(row.items()):
        weight = count / total
        if name in ("6", "7") and token in HOMES and not sevenths:
            weight *= 0.2
        if name in allowed and weight >= _LEAST:
            kept.append((_SPELT[name], weight))
    share = 0.0
    for _, part in kept:
        share += part
    return share, tuple(kept)


@lru_cache(maxsize=1024)
def _chances(mode: str, tokens: tuple[str, ...], sevenths: bool, rate: float) -> dict[str, float]:
    """Chance that a song extends each chord, `rate` on average over the chords it plays."""
    heard = table("chords")[mode]["extension"]
    copies = [sum(heard.get(token, {}).values()) + 1 for token in tokens]
    weights = [_shares(mode, token, sevenths)[0] for token in tokens]
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
    likely = _chances(model.mode, model.chords, sevenths, rate) if rate > 0 else {}
    for chord in model.chords:
        named = spelt.get(chord)
        if named:
            usual[chord] = named[int(rng.random() * len(named))]
        else:
            usual[chord] = _plain(rng, model.mode, chord)
        if usual[chord] != spell(chord) or not likely or not chance(rng, likely[chord]):
            continue
        extension = Wheel(_shares(model.mode, chord, sevenths)[1]).spin(rng)
        form = usual[chord] + extension
        if extension == "^7" and chord in HOMES and not sevenths:
            # At rest a 7 on the home chords is a blues; elsewhere it leads a fourth up.
            leading[chord] = (form, frozenset([HOMES[chord]]))
        elif "sus" in extension:
            leading[chord] = (form, frozenset(("1", "1-", chord)))
            usual[chord] += "^7"
        else:
            usual[chord] = form
    return Palette(usual, leading, frozenset(spelt))


def blues_palette(rng: random.Random, chords: Sequence[str], rate: float) -> Palette:
    """A blues plays sevenths throughout or not at all; `rate` is the chance that it does."""
    if not chance(rng, rate):
        return Palette({}, {})
    return Palette({chord: f"{chord}^7" for chord in chords if not chord.endswith("o")}, {})


def _plain(rng: random.Random, mode: str, chord: str) -> str:
    """The chord as written, half-diminished where the tables mostly have it so."""
    if not chord.endswith("o"):
        return spell(chord)
    row = table("chords")[mode]["extension"].get(chord, {})
    half, whole = row.get("h 7", 0), row.get("o", 0) + row.get("o 7", 0)
    if half and chance(rng, half / (half + whole)):
        return chord[:-1] + "h"
    return spell(chord)
