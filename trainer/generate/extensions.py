"""Extensions: what a song adds to its triads, spelt the same way wherever the chord is played."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from functools import lru_cache

from trainer.generate.harmony import ChordModel
from trainer.generate.sketch import SharedBar
from trainer.generate.tables import table
from trainer.generate.tokens import spell
from trainer.generate.weighted_choice import WeightedChoice, happens, inclusion_probabilities

__all__ = ["ChordSpellings", "blues_spellings", "draw_spellings"]

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


class ChordSpellings:
    """How a song spells the chord of each token.

    `usual[token]` is the form used everywhere; `leading[token]` is a form used only before some
    chords, and those chords: a 1 with a 7 leads to a 4. `named` are the tokens whose forms a recipe
    gives.
    """

    def __init__(
        self,
        usual: dict[str, str],
        leading: dict[str, tuple[str, frozenset[str]]],
        named: frozenset[str] = frozenset(),
    ) -> None:
        self.usual, self.leading, self.named = usual, leading, named

    def apply(self, shared_bars: list[SharedBar]) -> None:
        """Set the forms of the chords in a song's bars."""
        for shared in shared_bars:
            bar = shared.bar
            for at, chord in enumerate(bar.chords):
                form, targets = self.leading.get(chord, NOWHERE)
                leads = bool(form) and _leads(shared, at, targets)
                if not leads:
                    form = self.usual.get(chord) or spell(chord)
                if bar.basses[at] and chord not in self.named and not form.endswith("^7"):
                    # A slash chord is busy enough.
                    form = form.split("^")[0]
                bar.forms[at] = form


def _leads(shared: SharedBar, event: int, targets: frozenset[str]) -> bool:
    """Whether a chord is followed by one of the targets in every occurrence of its bar.

    The chord must also be new there: one that has sounded already is not suspended any more.
    """
    bar, chord = shared.bar, shared.bar.chords[event]
    if event:
        before = {bar.chords[event - 1]}
    else:
        before = {bar.chords[-1] if bar else "" for bar, _ in shared.around()}
    if event + 1 < len(bar.chords):
        after = {bar.chords[event + 1]}
    else:
        after = {bar.chords[0] if bar else "" for _, bar in shared.around()}
    return chord not in before and after <= targets


@lru_cache(maxsize=512)
def _shares(mode: str, token: str, sevenths: bool) -> tuple[float, tuple[tuple[str, float], ...]]:
    """The share of a chord's uses that carry an extension, and the extensions with weights."""
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
def _extension_probabilities(
    mode: str, tokens: tuple[str, ...], sevenths: bool, rate: float
) -> dict[str, float]:
    """The probability that a song extends each chord, on average `rate` over what it plays."""
    heard = table("chords")[mode]["extension"]
    copies = [sum(heard.get(token, {}).values()) + 1 for token in tokens]
    weights = [_shares(mode, token, sevenths)[0] for token in tokens]
    likely = inclusion_probabilities(weights, copies, rate * sum(copies))
    return dict(zip(tokens, likely, strict=True))


def draw_spellings(
    rng: random.Random,
    model: ChordModel,
    rate: float,
    sevenths: bool,
    named_forms: Mapping[str, Sequence[str]],
) -> ChordSpellings:
    """Draw how a song spells its chords.

    `rate` is the share of chords that carry an extension, 0 to 1; `sevenths` lets 1 and 4 rest on
    a 7; `named_forms` holds, for some tokens, the forms that a recipe names.
    """
    usual: dict[str, str] = {}
    leading: dict[str, tuple[str, frozenset[str]]] = {}
    likely = _extension_probabilities(model.mode, model.chords, sevenths, rate) if rate > 0 else {}
    for chord in model.chords:
        named = named_forms.get(chord)
        if named:
            usual[chord] = named[int(rng.random() * len(named))]
        else:
            usual[chord] = _plain(rng, model.mode, chord)
        if usual[chord] != spell(chord) or not likely or not happens(rng, likely[chord]):
            continue
        extension = WeightedChoice(_shares(model.mode, chord, sevenths)[1]).choose(rng)
        form = usual[chord] + extension
        if extension == "^7" and chord in HOMES and not sevenths:
            # At rest a 7 on the home chords is a blues; elsewhere it leads a fourth up.
            leading[chord] = (form, frozenset([HOMES[chord]]))
        elif "sus" in extension:
            leading[chord] = (form, frozenset(("1", "1-", chord)))
            usual[chord] += "^7"
        else:
            usual[chord] = form
    return ChordSpellings(usual, leading, frozenset(named_forms))


def blues_spellings(rng: random.Random, chords: Sequence[str], rate: float) -> ChordSpellings:
    """The spellings of a blues: sevenths on all chords with probability `rate`, else none."""
    if not happens(rng, rate):
        return ChordSpellings({}, {})
    return ChordSpellings({chord: f"{chord}^7" for chord in chords if not chord.endswith("o")}, {})


def _plain(rng: random.Random, mode: str, chord: str) -> str:
    """The chord without extension, half-diminished as often as in the tables."""
    if not chord.endswith("o"):
        return spell(chord)
    row = table("chords")[mode]["extension"].get(chord, {})
    half, whole = row.get("h 7", 0), row.get("o", 0) + row.get("o 7", 0)
    if half and happens(rng, half / (half + whole)):
        return chord[:-1] + "ø"
    return spell(chord)
